"""What soil probes read: how it is kept, and one value a morning of it for the ledgers."""

import datetime as dt
import statistics
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, TypeAlias
from zoneinfo import ZoneInfo

from api.errors import ApiError, PreconditionWrong, ReadingNotFound, ZoneNotFound
from api.reports.plausible import midnight, must_have_come
from api.reports.records import JsonObject, Page, RecordKind, ReportName
from api.schemas.fields import number
from api.schemas.moisture import KeptReading, Morning, Reading
from api.schemas.stored_bodies import dump_reading, morning_body, read_morning, read_reading, reading_body
from api.store.changes import Change
from api.store.rows import StoredGarden, StoredMorning, StoredReading
from api.store.store import Store
from api.watering_hours import sunrise_on
from scheduling.garden.reports import MorningReading

BEFORE_SUNRISE: Final = dt.timedelta(hours=4)
"""The hours that count for a morning: plants are at rest, and soil changes least."""
ONE_DAY: Final = dt.timedelta(days=1)

LIKELY: Final[Mapping[str, tuple[float, float]]] = {
    "water_content": (0.02, 0.6),
    "store_share": (-0.2, 1.5),
    "depth_m": (0.02, 1.5),
    "error_share": (0.005, 0.3),
}
"""Outside of these a probe is more likely to hang in the air, to stand in water, or to be misread than
not. Common practice, no source."""

ReadingPlace: TypeAlias = tuple[dt.datetime, str, str]
"""Moment, zone and id: the order in which readings are listed."""


class ReadingKind(RecordKind[ReportName, Reading, KeptReading, ReadingPlace, StoredReading]):
    """Probes' readings: each in the place of any other of its zone and id."""

    row = StoredReading

    def check(
        self, change: Change, garden: StoredGarden, key: ReportName, told: Reading, now: dt.datetime
    ) -> None:
        """Refuse a reading of a zone that is not there, or of the future."""
        if key.zone not in garden.document["zones"]:
            raise ZoneNotFound(key.zone)
        must_have_come("measured_at", told.measured_at, now)

    def record(
        self,
        change: Change,
        garden: StoredGarden,
        key: ReportName,
        told: Reading,
        kept: KeptReading | None,
        now: dt.datetime,
    ) -> KeptReading:
        """The reading with the night that it belongs to."""
        place = garden.document
        night = night_of(told.measured_at, place["latitude"], place["longitude"], place["timezone"])
        record = KeptReading(key.zone, key.id, night, told)
        # Compared as they are written: the same instant with another offset is another report.
        is_same = kept is not None and (dump_reading(kept.reading), kept.night) == (dump_reading(told), night)
        return kept if kept is not None and is_same else record

    def read(self, row: StoredReading, garden: StoredGarden) -> KeptReading:
        """A stored report. Raises UnknownFormat."""
        return reading_of(row, garden)

    def row_of(self, record: KeptReading) -> StoredReading:
        """A report as it is stored."""
        return StoredReading(
            record.zone,
            record.id,
            record.reading.measured_at.astimezone(dt.UTC),
            record.night,
            reading_body(record.reading),
        )

    def settle(self, change: Change, garden: StoredGarden, changed: Sequence[KeptReading]) -> None:
        """Keep each night's value, so that no plan has to go through all readings of a season."""
        for zone, night in {(one.zone, one.night) for one in changed}:
            if night is not None:
                readings = [reading_of(row, garden) for row in change.readings_of_night(zone, night)]
                mornings = [_row_of(morning) for morning in mornings_of(readings)]
                change.put_mornings(zone, night, mornings)

    def listed(self, store: Store, garden: StoredGarden, page: Page[ReadingPlace]) -> list[KeptReading]:
        """By moment, zone and id; dates are those of the garden's clock."""
        zone = ZoneInfo(garden.document["timezone"])
        start = None if page.first is None else midnight(page.first, zone)
        end = None if page.last is None else midnight(page.last + ONE_DAY, zone)
        rows = store.readings(garden.id, start, end, page.after, page.limit)
        return [reading_of(row, garden) for row in rows]

    def place(self, record: KeptReading) -> ReadingPlace:
        """Moment, zone and id."""
        return record.reading.measured_at, record.zone, record.id

    def dump(self, store: Store, garden: StoredGarden, records: Sequence[KeptReading]) -> list[JsonObject]:
        """Each with the morning that it counts for, and what of it is hard to believe."""
        return [_dumped(one) for one in records]

    def not_found(self, key: ReportName) -> ApiError:
        """No reading has this name."""
        return ReadingNotFound(*key)

    def already_there(self, key: ReportName) -> ApiError:
        """A reading has this name."""
        return PreconditionWrong(f'A reading "{key.id}" is kept for zone "{key.zone}" already.')


def reading_of(row: StoredReading, garden: StoredGarden) -> KeptReading:
    """A stored reading. Raises UnknownFormat."""
    return read_reading(row.zone, row.id, row.night, row.body, garden.id)


def morning_of(row: StoredMorning, garden: StoredGarden) -> Morning:
    """A stored morning. Raises UnknownFormat."""
    return read_morning(row.night, row.zone, row.probe, row.body, garden.id)


def _row_of(morning: Morning) -> StoredMorning:
    reading = morning.reading
    return StoredMorning(reading.date, reading.zone, reading.probe, morning_body(morning))


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


def mornings_of(readings: Iterable[KeptReading]) -> list[Morning]:
    """One value for each zone, probe and date: the median of the night's readings.

    Where some tell the water content and others the share of the store, those count that are of the
    kind of the last one; depth and error are those of the last one too.
    """
    nights: dict[tuple[dt.date, str, str], list[KeptReading]] = {}
    for one in readings:
        if one.night is not None:
            nights.setdefault((one.night, one.zone, one.reading.probe), []).append(one)
    return [_morning(*key, nights[key]) for key in sorted(nights)]


def _morning(night: dt.date, zone: str, probe: str, readings: Sequence[KeptReading]) -> Morning:
    in_order = sorted(readings, key=lambda one: (one.reading.measured_at, one.id))
    last = in_order[-1].reading
    same = [one.reading for one in in_order if one.reading.quantity == last.quantity]
    value = statistics.median(_value(reading) for reading in same)
    is_share = last.quantity == "store_share"
    reading = MorningReading(
        zone,
        probe,
        night,
        water_content=None if is_share else value,
        store_share=value if is_share else None,
        depth_m=last.depth_m,
        error_share=last.error_share,
    )
    return Morning(reading, same[(len(same) - 1) // 2].measured_at.astimezone(dt.UTC))


def _value(reading: Reading) -> float:
    value = reading.store_share if reading.water_content is None else reading.water_content
    if value is None:
        raise ValueError(f"the reading of {reading.measured_at.isoformat()} has no value")
    return value


def _dumped(kept: KeptReading) -> JsonObject:
    told = dump_reading(kept.reading)
    return {
        "zone": kept.zone,
        "id": kept.id,
        "morning": None if kept.night is None else kept.night.isoformat(),
        **told,
        "doubts": [
            f"{name} is {number(told[name])}; from {number(lowest)} to {number(highest)} is likely."
            for name, (lowest, highest) in LIKELY.items()
            if name in told and not lowest <= told[name] <= highest
        ],
    }
