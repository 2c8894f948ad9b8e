"""MET Norway's Locationforecast 2.0, the source `met-norway`.

For any place on Earth: hourly for two to three days, then in steps of 6 hours to about nine. No
radiation and no past; a chance of rain in the complete product and not everywhere. The service
wants to know who asks (User-Agent), positions of at most 4 decimals, no question before `Expires`
and conditional ones after it. Format: https://api.met.no/weatherapi/locationforecast/2.0/documentation

Steps of 6 hours become hours that do not pretend to know more: an amount is spread evenly over its
six hours, which no sum over a day depends on but where midnight cuts them; readings run straight
from one step to the next, so that means of a day are as good as the steps; and the period's own
minimum and maximum, which readings 6 hours apart miss, stand with the hour they are nearest to.
Where the compact product gives none, the extremes of such a day are those of its readings.
"""

import datetime as dt
import itertools
from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple

from api.weather import reading, services
from api.weather.errors import BadAnswer, Forbidden, SourceFailed
from api.weather.hours import HOUR, HourlyWeather
from api.weather.place import Place
from api.weather.session import WeatherSession

NAME: Final = "met-norway"
URL: Final = "https://api.met.no"
FOLDER: Final = "/weatherapi/locationforecast/2.0"
PRODUCTS: Final = ("complete", "compact")
"""Both are read; the first, which knows more, is asked for where the address names neither."""
ATTRIBUTION: Final = services.MET_NORWAY.attribution
WIND_HEIGHT_M: Final = 10.0
LONG_STEP_H: Final = 6

TEMPERATURE: Final = {"celsius": reading.same, "fahrenheit": reading.from_fahrenheit}
PER_CENT: Final = {"%": reading.times(0.01), "1": reading.same}
UNITS: Final[Mapping[str, Mapping[str, reading.Convert]]] = {
    "air_temperature": TEMPERATURE,
    "dew_point_temperature": TEMPERATURE,
    "relative_humidity": {"%": reading.same, "1": reading.times(100.0)},
    "wind_speed": {"m/s": reading.same},
    "cloud_area_fraction": PER_CENT,
    "precipitation_amount": {"mm": reading.same},
    "probability_of_precipitation": PER_CENT,
    "air_temperature_min": TEMPERATURE,
    "air_temperature_max": TEMPERATURE,
}
READINGS: Final = {
    "air_temperature": "temperature_c",
    "dew_point_temperature": "dew_point_c",
    "relative_humidity": "humidity_pct",
    "wind_speed": "wind_m_s",
    "cloud_area_fraction": "cloud_share",
}
"""What an instant tells, and the quantity it is."""
OF_A_PERIOD: Final = {
    "precipitation_amount": "rain_mm",
    "probability_of_precipitation": "rain_probability",
    "air_temperature_min": "temperature_c",
    "air_temperature_max": "temperature_c",
}

Values = dict[dt.datetime, dict[str, Any]]


class Step(NamedTuple):
    """One entry of the series; the values are in our units, those of periods by the service's names."""

    time: dt.datetime
    readings: Mapping[str, float]
    is_hourly: bool
    hour: Mapping[str, float]
    """Of `next_1_hours`."""
    six_hours: Mapping[str, float]
    """Of `next_6_hours`, which overlap where steps are hourly."""


class MetNorway:
    """Asks the service. `clock` gives the present instant, aware."""

    name = NAME

    def __init__(
        self, session: WeatherSession, *, base_url: str | None = None, clock: Callable[[], dt.datetime]
    ) -> None:
        address = (base_url or URL).rstrip("/")
        if not address.endswith(tuple(f"{FOLDER}/{product}" for product in PRODUCTS)):
            address = f"{address.removesuffix(FOLDER)}{FOLDER}/{PRODUCTS[0]}"
        self._session = session
        self._url = address
        self._clock = clock
        session.accept(address.rpartition("/")[0], NAME, self._check)

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from the present one to about nine days ahead; the service has no past days.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        latitude, longitude = place.coordinates
        parameters = {"lat": latitude, "lon": longitude}
        try:
            return self._session.hours(NAME, self._url, parameters, read, self._clock)
        except Forbidden as failed:
            failure: SourceFailed = Forbidden(
                NAME, f"{failed.detail} It wants to know whom to write to: set ROOTLEDGER_CONTACT."
            )
            failure.older = failed.older
            raise failure from None

    def _check(self, body: object, url: str) -> None:
        reading.require_reach(read(body, retrieved_at=self._clock()))
        position = _position(body)
        if len(position) >= 2:
            reading.require_near(NAME, reading.asked_position(url, "lat", "lon"), position[1], position[0])


def read(body: object, /, *, retrieved_at: dt.datetime) -> HourlyWeather:
    """The hours of an answer, complete or compact. Raises BadAnswer."""
    properties = reading.part(NAME, body, "properties")
    units = reading.part(NAME, properties, "meta", "units")
    series = properties.get("timeseries")
    if not isinstance(series, list):
        raise BadAnswer(NAME, "the answer holds no list 'timeseries'.")
    steps = sorted((_step(entry, units) for entry in series), key=lambda step: step.time)
    for step, following in itertools.pairwise(steps):
        if step.time == following.time:
            raise BadAnswer(NAME, f"{step.time.isoformat()} is there twice.")
    values: Values = {}
    for step in steps:
        values[step.time] = dict(step.readings)
    for step, following in itertools.pairwise(steps):
        _fill_in(values, step, following)
    amounts_end = dt.datetime.min.replace(tzinfo=dt.UTC)
    for number, step in enumerate(steps):
        until = steps[number + 1].time if number + 1 < len(steps) else None
        amounts_end = max(amounts_end, _add_period(values, step, until, amounts_end))
    return HourlyWeather(
        source=NAME,
        attribution=ATTRIBUTION,
        retrieved_at=retrieved_at,
        elevation_m=_elevation_m(body),
        wind_height_m=WIND_HEIGHT_M,
        hours=reading.made_of(NAME, values),
        knows_past=False,
    )


def _step(entry: object, units: Mapping[str, Any]) -> Step:
    part = reading.part(NAME, entry)
    time = reading.whole_hour(NAME, part.get("time"))
    data = reading.part(NAME, part, "data")
    return Step(
        time=time,
        readings={
            READINGS[name]: value for name, value in _details(data, "instant", READINGS, units, time).items()
        },
        is_hourly="next_1_hours" in data,
        hour=_details(data, "next_1_hours", OF_A_PERIOD, units, time),
        six_hours=_details(data, "next_6_hours", OF_A_PERIOD, units, time),
    )


def _details(
    data: Mapping[str, Any],
    period: str,
    wanted: Mapping[str, str],
    units: Mapping[str, Any],
    time: dt.datetime,
) -> dict[str, float]:
    """What is known of an instant or a period, by the service's names; nothing where it is left out."""
    found = data.get(period)
    details = found.get("details") if isinstance(found, dict) else None
    if not isinstance(details, dict):
        return {}
    values: dict[str, float] = {}
    for name, quantity in wanted.items():
        if details.get(name) is None:
            continue
        convert = reading.unit(NAME, name, units.get(name), UNITS[name])
        value = reading.known(NAME, quantity, details[name], convert, f"{period}.{name}", time)
        if value is not None:
            values[name] = value
    return values


def _fill_in(values: Values, step: Step, following: Step) -> None:
    """Readings of the hours within a long step: straight from its beginning to its end.

    Where an hour is missing between hourly steps, something went wrong, and it stays unknown.
    """
    length_h = round((following.time - step.time) / HOUR)
    if step.is_hourly or length_h > LONG_STEP_H:
        return
    for quantity in step.readings.keys() & following.readings.keys():
        first, last = step.readings[quantity], following.readings[quantity]
        for number in range(1, length_h):
            between = values.setdefault(step.time + number * HOUR, {})
            between[quantity] = first + (last - first) * number / length_h


def _add_period(
    values: Values, step: Step, following: dt.datetime | None, taken_until: dt.datetime
) -> dt.datetime:
    """Give the hours of a step its rain, its chance of rain and its extremes; returns where it ends.

    Periods of 6 hours count only where no other amount covers a part of them: never both.
    """
    if step.is_hourly:
        _give(values, step.time, step.hour, 1)
        return step.time + HOUR
    end = step.time + LONG_STEP_H * HOUR
    if not step.six_hours or step.time < taken_until or (following is not None and following < end):
        return step.time
    hours = [step.time + number * HOUR for number in range(LONG_STEP_H)]
    for hour in hours:
        _give(values, hour, step.six_hours, LONG_STEP_H)
    where = reading.coldest_and_warmest(values, hours)
    if where is not None:
        coldest, warmest = where
        values[coldest]["low_c"] = step.six_hours.get("air_temperature_min")
        values[warmest]["high_c"] = step.six_hours.get("air_temperature_max")
    return end


def _give(values: Values, hour: dt.datetime, period: Mapping[str, float], length_h: int) -> None:
    there = values.setdefault(hour, {})
    if "precipitation_amount" in period:
        there["rain_mm"] = period["precipitation_amount"] / length_h
    if "probability_of_precipitation" in period:
        there["rain_probability"] = period["probability_of_precipitation"]


def _position(body: object) -> list[object]:
    """Longitude, latitude and height, as GeoJSON has them; empty where they are left out."""
    geometry = body.get("geometry") if isinstance(body, dict) else None
    position = geometry.get("coordinates") if isinstance(geometry, dict) else None
    return position if isinstance(position, list) else []


def _elevation_m(body: object) -> float | None:
    position = _position(body)
    return reading.elevation_m(NAME, position[2]) if len(position) >= 3 else None
