"""The layers of a square of the National Weather Service's grid, read into hours.

Every quantity is a layer of its own, run-length encoded: a value and the interval of ISO 8601 it is
for. Amounts of rain are totals of theirs.
"""

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any, Final

from api.weather.errors import BadAnswer
from api.weather.series.hours import HOUR, Attribution, HourlyWeather
from api.weather.sources import decode as reading
from api.weather.sources.decode import Interval, read_interval

NAME: Final = "us-nws"
ATTRIBUTION: Final = Attribution(
    "Forecast of the National Weather Service, NOAA (https://www.weather.gov/), made into local days"
)  # public domain: naming it is courtesy
WIND_HEIGHT_M: Final = 10.0

TEMPERATURE: Final = {"degC": reading.same, "degF": reading.from_fahrenheit}
PER_CENT: Final = {"percent": reading.times(0.01)}
SPEED: Final = {"km_h-1": reading.times(1 / 3.6), "m_s-1": reading.same, "kt": reading.times(1852 / 3600)}
LENGTH_M: Final = {"m": reading.same, "ft": reading.times(0.3048)}
DEPTH_MM: Final = {"mm": reading.same, "in": reading.times(25.4), "m": reading.times(1000.0)}
READINGS: Final[Mapping[str, tuple[str, Mapping[str, reading.Convert]]]] = {
    "temperature": ("temperature_c", TEMPERATURE),
    "dewpoint": ("dew_point_c", TEMPERATURE),
    "relativeHumidity": ("humidity_pct", {"percent": reading.same}),
    "windSpeed": ("wind_m_s", SPEED),
    "skyCover": ("cloud_share", PER_CENT),
    "probabilityOfPrecipitation": ("rain_probability", PER_CENT),
}
"""Layers whose value holds for every hour of its interval."""
RAIN: Final = "quantitativePrecipitation"
LONGEST_AMOUNT: Final = 12 * HOUR
"""What falls in a longer interval tells nothing about single days; usual are 6 hours."""
EXTREMES: Final = {"minTemperature": "low_c", "maxTemperature": "high_c"}
"""Of a night of 14 hours, and of a day of 13."""
LONGEST_WINDOW: Final = 24 * HOUR
MOST_HOURS: Final = 24 * 60
"""In one layer, over all its intervals; the service gives about 200."""

Values = dict[dt.datetime, dict[str, Any]]


def read(body: object, /, *, retrieved_at: dt.datetime) -> HourlyWeather:
    """The hours of a square of the grid. Raises BadAnswer.

    A layer that is not there, is empty or null stays unknown, and so does an hour for which one
    tells two values; rain that ends before temperature is not rain of 0.
    """
    layers = reading.part(NAME, body, "properties")
    values: Values = {}
    for name, (quantity, units) in READINGS.items():
        for hour, value in _readings(layers, name, quantity, units, retrieved_at).items():
            if value is not None:
                values.setdefault(hour, {})[quantity] = value
    for hour, value in _rain(layers, retrieved_at).items():
        values.setdefault(hour, {})["rain_mm"] = value
    for name, field in EXTREMES.items():
        for interval, value in _layer(layers, name, "temperature_c", TEMPERATURE, retrieved_at):
            _add_extreme(values, interval, field, value)
    return HourlyWeather(
        source=NAME,
        attribution=ATTRIBUTION,
        retrieved_at=retrieved_at,
        elevation_m=_elevation_m(layers.get("elevation")),
        wind_height_m=WIND_HEIGHT_M,
        hours=reading.made_of(NAME, values),
        knows_past=False,
    )


def _layer(
    layers: Mapping[str, Any],
    name: str,
    quantity: str,
    units: Mapping[str, reading.Convert],
    asked: dt.datetime,
    is_amount: bool = False,
) -> list[tuple[Interval, float | None]]:
    """The intervals of a layer with their values in our unit, in the order in which they came."""
    layer = layers.get(name)
    if layer is None:
        return []
    entries = reading.part(NAME, layer).get("values")
    if not isinstance(entries, list):
        raise BadAnswer(NAME, f"'{name}' holds no list of values.")
    if all(isinstance(entry, dict) and entry.get("value") is None for entry in entries):
        return []
    convert = reading.unit(NAME, name, _bare(reading.part(NAME, layer).get("uom")), units)
    read_ones: list[tuple[Interval, float | None]] = []
    length = dt.timedelta()
    for entry in entries:
        part = reading.part(NAME, entry)
        interval = read_interval(NAME, part.get("validTime"), now=asked)
        length += interval.length
        if length > MOST_HOURS * HOUR:
            raise BadAnswer(NAME, f"the intervals of '{name}' are longer than {MOST_HOURS} hours together.")
        # What falls in several hours can be several times what can fall in one.
        hours = max(1.0, interval.length / HOUR) if is_amount else 1.0
        given = part.get("value")
        value = reading.known(NAME, quantity, given, _divided(convert, hours), name, interval.start)
        read_ones.append((interval, None if value is None else value * hours))
    return read_ones


def _divided(convert: reading.Convert, hours: float) -> reading.Convert:
    return lambda value: convert(value) / hours


def _readings(
    layers: Mapping[str, Any],
    name: str,
    quantity: str,
    units: Mapping[str, reading.Convert],
    asked: dt.datetime,
) -> dict[dt.datetime, float | None]:
    """A layer by the hour; None where it tells two things of one."""
    by_hour: dict[dt.datetime, float | None] = {}
    for interval, value in _layer(layers, name, quantity, units, asked):
        if value is None:
            continue
        for hour in reading.hours_between(interval.start, interval.end):
            by_hour[hour] = value if by_hour.get(hour, value) == value else None
    return by_hour


def _rain(layers: Mapping[str, Any], asked: dt.datetime) -> dict[dt.datetime, float]:
    """Rain by the hour: each amount spread evenly over its interval, where that covers whole hours."""
    amounts: dict[dt.datetime, float] = {}
    covered: dict[dt.datetime, float] = {}
    for interval, amount in _layer(layers, RAIN, "rain_mm", DEPTH_MM, asked, is_amount=True):
        if amount is None or (amount > 0.0 and interval.length > LONGEST_AMOUNT):
            continue
        for hour in reading.hours_between(interval.start - HOUR + dt.timedelta.resolution, interval.end):
            overlap = min(hour + HOUR, interval.end) - max(hour, interval.start)
            amounts[hour] = amounts.get(hour, 0.0) + amount * (overlap / interval.length)
            covered[hour] = covered.get(hour, 0.0) + overlap / HOUR
    return {hour: amount for hour, amount in amounts.items() if math.isclose(covered[hour], 1.0)}


def _add_extreme(values: Values, interval: Interval, field: str, value: float | None) -> None:
    """Put a night's minimum or a day's maximum to the hour of its interval that comes nearest to it."""
    if value is None or interval.length > LONGEST_WINDOW:
        return
    hours = list(reading.hours_between(interval.start, interval.end))
    where = reading.coldest_and_warmest(values, hours)
    if where is not None:
        coldest, warmest = where
        values[coldest if field == "low_c" else warmest][field] = value


def _elevation_m(given: object) -> float | None:
    if not isinstance(given, dict) or given.get("value") is None:
        return None
    convert = reading.unit(NAME, "elevation", _bare(given.get("unitCode")), LENGTH_M)
    return reading.elevation_m(NAME, given["value"], convert)


def _bare(unit: object) -> object:
    """A unit without its vocabulary: `wmoUnit:degC`, `unit:degC` and an address that ends in /degC."""
    return re.split(r"[:/]", unit)[-1] if isinstance(unit, str) else unit
