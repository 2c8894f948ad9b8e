"""What was measured in a garden, as its plans take it; read again only when the garden has changed."""

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from api.reports.deliveries import NO_WATER, counted_l, run_of
from api.reports.observations import observation_of
from api.reports.soil_moisture import morning_reading, read_at
from api.schemas.plan import WITHDRAWN
from api.store.rows import StoredDelivery, StoredFinal, StoredGarden
from api.store.store import Store
from api.weather.series.own_weather import Observation
from scheduling.garden.reports import MorningReading

GARDENS_IN_MEMORY: Final = 256


class Morning(NamedTuple):
    """What a probe read in a night, and when."""

    reading: MorningReading
    read_at: dt.datetime | None
    """The middle one of its readings; None where that was not kept."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured in a garden from a date on."""

    observations: Mapping[dt.date, Observation]
    mornings: tuple[Morning, ...]
    """What soil probes read before sunrise."""


class Measurements:
    """Reads what was measured, once for each version of a garden; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._read: OrderedDict[str, tuple[int, dt.date, Measured]] = OrderedDict()

    def of(self, garden: StoredGarden, since: dt.date) -> Measured:
        """What was measured in a garden from a date on."""
        with self._lock:
            version, first, measured = self._read.get(garden.id, (None, since, None))
        if measured is not None and version == garden.version and first == since:
            return measured
        timezone = garden.document["timezone"]
        measured = Measured(
            observations={
                kept.date: observation_of(kept, timezone)
                for kept in self._store.observations(garden.id, since, None)
            },
            mornings=tuple(
                Morning(morning_reading(kept), read_at(kept))
                for kept in self._store.mornings(garden.id, since, dt.date.max)
            ),
        )
        with self._lock:
            self._read[garden.id] = (garden.version, since, measured)
            self._read.move_to_end(garden.id)
            if len(self._read) > GARDENS_IN_MEMORY:
                self._read.popitem(last=False)
        return measured


class Flow(NamedTuple):
    """Water through a zone's valve."""

    start: dt.datetime
    end: dt.datetime
    volume_l: float

    def come_by(self, moment: dt.datetime) -> float:
        """What of it has come by a moment, where it flows evenly. [l]"""
        length = (self.end - self.start).total_seconds()
        passed = (moment - self.start).total_seconds()
        if length <= 0.0:
            return self.volume_l if passed >= 0.0 else 0.0
        return self.volume_l * min(1.0, max(0.0, passed / length))


def readings_beside_water(
    mornings: Sequence[Morning],
    finals: Sequence[StoredFinal],
    reports: Sequence[StoredDelivery],
    counts_unreported: bool,
) -> tuple[MorningReading, ...]:
    """The readings of mornings, each with the share of its date's water that had come before it.

    Parameters
    ----------
    counts_unreported
        Whether runs that nobody reported are taken to have flowed as planned.
    """
    wanted = {(morning.reading.zone, morning.reading.date) for morning in mornings}
    flows: dict[tuple[str, dt.date], list[Flow]] = {}
    if wanted:
        for zone, date, flow in _flows(finals, reports, counts_unreported):
            if (zone, date) in wanted and flow.volume_l > 0.0:
                flows.setdefault((zone, date), []).append(flow)
    return tuple(_beside(morning, flows) for morning in mornings)


def _beside(morning: Morning, flows: dict[tuple[str, dt.date], list[Flow]]) -> MorningReading:
    of_the_date = flows.get((morning.reading.zone, morning.reading.date))
    if of_the_date is None or morning.read_at is None:
        return morning.reading
    come_l = sum(flow.come_by(morning.read_at) for flow in of_the_date)
    return replace(morning.reading, water_share=come_l / sum(flow.volume_l for flow in of_the_date))


def _flows(
    finals: Sequence[StoredFinal], reports: Sequence[StoredDelivery], counts_unreported: bool
) -> Iterator[tuple[str, dt.date, Flow]]:
    plans = {final.date: final.body for final in finals}
    for report in reports:
        body = report.body
        if body["outcome"] == NO_WATER:
            continue
        run = run_of(plans.get(report.date), report.zone, report.id)
        start = dt.datetime.fromisoformat(body["started_at"])
        lasts = dt.timedelta(seconds=0 if run is None else run["run_time_s"])
        end = dt.datetime.fromisoformat(body["ended_at"]) if "ended_at" in body else start + lasts
        yield report.zone, report.date, Flow(start, end, counted_l(body, run))
    if not counts_unreported:
        return
    reported = {(report.zone, report.id) for report in reports}
    for date, plan in plans.items():
        for zone in plan["zones"]:
            for run in zone["runs"]:
                if (zone["zone"], run["id"]) in reported or run["state"] == WITHDRAWN:
                    continue
                start = dt.datetime.fromisoformat(run["start"])
                end = start + dt.timedelta(seconds=run["run_time_s"])
                yield zone["zone"], date, Flow(start, end, float(run["volume_l"]))
