"""Rain where one source's days give way to another's: a shower near midnight is counted once.

Two sources may put one shower on either side of a midnight. Where the day before it has its rain from
one, and the day after it from the other, both would have that shower; so what the earlier day has
beyond the later day's own source is taken off what falls until noon of the later day. What falls after
noon is no shower of the day before.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from api.weather.series.own_weather import NAME as OWN_WEATHER
from scheduling.balance.weather import IS_PROMISE, Borrowed, Origin, WeatherDay
from scheduling.landscape.counted_rain import counted_depth_mm

DUST_MM = 1e-9


def expected_rain_mm(day: WeatherDay) -> float | None:
    """What of a day's rain is relied on; None where none is known. [mm]"""
    return None if day.rain_mm is None else _relied_on_mm(day, day.rain_mm)


def _relied_on_mm(day: WeatherDay, first_mm: float) -> float:
    """What is relied on of the first so many mm of a day's rain: what has fallen is the first of it."""
    if day.origin not in IS_PROMISE:
        return first_mm
    fallen_mm = min(day.rain_fallen_mm or 0.0, first_mm)
    to_come_mm = first_mm - fallen_mm
    return fallen_mm + counted_depth_mm(to_come_mm, day.rain_probability, day.rain_is_expected_value)


def counted_once(days: Iterable[WeatherDay]) -> tuple[WeatherDay, ...]:
    """Days one after another, without the rain that the day before has already from another source.

    What the owner measured stays as it is. Where nothing is known of what the later source had for the
    day before, it had none: rather too little rain is counted than the same rain twice.
    """
    whole: list[WeatherDay] = []
    for day in days:
        whole.append(day if not whole else _without_what(whole[-1], day))
    return tuple(whole)


def _without_what(before: WeatherDay, day: WeatherDay) -> WeatherDay:
    if not before.rain_mm or not day.rain_mm:
        return day
    source = day.source_of("rain")
    if source in (before.source_of("rain"), OWN_WEATHER) or "rain_fallen_mm" in day.observed:
        return day
    counted_mm, expected_mm = expected_rain_mm(before), expected_rain_mm(day)
    if not counted_mm or not expected_mm:
        return day
    until_noon_mm = day.rain_mm if day.rain_until_noon_mm is None else day.rain_until_noon_mm
    early_mm = _relied_on_mm(day, min(until_noon_mm, day.rain_mm))
    twice_mm = min(early_mm, counted_mm - (day.rain_day_before_mm or 0.0))
    if twice_mm <= DUST_MM:
        return day
    left = max(0.0, 1.0 - twice_mm / expected_mm)
    return replace(
        day,
        rain_mm=left * day.rain_mm,
        rain_fallen_mm=None if day.rain_fallen_mm is None else left * day.rain_fallen_mm,
        rain_members_mm=None
        if day.rain_members_mm is None
        else tuple(left * member_mm for member_mm in day.rain_members_mm),
        rain_left_out_mm=(1.0 - left) * day.rain_mm,
    )


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
        not day.is_complete
        or day.hours_assumed > 0
        or day.solar_mj_m2 is None
        or _is_mere_promise(day, today)
    )


def combined(
    first: Sequence[WeatherDay], second: Sequence[WeatherDay], today: dt.date
) -> tuple[WeatherDay, ...]:
    """The days of a preferred source, with what another one knows besides, in ascending order."""
    by_date = {day.date: day for day in second if day.is_complete}
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
