"""The days that plans, ledgers, usage, alerts and replays all go by, and what plans say of them."""

import bisect
import datetime as dt
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
from api.weather.series.gap_filling import counted_once
from api.weather.series.hours import Hour
from api.weather.series.own_weather import NAME as OWN_WEATHER
from api.weather.series.own_weather import Observation
from api.weather.series.persistence import with_margin
from scheduling.balance.evapotranspiration import Demand, site_of
from scheduling.balance.garden_series import demands_of
from scheduling.balance.weather import IS_PROMISE, HourAhead, Origin, WeatherDay
from scheduling.fao56.reference_et import wind_at_2m
from scheduling.garden.description import Garden
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
class WeatherSeries:
    """Days of weather as they are counted with at one moment, and where they come from."""

    days: tuple[WeatherDay, ...]
    """Consecutive: promised rain by the trust in its source, demand with the margin of an old forecast."""
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

    def around(self, date: dt.date) -> "WeatherSeries":
        """The unbroken stretch of usable days that holds a date, as a plan of that date wants them.

        Raises
        ------
        WeatherUnavailable
            That date is not usable.
        """
        stretch: list[WeatherDay] = []
        for day in self.days:
            is_usable = day.origin in IS_PROMISE and day.has_temperatures
            if day.is_complete or is_usable or day.origin is Origin.ASSUMED:
                stretch.append(day)
            elif day.date > date:
                break
            else:
                stretch.clear()
        if not stretch or not stretch[0].date <= date <= stretch[-1].date:
            raise WeatherUnavailable(
                f"{self.origin.source} gives no whole day of weather for {date}.", RETRY_AFTER_S
            )
        return replace(self, days=tuple(stretch))

    def demands(self, garden: Garden) -> dict[dt.date, Demand]:
        """What the weather of each day asks for where a garden lies, of the days whose demand is known."""
        known = [day for day in self.days if day.origin is Origin.ASSUMED or day.has_temperatures]
        reckoned = demands_of(known, site_of(at_height_of(garden, self)))
        return {day.date: demand for day, demand in zip(known, reckoned, strict=True)}


def _start(hour: Hour) -> dt.datetime:
    return hour.start


def _lower(reading_c: float | None, low_c: float | None) -> float | None:
    """The lower of an hour's reading and a minimum given beside it; None where there is no reading."""
    return reading_c if reading_c is None or low_c is None else min(reading_c, low_c)


def anchor_before(date: dt.date) -> dt.date:
    """Where a first guess begins: the first of the month at least 60 days back."""
    return (date - LEAST_DAYS_BEFORE_A_GUESS * ONE_DAY).replace(day=1)


def given_weather(days: Sequence[WeatherDay], date: dt.date | None = None) -> WeatherSeries:
    """Weather days as a request gives them, in ascending order, for the plan of a date.

    A day before that date without a probability of rain is taken as measured, any other as forecast;
    without a date, all are over.
    """
    told = tuple(
        replace(day, origin=Origin.MEASURED)
        if date is None or (day.date < date and day.rain_probability is None)
        else replace(day, origin=Origin.FORECAST)
        for day in days
    )
    return WeatherSeries(told, WeatherOrigin("given", retrieved_at=None, stale=False, basis="given"))


def fetched_weather(
    forecasts: Forecasts,
    garden: Garden,
    since: dt.date,
    date: dt.date,
    now: dt.datetime,
    newest_within_s: int = ACCEPTABLE_S,
    observations: Mapping[dt.date, Observation] | None = None,
) -> WeatherSeries:
    """Weather of a garden's sources, as the plan of a date goes by it: as far as its days are whole.

    Raises
    ------
    WeatherUnavailable
        There is no forecast of an acceptable age, or it lacks the plan's date.
    DateBeyondPlans
        The forecast does not reach to the plan's date.
    """
    series = weather_in_use(forecasts, garden, since, now, date, newest_within_s, observations)
    # Whoever asks for more than tomorrow may ask for too much; any forecast should reach to tomorrow.
    if series.days and date > max(series.days[-1].date, _tomorrow(garden, now)):
        raise DateBeyondPlans(date, series.days[-1].date)
    return series.around(date)


def weather_in_use(
    forecasts: Forecasts,
    garden: Garden,
    since: dt.date,
    now: dt.datetime,
    date: dt.date | None = None,
    newest_within_s: int = ACCEPTABLE_S,
    observations: Mapping[dt.date, Observation] | None = None,
) -> WeatherSeries:
    """All days of a garden's sources from a first date on, as the plan of a date counts with them.

    What the owner measured takes its place in them. Where no source has answered for too long, and
    the garden's owner does not forbid it, days of which nothing is known but what the days before
    them were like.

    Parameters
    ----------
    since
        Where the days of its plans begin: what is judged of sources is judged by all of them.
    date
        Of the plan; None is tomorrow.
    observations
        What the owner measured, by date.

    Raises
    ------
    WeatherUnavailable
        There is no weather of an acceptable age.
    """
    place, tomorrow = place_of(garden), _tomorrow(garden, now)
    forecast = known_weather(
        forecasts,
        place,
        observations,
        now,
        past_days=max(1, (tomorrow - ONE_DAY - since).days),
        newest_within_s=newest_within_s,
        or_kept_days=garden.plan_without_forecast,
    )
    relied, trust = relied_on(forecast.days, forecast.promises, garden.trust_since)
    days = with_margin(
        (day for day in relied if day.date >= since),
        forecast.margin_share(date or tomorrow),
        forecast.retrieved_at,
        place.zone,
    )
    return WeatherSeries(days, _origin_of(forecast, forecast.basis), forecast.elevation_m, forecast, trust)


def past_weather(
    forecasts: Forecasts, garden: Garden, first: dt.date, last: dt.date, now: dt.datetime
) -> WeatherSeries:
    """The whole days of a span that is over, as a garden's sources have them; dates may be missing.

    Raises
    ------
    WeatherUnavailable
        There is no weather of an acceptable age.
    """
    forecast = forecasts.at(place_of(garden), past_days=(_tomorrow(garden, now) - ONE_DAY - first).days)
    days = counted_once(
        replace(day, origin=Origin.ANALYSED)
        for day in forecast.days
        if first <= day.date <= last and day.is_complete
    )
    return WeatherSeries(days, _origin_of(forecast, "past days"), forecast.elevation_m, forecast)


def _tomorrow(garden: Garden, now: dt.datetime) -> dt.date:
    return now.astimezone(ZoneInfo(garden.timezone)).date() + ONE_DAY


def _origin_of(forecast: Forecast, basis: str) -> WeatherOrigin:
    """Where a forecast comes from, as answers tell it."""
    return WeatherOrigin(
        source=forecast.source,
        retrieved_at=forecast.retrieved_at,
        stale=forecast.stale,
        basis=basis,
        attribution=tuple(
            part
            for attribution in forecast.attributions
            for part in (attribution.text, attribution.licence_url)
            if part is not None
        ),
    )


def at_height_of(garden: Garden, weather: WeatherSeries) -> Garden:
    """The garden with the elevation that its weather source has for it, where it gives none itself."""
    if garden.elevation_m is not None or weather.elevation_m is None:
        return garden
    return replace(garden, elevation_m=weather.elevation_m)


def dump_days(
    series: WeatherSeries, garden: Garden, first: dt.date | None = None, last: dt.date | None = None
) -> dict[str, Any]:
    """The days of a series in JSON, between two dates, both ends included; None is an open end."""
    return dump_weather(
        garden.id,
        garden.weather_sources,
        series.origin,
        at_height_of(garden, series).elevation_m,
        series.trust.values(),
        [
            day
            for day in series.days
            # Holes between kept days have no source.
            if (day.origin is Origin.ASSUMED or day.source != "none")
            and (first is None or day.date >= first)
            and (last is None or day.date <= last)
        ],
        series.demands(garden),
        ZoneInfo(garden.timezone),
    )
