"""Garden, reports and weather days in; `scheduling` asked; a plan out."""

import bisect
import datetime as dt
import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from api.errors import DateBeyondPlans, InvalidRequest
from api.schemas.plan import Status, WeatherOrigin, dump_plan
from api.schemas.plan_request import PlanRequest
from api.watering_hours import ONE_HOUR, Hours, hours_of, next_hours, plus
from api.weather.errors import WeatherUnavailable
from api.weather.forecasts import ACCEPTABLE_S, Forecast, Forecasts
from api.weather.hindsight import Trust, relied_on
from api.weather.hours import Hour
from api.weather.keeping import is_complete
from api.weather.margin import with_margin
from api.weather.own_forecast import known_weather
from api.weather.own_weather import Observation
from api.weather.place import place_of
from api.weather_notes import weather_notes
from scheduling.errors import Problem
from scheduling.fao56.atmosphere import wind_at_2m
from scheduling.garden import Garden
from scheduling.openings import History
from scheduling.plan import Note, Plan
from scheduling.planner import Occasion, guess_opening, make_plan
from scheduling.reports import Opening
from scheduling.weather import IS_PROMISE, HourAhead, Origin, WeatherDay
from scheduling.windows import HOURS_WARM_AFTER

ONE_DAY = dt.timedelta(days=1)
LEAST_DAYS_BEFORE_A_GUESS = 60
"""A first guess begins on the first of a month at least so many days before it is needed."""
FARTHEST_BACK = dt.timedelta(days=400)
"""How long past a state or a date may be for a source to be asked; a request may bring as many days."""
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


def opening_guess(garden: Garden, weather: Weather, date: dt.date) -> Opening:
    """First guess of what every zone lacks on the morning of a date, or of the first day with weather."""
    begins = max(date, weather.days[0].date)
    return guess_opening(at_height_of(garden, weather), _days_for_a_guess(weather.days, begins), begins)


def _days_for_a_guess(days: Sequence[WeatherDay], begins: dt.date) -> Sequence[WeatherDay]:
    """The days that a first guess goes by.

    Where the owner measured some of those before it, it goes by no later ones: what a guess would
    look ahead to, and how much rain a season has, would else hang on when they were told.
    """
    before = [day for day in days if day.date < begins]
    if not any(day.observed for day in before):
        return days
    return [*before, WeatherDay(begins, rain_mm=0.0, origin=Origin.ASSUMED)]


def plan_date(
    garden: Garden,
    weather: Weather,
    hours: Hours,
    now: dt.datetime,
    history: History,
    explain: bool = False,
) -> Plan:
    """Make the plan of one date.

    Water flows in what is left at `now` of its hours. A guessed opening older than the weather at
    hand gives way to a new guess, and a note says so.
    """
    notes: tuple[Note, ...] = (*hours.notes, *weather_notes(weather.forecast, weather.trust, hours.date))
    first = weather.days[0].date
    opening = history.opening
    if opening is not None and history.opening_is_guess and opening.date < first:
        gap = f"There is no whole weather before {first}: what the zones lack is guessed from there on."
        notes = (*notes, Note("weather-gap", gap))
        history = replace(history, opening=None)
    occasion = Occasion(
        date=hours.date,
        hours=hours.left_at(now),
        tz=hours.opens.tzinfo or dt.UTC,
        lowest_c=weather.lowest_c(hours),
        explain=explain,
        bans=hours.bans,
        by_hour=weather.by_hour(hours),
        warm_hours=hours.warm_left_at(now),
    )
    plan = make_plan(at_height_of(garden, weather), weather.days, history, occasion)
    return replace(plan, notes=(*notes, *plan.notes))


def plan_for_request(
    request: PlanRequest, forecasts: Forecasts, now: dt.datetime, explain: bool
) -> dict[str, Any]:
    """The plan, in JSON, for a garden that came with its request.

    Raises
    ------
    InvalidRequest
        A state after the plan's date, or a state or a date too old for a weather source.
    WeatherGap, WeatherIncomplete
        The weather that came with the request does not carry the ledgers to the date.
    WeatherUnavailable, DateBeyondPlans
        The garden's source has no weather to plan from.
    """
    garden, opening = request.garden, request.opening
    hours = next_hours(garden, now) if request.date is None else hours_of(garden, request.date)
    if opening is not None and opening.date > hours.date:
        sentence = f"date is {opening.date}, which is after the plan's date, {hours.date}."
        raise InvalidRequest(Problem("/state/date", sentence))
    if request.weather is not None:
        weather = given_weather(request.weather, hours.date)
    else:
        _must_be_recent("/date", "date", hours.date, now)
        # From the anchor on in any case: the mean rain and wind of the season do not hang on a state.
        since = anchor_before(hours.date)
        if opening is not None:
            _must_be_recent("/state/date", "date", opening.date, now)
            since = min(since, opening.date)
        weather = fetched_weather(forecasts, garden, since, hours.date, now)
    # A date that has been is planned as it could have been the evening before.
    seen_at = now if hours.opens <= now < hours.ends else hours.final_at
    history = History(opening, False, tuple(request.deliveries))
    plan = plan_date(garden, weather, hours, seen_at, history, explain)
    return dump(plan, "draft", hours, now, ends_of(plan, hours), weather, is_stored=False)


def ends_of(plan: Plan, hours: Hours) -> dt.datetime:
    """When a plan is over: with its hours, or where runs were moved beyond them, with these."""
    main_valve = plan.main_valve
    if main_valve is None or main_valve.closes_at.timestamp() <= hours.ends.timestamp():
        return hours.ends
    return plus(main_valve.opens_at, dt.timedelta(seconds=main_valve.max_open_s))


def _must_be_recent(pointer: str, name: str, date: dt.date, now: dt.datetime) -> None:
    oldest = now.date() - FARTHEST_BACK
    if date < oldest:
        sentence = (
            f"{name} is {date}; without weather days in the request it must not be before {oldest}, "
            f"{FARTHEST_BACK.days} days ago."
        )
        raise InvalidRequest(Problem(pointer, sentence))


def dump(
    plan: Plan,
    status: Status,
    hours: Hours,
    now: dt.datetime,
    valid_until: dt.datetime,
    weather: Weather,
    is_stored: bool = True,
) -> dict[str, Any]:
    """A plan in JSON, with the moments of its life; that of no stored garden never becomes final."""
    return dump_plan(
        plan,
        status=status,
        final_at=hours.final_at if is_stored else None,
        made_at=now,
        valid_until=valid_until,
        weather=weather.origin,
        timezone=hours.opens.tzinfo,
    )
