"""Keeping what soil probes read, and one value a morning of it for the ledgers."""

import datetime as dt
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from api.errors import (
    GardenNotFound,
    InvalidRequest,
    PreconditionWrong,
    ReadingNotFound,
    ZoneNotFound,
)
from api.ids import is_id, is_report_id
from api.reports.plausible import CLOCK_TOLERANCE
from api.schemas.batch import KEPT, KNOWN, REFUSED, Unread
from api.schemas.fields import number
from api.schemas.moisture import NamedReading, ReadingReport
from api.store.changes import Change
from api.store.rows import StoredGarden, StoredMorning, StoredReading
from api.store.store import Store
from api.watering_hours import sunrise_on
from scheduling.errors import Problem
from scheduling.garden.reports import MorningReading

BEFORE_SUNRISE: Final = dt.timedelta(hours=4)
"""The hours that count for a morning: plants are at rest, and soil changes least."""
MEASURED_AT: Final = "measured_at"
READ_AT: Final = "read_at"
ONE_DAY: Final = dt.timedelta(days=1)

LIKELY: Final[Mapping[str, tuple[float, float]]] = {
    "water_content": (0.02, 0.6),
    "store_share": (-0.2, 1.5),
    "depth_m": (0.02, 1.5),
    "error_share": (0.005, 0.3),
}
"""Outside of these a probe is more likely to hang in the air, to stand in water, or to be misread than
not. Common practice, no source."""

ReadingKey = tuple[dt.datetime, str, str]
"""Moment, zone and id: the order in which readings are listed."""
ZoneNight = tuple[str, dt.date | None]
"""A zone, and a night of its probes; None is the day, which comes to nothing."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one reading of a batch."""

    zone: str | None
    id: str | None
    result: str
    reading: dict[str, Any] | None = None
    """As it is kept."""
    error: Exception | None = None
    """Why it is not."""


class _Kept(NamedTuple):
    is_new: bool
    is_known: bool
    reading: StoredReading
    touched: set[ZoneNight]
    """The nights that are no longer what they were."""


class Moisture:
    """Readings of the soil probes of stored gardens."""

    def __init__(self, store: Store, clock: Callable[[], dt.datetime]) -> None:
        self._store = store
        self._clock = clock

    def put(
        self, garden_id: str, zone_id: str, reading_id: str, report: ReadingReport, must_be_new: bool
    ) -> tuple[bool, dict[str, Any]]:
        """Keep a reading, in the place of any other of its zone and id.

        Returns whether it is new, and how it is kept.

        Raises
        ------
        GardenNotFound, ZoneNotFound, PreconditionWrong
            There is no such garden or zone; it must be new, and is not.
        InvalidRequest
            It was measured in the future.
        """
        with self._store.changing(garden_id) as change:
            kept = _keep(change, garden_id, zone_id, reading_id, report, self._clock(), must_be_new)
            _settle(change, kept.touched)
        return kept.is_new, dump_reading(kept.reading)

    def put_all(self, garden_id: str, batch: Sequence[NamedReading | Unread]) -> list[Outcome]:
        """Keep many in one change, each as if it came alone, in their order. Raises GardenNotFound."""
        now = self._clock()
        with self._store.changing(garden_id) as change:
            if change.garden is None:
                raise GardenNotFound(garden_id)
            touched: set[ZoneNight] = set()
            outcomes = [_outcome(change, garden_id, entry, now, touched) for entry in batch]
            _settle(change, touched)
            return outcomes

    def reading(self, garden_id: str, zone_id: str, reading_id: str) -> dict[str, Any]:
        """One reading. Raises GardenNotFound, ReadingNotFound."""
        self._garden(garden_id)
        kept = self._store.reading(garden_id, zone_id, reading_id)
        if kept is None:
            raise ReadingNotFound(zone_id, reading_id)
        return dump_reading(kept)

    def readings(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: ReadingKey | None,
        limit: int,
    ) -> tuple[list[dict[str, Any]], ReadingKey | None]:
        """Readings of a span of local dates; and after which to read on, where there are more.

        Raises GardenNotFound.
        """
        zone = ZoneInfo(self._garden(garden_id).document["timezone"])
        start = None if first is None else _midnight(first, zone)
        end = None if last is None else _midnight(last + ONE_DAY, zone)
        found = self._store.readings(garden_id, start, end, after, limit + 1)
        further = _key(found[limit - 1]) if len(found) > limit else None
        return [dump_reading(kept) for kept in found[:limit]], further

    def delete(self, garden_id: str, zone_id: str, reading_id: str) -> None:
        """Take a reading back. Raises GardenNotFound, ReadingNotFound."""
        with self._store.changing(garden_id) as change:
            if change.garden is None:
                raise GardenNotFound(garden_id)
            kept = change.reading(zone_id, reading_id)
            if kept is None:
                raise ReadingNotFound(zone_id, reading_id)
            change.delete_reading(zone_id, reading_id)
            _settle(change, {(zone_id, kept.night)})

    def _garden(self, garden_id: str) -> StoredGarden:
        garden = self._store.garden(garden_id)
        if garden is None:
            raise GardenNotFound(garden_id)
        return garden


def night_of(measured_at: dt.datetime, latitude: float, longitude: float, timezone: str) -> dt.date | None:
    """The date before whose sunrise a moment lies, by 4 hours at most; None for all other moments."""
    zone = ZoneInfo(timezone)
    date = measured_at.astimezone(zone).date()
    for day in (date, date + ONE_DAY):
        sunrise = sunrise_on(day, latitude, longitude, zone)
        # As instants: within a zone, Python compares and subtracts clock times.
        if 0.0 <= sunrise.timestamp() - measured_at.timestamp() <= BEFORE_SUNRISE.total_seconds():
            return day
    return None


def mornings_of(readings: Iterable[StoredReading]) -> list[StoredMorning]:
    """One value for each zone, probe and date: the median of the night's readings.

    Where some tell the water content and others the share of the store, those count that are of the
    kind of the last one; depth and error are those of the last one too.
    """
    nights: dict[tuple[dt.date, str, str], list[StoredReading]] = {}
    for reading in readings:
        if reading.night is not None:
            nights.setdefault((reading.night, reading.zone, reading.body["probe"]), []).append(reading)
    return [StoredMorning(*key, _come_to(nights[key])) for key in sorted(nights)]


def _come_to(readings: Sequence[StoredReading]) -> dict[str, Any]:
    in_order = sorted(readings, key=_key)
    last = in_order[-1].body
    kind = "water_content" if "water_content" in last else "store_share"
    told = [reading for reading in in_order if kind in reading.body]
    return {
        kind: statistics.median(reading.body[kind] for reading in told),
        **{name: last[name] for name in ("depth_m", "error_share") if name in last},
        READ_AT: told[(len(told) - 1) // 2].measured_at.isoformat(),
    }


def morning_reading(kept: StoredMorning) -> MorningReading:
    """A morning's value, as ledgers take it."""
    values = {name: value for name, value in kept.body.items() if name != READ_AT}
    return MorningReading(kept.zone, kept.probe, kept.night, **values)


def read_at(kept: StoredMorning) -> dt.datetime | None:
    """When the middle one of a morning's readings was taken; None where that was not kept."""
    text = kept.body.get(READ_AT)
    return None if text is None else dt.datetime.fromisoformat(text)


def dump_reading(kept: StoredReading) -> dict[str, Any]:
    """A reading as it is kept, with the morning that it counts for."""
    return {
        "zone": kept.zone,
        "id": kept.id,
        "morning": None if kept.night is None else kept.night.isoformat(),
        **kept.body,
        "doubts": [
            f"{name} is {number(kept.body[name])}; from {number(lowest)} to {number(highest)} is likely."
            for name, (lowest, highest) in LIKELY.items()
            if name in kept.body and not lowest <= kept.body[name] <= highest
        ],
    }


def _keep(
    change: Change,
    garden_id: str,
    zone_id: str,
    reading_id: str,
    report: ReadingReport,
    now: dt.datetime,
    must_be_new: bool = False,
) -> _Kept:
    garden = change.garden
    if garden is None:
        raise GardenNotFound(garden_id)
    if zone_id not in garden.document["zones"]:
        raise ZoneNotFound(zone_id)
    measured_at = report.measured_at
    if measured_at > now + CLOCK_TOLERANCE:
        sentence = f"measured_at is {measured_at.isoformat()}, which has not come yet."
        raise InvalidRequest(Problem("/measured_at", sentence))
    kept = change.reading(zone_id, reading_id)
    if must_be_new and kept is not None:
        raise PreconditionWrong(f"A reading {reading_id!r} is kept for zone {zone_id!r} already.")
    place = garden.document
    told = StoredReading(
        zone=zone_id,
        id=reading_id,
        measured_at=measured_at.astimezone(dt.UTC),
        night=night_of(measured_at, place["latitude"], place["longitude"], place["timezone"]),
        body={MEASURED_AT: measured_at.isoformat(), **report.values},
    )
    if kept is not None and (kept.body, kept.night) == (told.body, told.night):
        return _Kept(False, True, kept, set())
    change.put_reading(told)
    touched = {(zone_id, one.night) for one in (kept, told) if one is not None}
    return _Kept(kept is None, False, told, touched)


def _settle(change: Change, touched: Iterable[ZoneNight]) -> None:
    """Keep what the nights come to now, so that no plan has to go through all readings of a season."""
    for zone_id, night in touched:
        if night is not None:
            change.put_mornings(zone_id, night, mornings_of(change.readings_of_night(zone_id, night)))


def _outcome(
    change: Change,
    garden_id: str,
    entry: NamedReading | Unread,
    now: dt.datetime,
    touched: set[ZoneNight],
) -> Outcome:
    if isinstance(entry, Unread):
        zone, reading_id = entry.get("zone"), entry.get("id")
        return Outcome(
            zone if is_id(zone) else None,
            reading_id if is_report_id(reading_id) else None,
            REFUSED,
            error=entry.error,
        )
    try:
        kept = _keep(change, garden_id, entry.zone, entry.id, entry.report, now)
    except (ZoneNotFound, InvalidRequest) as error:
        return Outcome(entry.zone, entry.id, REFUSED, error=error)
    touched |= kept.touched
    return Outcome(entry.zone, entry.id, KNOWN if kept.is_known else KEPT, dump_reading(kept.reading))


def _key(reading: StoredReading) -> ReadingKey:
    return reading.measured_at, reading.zone, reading.id


def _midnight(date: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The instant at which a date begins, in UTC."""
    return dt.datetime.combine(date, dt.time(), zone).astimezone(dt.UTC)
