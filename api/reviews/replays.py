"""A garden and the weather of its past in; `scheduling` replays it; JSON out."""

import datetime as dt
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

from api.errors import InvalidRequest, ReplayUnderWay
from api.http.place_limit import Visitors
from api.plans.weather_series import RETRY_AFTER_S, WeatherSeries, at_height_of, given_weather, past_weather
from api.schemas.replay import Knowledge, ReplayRequest, dump_replay
from api.schemas.weather import MOST_DAYS
from api.watering_hours import hours_of
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import place_of
from scheduling.balance.weather import WeatherDay
from scheduling.errors import Problem, WeatherGap
from scheduling.garden.description import Garden
from scheduling.review.foresight import Foresight, NoForecast, Perfect
from scheduling.review.replay import replay
from scheduling.tap.permission import DateHours

FORESIGHT: Final[Mapping[Knowledge, Foresight]] = {"perfect": Perfect(), "none": NoForecast()}
ONE_DAY: Final = dt.timedelta(days=1)
BUSY_RETRY_S: Final = 5
"""The largest replay that a request may ask for takes about a second."""

Progress = Callable[[int, int], None]


class Replays:
    """Replays seasons for requests, one at a time in this process."""

    def __init__(self, forecasts: Forecasts, visitors: Visitors, clock: Callable[[], dt.datetime]) -> None:
        self._forecasts = forecasts
        self._visitors = visitors
        self._clock = clock
        self._turn = threading.Lock()

    def for_request(self, request: ReplayRequest, explain: bool) -> dict[str, Any]:
        """Replay a season; nothing is stored but the weather that was fetched.

        Raises
        ------
        ReplayUnderWay
            Another thread is at it.
        TooManyPlaces
            Too many places without a stored garden were requested in the last hour.
        InvalidRequest, WeatherGap, WeatherIncomplete, WeatherUnavailable
            As `replay_for_request`.
        """
        if not self._turn.acquire(blocking=False):
            raise ReplayUnderWay(BUSY_RETRY_S)
        try:
            if request.weather is None:
                self._visitors.admit(place_of(request.garden))
            return replay_for_request(request, self._forecasts, self._clock(), explain, most_days=MOST_DAYS)
        finally:
            self._turn.release()


def replay_for_request(
    request: ReplayRequest,
    forecasts: Forecasts,
    now: dt.datetime,
    explain: bool,
    *,
    most_days: int | None = None,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """The season, in JSON.

    Raises
    ------
    InvalidRequest
        Days that are not over, are missing from the weather, or are too many.
    WeatherGap, WeatherIncomplete
        The weather that came with the request has holes.
    WeatherUnavailable
        The garden's source has no weather, or holes in it.
    """
    if request.weather is not None:
        weather = given_weather(_chosen(request.weather, request))
    else:
        weather = _fetched(request, forecasts, now, MOST_DAYS if most_days is None else most_days)
    garden = at_height_of(request.garden, weather)
    season = replay(
        garden,
        weather.days,
        FORESIGHT[request.forecast],
        lambda date: _hours_on(garden, weather, date),
        request.timers,
        explain,
        progress,
    )
    return dump_replay(season, request, weather.origin)


def _hours_on(garden: Garden, weather: WeatherSeries, date: dt.date) -> DateHours:
    """The watering hours of a date, its forbidden ones, and its weather by the hour, where that is known."""
    hours = hours_of(garden, date)
    return DateHours(hours.spans, hours.bans, weather.by_hour(hours), hours.warm)


def _chosen(days: tuple[WeatherDay, ...], request: ReplayRequest) -> tuple[WeatherDay, ...]:
    """The days of a span of dates, if one is requested."""
    first, last = request.first or days[0].date, request.last or days[-1].date
    have = f"weather has days from {days[0].date} to {days[-1].date}"
    if not days[0].date <= first <= days[-1].date:
        raise _refused("from", f"from is {first}; {have}.")
    if not first <= last <= days[-1].date:
        raise _refused("to", f"to is {last}; {have}, and from is {first}.")
    return tuple(day for day in days if first <= day.date <= last)


def _fetched(request: ReplayRequest, forecasts: Forecasts, now: dt.datetime, most_days: int) -> WeatherSeries:
    """Days that are over, as the garden's source has them."""
    garden = request.garden
    today = now.astimezone(ZoneInfo(garden.timezone)).date()
    yesterday = today - ONE_DAY
    first, last = request.first or yesterday, request.last or yesterday
    if last >= today:
        raise _refused("to", f"to is {last}; only days that are over can be replayed, up to {yesterday}.")
    oldest = today - most_days * ONE_DAY
    if not oldest <= first <= last:
        sentence = f"from is {first}; without weather in the request it must be from {oldest} to {last}."
        raise _refused("from", sentence)
    weather = past_weather(forecasts, garden, first, last, now)
    source, whole = weather.origin.source, weather.days
    if not whole:
        sentence = f"{source} has no whole day of weather from {first} to {last}."
        raise WeatherUnavailable(sentence, RETRY_AFTER_S)
    if whole[0].date != first:
        raise _refused(
            "from",
            f"from is {first}; {source} has whole days from {whole[0].date} on. Begin there, or "
            "send the days before it as weather.",
        )
    try:
        _must_follow(whole, last)
    except WeatherGap as gap:
        raise WeatherUnavailable(f"{source} lacks days: {gap}", RETRY_AFTER_S) from None
    return weather


def _must_follow(days: Sequence[WeatherDay], last: dt.date) -> None:
    """Raises WeatherGap where a day is missing before the last one."""
    expected = days[0].date
    for day in days:
        if day.date != expected:
            raise WeatherGap(expected, day.date - ONE_DAY)
        expected += ONE_DAY
    if expected <= last:
        raise WeatherGap(expected, last)


def _refused(name: str, sentence: str) -> InvalidRequest:
    return InvalidRequest(Problem(f"/{name}", sentence))
