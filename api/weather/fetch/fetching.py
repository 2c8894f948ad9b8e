"""Fetching the weather of places in the background: one fetch at a time for each, in one process of all."""

import datetime as dt
import functools
import logging
import math
import threading
import time
import uuid
import zlib
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from api.weather.fetch.repository import KeptAnswer, NotKept, WeatherKeep
from api.weather.fetch.source_order import Asking, Pauses, Silence
from api.weather.place import Place
from api.weather.series.forecast_verification import promises_of
from api.weather.series.hours import CLOCK_TOLERANCE, HourlyWeather, continued
from api.weather.series.local_days import local_days
from api.weather.sources.services import Source
from scheduling.balance.weather import WeatherDay

log = logging.getLogger(__name__)

FRESH_S: Final = 3600
"""Up to this age an answer is used and nobody is asked."""
ACCEPTABLE_S: Final = 6 * 3600
"""Up to this age it is used without waiting, while a new one is fetched; above, it is stale."""
USABLE_S: Final = 72 * 3600
"""Above this age nothing is planned from it."""
SPREAD_S: Final = 600
"""Places are due again up to so much before the hour, each by its own share of it: what was fetched
together, after a start or an outage, is not asked for together ever after."""
ACCEPTABLE = dt.timedelta(seconds=ACCEPTABLE_S)
GIVEN_UP_AFTER_S = 120.0
"""A fetch that takes longer than any source's limits allow no longer stands in the way of a new one."""
LEASE = dt.timedelta(seconds=60)
"""Another process that has died in the middle of its fetch is waited for no longer. It begins anew with
every source that is asked, none of which may take as long."""
LOOKS_AGAIN_S = 0.1
"""While another process fetches; each look takes twice as long as the last one to come, up to 1 s."""
PAUSE_WITHOUT_STORE_S = 30.0
"""After an answer that could not be kept."""
ASKED_AGAIN_AFTER = dt.timedelta(hours=24)
"""Past days that a source did not have are asked for again after this."""
TRIED_AGAIN_AFTER = dt.timedelta(hours=1)
"""Or after this, where another source might have them and did not answer."""
SERVES_STILL = dt.timedelta(minutes=5)
"""How long to leave it at that, where a service wants its last answer to serve for longer than an hour."""
JUST_GIVEN = dt.timedelta(seconds=30)
"""An answer older than this was not asked for now: it comes from the HTTP cache. So does one given within
this of the kept one, then: it is that one, read again."""


def due_after_s(place: Place) -> float:
    """Up to which age the weather of a place is not asked for again: 50 to 60 minutes. [s]"""
    return FRESH_S - zlib.crc32(place.key.encode()) % SPREAD_S


class _Settled(NamedTuple):
    """From which local date on something holds, and until when."""

    since: dt.date
    until: dt.datetime
    longest: dt.timedelta = dt.timedelta()
    """From when it was settled: of a clock that was ahead then, it holds no more."""

    def holds(self, date: dt.date, now: dt.datetime) -> bool:
        """Whether it does from a date on."""
        return self.since <= date and now < self.until <= now + self.longest + CLOCK_TOLERANCE


NOTHING_SETTLED: Final = _Settled(dt.date.max, dt.datetime.min.replace(tzinfo=dt.UTC))


@dataclass(slots=True)
class _Fetch:
    began_s: float
    done: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None


@dataclass(slots=True)
class _Known:
    """What this process knows of the fetches for a place."""

    running: _Fetch | None = None
    ended_s: float = -math.inf
    """When the last one ended, of time.monotonic."""
    asked: _Settled = NOTHING_SETTLED
    """Everything was asked for, and need not be again."""
    serves: _Settled = NOTHING_SETTLED
    """The kept answer is the one that its service wants to serve still."""

    def is_over(self, now: dt.datetime) -> bool:
        """Whether none of it matters any more."""
        has_ended = self.running is None and self.ended_s < time.monotonic() - GIVEN_UP_AFTER_S
        return has_ended and max(self.asked.until, self.serves.until) <= now


@dataclass(slots=True)
class _Completion:
    """The days of an answer, with what other sources had of that which they lacked."""

    days: tuple[WeatherDay, ...]
    is_completed: bool = False
    """Whether one of them answered."""
    is_all_told: bool = True
    """Whether all that were asked did."""


class Fetching:
    """Fetches in the background, in threads that end with their fetch.

    `clock` gives the present instant, aware. Threads are started by `start` alone, so an object
    that is made before a fork works after it.
    """

    def __init__(
        self, sources: Mapping[str, Source], keep: WeatherKeep, clock: Callable[[], dt.datetime]
    ) -> None:
        self._pauses = Pauses(keep, clock)
        self._asking = Asking(sources, self._pauses, clock)
        self._keep = keep
        self._clock = clock
        self._lock = threading.Lock()
        self._places: defaultdict[str, _Known] = defaultdict(_Known)
        self._closed = False

    def start(
        self,
        place: Place,
        since: dt.date,
        looked_s: float,
        found: int | None = None,
        last: str | None = None,
    ) -> threading.Event | None:
        """See to it that a place is fetched, from a local date on; the event is set when it is over.

        Joins the fetch that is under way, and starts none where one has ended since the caller looked
        into the store (`looked_s` of time.monotonic). Where another process has kept an answer of another
        version than was `found` there, 0 being none, nothing is asked. No source after `last` is asked,
        where what is at hand is of that one and good still. None while all sources are to be left alone,
        and while the service wants its last answer to serve on.
        """
        with self._lock:
            if self._closed:
                return None
            known = self._places[place.key]
            if known.running is not None and time.monotonic() - known.running.began_s < GIVEN_UP_AFTER_S:
                return known.running.done
            if self._pauses.of_all(self._asking.names(place, last), place.key) > 0 or known.serves.holds(
                since, self._clock()
            ):
                return None
            fetch = _Fetch(time.monotonic())
            if known.ended_s >= looked_s:
                fetch.done.set()
                return fetch.done
            fetch.thread = threading.Thread(
                target=self._run,
                args=(fetch, place, since, found, last),
                name=f"weather {place.key}",
                daemon=True,
            )
            known.running = fetch
            fetch.thread.start()
            return fetch.done

    def pause_s(self, place: Place) -> float:
        """For how long no source of a place may be asked; 0 where one may, inf where none is known."""
        return self._pauses.of_all(self._asking.names(place), place.key)

    def has_asked_since(self, place: Place, date: dt.date) -> bool:
        """Whether a source has lately been asked for everything from a local date on, and answered."""
        with self._lock:
            return self._places[place.key].asked.holds(date, self._clock())

    def knows_a_source(self, place: Place) -> bool:
        """Whether any of a place's sources can be asked here."""
        return bool(self._asking.names(place))

    def close(self, wait_s: float = 1.0) -> None:
        """Start nothing more, and wait a moment for what is under way."""
        with self._lock:
            self._closed = True
            running = [known.running for known in self._places.values()]
        for fetch in running:
            if fetch is not None and fetch.thread is not None:
                fetch.thread.join(wait_s)

    def _run(self, fetch: _Fetch, place: Place, since: dt.date, found: int | None, last: str | None) -> None:
        holder = uuid.uuid4().hex
        try:
            if self._take_turn(place, holder, found):
                try:
                    self._fetch(place, since, holder, last)
                finally:
                    self._keep.release(_turn(place), holder)
        except Exception as error:
            if not isinstance(error, NotKept):  # which has its line already
                log.exception("The weather for %s could not be kept", place.key)
            for name in place.sources:
                self._pauses.begin(name, place.key, PAUSE_WITHOUT_STORE_S, tell=False)
        finally:
            with self._lock:
                known, now = self._places[place.key], self._clock()
                if known.running is fetch:
                    known.running = None
                known.ended_s = time.monotonic()
                for key in [key for key, one in self._places.items() if one.is_over(now)]:
                    del self._places[key]
            fetch.done.set()

    def _take_turn(self, place: Place, holder: str, found: int | None) -> bool:
        """Wait until no other process fetches a place; False where one has fetched it meanwhile."""
        key, looks_again_s = _turn(place), LOOKS_AGAIN_S
        while not self._keep.hold(key, holder, now := self._clock(), now + LEASE):
            while key in self._keep.held(self._clock()):
                if self._closed:
                    return False
                time.sleep(looks_again_s)
                looks_again_s = min(1.0, 2.0 * looks_again_s)
        kept = self._keep.latest(place.key)
        if found is not None and kept is not None and kept.version != found:
            self._keep.release(key, holder)
            return False
        self._pauses.learn()
        return True

    def _fetch(self, place: Place, since: dt.date, holder: str, last: str | None) -> None:
        """Ask the sources; what is left to do where all fail is done with an older answer."""
        go_on = functools.partial(self._go_on, place, holder)
        kept = self._keep.latest(place.key)
        answer = self._asking.first(place, since, go_on, last)
        if isinstance(answer, Silence):
            older = answer.older
            if older is not None and (kept is None or kept.weather.retrieved_at < older.retrieved_at):
                older = _continued(older, kept)
                self._keep_answer(place, older, local_days(older, place.zone))
            return
        weather = _continued(answer.weather, kept)
        completion = self._completed(place, since, weather, answer.next_names, kept, go_on)
        now = self._clock()
        is_known = _is_known(answer.weather, kept, now)
        if completion.is_completed or not is_known:
            self._keep_answer(place, weather, completion.days)
        longest = ASKED_AGAIN_AFTER if completion.is_all_told else TRIED_AGAIN_AFTER
        with self._lock:
            known = self._places[place.key]
            if is_known:
                known.serves = _Settled(since, now + SERVES_STILL, SERVES_STILL)
            if not known.asked.holds(known.asked.since, now) or since <= known.asked.since:
                known.asked = _Settled(since, now + longest, longest)

    def _completed(
        self,
        place: Place,
        since: dt.date,
        weather: HourlyWeather,
        names: Sequence[str],
        kept: KeptAnswer | None,
        go_on: Callable[[], None],
    ) -> _Completion:
        """The days of an answer, with what further sources have of that which they lack."""
        completion = _Completion(local_days(weather, place.zone))
        kept_days = self._keep.days(place.key, since) if names else []
        is_first = True
        for name in names:
            if not self._asking.could_complete(name, place, since, completion.days, kept_days):
                continue
            if is_first and self._is_awaited(kept):
                self._keep_answer(place, weather, completion.days)
            is_first = False
            go_on()
            days = self._asking.completed_by(name, place, since, completion.days)
            if days is None:
                completion.is_all_told = False
            else:
                completion.days, completion.is_completed = days, True
        return completion

    def _go_on(self, place: Place, holder: str) -> None:
        """Hold the turn for as long again."""
        now = self._clock()
        self._keep.hold(_turn(place), holder, now, now + LEASE)

    def _is_awaited(self, kept: KeptAnswer | None) -> bool:
        """Whether somebody may be waiting, nothing as good being at hand: what there is then comes first."""
        return kept is None or self._clock() - kept.weather.retrieved_at > ACCEPTABLE

    def _keep_answer(self, place: Place, weather: HourlyWeather, days: tuple[WeatherDay, ...]) -> None:
        days = _without_ragged_ends(days, weather.retrieved_at, place)
        yesterday = (weather.retrieved_at.astimezone(dt.UTC) - dt.timedelta(days=1)).date()
        kept_from = dt.datetime.combine(yesterday, dt.time(), dt.UTC)
        recent = replace(weather, hours=tuple(hour for hour in weather.hours if hour.start >= kept_from))
        self._keep.keep(
            place.key, recent, days, promises_of(days, weather.retrieved_at, place.zone), self._clock()
        )


def _continued(weather: HourlyWeather, kept: KeptAnswer | None) -> HourlyWeather:
    """An answer of a source without past, with the hours that its answer before it still has."""
    return weather if weather.knows_past or kept is None else continued(weather, kept.weather)


def _is_known(weather: HourlyWeather, kept: KeptAnswer | None, now: dt.datetime) -> bool:
    """Whether an answer is the one that is kept, since the service wants it to serve on."""
    return (
        kept is not None
        and now - weather.retrieved_at > JUST_GIVEN
        and kept.weather.source == weather.source
        and abs(weather.retrieved_at - kept.weather.retrieved_at) < JUST_GIVEN
    )


def _turn(place: Place) -> str:
    return f"fetch {place.key}"


def _without_ragged_ends(
    days: tuple[WeatherDay, ...], asked: dt.datetime, place: Place
) -> tuple[WeatherDay, ...]:
    """Days without the incomplete ones at both ends, where the answer cuts through a local day.

    Today stays in any case: what is still to come of it counts, whatever of it is unknown. Rain often
    ends before temperature, and the demand of such days is known.
    """
    today = asked.astimezone(place.zone).date()
    first, last = 0, len(days)
    while first < last and days[first].date < today and not days[first].is_complete:
        first += 1
    while last > first and days[last - 1].date > today and not days[last - 1].has_temperatures:
        last -= 1
    return days[first:last]
