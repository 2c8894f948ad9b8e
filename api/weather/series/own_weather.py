"""The owner's own gauge and station: what they measured takes the place of what a source says.

Field by field, and only for days that are over: until then a maximum is none. But what a gauge shows
of a day that is not over has fallen in any case, so it is the least that counts as fallen.
"""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from scheduling.balance.weather import IS_PROMISE, Borrowed, Origin, WeatherDay

NAME: Final = "own-weather"

QUANTITY_OF: Final[Mapping[str, str]] = {
    "t_min_c": "temperature",
    "t_max_c": "temperature",
    "t_dew_c": "humidity",
    "rh_min_pct": "humidity",
    "rh_max_pct": "humidity",
    "rh_mean_pct": "humidity",
    "wind_m_s": "wind",
    "wind_max_m_s": "wind",
    "solar_mj_m2": "solar_radiation",
    "sunshine_h": "solar_radiation",
    "rain_mm": "rain",
}
"""What an owner may have measured, and which quantity it tells of."""
HUMIDITIES: Final = tuple(name for name, quantity in QUANTITY_OF.items() if quantity == "humidity")
"""Each says again what the others say: where one is the owner's, another source's would contradict it."""

ONE_DAY: Final = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Observation:
    """What the owner measured of a day."""

    date: dt.date
    values: Mapping[str, float]
    """By their names in a weather day; `wind_height_m` beside `wind_m_s`."""
    measured_at: dt.datetime
    covers_day: bool
    """Whether they are of the whole day, or of its beginning only."""


def with_observations(
    days: Sequence[WeatherDay], observations: Mapping[dt.date, Observation]
) -> tuple[WeatherDay, ...]:
    """Weather days in which the owner's values have taken their place.

    Parameters
    ----------
    days
        Consecutive, in ascending order.
    observations
        By date. A day of which no source knows anything is made of them alone; between such a day
        and the others come days of which nothing is known.
    """
    if not observations:
        return tuple(days)
    by_date = {day.date: day for day in days}
    for date, told in observations.items():
        if told.covers_day:
            by_date[date] = _measured(by_date.get(date), told)
        elif date in by_date:
            by_date[date] = _having_fallen(by_date[date], told)
    if not by_date:
        return ()
    first, last = min(by_date), max(by_date)
    dates = (first + ONE_DAY * number for number in range((last - first).days + 1))
    return tuple(by_date.get(date) or WeatherDay(date, source="none") for date in dates)


def _measured(day: WeatherDay | None, told: Observation) -> WeatherDay:
    own: dict[str, Any] = dict(told.values)
    if day is not None and day.origin is Origin.ASSUMED and not {"t_min_c", "t_max_c", "rain_mm"} <= set(own):
        # Its evapotranspiration is a mean of other days: of this one, only rain can be told.
        own = {name: value for name, value in own.items() if name == "rain_mm"}
    if not own and day is not None:
        return day
    is_assumed = day is not None and day.origin is Origin.ASSUMED
    if day is None or ("t_min_c" in own if is_assumed else day.source == "none"):
        alone = WeatherDay(told.date, origin=Origin.MEASURED, source=NAME, retrieved_at=told.measured_at)
        return replace(alone, observed=_names(own), **own)
    quantities = dict.fromkeys(QUANTITY_OF[name] for name in own if name in QUANTITY_OF)
    kept = tuple(other for other in day.borrowed if other.quantity not in quantities)
    borrowed = (*kept, *(Borrowed(quantity, NAME, told.measured_at) for quantity in quantities))
    return replace(day, borrowed=borrowed, observed=_names(own), **_replaced(day, own))


def _replaced(day: WeatherDay, own: Mapping[str, float]) -> dict[str, Any]:
    """The fields of a day that change, so that what is left of its source agrees with what was measured."""
    values: dict[str, Any] = dict(own)
    if "t_max_c" in own and day.t_min_c is not None:
        values.setdefault("t_min_c", min(day.t_min_c, own["t_max_c"]))
    if "t_min_c" in own and day.t_max_c is not None:
        values.setdefault("t_max_c", max(day.t_max_c, own["t_min_c"]))
    if any(name in own for name in HUMIDITIES):
        values.update({name: own.get(name) for name in HUMIDITIES})
    if "wind_m_s" in own:
        values.setdefault("wind_height_m", 2.0)
        values.setdefault("wind_max_m_s", None)  # the source's blows at another height
    if "sunshine_h" in own:
        values.setdefault("solar_mj_m2", None)
    if "rain_mm" in own:
        values.update(
            rain_fallen_mm=own["rain_mm"] if day.origin in IS_PROMISE else None,
            rain_probability=None,
            rain_is_expected_value=False,
            rain_members_mm=None,
            rain_trust_share=1.0,
        )
    return values


def _having_fallen(day: WeatherDay, told: Observation) -> WeatherDay:
    """A day of whose rain a part is in the gauge, whatever the source says has fallen.

    Where the source knows what has fallen, the rest is still to come besides; where it does not, the
    gauge's part may be the one that was forecast.
    """
    shown_mm = told.values.get("rain_mm", 0.0)
    fallen_mm = day.rain_fallen_mm or 0.0
    if day.origin not in IS_PROMISE:
        known_mm = 0.0 if day.origin is Origin.ASSUMED else day.rain_mm
        if known_mm is None or shown_mm <= known_mm:
            return day
        kept = tuple(other for other in day.borrowed if other.quantity != "rain")
        borrowed = (*kept, Borrowed("rain", NAME, told.measured_at))
        return replace(day, rain_mm=shown_mm, borrowed=borrowed, observed=("rain_mm",))
    if shown_mm <= fallen_mm:
        return day
    observed = ("rain_fallen_mm",)
    if day.rain_mm is None:
        return replace(day, rain_fallen_mm=shown_mm, observed=observed)
    is_told_apart = day.rain_fallen_mm is not None

    def risen(depth_mm: float) -> float:
        return shown_mm + max(0.0, depth_mm - fallen_mm) if is_told_apart else max(depth_mm, shown_mm)

    members = None if day.rain_members_mm is None else tuple(map(risen, day.rain_members_mm))
    rain_mm = risen(day.rain_mm) if members is None else math.fsum(members) / len(members)
    return replace(day, rain_mm=rain_mm, rain_fallen_mm=shown_mm, rain_members_mm=members, observed=observed)


def _names(own: Mapping[str, float]) -> tuple[str, ...]:
    return tuple(name for name in QUANTITY_OF if name in own)
