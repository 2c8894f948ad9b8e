"""The weather that a plan is made with: whole days around its date, as far as they are relied on."""

import bisect
import datetime as dt
import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from api.errors import DateBeyondPlans
from api.schemas.plan import WeatherOrigin
from api.watering_hours import ONE_HOUR, Hours, plus
from api.weather.errors import WeatherUnavailable
from api.weather.forecasts import ACCEPTABLE_S, Forecast, Forecasts
from api.weather.hindsight import Trust, relied_on
from api.weather.hours import Hour
from api.weather.keeping import is_complete
from api.weather.margin import with_margin
from api.weather.own_forecast import known_weather
from api.weather.own_weather import Observation
from api.weather.place import place_of
from scheduling.fao56.atmosphere import wind_at_2m
from scheduling.garden import Garden
from scheduling.weather import IS_PROMISE, HourAhead, Origin, WeatherDay
from scheduling.windows import HOURS_WARM_AFTER

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
        is_usable = day.origin in IS_PROMISE and _has_temperatures(day)
        if is_complete(day) or is_usable or day.origin is Origin.ASSUMED:
            stretch.append(day)
        elif day.date > date:
            break
        else:
            stretch.clear()
    return tuple(stretch) if stretch and stretch[0].date <= date <= stretch[-1].date else ()


def _has_temperatures(day: WeatherDay) -> bool:
    return day.t_min_c is not None and day.t_max_c is not None


def at_height_of(garden: Garden, weather: Weather) -> Garden:
    """The garden with the elevation that its weather source has for it, where it gives none itself."""
    if garden.elevation_m is not None or weather.elevation_m is None:
        return garden
    return replace(garden, elevation_m=weather.elevation_m)
