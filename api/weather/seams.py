"""Rain where one source's days give way to another's: a shower near midnight is counted once.

Two sources may put one shower on either side of a midnight. Where the day before it has its rain from
one, and the day after it from the other, both would have that shower; so what the earlier day has
beyond the later day's own source is taken off what falls until noon of the later day. What falls after
noon is no shower of the day before.
"""

from collections.abc import Iterable
from dataclasses import replace

from api.weather.own_weather import NAME as OWN_WEATHER
from scheduling.landscape.counted_rain import counted_depth_mm
from scheduling.weather import IS_PROMISE, WeatherDay

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
