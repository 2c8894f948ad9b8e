"""Days of several sources made into one account, and never a mix that nobody could stand for.

A day is one source's. Another one steps in for a whole day that the first does not have, and for a
quantity of which the first knows nothing at all. The rain of a day, with its chance and what has
fallen of it, comes whole from one source: two forecasts of one shower would else become two showers.
What follows of that at midnights is `seams`' business.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from api.weather.keeping import is_complete
from scheduling.weather import Borrowed, Origin, WeatherDay

QUANTITIES: Final[Mapping[str, tuple[str, ...]]] = {
    "humidity": ("t_dew_c", "rh_min_pct", "rh_max_pct", "rh_mean_pct"),
    "wind": ("wind_m_s", "wind_max_m_s"),
    "solar_radiation": ("solar_mj_m2", "sunshine_h", "cloud_share"),
    "rain": ("rain_mm", "rain_probability", "rain_members_mm"),
}
"""What may be another source's, and the values that say it."""
COMES_ALONG: Final[Mapping[str, tuple[str, ...]]] = {
    "wind": ("wind_height_m",),
    "rain": ("rain_fallen_mm", "rain_is_expected_value", "rain_until_noon_mm", "rain_day_before_mm"),
}
"""What is never unknown and goes with it."""


def is_lacking(day: WeatherDay, today: dt.date) -> bool:
    """Whether another source may have something to add to a day."""
    return (
        not is_complete(day)
        or day.hours_assumed > 0
        or day.solar_mj_m2 is None
        or _is_mere_promise(day, today)
    )


def combined(
    first: Sequence[WeatherDay], second: Sequence[WeatherDay], today: dt.date
) -> tuple[WeatherDay, ...]:
    """The days of a preferred source, with what another one knows besides, in ascending order."""
    by_date = {day.date: day for day in second if is_complete(day)}
    by_date.update({day.date: _completed(day, by_date.get(day.date), today) for day in first})
    return tuple(by_date[date] for date in sorted(by_date))


def _is_mere_promise(day: WeatherDay, today: dt.date) -> bool:
    """Whether a day that is over is a forecast still."""
    return day.date < today and day.origin is Origin.FORECAST


def _completed(day: WeatherDay, other: WeatherDay | None, today: dt.date) -> WeatherDay:
    if other is None:
        return day
    lacks_temperature = day.t_min_c is None or day.t_max_c is None
    was_promised = _is_mere_promise(day, today) and other.origin is not Origin.FORECAST
    if lacks_temperature or was_promised or day.hours_assumed > other.hours_assumed:
        return other
    values: dict[str, Any] = {}
    borrowed = list(day.borrowed)
    for quantity in QUANTITIES:
        names = _to_borrow(quantity, day, other)
        if names:
            values.update({name: getattr(other, name) for name in names})
            borrowed.append(Borrowed(quantity, other.source_of(quantity), other.retrieved_at))
    return replace(day, borrowed=tuple(borrowed), **values) if values else day


def _to_borrow(quantity: str, day: WeatherDay, other: WeatherDay) -> tuple[str, ...]:
    """The values of a quantity to take from another source; none where the day has its own."""
    names = QUANTITIES[quantity]
    if quantity == "rain":
        is_wanted = day.rain_mm is None and other.rain_mm is not None
    elif quantity == "solar_radiation":
        # Radiation itself, rather than what it would be estimated from.
        is_wanted = day.solar_mj_m2 is None and (
            other.solar_mj_m2 is not None or (not _knows(day, names) and _knows(other, names))
        )
    else:
        is_wanted = not _knows(day, names) and _knows(other, names)
    return (*names, *COMES_ALONG.get(quantity, ())) if is_wanted else ()


def _knows(day: WeatherDay, names: Sequence[str]) -> bool:
    return any(getattr(day, name) is not None for name in names)
