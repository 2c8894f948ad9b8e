"""Weather for planning, with the owner's measurements in their places, or made of them alone."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from api.weather.errors import WeatherUnavailable
from api.weather.fetch.fetching import ACCEPTABLE_S, FRESH_S
from api.weather.fetch.forecasts import Forecast, Forecasts
from api.weather.place import Place
from api.weather.series.hours import Attribution
from api.weather.series.own_weather import NAME, Observation, with_observations
from api.weather.series.persistence import LEAST_DAYS, OLDEST_DAYS, kept_days

OLD_AFTER: Final = dt.timedelta(days=2)
"""Who reads a gauge every morning has told of yesterday by then."""


def known_weather(
    forecasts: Forecasts,
    place: Place,
    observations: Mapping[dt.date, Observation] | None,
    now: dt.datetime,
    *,
    past_days: int,
    newest_within_s: int = ACCEPTABLE_S,
    or_kept_days: bool = False,
) -> Forecast:
    """What is known of a place's weather, past and to come.

    Where there is no forecast, since no source is to be asked or none has answered for too long, the
    owner's own days may do, followed by their mean; `or_kept_days` says whether.

    Raises
    ------
    WeatherUnavailable
        There is nothing to plan from.
    """
    told = observations or {}
    if not place.sources:
        alone = _alone(place, told, now) if or_kept_days else None
        if alone is not None:
            return alone
        raise WeatherUnavailable(
            f"{NAME} is the only source of this garden, which gives no forecast. Plans go by the mean of "
            f"days whose t_min_c, t_max_c and rain_mm were all observed: at least {LEAST_DAYS} in a row, the "
            f"last no more than {OLDEST_DAYS} days ago, and only where plan_without_forecast is not false.",
            FRESH_S,
        )
    try:
        forecast = forecasts.at(
            place, past_days=past_days, newest_within_s=newest_within_s, or_kept_days=or_kept_days
        )
    except WeatherUnavailable:
        alone = _alone(place, told, now) if or_kept_days else None
        if alone is None:
            raise
        return alone
    return replace(forecast, days=with_observations(forecast.days, told)) if told else forecast


def _alone(place: Place, told: Mapping[dt.date, Observation], now: dt.datetime) -> Forecast | None:
    """The owner's days, followed by assumed ones; None where they are too few or too old."""
    today = now.astimezone(place.zone).date()
    left = kept_days(with_observations((), told), today)
    if left is None:
        return None
    newest_at = max(one.measured_at for one in told.values())
    since = {date: one for date, one in told.items() if date > left.newest}
    return Forecast(
        place=place,
        version=0,
        source=NAME,
        attribution=Attribution("Measured in the garden."),
        retrieved_at=newest_at,
        stale=now - newest_at > OLD_AFTER,
        elevation_m=None,
        days=with_observations(left.days, since),
        hours=(),
        basis="kept-days",
        coldest_c=left.lowest_c,
    )
