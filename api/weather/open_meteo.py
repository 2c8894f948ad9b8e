"""Open-Meteo's forecast service, the source `open-meteo`.

One request in hours: no daily value of the service is used, for its days have a fixed offset and
never 23 or 25 hours. Free for non-commercial use; base URL and key are settings, so a paid or a
self-hosted service works alike. Format: https://open-meteo.com/en/docs
"""

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from api.weather.errors import BadAnswer, RateLimited, SourceFailed
from api.weather.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.place import Place
from api.weather.session import WeatherSession

NAME = "open-meteo"
FREE_URL = "https://api.open-meteo.com"
CUSTOMER_URL = "https://customer-api.open-meteo.com"
"""Where a key is used; the free service would redirect there."""
PATH = "/v1/forecast"
ATTRIBUTION = Attribution(
    "Weather data by Open-Meteo.com (https://open-meteo.com/), made into local days",
    "https://creativecommons.org/licenses/by/4.0/",
)
WIND_HEIGHT_M = 10.0
MOST_PAST_DAYS = 92
FORECAST_DAYS = 10
"""Today and 9 more days of UTC: 8 whole local days ahead anywhere, so that a forecast 72 hours old
still holds 5. With 4 past days they are the 14 that the free service counts as one call."""


class Series(NamedTuple):
    """One of the service's hourly variables, and how it becomes one of our quantities."""

    quantity: str
    names: tuple[str, ...]
    """The one asked for, then the older spelling."""
    units: Mapping[str, Callable[[float], float]]
    lowest: float
    highest: float
    """What the atmosphere can do at most, in our unit."""
    preceding_hour: bool = False
    """True where a stamp stands for the hour before it, false for the moment itself."""


def _same(value: float) -> float:
    return value


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


TEMPERATURE = {"°C": _same, "°F": lambda value: (value - 32.0) * 5.0 / 9.0}
SPEED = {"m/s": _same, "km/h": _times(1 / 3.6), "mp/h": _times(0.44704), "kn": _times(1852 / 3600)}
PER_CENT = {"%": _times(0.01)}


def _humidity(per_cent: float) -> float:
    """Models know air above saturation; a day's arithmetic takes it as saturated."""
    return 100.0 if 100.0 < per_cent <= 105.0 else per_cent


SERIES = (
    Series("temperature_c", ("temperature_2m",), TEMPERATURE, -95.0, 62.0),
    Series("dew_point_c", ("dew_point_2m", "dewpoint_2m"), TEMPERATURE, -120.0, 45.0),
    Series("humidity_pct", ("relative_humidity_2m", "relativehumidity_2m"), {"%": _humidity}, 0.0, 100.0),
    Series("wind_m_s", ("wind_speed_10m", "windspeed_10m"), SPEED, 0.0, 100.0),
    Series("cloud_share", ("cloud_cover", "cloudcover"), PER_CENT, 0.0, 1.0),
    # The mean over the hour before, in W/m²: 0.0036 MJ/m² an hour. Above the solar constant of
    # 1367 W/m² only under broken cloud, and never for an hour.
    Series("solar_mj_m2", ("shortwave_radiation",), {"W/m²": _times(0.0036)}, 0.0, 1367 * 0.0036, True),
    # 305 mm within 42 minutes (Holt, Missouri, 1947) is the most ever measured in about an hour; from memory.
    Series("rain_mm", ("precipitation",), {"mm": _same, "inch": _times(25.4)}, 0.0, 450.0, True),
    Series("rain_probability", ("precipitation_probability",), PER_CENT, 0.0, 1.0, True),
)  # fmt: skip
NOT_AVAILABLE = "undefined"
"""The unit of a variable that the model does not have; all its values are null."""


class OpenMeteo:
    """Asks the service. `clock` gives the present instant, aware."""

    name = NAME

    def __init__(
        self,
        session: WeatherSession,
        *,
        base_url: str | None = None,
        key: str | None = None,
        clock: Callable[[], dt.datetime],
    ) -> None:
        if base_url is None or (key is not None and base_url.rstrip("/") == FREE_URL):
            base_url = FREE_URL if key is None else CUSTOMER_URL
        base_url = base_url.rstrip("/").removesuffix(PATH)
        self._session = session
        self._url = base_url + PATH
        self._key = key
        self._clock = clock
        session.accept(base_url, NAME, lambda body: read(body, retrieved_at=clock()))

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from at least `past_days` local days back (92 at most) to 8 ahead.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        latitude, longitude = place.coordinates
        parameters = {
            "latitude": latitude,
            "longitude": longitude,
            "hourly": ",".join(series.names[0] for series in SERIES),
            "timezone": "GMT",
            "timeformat": "unixtime",
            "wind_speed_unit": "ms",
            # One more, because the day of UTC may begin after the local one.
            "past_days": str(min(past_days + 1, MOST_PAST_DAYS)),
            "forecast_days": str(FORECAST_DAYS),
        }
        if self._key is not None:
            parameters["apikey"] = self._key
        try:
            answer = self._session.ask(NAME, self._url, parameters)
        except SourceFailed as failed:
            failure = _with_told_pause(failed, self._clock())
            answer_before = self._session.answer_before(self._url, parameters)
            if answer_before is not None:
                failure.older = read(answer_before.body, retrieved_at=self._clock() - answer_before.age)
            raise failure from None
        return read(answer.body, retrieved_at=self._clock() - answer.age)


def read(body: object, *, retrieved_at: dt.datetime) -> HourlyWeather:
    """The hours of an answer of the service, also of one to another question than ours.

    Variables that are not there, null, or not available stay unknown. Raises BadAnswer.
    """
    if isinstance(body, list) and body:
        body = body[0]  # several locations were asked for: the order is that of the question
    if not isinstance(body, dict):
        raise BadAnswer(NAME, "the answer is not a JSON object.")
    hourly, units = body.get("hourly"), body.get("hourly_units")
    if not isinstance(hourly, dict) or not isinstance(units, dict):
        raise BadAnswer(NAME, "the answer holds no 'hourly' with its 'hourly_units'.")
    stamps = _stamps(hourly.get("time"), units.get("time"), body.get("utc_offset_seconds", 0))
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
    if not hours:
        raise BadAnswer(NAME, "the answer holds none of the values that were asked for.")
    return HourlyWeather(
        source=NAME,
        attribution=ATTRIBUTION,
        retrieved_at=retrieved_at,
        elevation_m=_elevation_m(body.get("elevation")),
        wind_height_m=WIND_HEIGHT_M,
        hours=tuple(Hour(start, **hours[start]) for start in sorted(hours)),
    )


def _stamps(times: object, unit: object, offset_s: object) -> list[dt.datetime]:
    """The instants that the values stand for, in UTC, ascending."""
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
    convert = series.units.get(unit) if isinstance(unit, str) else None
    if convert is None:
        raise BadAnswer(NAME, f"the unit of '{name}' is {unit!r}; known are {', '.join(series.units)}.")
    converted: list[float | None] = []
    for value, stamp in zip(values, stamps, strict=True):
        if value is None:
            converted.append(None)
            continue
        known = convert(_number(value))
        if not series.lowest <= known <= series.highest:  # also true of what is not a number
            raise BadAnswer(
                NAME,
                f"'{name}' is {value!r} {unit} at {stamp.isoformat()}; {series.quantity} is"
                f" {series.lowest:g} to {series.highest:g} anywhere.",
            )
        converted.append(known)
    return converted


def _number(value: object) -> float:
    """A JSON number as it is, whatever else as not a number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return math.nan
    try:
        return float(value)
    except OverflowError:  # an integer of 400 digits
        return math.inf


def _elevation_m(elevation: object) -> float | None:
    if elevation is None:
        return None
    if not -500 <= _number(elevation) <= 9000:
        raise BadAnswer(NAME, f"'elevation' is {elevation!r}; -500 to 9000 m is possible.")
    return _number(elevation)


def _with_told_pause(failed: SourceFailed, now: dt.datetime) -> SourceFailed:
    """The service tells in words, not in a header, which of its limits was reached."""
    if not isinstance(failed, RateLimited):
        return failed
    said, now = failed.detail.lower(), now.astimezone(ZoneInfo("UTC"))
    if "daily" in said:
        reset = now.replace(hour=0, minute=0, second=0, microsecond=0) + dt.timedelta(days=1)
    elif "hourly" in said:
        reset = now.replace(minute=0, second=0, microsecond=0) + HOUR
    else:
        return failed
    pause_s = max(failed.pause_s, (reset - now).total_seconds() + 60.0)
    return RateLimited(NAME, failed.detail, retry_after_s=pause_s)
