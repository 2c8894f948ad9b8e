"""What flowed through a garden's valves, run by run, with what is not known of it."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from api.deliveries import counted_l, litres_known
from api.running import UNREPORTED, overlay
from api.store.rows import StoredDelivery, StoredFinal
from scheduling.usage import Flowed


@dataclass(frozen=True, slots=True)
class RunStanding:
    """A run of a final plan as it stands, with its report."""

    zone: str
    date: dt.date
    run: Mapping[str, Any]
    """As the plan has it, with its state."""
    report: StoredDelivery | None


@dataclass(frozen=True, slots=True)
class Flows:
    """What final plans and reports tell of some dates."""

    runs: tuple[RunStanding, ...]
    others: tuple[StoredDelivery, ...]
    """Water without a run's id."""
    changes_at: dt.datetime | None
    """When the clock alone changes what they tell; None: never."""

    def flowed(self, unreported_count: bool) -> list[Flowed]:
        """Each opening of a valve that has been, or may have.

        `unreported_count` says whether runs that nobody reported count as they were planned.
        """
        flowed = []
        for standing in self.runs:
            run, report = standing.run, standing.report
            if report is not None:
                flowed.append(_reported(report, run))
            elif run["state"] == UNREPORTED:
                counted = float(run["volume_l"]) if unreported_count else 0.0
                flowed.append(Flowed(standing.zone, standing.date, None, counted))
        return [*flowed, *(_reported(report, None) for report in self.others)]


def flows_of(finals: Iterable[StoredFinal], reports: Sequence[StoredDelivery], now: dt.datetime) -> Flows:
    """Lay the reports of some dates over their final plans."""
    left = {(report.zone, report.id): report for report in reports}
    by_date: dict[dt.date, list[StoredDelivery]] = {}
    for report in reports:
        by_date.setdefault(report.date, []).append(report)
    runs, moments = [], []
    for final in finals:
        standing = overlay(final.body, by_date.get(final.date, ()), now)
        if standing.changes_at is not None:
            moments.append(standing.changes_at)
        for zone in standing.body["zones"]:
            for run in zone["runs"]:
                told = left.pop((zone["zone"], run["id"]), None)
                runs.append(RunStanding(zone["zone"], final.date, run, told))
    return Flows(tuple(runs), tuple(left.values()), min(moments, default=None))


def _reported(report: StoredDelivery, run: Mapping[str, Any] | None) -> Flowed:
    counted = counted_l(report.body, None if run is None else dict(run))
    return Flowed(report.zone, report.date, counted if litres_known(report.body) else None, counted)
