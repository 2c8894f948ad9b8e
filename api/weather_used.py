"""The weather days that a garden's plans stand on, for whoever wants to see where a number comes from."""

import datetime as dt
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from api.schemas.weather_used import dump_weather
from api.weather.forecasts import Forecasts
from api.weather.hindsight import relied_on
from api.weather.own_forecast import known_weather
from api.weather.own_weather import Observation
from api.weather.place import place_of
from api.weather_at_hand import Weather, at_height_of, origin_of
from scheduling.garden import Garden
from scheduling.planner import site_of
from scheduling.season import demands_of
from scheduling.weather import Origin, WeatherDay


def weather_in_use(
    garden: Garden,
    forecasts: Forecasts,
    since: dt.date,
    now: dt.datetime,
    first: dt.date | None = None,
    last: dt.date | None = None,
    observations: Mapping[dt.date, Observation] | None = None,
) -> dict[str, Any]:
    """The days in use, in JSON: those of a garden's plans from a date on.

    Parameters
    ----------
    since
        Where the days of its plans begin: what is judged of sources is judged by all of them.
    first, last
        The days to tell of, both ends included; None is an open end.
    observations
        What the owner measured, by date.

    Raises
    ------
    WeatherUnavailable
        There is no weather of an acceptable age.
    """
    place = place_of(garden)
    past_days = max(1, (now.astimezone(place.zone).date() - since).days)
    forecast = known_weather(
        forecasts, place, observations, now, past_days=past_days, or_kept_days=garden.plan_without_forecast
    )
    relied, trust = relied_on(forecast.days, forecast.promises, garden.trust_since)
    days = [day for day in relied if day.date >= since and is_known(day)]
    origin = origin_of(forecast, forecast.basis)
    lies = at_height_of(garden, Weather((), origin, forecast.elevation_m))
    reckoned = [day for day in days if day.origin is Origin.ASSUMED or _has_temperatures(day)]
    demands = demands_of(reckoned, site_of(lies))
    return dump_weather(
        garden.id,
        garden.weather_sources,
        origin,
        lies.elevation_m,
        trust.values(),
        [day for day in days if (first is None or day.date >= first) and (last is None or day.date <= last)],
        {day.date: demand for day, demand in zip(reckoned, demands, strict=True)},
        ZoneInfo(garden.timezone),
    )


def is_known(day: WeatherDay) -> bool:
    """Whether anything is known, or assumed, of a day: holes between kept days have no source."""
    return day.origin is Origin.ASSUMED or day.source != "none"
