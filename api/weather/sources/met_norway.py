"""MET Norway's Locationforecast 2.0, the source `met-norway`.

For any place on Earth: hourly for two to three days, then in steps of 6 hours to about nine. No
radiation and no past; a chance of rain in the complete product and not everywhere. The service
wants to know who asks (User-Agent), positions of at most 4 decimals, no question before `Expires`
and conditional ones after it. Format: https://api.met.no/weatherapi/locationforecast/2.0/documentation

Steps of 6 hours become hours that do not pretend to know more: an amount is spread evenly over its
six hours, which no sum over a day depends on but where midnight cuts them. Where an hourly step tells
no amount of its own, it has what is left of six hours when the others are taken off. Readings run straight
from one step to the next, so that means of a day are as good as the steps; and the period's own
minimum and maximum, which readings 6 hours apart miss, stand with the hour they are nearest to.
Where the compact product gives none, the extremes of such a day are those of its readings.
"""

import datetime as dt
import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from api.weather.errors import BadAnswer, Forbidden, SourceFailed
from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, HourlyWeather
from api.weather.sources import decode as reading
from api.weather.sources.services import Service, Setting, address

if TYPE_CHECKING:
    from api.weather.sources.session import WeatherSession

NAME: Final = "met-norway"
URL: Final = "https://api.met.no"
FOLDER: Final = "/weatherapi/locationforecast/2.0"
PRODUCTS: Final = ("complete", "compact")
"""Both are read; the first, which knows more, is asked for where the address names neither."""
ATTRIBUTION: Final = Attribution(
    "Based on data from MET Norway (https://api.met.no/), made into local days",
    "https://creativecommons.org/licenses/by/4.0/",
)
WIND_HEIGHT_M: Final = 10.0
LONG_STEP_H: Final = 6
SERVICE: Final = Service(
    NAME,
    ATTRIBUTION,
    knows_past=False,
    gives_radiation=False,
    knows="no radiation, no past (MET Norway; it wants to know who asks: set `ROOTLEDGER_CONTACT`)",
    make=lambda here: MetNorway(here.session, base_url=here.settings.get("MET_NORWAY_URL"), clock=here.clock),
    settings=(Setting("MET_NORWAY_URL", address, "the service's own", "another address of `met-norway`"),),
)

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
        self, session: "WeatherSession", *, base_url: str | None = None, clock: Callable[[], dt.datetime]
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
    _add_periods(values, steps)
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


def _add_periods(values: Values, steps: Sequence[Step]) -> None:
    """Give every hour its rain and its chance of rain, and long steps their extremes.

    An hour's own amount goes first. What an hour does not tell comes from six hours around it, less
    what the others of them tell: never both.
    """
    covered = {step.time for step in steps if step.is_hourly}
    for step in steps:
        if step.is_hourly:
            _give(values, [step.time], step.hour, step.hour.get("precipitation_amount"))
    longer = {step.time: step.six_hours for step in steps if step.six_hours}
    for step in steps:
        begins = None if step.time in covered else _beginning(step.time, longer, covered)
        if begins is None:
            continue
        hours = [begins + number * HOUR for number in range(LONG_STEP_H)]
        told = [values.get(hour, {}).get("rain_mm") for hour in hours if hour in covered]
        rest = [hour for hour in hours if hour not in covered]
        _give(values, rest, longer[begins], _less(longer[begins].get("precipitation_amount"), told))
        covered.update(rest)
        where = reading.coldest_and_warmest(values, hours)
        if where is not None:
            coldest, warmest = where
            values[coldest]["low_c"] = longer[begins].get("air_temperature_min")
            values[warmest]["high_c"] = longer[begins].get("air_temperature_max")


def _beginning(
    hour: dt.datetime, longer: Mapping[dt.datetime, object], covered: set[dt.datetime]
) -> dt.datetime | None:
    """Where the six hours begin that an hour's rain is taken from: with itself, or with hours that are known.

    Preferred are those from 00, 06, 12 or 18:00 UTC on, as long steps are: they leave no hour over.
    """
    possible: list[dt.datetime] = []
    for number in range(LONG_STEP_H):
        begins = hour - number * HOUR
        if number and begins not in covered:
            break
        if begins in longer:
            possible.append(begins)
    fitting = (begins for begins in possible if begins.hour % LONG_STEP_H == 0)
    return next(fitting, possible[0] if possible else None)


def _less(amount: float | None, told: Sequence[float | None]) -> float | None:
    """The rest of an amount; never negative, although its rounded parts can add up to more."""
    if amount is None or None in told:
        return None
    return max(0.0, amount - math.fsum(part for part in told if part is not None))


def _give(
    values: Values, hours: Sequence[dt.datetime], period: Mapping[str, float], amount: float | None
) -> None:
    """Spread an amount evenly over hours, and give each of them the chance of a period."""
    for hour in hours:
        there = values.setdefault(hour, {})
        if amount is not None:
            there["rain_mm"] = amount / len(hours)
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
