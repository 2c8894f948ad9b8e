"""The format in which Open-Meteo's services answer: forecast, archive and ensemble alike.

Hours only: no daily value of the service is used, for its days have a fixed offset and never 23 or
25 hours. Format: https://open-meteo.com/en/docs
"""

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from api.weather.errors import BadAnswer
from api.weather.series.hours import HOUR, Attribution, HourlyWeather
from api.weather.sources import decode as reading

NAME: Final = "open-meteo"
ATTRIBUTION: Final = Attribution(
    "Weather data by Open-Meteo.com (https://open-meteo.com/), made into local days",
    "https://creativecommons.org/licenses/by/4.0/",
)
WIND_HEIGHT_M: Final = 10.0


class Series(NamedTuple):
    """One of the service's hourly variables, and how it becomes one of our quantities."""

    quantity: str
    names: tuple[str, ...]
    """The requested name, then the older spelling."""
    units: Mapping[str, reading.Convert]
    preceding_hour: bool = False
    """True if a stamp covers the hour before it, false if it is that moment."""


TEMPERATURE: Final = {"°C": reading.same, "°F": reading.from_fahrenheit}
SPEED: Final = {
    "m/s": reading.same,
    "km/h": reading.times(1 / 3.6),
    "mp/h": reading.times(0.44704),
    "kn": reading.times(1852 / 3600),
}
PER_CENT: Final = {"%": reading.times(0.01)}
DEPTH: Final = {"mm": reading.same, "inch": reading.times(25.4)}
# Radiation is the mean over the hour before, in W/m²: 0.0036 MJ/m² an hour.
RADIATION: Final = {"W/m²": reading.times(0.0036)}

SERIES: Final = (
    Series("temperature_c", ("temperature_2m",), TEMPERATURE),
    Series("dew_point_c", ("dew_point_2m", "dewpoint_2m"), TEMPERATURE),
    Series("humidity_pct", ("relative_humidity_2m", "relativehumidity_2m"), {"%": reading.same}),
    Series("wind_m_s", ("wind_speed_10m", "windspeed_10m"), SPEED),
    Series("cloud_share", ("cloud_cover", "cloudcover"), PER_CENT),
    Series("solar_mj_m2", ("shortwave_radiation",), RADIATION, True),
    Series("rain_mm", ("precipitation",), DEPTH, True),
    Series("eto_mm", ("et0_fao_evapotranspiration",), DEPTH, True),
    Series("rain_probability", ("precipitation_probability",), PER_CENT, True),
)
RAIN_OF_A_MEMBER: Final = re.compile(r"precipitation(_member\d{2,3})?(_[a-z][a-z0-9_]*)?", re.ASCII)
"""The control run has no number; with several models, the model's name ends each of them."""
NOT_AVAILABLE: Final = "undefined"
"""The unit of a variable that the model does not have; all its values are null."""


def require_near(body: object, url: str) -> None:
    """Raise BadAnswer if the answer is for another place than requested."""
    first = _first_location(body)
    asked = reading.asked_position(url, "latitude", "longitude")
    reading.require_near(NAME, asked, first.get("latitude"), first.get("longitude"))


def read(body: object, /, *, retrieved_at: dt.datetime) -> HourlyWeather:
    """The hours of an answer of the service, also of one to another question than ours.

    Variables that are not there, null, or not available stay unknown. Raises BadAnswer.
    """
    body = _first_location(body)
    hourly, units, stamps = _hourly(body)
    hours: dict[dt.datetime, dict[str, Any]] = {}
    for series in SERIES:
        name = next((name for name in series.names if name in hourly), None)
        if name is None:
            continue
        values = _values(series, name, hourly[name], units.get(name), stamps)
        shift = HOUR if series.preceding_hour else dt.timedelta()
        for stamp, value in zip(stamps, values, strict=True):
            if value is not None:
                hours.setdefault(stamp - shift, {})[series.quantity] = value
    return HourlyWeather(
        source=NAME,
        attribution=ATTRIBUTION,
        retrieved_at=retrieved_at,
        elevation_m=reading.elevation_m(NAME, body.get("elevation")),
        wind_height_m=WIND_HEIGHT_M,
        hours=reading.made_of(NAME, hours),
    )


def read_members(body: object) -> dict[dt.datetime, tuple[float, ...]]:
    """Rain of every member of an ensemble by the hour, the same member always at the same place. [mm]

    Hours in which a member is unknown are left out, and so is a member that knows nothing. Raises
    BadAnswer.
    """
    hourly, units, stamps = _hourly(_first_location(body))
    rain = next(series for series in SERIES if series.quantity == "rain_mm")
    members = [
        _values(rain, name, hourly[name], units.get(name), stamps)
        for name in sorted(hourly)
        if RAIN_OF_A_MEMBER.fullmatch(name) and not name.startswith("precipitation_probability")
    ]
    known_ones = [member for member in members if any(value is not None for value in member)]
    hours: dict[dt.datetime, tuple[float, ...]] = {}
    for stamp, *values in zip(stamps, *known_ones, strict=True):
        depths = tuple(value for value in values if value is not None)
        if depths and len(depths) == len(values):
            hours[stamp - HOUR] = depths
    return hours


def _first_location(body: object) -> Mapping[str, Any]:
    """The object of an answer; of several, which come as a list, the first in the question's order."""
    return reading.part(NAME, body[0] if isinstance(body, list) and body else body)


def _hourly(body: Mapping[str, Any]) -> tuple[Mapping[str, Any], Mapping[str, Any], list[dt.datetime]]:
    hourly, units = reading.part(NAME, body, "hourly"), reading.part(NAME, body, "hourly_units")
    return hourly, units, _stamps(hourly.get("time"), units.get("time"), body.get("utc_offset_seconds", 0))


def _stamps(times: object, unit: object, offset_s: object) -> list[dt.datetime]:
    """The instants of the values, in UTC, ascending."""
    if not isinstance(times, list) or not times:
        raise BadAnswer(NAME, "the answer holds no list of times.")
    if isinstance(offset_s, bool) or not isinstance(offset_s, int) or abs(offset_s) > 18 * 3600:
        raise BadAnswer(NAME, f"'utc_offset_seconds' is {offset_s!r}; -64800 to 64800 is possible.")
    # The service looks its data up by the offset's whole hours, but labels them with the whole
    # offset: "00:00" with 19800 s stands for 19:00 UTC, not for 18:30.
    whole_hours_s = int(offset_s / 3600) * 3600
    stamps: list[dt.datetime] = []
    for time in times:
        try:
            if unit == "iso8601" and isinstance(time, str):
                label = dt.datetime.fromisoformat(time).replace(tzinfo=dt.UTC)
                stamp = label - dt.timedelta(seconds=whole_hours_s)
            elif unit == "unixtime" and isinstance(time, int) and not isinstance(time, bool):
                stamp = dt.datetime.fromtimestamp(time, dt.UTC)
                if stamp.minute:
                    stamp += dt.timedelta(seconds=offset_s - whole_hours_s)
            else:
                raise ValueError
        except (ValueError, OverflowError, OSError):
            raise BadAnswer(NAME, f"{time!r} is no time of unit {unit!r}.") from None
        if stamp.minute or stamp.second:
            raise BadAnswer(NAME, f"{time!r} is not a whole hour.")
        if stamps and stamp <= stamps[-1]:
            raise BadAnswer(NAME, f"{time!r} comes after {stamps[-1].isoformat()}; times have to ascend.")
        stamps.append(stamp)
    return stamps


def _values(
    series: Series, name: str, values: object, unit: object, stamps: Sequence[dt.datetime]
) -> list[float | None]:
    if not isinstance(values, list) or len(values) != len(stamps):
        count = len(values) if isinstance(values, list) else "no list of"
        raise BadAnswer(NAME, f"there are {count} values of '{name}' for {len(stamps)} times.")
    if unit == NOT_AVAILABLE or all(value is None for value in values):
        return [None] * len(values)
    convert = reading.unit(NAME, name, unit, series.units)
    return [
        reading.known(NAME, series.quantity, value, convert, name, stamp)
        for value, stamp in zip(values, stamps, strict=True)
    ]
