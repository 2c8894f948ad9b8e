"""Keeping what the owner's own gauge or station measured, and what of it is hard to believe."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from api.errors import GardenNotFound, InvalidRequest, ObservationNotFound, PreconditionWrong
from api.reports.plausible import CLOCK_TOLERANCE
from api.schemas.batch import KEPT, KNOWN, REFUSED, Unread
from api.schemas.fields import day_from, number
from api.schemas.observations import DatedReport, ObservationReport
from api.store.changes import Change
from api.store.rows import StoredGarden, StoredObservation
from api.store.store import Store
from api.watering_hours import garden_date
from api.weather.series.own_weather import Observation
from scheduling.errors import Problem
from scheduling.fao56.radiation import day_of_year, daylight_hours, extraterrestrial_radiation

LAST_HOUR: Final = dt.timedelta(hours=1)
"""What a station tells late in the evening passes for the day: many send their sums just before midnight."""
MEASURED_AT: Final = "measured_at"
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


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one observation of a batch."""

    date: dt.date | None
    result: str
    observation: dict[str, Any] | None = None
    """As it is kept."""
    error: Exception | None = None
    """Why it is not."""


class _Kept(NamedTuple):
    is_new: bool
    is_known: bool
    observation: StoredObservation
    garden: StoredGarden


class Observations:
    """Own weather of stored gardens."""

    def __init__(self, store: Store, clock: Callable[[], dt.datetime]) -> None:
        self._store = store
        self._clock = clock

    def put(
        self, garden_id: str, date: dt.date, report: ObservationReport, must_be_new: bool
    ) -> tuple[bool, dict[str, Any]]:
        """Keep what was measured of a date, in the place of what was kept of it before.

        Returns whether it is new, and how it is kept.

        Raises
        ------
        GardenNotFound, PreconditionWrong
            There is no such garden; it must be new, and is not.
        InvalidRequest
            It tells of what has not come yet.
        """
        with self._store.changing(garden_id) as change:
            kept = _keep(change, garden_id, date, report, self._clock(), must_be_new)
        return kept.is_new, dump_observation(kept.observation, kept.garden)

    def put_all(self, garden_id: str, batch: Sequence[DatedReport | Unread]) -> list[Outcome]:
        """Keep many in one change, each as if it came alone, in their order. Raises GardenNotFound."""
        now = self._clock()
        with self._store.changing(garden_id) as change:
            if change.garden is None:
                raise GardenNotFound(garden_id)
            return [_outcome(change, garden_id, entry, now) for entry in batch]

    def observation(self, garden_id: str, date: dt.date) -> dict[str, Any]:
        """What is kept of a date. Raises GardenNotFound, ObservationNotFound."""
        garden = self._garden(garden_id)
        kept = self._store.observation(garden_id, date)
        if kept is None:
            raise ObservationNotFound(date)
        return dump_observation(kept, garden)

    def observations(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: dt.date | None,
        limit: int,
    ) -> tuple[list[dict[str, Any]], dt.date | None]:
        """Observations of a span of dates; and after which to read on, where there are more.

        Raises GardenNotFound.
        """
        garden = self._garden(garden_id)
        if after is not None:
            first = max(first or after, after + ONE_DAY)
        found = self._store.observations(garden_id, first, last, limit + 1)
        further = found[limit - 1].date if len(found) > limit else None
        return [dump_observation(kept, garden) for kept in found[:limit]], further

    def delete(self, garden_id: str, date: dt.date) -> None:
        """Take an observation back. Raises GardenNotFound, ObservationNotFound."""
        with self._store.changing(garden_id) as change:
            if change.garden is None:
                raise GardenNotFound(garden_id)
            if not change.delete_observation(date):
                raise ObservationNotFound(date)
            _correct_the_guess(change, change.garden, date)

    def _garden(self, garden_id: str) -> StoredGarden:
        garden = self._store.garden(garden_id)
        if garden is None:
            raise GardenNotFound(garden_id)
        return garden


def observation_of(kept: StoredObservation, timezone: str) -> Observation:
    """A kept observation, as weather days take it."""
    values = dict(kept.body)
    measured_at = dt.datetime.fromisoformat(values.pop(MEASURED_AT))
    return Observation(kept.date, values, measured_at, _covers(kept.date, measured_at, timezone))


def dump_observation(kept: StoredObservation, garden: StoredGarden) -> dict[str, Any]:
    """An observation as it is kept, with what it counts for."""
    told = observation_of(kept, garden.document["timezone"])
    return {
        "date": kept.date.isoformat(),
        **kept.body,
        "covers_day": told.covers_day,
        "doubts": doubts_about(kept.date, told.values, garden.document["latitude"]),
    }


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


def _keep(
    change: Change,
    garden_id: str,
    date: dt.date,
    report: ObservationReport,
    now: dt.datetime,
    must_be_new: bool = False,
) -> _Kept:
    garden = change.garden
    if garden is None:
        raise GardenNotFound(garden_id)
    timezone = garden.document["timezone"]
    zone = ZoneInfo(timezone)
    today = now.astimezone(zone).date()
    if date > today:
        sentence = f"date is {date}, which has not come yet; at the garden it is {today}."
        raise InvalidRequest(Problem("/date", sentence))
    _must_be_of_the_day(date, report.measured_at, zone, now)
    kept = change.observation(date)
    if must_be_new and kept is not None:
        raise PreconditionWrong(f"An observation of {date} is kept already.")
    measured_at = (report.measured_at or now).astimezone(zone)
    told = StoredObservation(date, {**report.values, MEASURED_AT: measured_at.isoformat(timespec="seconds")})
    if kept is not None and _says_the_same(kept, told, report, timezone):
        return _Kept(False, True, kept, garden)
    change.put_observation(told)
    _correct_the_guess(change, garden, date)
    return _Kept(kept is None, False, told, garden)


def _says_the_same(
    kept: StoredObservation, told: StoredObservation, report: ObservationReport, timezone: str
) -> bool:
    """Whether nothing would change but the moment, which nobody told."""
    one, other = observation_of(kept, timezone), observation_of(told, timezone)
    return (
        one.values == other.values
        and one.covers_day == other.covers_day
        and (report.measured_at is None or one.measured_at == other.measured_at)
    )


def _correct_the_guess(change: Change, garden: StoredGarden, date: dt.date) -> None:
    """Where the ledgers begin is reckoned anew by what is told of the days before."""
    if date < garden_date(garden.created_at, garden.document["timezone"]):
        change.guess_anew()


def _must_be_of_the_day(
    date: dt.date, measured_at: dt.datetime | None, zone: ZoneInfo, now: dt.datetime
) -> None:
    if measured_at is None:
        return
    if measured_at > now + CLOCK_TOLERANCE:
        sentence = f"measured_at is {measured_at.isoformat()}, which has not come yet."
        raise InvalidRequest(Problem("/measured_at", sentence))
    if measured_at < _midnight(date, zone):
        sentence = f"measured_at is {measured_at.isoformat()}; {date} had not begun then."
        raise InvalidRequest(Problem("/measured_at", sentence))


def _covers(date: dt.date, measured_at: dt.datetime, timezone: str) -> bool:
    return measured_at >= _midnight(date + ONE_DAY, ZoneInfo(timezone)) - LAST_HOUR


def _midnight(date: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The instant at which a date begins, in UTC."""
    return dt.datetime.combine(date, dt.time(), zone).astimezone(dt.UTC)


def _outcome(change: Change, garden_id: str, entry: DatedReport | Unread, now: dt.datetime) -> Outcome:
    if isinstance(entry, Unread):
        return Outcome(_date_in(entry), REFUSED, error=entry.error)
    try:
        kept = _keep(change, garden_id, entry.date, entry.report, now)
    except InvalidRequest as error:
        return Outcome(entry.date, REFUSED, error=error)
    result = KNOWN if kept.is_known else KEPT
    return Outcome(entry.date, result, dump_observation(kept.observation, kept.garden))


def _date_in(entry: Unread) -> dt.date | None:
    try:
        return day_from(entry.get("date"))
    except ValueError:
        return None
