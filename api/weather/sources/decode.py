"""What all sources share in reading an answer: numbers, units, instants, and what no atmosphere has.

A value that cannot be refuses the whole answer: who is wrong there may be wrong anywhere. A value
that is not there stays unknown.
"""

import datetime as dt
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl, urlsplit

from api.weather.errors import BadAnswer
from api.weather.series.hours import HOUR, Hour, HourlyWeather

Convert = Callable[[float], float]
"""From a service's unit to ours."""

LIMITS: Mapping[str, tuple[float, float]] = {
    "temperature_c": (-95.0, 62.0),
    "dew_point_c": (-120.0, 45.0),
    "humidity_pct": (0.0, 100.0),
    "wind_m_s": (0.0, 100.0),
    "cloud_share": (0.0, 1.0),
    # Above the solar constant of 1367 W/m² only under broken cloud, and never for an hour.
    "solar_mj_m2": (0.0, 1367 * 0.0036),
    "sunshine_h": (0.0, 1.0),
    # 305 mm within 42 minutes (Holt, Missouri, 1947) is the most ever measured in about an hour; from memory.
    "rain_mm": (0.0, 450.0),
    "rain_probability": (0.0, 1.0),
    # Deserts have about 1.5 mm in their worst hour (from memory); a source's own rounding may go below 0.
    "eto_mm": (-0.5, 4.0),
}
"""What the atmosphere can do at most, anywhere and within an hour, in our units."""

SLIGHTLY_BEYOND: Mapping[str, tuple[float, float]] = {
    "humidity_pct": (0.0, 105.0),
    # 5 W/m² below nothing, as instruments that cool under a clear night sky tell.
    "solar_mj_m2": (-5 * 0.0036, 1367 * 0.0036),
    "sunshine_h": (0.0, 1.05),
}
"""What rounding, models and instruments make of a limit: it is taken as that limit. Never so with rain."""

ELEVATION_M = (-500.0, 9000.0)
FARTHEST_KM = 300.0
"""How far from where it was asked for an answer may lie: wider than any model's grid, but no place
whose coordinates were swapped, cut or remembered from another question is as near."""
LONGEST_SPAN = dt.timedelta(days=500)
"""From the first hour of an answer to its last; a season that is replayed has 400 days."""


def same(value: float) -> float:
    """The value as it is."""
    return value


def times(factor: float) -> Convert:
    """A conversion by a factor."""
    return lambda value: value * factor


def from_fahrenheit(value: float) -> float:
    """Degrees Celsius of degrees Fahrenheit."""
    return (value - 32.0) * 5.0 / 9.0


def number(value: object) -> float:
    """A JSON number as it is, whatever else as not a number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    try:
        return float(value)
    except OverflowError:  # an integer of 400 digits
        return math.inf


def known(
    source: str, quantity: str, value: object, convert: Convert, name: str, at: dt.datetime
) -> float | None:
    """A value of an answer as one of our quantities; None for null.

    `name` and `at` say in a sentence which it is. What is slightly beyond a limit, as air above
    saturation, is taken as that limit. Raises BadAnswer for what no atmosphere has.
    """
    if value is None:
        return None
    converted = convert(value if type(value) is float else number(value))
    lowest, highest = LIMITS[quantity]
    if lowest <= converted <= highest:  # not true of what is not a number
        return converted
    least, most = SLIGHTLY_BEYOND.get(quantity, (lowest, highest))
    if least <= converted <= most:
        return min(max(converted, lowest), highest)
    raise BadAnswer(
        source,
        f"'{name}' at {at.isoformat()} is {_shown(value)}; {quantity} is {lowest:g} to {highest:g} anywhere.",
    )


def unit(source: str, name: str, given: object, units: Mapping[str, Convert]) -> Convert:
    """How a series of an answer becomes ours. Raises BadAnswer for a unit that is not known."""
    convert = units.get(given) if isinstance(given, str) else None
    if convert is None:
        raise BadAnswer(source, f"the unit of '{name}' is {_shown(given)}; known are {', '.join(units)}.")
    return convert


def elevation_m(source: str, given: object, convert: Convert = same) -> float | None:
    """The height of the place that an answer is for; None where it does not tell. [m]"""
    if given is None:
        return None
    lowest, highest = ELEVATION_M
    height = convert(number(given))
    if not lowest <= height <= highest:
        raise BadAnswer(source, f"the elevation is {_shown(given)}; {lowest:g} to {highest:g} m is possible.")
    return height


def part(source: str, body: object, *names: str) -> Mapping[str, Any]:
    """The object within an answer to which `names` lead. Raises BadAnswer where there is none."""
    found = body
    for name in names:
        found = found.get(name) if isinstance(found, dict) else None
    if not isinstance(found, dict):
        what = f"holds no object '{'.'.join(names)}'" if names else "is not a JSON object"
        raise BadAnswer(source, f"the answer {what}.")
    return found


def instant(source: str, text: object) -> dt.datetime:
    """An instant of ISO 8601, with its offset, in UTC. Raises BadAnswer."""
    try:
        moment = dt.datetime.fromisoformat(text) if isinstance(text, str) else None
        if moment is not None and moment.tzinfo is not None:
            return moment.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        pass
    raise BadAnswer(source, f"{_shown(text)} is no instant with an offset, as 2026-07-14T12:00:00Z.")


def whole_hour(source: str, text: object) -> dt.datetime:
    """An instant that is a whole hour of UTC. Raises BadAnswer."""
    moment = instant(source, text)
    if moment.minute or moment.second or moment.microsecond:
        raise BadAnswer(source, f"{_shown(text)} is not a whole hour.")
    return moment


def hours_between(start: dt.datetime, end: dt.datetime) -> Iterator[dt.datetime]:
    """The whole hours of UTC from `start` up to but not including `end`."""
    moment = start.replace(minute=0, second=0, microsecond=0)
    if moment < start:
        moment += HOUR
    while moment < end:
        yield moment
        moment += HOUR


def made_of(source: str, values: Mapping[dt.datetime, Mapping[str, Any]]) -> tuple[Hour, ...]:
    """Hours in ascending order of what is known about each.

    Raises BadAnswer where nothing is, and where the hours span more than any answer should.
    """
    starts = sorted(start for start, known_there in values.items() if known_there)
    if not starts:
        raise BadAnswer(source, "the answer holds none of the values that were asked for.")
    if starts[-1] - starts[0] > LONGEST_SPAN:
        raise BadAnswer(
            source,
            f"the answer goes from {starts[0].isoformat()} to {starts[-1].isoformat()};"
            f" {LONGEST_SPAN.days} days are possible.",
        )
    return tuple(Hour(start, **values[start]) for start in starts)


def require_reach(weather: HourlyWeather) -> None:
    """Refuse an answer that ends before it was given: a service whose data no longer come in."""
    if not any(
        hour.start >= weather.retrieved_at and hour.temperature_c is not None
        for hour in reversed(weather.hours)
    ):
        raise BadAnswer(weather.source, "its temperatures end before the moment at which it was asked.")


def asked_position(url: str, latitude: str, longitude: str) -> tuple[float, float] | None:
    """The position in a question's parameters of these names."""
    parameters = dict(parse_qsl(urlsplit(url).query))
    try:
        return float(parameters[latitude]), float(parameters[longitude])
    except (KeyError, ValueError):
        return None


def require_near(source: str, asked: tuple[float, float] | None, latitude: object, longitude: object) -> None:
    """Raise BadAnswer for an answer that is for another place; one that does not tell may pass."""
    if asked is None or (latitude is None and longitude is None):
        return
    there = number(latitude), number(longitude)
    if not (abs(there[0]) <= 90.0 and abs(there[1]) <= 360.0):
        raise BadAnswer(source, f"the answer is for {_shown(latitude)}, {_shown(longitude)}: no position.")
    if _distance_km(asked, there) > FARTHEST_KM:
        raise BadAnswer(
            source,
            f"the answer is for latitude {there[0]:g}, longitude {there[1]:g},"
            f" not for {asked[0]:g}, {asked[1]:g}.",
        )


def _distance_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Great-circle distance of two positions in degrees."""
    (latitude, longitude), (other_latitude, other_longitude) = (map(math.radians, at) for at in (one, other))
    half_chord = math.sqrt(
        math.sin((other_latitude - latitude) / 2) ** 2
        + math.cos(latitude) * math.cos(other_latitude) * math.sin((other_longitude - longitude) / 2) ** 2
    )
    return 2 * 6371.0 * math.asin(min(1.0, half_chord))


def coldest_and_warmest(
    values: Mapping[dt.datetime, Mapping[str, Any]], hours: Iterable[dt.datetime]
) -> tuple[dt.datetime, dt.datetime] | None:
    """Of some hours the ones with the lowest and the highest reading; None where one is unknown.

    A service's extremes of a longer period are put there, so that they reach the right local day.
    """
    readings = [(values.get(hour, {}).get("temperature_c"), hour) for hour in hours]
    if not readings or any(reading is None for reading, _ in readings):
        return None
    return min(readings)[1], max(readings)[1]


def _shown(value: object) -> str:
    """A value as it stood in the answer, short enough for a log line."""
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # more digits or brackets than Python prints
        return f"a {type(value).__name__}"
    return text if len(text) <= 60 else text[:60] + "..."


DURATION: Final = re.compile(
    r"P(?:(?P<weeks>\d{1,4})W"
    r"|(?=[\dT])(?:(?P<days>\d{1,4})D)?"
    r"(?:T(?=\d)(?:(?P<hours>\d{1,5})H)?(?:(?P<minutes>\d{1,6})M)?(?:(?P<seconds>\d{1,7})S)?)?)",
    re.ASCII,
)
"""Without years and months, whose length depends on the calendar."""
NOW: Final = "NOW"
"""Stands for the present as a start or an end; the National Weather Service says so."""


class Interval(NamedTuple):
    """From `start` up to but not including `end`, in UTC."""

    start: dt.datetime
    end: dt.datetime

    @property
    def length(self) -> dt.timedelta:
        """Above 0."""
        return self.end - self.start


def read_interval(source: str, text: object, *, now: dt.datetime) -> Interval:
    """An interval as a service writes it. Raises BadAnswer for anything else, and where it is empty."""
    first, slash, second = text.partition("/") if isinstance(text, str) else ("", "", "")
    begins, ends = _duration(first), _duration(second)
    try:
        if slash and begins is None:
            start = now if first == NOW else instant(source, first)
            end = start + ends if ends is not None else now if second == NOW else instant(source, second)
            if start < end:
                return Interval(start, end)
        elif slash and begins and ends is None:
            end = now if second == NOW else instant(source, second)
            return Interval(end - begins, end)
    except OverflowError:  # a start in the year 9999
        pass
    shown = repr(text)[:60]
    raise BadAnswer(source, f"{shown} is no interval, as 2026-07-14T12:00:00+00:00/PT6H.")


def _duration(text: str) -> dt.timedelta | None:
    """A duration of ISO 8601; None for what is none."""
    found = DURATION.fullmatch(text)
    if found is None:
        return None
    return dt.timedelta(**{unit: int(number) for unit, number in found.groupdict().items() if number})
