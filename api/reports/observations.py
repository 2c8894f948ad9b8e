"""What the owner's own gauge or station measured: how it is kept, and what of it is hard to believe."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final
from zoneinfo import ZoneInfo

from api.errors import ApiError, InvalidRequest, ObservationNotFound, PreconditionWrong
from api.reports.plausible import midnight, must_have_come
from api.reports.records import JsonObject, Page, RecordKind
from api.schemas.fields import number
from api.schemas.observations import ObservationReport
from api.schemas.stored_bodies import dump_observed, observation_body, read_observation
from api.store.changes import Change
from api.store.rows import StoredGarden, StoredObservation
from api.store.store import Store
from api.watering_hours import garden_date
from api.weather.series.own_weather import Observation
from scheduling.errors import Problem
from scheduling.fao56.radiation import day_of_year, daylight_hours, extraterrestrial_radiation

LAST_HOUR: Final = dt.timedelta(hours=1)
"""What a station tells late in the evening passes for the day: many send their sums just before midnight."""
ONE_DAY: Final = dt.timedelta(days=1)

UNLIKELY: Final[Mapping[str, tuple[float, float]]] = {
    "rain_mm": (0.0, 200.0),
    "t_min_c": (-40.0, 35.0),
    "t_max_c": (-30.0, 48.0),
    "t_dew_c": (-40.0, 30.0),
    "rh_min_pct": (3.0, 100.0),
    "wind_m_s": (0.0, 20.0),
    "wind_max_m_s": (0.0, 45.0),
}
"""Outside of these a day's value is seldom true where there are gardens; from memory of climate records."""
SUNSHINE_TOLERANCE_H: Final = 0.5
"""Refraction and the sun's own size make a day longer than equation 34 has it."""


class ObservationKind(RecordKind[dt.date, ObservationReport, Observation, dt.date, StoredObservation]):
    """Own weather: one observation a date, in the place of what was kept of that date before."""

    row = StoredObservation

    def check(
        self, change: Change, garden: StoredGarden, key: dt.date, told: ObservationReport, now: dt.datetime
    ) -> None:
        """Refuse what has not come yet, and what was measured before the date began."""
        zone = ZoneInfo(garden.document["timezone"])
        today = now.astimezone(zone).date()
        if key > today:
            sentence = f"date is {key}, which has not come yet; at the garden it is {today}."
            raise InvalidRequest(Problem("/date", sentence))
        must_have_come("measured_at", told.measured_at, now)
        if told.measured_at is not None and told.measured_at < midnight(key, zone):
            sentence = f"measured_at is {told.measured_at.isoformat()}; {key} had not begun then."
            raise InvalidRequest(Problem("/measured_at", sentence))

    def record(
        self,
        change: Change,
        garden: StoredGarden,
        key: dt.date,
        told: ObservationReport,
        kept: Observation | None,
        now: dt.datetime,
    ) -> Observation:
        """What is kept stays where nothing would change but the moment, which nobody reported."""
        timezone = garden.document["timezone"]
        measured_at = (told.measured_at or now).astimezone(ZoneInfo(timezone)).replace(microsecond=0)
        record = Observation(key, told.values, measured_at, _covers(key, measured_at, timezone))
        if (
            kept is not None
            and kept.values == record.values
            and kept.covers_day == record.covers_day
            and (told.measured_at is None or kept.measured_at == record.measured_at)
        ):
            return kept
        return record

    def read(self, row: StoredObservation, garden: StoredGarden) -> Observation:
        """A stored report. Raises UnknownFormat."""
        return observation_of(row, garden)

    def row_of(self, record: Observation) -> StoredObservation:
        """A report as it is stored."""
        return StoredObservation(record.date, observation_body(record.values, record.measured_at))

    def settle(self, change: Change, garden: StoredGarden, changed: Sequence[Observation]) -> None:
        """Where the ledgers begin is computed anew when the weather before the garden was made changes."""
        made_on = garden_date(garden.created_at, garden.document["timezone"])
        if any(one.date < made_on for one in changed):
            change.guess_anew()

    def listed(self, store: Store, garden: StoredGarden, page: Page[dt.date]) -> list[Observation]:
        """By date."""
        first = page.first
        if page.after is not None:
            first = max(first or page.after, page.after + ONE_DAY)
        return [
            observation_of(row, garden) for row in store.observations(garden.id, first, page.last, page.limit)
        ]

    def place(self, record: Observation) -> dt.date:
        """Its date."""
        return record.date

    def dump(self, store: Store, garden: StoredGarden, records: Sequence[Observation]) -> list[JsonObject]:
        """Each with what it counts for, and what of it is hard to believe."""
        latitude = garden.document["latitude"]
        return [
            {
                "date": one.date.isoformat(),
                **dump_observed(one.values, one.measured_at),
                "covers_day": one.covers_day,
                "doubts": doubts_about(one.date, one.values, latitude),
            }
            for one in records
        ]

    def not_found(self, key: dt.date) -> ApiError:
        """Nothing is kept of a date."""
        return ObservationNotFound(key)

    def already_there(self, key: dt.date) -> ApiError:
        """Something is kept of a date."""
        return PreconditionWrong(f"An observation of {key} is kept already.")


def observation_of(row: StoredObservation, garden: StoredGarden) -> Observation:
    """A stored observation, as weather days take it. Raises UnknownFormat."""
    values, measured_at = read_observation(row.date, row.body, garden.id)
    covers_day = _covers(row.date, measured_at, garden.document["timezone"])
    return Observation(row.date, values, measured_at, covers_day)


def doubts_about(date: dt.date, values: Mapping[str, float], latitude_deg: float) -> list[str]:
    """What is hard to believe of a day's values, in sentences."""
    doubts = [
        f"{name} is {number(values[name])}; from {number(lowest)} to {number(highest)} is likely."
        for name, (lowest, highest) in UNLIKELY.items()
        if name in values and not lowest <= values[name] <= highest
    ]
    day = day_of_year(date)
    if "solar_mj_m2" in values:
        above = extraterrestrial_radiation(latitude_deg, day)
        if values["solar_mj_m2"] > above:
            given = number(values["solar_mj_m2"])
            doubts.append(f"solar_mj_m2 is {given}; above the air there are {above:.1f} that day.")
    if "sunshine_h" in values:
        longest = daylight_hours(latitude_deg, day)
        if values["sunshine_h"] > longest + SUNSHINE_TOLERANCE_H:
            doubts.append(f"sunshine_h is {number(values['sunshine_h'])}; that day has {longest:.1f} hours.")
    return doubts


def _covers(date: dt.date, measured_at: dt.datetime, timezone: str) -> bool:
    return measured_at >= midnight(date + ONE_DAY, ZoneInfo(timezone)) - LAST_HOUR
