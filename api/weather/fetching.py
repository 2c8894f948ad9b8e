"""Asking the sources of a place: one fetch at a time for each, and none while they are to be left alone."""

import datetime as dt
import logging
import math
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from api.weather.days import local_days
from api.weather.errors import PAUSE_AFTER_FAILURE_S, SourceFailed
from api.weather.hours import HourlyWeather, continued
from api.weather.keeping import WeatherKeep, is_complete
from api.weather.place import Place
from api.weather.reading import require_reach
from scheduling.weather import WeatherDay

log = logging.getLogger(__name__)

AT_A_TIME = 2
"""Questions to one source at once: Open-Meteo answers an address one after another, and 429 above 5."""
GIVEN_UP_AFTER_S = 120.0
"""A fetch that takes longer than any source's limits allow no longer stands in the way of a new one."""
EVERYWHERE = ""
"""Stands for every place's key in a pause of a whole source."""
PAUSE_WITHOUT_STORE_S = 30.0
"""After an answer that could not be kept."""
ASKED_AGAIN_AFTER = dt.timedelta(hours=24)
"""Past days that a source did not have are asked for again after this."""


class Source(Protocol):
    """Gives hourly weather for a place."""

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from `past_days` local days back, or from where the source begins, to its horizon.

        Raises SourceFailed.
        """
        ...


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
        self._sources = dict(sources)
        self._keep = keep
        self._clock = clock
        self._turns = {name: threading.Semaphore(AT_A_TIME) for name in sources}
        self._lock = threading.Lock()
        self._running: dict[str, _Fetch] = {}
        self._ended_s: dict[str, float] = {}
        self._asked: dict[str, tuple[dt.date, dt.datetime]] = {}
        self._paused_until: dict[tuple[str, str], dt.datetime] = {}
        self._closed = False

    def start(self, place: Place, since: dt.date, looked_s: float) -> threading.Event | None:
        """See to it that a place is fetched, from a local date on; the event is set when it is over.

        Joins the fetch that is under way, and starts none where one has ended since the caller
        looked into the store (`looked_s` of time.monotonic). None while all sources are to be left
        alone.
        """
        with self._lock:
            if self._closed:
                return None
            running = self._running.get(place.key)
            if running is not None and time.monotonic() - running.began_s < GIVEN_UP_AFTER_S:
                return running.done
            if self._pause_s(place) > 0:
                return None
            fetch = _Fetch(time.monotonic())
            if self._ended_s.get(place.key, -math.inf) >= looked_s:
                fetch.done.set()
                return fetch.done
            fetch.thread = threading.Thread(
                target=self._run, args=(fetch, place, since), name=f"weather {place.key}", daemon=True
            )
            self._running[place.key] = fetch
            fetch.thread.start()
            return fetch.done

    def pause_s(self, place: Place) -> float:
        """For how long no source of a place may be asked; 0 where one may, inf where none is known."""
        with self._lock:
            return self._pause_s(place)

    def has_asked_since(self, place: Place, date: dt.date) -> bool:
        """Whether a source has lately been asked for everything from a local date on, and answered."""
        with self._lock:
            asked = self._asked.get(place.key)
        return asked is not None and asked[0] <= date and self._clock() - asked[1] < ASKED_AGAIN_AFTER

    def knows_a_source(self, place: Place) -> bool:
        """Whether any of a place's sources can be asked here."""
        return any(name in self._sources for name in place.sources)

    def close(self, wait_s: float = 1.0) -> None:
        """Start nothing more, and wait a moment for what is under way."""
        with self._lock:
            self._closed = True
            threads = [fetch.thread for fetch in self._running.values() if fetch.thread is not None]
        for thread in threads:
            thread.join(wait_s)

    def _pause_s(self, place: Place) -> float:
        pauses = [self._source_pause_s(name, place) for name in place.sources if name in self._sources]
        return min(pauses, default=math.inf)

    def _source_pause_s(self, name: str, place: Place) -> float:
        now = self._clock()
        until = max(self._paused_until.get((name, scope), now) for scope in (EVERYWHERE, place.key))
        return max(0.0, (until - now).total_seconds())

    def _pause(self, name: str, scope: str, pause_s: float) -> None:
        now = self._clock()
        with self._lock:
            self._paused_until = {key: until for key, until in self._paused_until.items() if until > now}
            until = now + dt.timedelta(seconds=pause_s)
            self._paused_until[name, scope] = max(until, self._paused_until.get((name, scope), until))

    def _run(self, fetch: _Fetch, place: Place, since: dt.date) -> None:
        try:
            self._fetch(place, since)
        except Exception:
            log.exception("The weather for %s could not be kept", place.key)
            for name in place.sources:
                self._pause(name, place.key, PAUSE_WITHOUT_STORE_S)
        finally:
            with self._lock:
                if self._running.get(place.key) is fetch:
                    del self._running[place.key]
                ended_s = time.monotonic()
                recent_s = ended_s - GIVEN_UP_AFTER_S
                self._ended_s = {key: when for key, when in self._ended_s.items() if when > recent_s}
                self._ended_s[place.key] = ended_s
            fetch.done.set()

    def _fetch(self, place: Place, since: dt.date) -> None:
        """Ask source after source; what is left to do where all fail is done with an older answer."""
        older: HourlyWeather | None = None
        for name in place.sources:
            if name not in self._sources or self._source_pause_s(name, place) > 0:
                continue
            weather = self._ask(name, place, since)
            if isinstance(weather, SourceFailed):
                if weather.older is not None and (
                    older is None or weather.older.retrieved_at > older.retrieved_at
                ):
                    older = weather.older
                continue
            self._keep_answer(place, weather)
            now = self._clock()
            with self._lock:
                lately = now - ASKED_AGAIN_AFTER
                self._asked = {key: asked for key, asked in self._asked.items() if asked[1] > lately}
                before = self._asked.get(place.key)
                if before is None or since <= before[0]:
                    self._asked[place.key] = (since, now)
            return
        kept = self._keep.latest(place.key) if older is not None else None
        if older is not None and (kept is None or kept.weather.retrieved_at < older.retrieved_at):
            self._keep_answer(place, older)

    def _ask(self, name: str, place: Place, since: dt.date) -> HourlyWeather | SourceFailed:
        past_days = max(0, (self._clock().astimezone(place.zone).date() - since).days)
        try:
            with self._turns[name]:
                weather = self._sources[name].hours(place, past_days=past_days)
            require_reach(weather)
        except SourceFailed as failed:
            log.warning("No weather for %s: %s", place.key, failed)
            self._pause(name, EVERYWHERE if failed.whole_source else place.key, failed.pause_s)
            return failed
        except Exception as error:
            # A fault of ours: it must not look like weather, nor be met again at every request.
            log.exception("Source %s failed for %s", name, place.key)
            self._pause(name, place.key, PAUSE_AFTER_FAILURE_S)
            return SourceFailed(name, f"{type(error).__name__}")
        return weather

    def _keep_answer(self, place: Place, weather: HourlyWeather) -> None:
        if not weather.knows_past and (before := self._keep.latest(place.key)) is not None:
            weather = continued(weather, before.weather)
        days = _without_ragged_ends(local_days(weather, place.zone), weather.retrieved_at, place)
        yesterday = (weather.retrieved_at.astimezone(dt.UTC) - dt.timedelta(days=1)).date()
        kept_from = dt.datetime.combine(yesterday, dt.time(), dt.UTC)
        recent = HourlyWeather(
            source=weather.source,
            attribution=weather.attribution,
            retrieved_at=weather.retrieved_at,
            elevation_m=weather.elevation_m,
            wind_height_m=weather.wind_height_m,
            hours=tuple(hour for hour in weather.hours if hour.start >= kept_from),
            knows_past=weather.knows_past,
        )
        self._keep.keep(place.key, recent, days)


def _without_ragged_ends(
    days: tuple[WeatherDay, ...], asked: dt.datetime, place: Place
) -> tuple[WeatherDay, ...]:
    """Days without the incomplete ones at both ends, where the answer cuts through a local day.

    Today stays in any case: what is still to come of it counts, whatever of it is unknown.
    """
    today = asked.astimezone(place.zone).date()
    first, last = 0, len(days)
    while first < last and days[first].date < today and not is_complete(days[first]):
        first += 1
    while last > first and days[last - 1].date > today and not is_complete(days[last - 1]):
        last -= 1
    return days[first:last]
