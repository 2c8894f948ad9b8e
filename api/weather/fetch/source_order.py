"""For how long a source is left alone, known to all processes that share a store."""

import datetime as dt
import logging
import math
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from api.weather.errors import LONGEST_PAUSE_S, PAUSE_AFTER_FAILURE_S, Forbidden, SourceFailed
from api.weather.fetch.repository import WeatherKeep
from api.weather.place import Place
from api.weather.series.gap_filling import combined, is_lacking
from api.weather.series.hours import CLOCK_TOLERANCE, HourlyWeather
from api.weather.series.local_days import ONE_DAY, local_days
from api.weather.sources.decode import require_reach
from api.weather.sources.registry import can_give
from api.weather.sources.services import Source
from scheduling.balance.weather import Origin, WeatherDay

EVERYWHERE = ""
"""Stands for every place's key in a pause of a whole source."""
PREFIX = "pause "


class Pauses:
    """Pauses of sources, for one place or for all.

    What one process learns is written down, and read by the others when they are about to ask:
    `learn` is called once a fetch, the rest asks no store. `clock` gives the present instant, aware.
    """

    def __init__(self, keep: WeatherKeep, clock: Callable[[], dt.datetime]) -> None:
        self._keep = keep
        self._clock = clock
        self._lock = threading.Lock()
        self._until: dict[str, dt.datetime] = {}
        self._latest = dt.datetime.min.replace(tzinfo=dt.UTC)
        """The latest moment that the clock has shown."""

    def of_all(self, names: Sequence[str], place_key: str) -> float:
        """For how long none of some sources may be asked; 0 where one may, inf where there is none. [s]"""
        return min((self.of(name, place_key) for name in names), default=math.inf)

    def of(self, name: str, place_key: str) -> float:
        """For how long a source may not be asked about a place. [s]"""
        now = self._clock()
        with self._lock:
            self._heed(now)
            until = max(self._until.get(_key(name, scope), now) for scope in (EVERYWHERE, place_key))
        return max(0.0, (until - now).total_seconds())

    def begin(self, name: str, scope: str, pause_s: float, *, tell: bool = True) -> None:
        """Leave a source alone, for a place's key or everywhere; `tell` the other processes."""
        now = self._clock()
        until = now + dt.timedelta(seconds=pause_s)
        self._take_in({_key(name, scope): until})
        if tell:
            self._keep.forbid(_key(name, scope), now, until)

    def learn(self) -> None:
        """Take in what other processes have met."""
        self._take_in(
            {key: until for key, until in self._keep.held(self._clock()).items() if key.startswith(PREFIX)}
        )

    def _heed(self, now: dt.datetime) -> None:
        """Forget every pause if the clock has been put back: it was begun by a wrong one."""
        if self._latest > now + CLOCK_TOLERANCE:
            self._until.clear()
            self._latest = now
        self._latest = max(self._latest, now)

    def _take_in(self, told: dict[str, dt.datetime]) -> None:
        now = self._clock()
        with self._lock:
            self._heed(now)
            self._until = {key: until for key, until in self._until.items() if until > now}
            for key, until in told.items():
                self._until[key] = max(until, self._until.get(key, until))


def _key(name: str, scope: str) -> str:
    return f"{PREFIX}{name} {scope}"


log = logging.getLogger(__name__)

AT_A_TIME = 2
"""Questions to one source at once: Open-Meteo answers an address one after another, and 429 above 5."""
DAYS_COMPLETED_AHEAD = 4
"""Tomorrow and the three days after it, of which rain is counted: for them another source is asked."""


@dataclass(frozen=True, slots=True)
class Answered:
    """What the first source that answered gave."""

    weather: HourlyWeather
    next_names: tuple[str, ...]
    """The sources after it, in order."""


@dataclass(frozen=True, slots=True)
class Silence:
    """No source answered; the newest of their earlier answers, where the HTTP cache holds one."""

    older: HourlyWeather | None


class Asking:
    """Asks sources, but none that is to be left alone. `clock` gives the present instant, aware."""

    def __init__(
        self, sources: Mapping[str, Source], pauses: Pauses, clock: Callable[[], dt.datetime]
    ) -> None:
        self._sources = dict(sources)
        self._pauses = pauses
        self._clock = clock
        self._turns = {name: threading.Semaphore(AT_A_TIME) for name in sources}
        self._refusals: dict[str, int] = {}

    def names(self, place: Place, last: str | None = None) -> list[str]:
        """Those of a place's sources that can be asked here, up to one where it is among them."""
        names = [name for name in place.sources if name in self._sources]
        return names[: names.index(last) + 1] if last in names else names

    def first(
        self, place: Place, since: dt.date, go_on: Callable[[], object], last: str | None = None
    ) -> Answered | Silence:
        """The answer of the first source that has one; `go_on` is called before any further is asked.

        None after `last` is asked: its own answer is still better than theirs.
        """
        names = self.names(place)
        wanted = self.names(place, last)
        older: HourlyWeather | None = None
        for number, name in enumerate(wanted):
            if number:
                go_on()
            answer = self._ask(name, place, since)
            if isinstance(answer, HourlyWeather):
                return Answered(answer, tuple(names[number + 1 :]))
            before = None if answer is None else answer.older
            if before is not None and (older is None or before.retrieved_at > older.retrieved_at):
                older = before
        return Silence(older)

    def could_complete(
        self,
        name: str,
        place: Place,
        since: dt.date,
        days: Sequence[WeatherDay],
        kept: Sequence[WeatherDay],
    ) -> bool:
        """Whether to ask another source for what days lack from a date on.

        `kept` is what is known already: what it settles is not asked for.
        """
        today = self._clock().astimezone(place.zone).date()
        lacking = list(_lacking(since, today, days, kept))
        past = any(date < today or (day is not None and day.hours_assumed > 0) for date, day in lacking)
        radiation = any(date >= today for date, _ in lacking)
        is_incomplete = any(day is None or not day.is_complete for date, day in lacking if date >= today)
        return is_incomplete or can_give(name, past=past, radiation=radiation)

    def completed_by(
        self, name: str, place: Place, since: dt.date, days: tuple[WeatherDay, ...]
    ) -> tuple[WeatherDay, ...] | None:
        """Days with what another source has of that which they lack; None where it does not answer."""
        answer = self._ask(name, place, since)
        weather = answer.older if isinstance(answer, SourceFailed) else answer
        if weather is None:
            return None
        today = self._clock().astimezone(place.zone).date()
        return combined(days, local_days(weather, place.zone), today)

    def _ask(self, name: str, place: Place, since: dt.date) -> HourlyWeather | SourceFailed | None:
        """What one source says; None where it is to be left alone."""
        past_days = max(0, (self._clock().astimezone(place.zone).date() - since).days)
        if self._pauses.of(name, place.key) > 0:
            return None
        try:
            with self._turns[name]:
                weather = self._sources[name].hours(place, past_days=past_days)
            require_reach(weather)
        except SourceFailed as failed:
            log.warning("No weather for %s: %s", place.key, failed)
            scope = EVERYWHERE if failed.whole_source else place.key
            self._pauses.begin(name, scope, self._pause_s(name, failed))
            return failed
        except Exception as error:
            # A fault of ours: it must not look like weather, nor be met again at every request.
            log.exception("Source %s failed for %s", name, place.key)
            self._pauses.begin(name, place.key, PAUSE_AFTER_FAILURE_S)
            return SourceFailed(name, f"{type(error).__name__}")
        self._refusals.pop(name, None)
        return weather

    def _pause_s(self, name: str, failed: SourceFailed) -> float:
        """How long to leave a source alone: after a ban, twice as long each time that it stands. [s]"""
        if not isinstance(failed, Forbidden):
            return failed.pause_s
        before = self._refusals.get(name, 0)
        self._refusals[name] = before + 1
        return min(LONGEST_PAUSE_S, failed.pause_s * 2.0 ** min(before, 10))


def _lacking(
    since: dt.date, today: dt.date, days: Sequence[WeatherDay], kept: Sequence[WeatherDay]
) -> Iterator[tuple[dt.date, WeatherDay | None]]:
    """The dates of which another source may know more, with what is known of them."""
    known = {day.date: day for day in days}
    settled = {
        day.date
        for day in kept
        if day.is_complete and (day.date == today or (day.date < today and day.origin is not Origin.FORECAST))
    }
    date = since
    while date <= today + DAYS_COMPLETED_AHEAD * ONE_DAY:
        day = known.get(date)
        if date not in settled and (day is None or is_lacking(day, today)):
            yield date, day
        date += ONE_DAY
