"""What a plan says about its weather, where that is not simply a forecast."""

import bisect
import datetime as dt
import functools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

from api.errors import DateBeyondPlans
from api.schemas.plan import WeatherOrigin
from api.schemas.weather_in_use import dump_weather
from api.watering_hours import ONE_HOUR, Hours, plus
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.fetching import ACCEPTABLE_S
from api.weather.fetch.forecasts import Forecast, Forecasts
from api.weather.fetch.own_forecast import known_weather
from api.weather.place import place_of
from api.weather.series.forecast_verification import Trust, relied_on
from api.weather.series.hours import Hour
from api.weather.series.own_weather import NAME as OWN_WEATHER
from api.weather.series.own_weather import Observation
from api.weather.series.persistence import with_margin
from scheduling.balance.garden_series import demands_of
from scheduling.balance.weather import IS_PROMISE, HourAhead, Origin, WeatherDay
from scheduling.fao56.atmosphere import wind_at_2m
from scheduling.garden.description import Garden
from scheduling.plan.planner import site_of
from scheduling.reasons import Note
from scheduling.reasons.weather_notes import (
    HoursAssumed,
    KeptDays,
    OldForecast,
    PastFromForecasts,
    RainDistrusted,
)
from scheduling.tap.windows import HOURS_WARM_AFTER


def weather_notes(forecast: Forecast | None, trust: Mapping[str, Trust], date: dt.date) -> tuple[Note, ...]:
    """Notes on the weather of a plan's date; none where the days came with the request."""
    if forecast is None:
        return ()
    return (
        *_kept_days(forecast),
        *_old_forecast(forecast, date),
        *_begun_days(forecast, date),
        *_past_forecasts(forecast),
        *_distrust(forecast, trust, date),
    )


def _kept_days(forecast: Forecast) -> Iterator[Note]:
    if forecast.basis != "kept-days":
        return
    newest = max(day.date for day in forecast.days if day.origin is not Origin.ASSUMED)
    assert forecast.coldest_c is not None
    answered_at = None if forecast.source == OWN_WEATHER else forecast.retrieved_at
    yield KeptDays(answered_at, newest, forecast.coldest_c)


def _old_forecast(forecast: Forecast, date: dt.date) -> Iterator[Note]:
    share = forecast.margin_share(date)
    if share:
        yield OldForecast(forecast.retrieved_at, share)


def _begun_days(forecast: Forecast, date: dt.date) -> Iterator[Note]:
    for day in forecast.days:
        if day.hours_assumed and day.date == date:
            yield HoursAssumed(date, day.hours_assumed)


def _past_forecasts(forecast: Forecast) -> Iterator[Note]:
    answered = forecast.retrieved_at.astimezone(forecast.place.zone).date()
    whole = [day for day in forecast.days if day.is_complete]
    passed = [
        day
        for day in whole
        if day.origin is Origin.PAST_FORECAST and day.date < answered and "rain_mm" not in day.observed
    ]
    if passed:
        over = [day for day in whole if day.date <= passed[-1].date]
        yield PastFromForecasts(len(passed), len(over))


def _distrust(forecast: Forecast, trust: Mapping[str, Trust], date: dt.date) -> Iterator[Note]:
    days = [day for day in forecast.days if day.date >= date and day.origin in IS_PROMISE]
    for source in dict.fromkeys(day.source_of("rain") for day in days if _promises_rain(day)):
        told = trust.get(source)
        if told is not None and told.share < 1.0:
            yield RainDistrusted(source, told.promised_mm, told.since, told.came_mm, told.share)


def _promises_rain(day: WeatherDay) -> bool:
    return bool(day.rain_mm)


ONE_DAY = dt.timedelta(days=1)
LEAST_DAYS_BEFORE_A_GUESS = 60
"""A first guess begins on the first of a month at least so many days before it is needed."""
RETRY_AFTER_S = 1800
"""A source that lacks a day may have it with its next answer."""


@dataclass(frozen=True, slots=True)
class Weather:
    """The weather that a plan is made with."""

    days: tuple[WeatherDay, ...]
    """Consecutive, each with its temperatures and, once it is over, its rain."""
    origin: WeatherOrigin
    elevation_m: float | None = None
    forecast: Forecast | None = None
    """None where the days came with the request."""
    trust: Mapping[str, Trust] = field(default_factory=dict)
    """How far the sources' promises of rain are relied on."""

    @property
    def version(self) -> int | None:
        """Of the place's answers, as kept answers are told it; None where the days came from elsewhere."""
        return None if self.forecast is None else self.forecast.version or None

    def lowest_c(self, hours: Hours) -> float | None:
        """Lowest temperature from the opening of the hours to the end of their date, by the hour."""
        if self.forecast is None:
            return None
        if self.forecast.basis == "kept-days":
            return self.forecast.coldest_c
        midnight = dt.datetime.combine(hours.date + ONE_DAY, dt.time(), hours.opens.tzinfo)
        return self.forecast.lowest_temperature_c(hours.opens, midnight)

    def by_hour(self, hours: Hours) -> tuple[HourAhead, ...]:
        """Temperature and wind at 2 m of the hours of a date and of those that follow them closely."""
        if self.forecast is None:
            return ()
        ends = hours.ends if hours.warm is None else max(hours.ends, hours.warm.closes)
        first, last = plus(hours.opens, -ONE_HOUR), plus(ends, HOURS_WARM_AFTER * ONE_HOUR)
        known = self.forecast.hours
        begins = bisect.bisect_right(known, first, key=_start)
        ends_before = bisect.bisect_right(known, last, key=_start)
        height_m = self.forecast.wind_height_m
        return tuple(
            HourAhead(
                start_s=int(hour.start.timestamp()),
                lowest_c=_lower(hour.temperature_c, hour.low_c),
                wind_2m_m_s=None if hour.wind_m_s is None else wind_at_2m(hour.wind_m_s, height_m),
            )
            for hour in known[begins:ends_before]
        )


def _start(hour: Hour) -> dt.datetime:
    return hour.start


def _lower(reading_c: float | None, low_c: float | None) -> float | None:
    """The lower of an hour's reading and a minimum given beside it; None where there is no reading."""
    return reading_c if reading_c is None or low_c is None else min(reading_c, low_c)


def anchor_before(date: dt.date) -> dt.date:
    """Where a first guess begins: the first of the month at least 60 days back."""
    return (date - LEAST_DAYS_BEFORE_A_GUESS * ONE_DAY).replace(day=1)


def given_weather(days: Sequence[WeatherDay], date: dt.date) -> Weather:
    """Weather days as a request gives them, in ascending order, for the plan of a date.

    A day before that date without a probability of rain is taken as measured, any other as forecast.
    """
    told = tuple(
        replace(day, origin=Origin.MEASURED)
        if day.date < date and day.rain_probability is None
        else replace(day, origin=Origin.FORECAST)
        for day in days
    )
    origin = WeatherOrigin(source="given", retrieved_at=None, stale=False, basis="given", attribution=[])
    return Weather(told, origin)


def fetched_weather(
    forecasts: Forecasts,
    garden: Garden,
    since: dt.date,
    date: dt.date,
    now: dt.datetime,
    newest_within_s: int = ACCEPTABLE_S,
    observations: Mapping[dt.date, Observation] | None = None,
) -> Weather:
    """Weather of a garden's sources, from a first date on as far as its days are whole.

    What the owner measured takes its place in them. Where no source has answered for too long, and
    the garden's owner does not forbid it, days of which nothing is known but what the days before
    them were like.

    Raises
    ------
    WeatherUnavailable
        There is no forecast of an acceptable age, or it lacks the plan's date.
    DateBeyondPlans
        The forecast does not reach to the plan's date.
    """
    place = place_of(garden)
    today = now.astimezone(place.zone).date()
    past_days = max(1, (today - since).days)
    forecast = known_weather(
        forecasts,
        place,
        observations,
        now,
        past_days=past_days,
        newest_within_s=newest_within_s,
        or_kept_days=garden.plan_without_forecast,
    )
    # Whoever asks for more than tomorrow may ask for too much; any forecast should reach to tomorrow.
    if forecast.days and date > max(forecast.days[-1].date, today + ONE_DAY):
        raise DateBeyondPlans(date, forecast.days[-1].date)
    days, trust = _days_in_use(forecast, garden.trust_since, since, date)
    if not days:
        raise WeatherUnavailable(
            f"{forecast.source} gives no whole day of weather for {date}.", RETRY_AFTER_S
        )
    return Weather(days, origin_of(forecast, forecast.basis), forecast.elevation_m, forecast, trust)


@functools.lru_cache(maxsize=64)
def _days_in_use(
    forecast: Forecast, trust_since: dt.date | None, since: dt.date, date: dt.date
) -> tuple[tuple[WeatherDay, ...], Mapping[str, Trust]]:
    """The whole days of a forecast around a date, as a plan relies on them, and what sources are trusted."""
    relied, trust = relied_on(forecast.days, forecast.promises, trust_since)
    since_then = (day for day in relied if day.date >= since)
    share, zone = forecast.margin_share(date), forecast.place.zone
    return _whole_days_around(date, with_margin(since_then, share, forecast.retrieved_at, zone)), trust


def origin_of(forecast: Forecast, basis: str) -> WeatherOrigin:
    """Where a forecast comes from, as answers tell it."""
    return WeatherOrigin(
        source=forecast.source,
        retrieved_at=forecast.retrieved_at,
        stale=forecast.stale,
        basis=basis,
        attribution=[
            part
            for attribution in forecast.attributions
            for part in (attribution.text, attribution.licence_url)
            if part is not None
        ],
    )


def _whole_days_around(date: dt.date, days: Sequence[WeatherDay]) -> tuple[WeatherDay, ...]:
    """The unbroken stretch of usable days that holds a date; empty where that date is not usable."""
    stretch: list[WeatherDay] = []
    for day in days:
        is_usable = day.origin in IS_PROMISE and day.has_temperatures
        if day.is_complete or is_usable or day.origin is Origin.ASSUMED:
            stretch.append(day)
        elif day.date > date:
            break
        else:
            stretch.clear()
    return tuple(stretch) if stretch and stretch[0].date <= date <= stretch[-1].date else ()


def at_height_of(garden: Garden, weather: Weather) -> Garden:
    """The garden with the elevation that its weather source has for it, where it gives none itself."""
    if garden.elevation_m is not None or weather.elevation_m is None:
        return garden
    return replace(garden, elevation_m=weather.elevation_m)


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
    reckoned = [day for day in days if day.origin is Origin.ASSUMED or day.has_temperatures]
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
