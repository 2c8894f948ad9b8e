"""Fetching the weather of places in the background: one fetch at a time for each, in one process of all."""

import datetime as dt
import logging
import math
import threading
import time
import uuid
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from api.weather.fetch.repository import KeptAnswer, WeatherKeep
from api.weather.fetch.source_order import Asking, Pauses, Silence
from api.weather.place import Place
from api.weather.series.forecast_verification import promises_of
from api.weather.series.hours import HourlyWeather, continued
from api.weather.series.local_days import local_days
from api.weather.sources.services import Source
from scheduling.balance.weather import WeatherDay

FRESH_S: Final = 3600
"""Up to this age an answer is used and nobody is asked."""


ACCEPTABLE_S: Final = 6 * 3600
"""Up to this age it is used without waiting, while a new one is fetched; above, it is stale."""


USABLE_S: Final = 72 * 3600
"""Above this age nothing is planned from it."""


SPREAD_S: Final = 600
"""Places are due again up to so much before the hour, each by its own share of it: what was fetched
together, after a start or an outage, is not asked for together ever after."""


def due_after_s(place: Place) -> float:
    """Up to which age the weather of a place is not asked for again: 50 to 60 minutes. [s]"""
    return FRESH_S - zlib.crc32(place.key.encode()) % SPREAD_S


log = logging.getLogger(__name__)

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


@dataclass(slots=True)
class _Fetch:
    began_s: float
    done: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None


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
        self._running: dict[str, _Fetch] = {}
        self._ended_s: dict[str, float] = {}
        # By place: from which date on everything was asked for, and when to ask for it again.
        self._asked: dict[str, tuple[dt.date, dt.datetime]] = {}
        # By place: from which date on the kept answer is the one that serves still, and until when.
        self._serves: dict[str, tuple[dt.date, dt.datetime]] = {}
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
            running = self._running.get(place.key)
            if running is not None and time.monotonic() - running.began_s < GIVEN_UP_AFTER_S:
                return running.done
            serves = self._serves.get(place.key)
            if self._pauses.of_all(self._asking.names(place, last), place.key) > 0 or (
                serves is not None and serves[0] <= since and self._clock() < serves[1]
            ):
                return None
            fetch = _Fetch(time.monotonic())
            if self._ended_s.get(place.key, -math.inf) >= looked_s:
                fetch.done.set()
                return fetch.done
            fetch.thread = threading.Thread(
                target=self._run,
                args=(fetch, place, since, found, last),
                name=f"weather {place.key}",
                daemon=True,
            )
            self._running[place.key] = fetch
            fetch.thread.start()
            return fetch.done

    def pause_s(self, place: Place) -> float:
        """For how long no source of a place may be asked; 0 where one may, inf where none is known."""
        return self._pauses.of_all(self._asking.names(place), place.key)

    def has_asked_since(self, place: Place, date: dt.date) -> bool:
        """Whether a source has lately been asked for everything from a local date on, and answered."""
        with self._lock:
            asked = self._asked.get(place.key)
        return asked is not None and asked[0] <= date and self._clock() < asked[1]

    def knows_a_source(self, place: Place) -> bool:
        """Whether any of a place's sources can be asked here."""
        return bool(self._asking.names(place))

    def close(self, wait_s: float = 1.0) -> None:
        """Start nothing more, and wait a moment for what is under way."""
        with self._lock:
            self._closed = True
            threads = [fetch.thread for fetch in self._running.values() if fetch.thread is not None]
        for thread in threads:
            thread.join(wait_s)

    def _run(self, fetch: _Fetch, place: Place, since: dt.date, found: int | None, last: str | None) -> None:
        holder = uuid.uuid4().hex
        try:
            if self._take_turn(place, holder, found):
                try:
                    self._fetch(place, since, holder, last)
                finally:
                    self._keep.release(_turn(place), holder)
        except Exception:
            log.exception("The weather for %s could not be kept", place.key)
            for name in place.sources:
                self._pauses.begin(name, place.key, PAUSE_WITHOUT_STORE_S, tell=False)
        finally:
            with self._lock:
                if self._running.get(place.key) is fetch:
                    del self._running[place.key]
                ended_s = time.monotonic()
                recent_s = ended_s - GIVEN_UP_AFTER_S
                self._ended_s = {key: when for key, when in self._ended_s.items() if when > recent_s}
                self._ended_s[place.key] = ended_s
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

        def go_on() -> None:
            now = self._clock()
            self._keep.hold(_turn(place), holder, now, now + LEASE)

        kept = self._keep.latest(place.key)
        answer = self._asking.first(place, since, go_on, last)
        if isinstance(answer, Silence):
            older = answer.older
            if older is not None and (kept is None or kept.weather.retrieved_at < older.retrieved_at):
                older = _continued(older, kept)
                self._keep_answer(place, older, local_days(older, place.zone))
            return
        weather = _continued(answer.weather, kept)
        days = local_days(weather, place.zone)
        kept_days = self._keep.days(place.key, since) if answer.next_names else []
        asks_further, is_all_told, is_completed = False, True, False
        for name in answer.next_names:
            if self._asking.could_complete(name, place, since, days, kept_days):
                if not asks_further and self._is_awaited(kept):
                    self._keep_answer(place, weather, days)
                asks_further = True
                go_on()
                completed = self._asking.completed_by(name, place, since, days)
                is_all_told = is_all_told and completed is not None
                if completed is not None:
                    days, is_completed = completed, True
        now = self._clock()
        is_known = _is_known(answer.weather, kept, now)
        if is_completed or not is_known:
            self._keep_answer(place, weather, days)
        with self._lock:
            self._serves = {key: serves for key, serves in self._serves.items() if serves[1] > now}
            if is_known:
                self._serves[place.key] = since, now + SERVES_STILL
            self._asked = {key: asked for key, asked in self._asked.items() if asked[1] > now}
            before = self._asked.get(place.key)
            if before is None or since <= before[0]:
                asked_again = now + (ASKED_AGAIN_AFTER if is_all_told else TRIED_AGAIN_AFTER)
                self._asked[place.key] = (since, asked_again)

    def _is_awaited(self, kept: KeptAnswer | None) -> bool:
        """Whether somebody may be waiting, nothing as good being at hand: what there is then comes first."""
        return kept is None or self._clock() - kept.weather.retrieved_at > ACCEPTABLE

    def _keep_answer(self, place: Place, weather: HourlyWeather, days: tuple[WeatherDay, ...]) -> None:
        days = _without_ragged_ends(days, weather.retrieved_at, place)
        yesterday = (weather.retrieved_at.astimezone(dt.UTC) - dt.timedelta(days=1)).date()
        kept_from = dt.datetime.combine(yesterday, dt.time(), dt.UTC)
        recent = replace(weather, hours=tuple(hour for hour in weather.hours if hour.start >= kept_from))
        self._keep.keep(place.key, recent, days, promises_of(days, weather.retrieved_at, place.zone))


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
