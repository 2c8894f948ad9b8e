"""For how long a source is left alone, known to all processes that share a store."""

import datetime as dt
import math
import threading
from collections.abc import Callable, Sequence

from api.weather.keeping import WeatherKeep

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

    def of_all(self, names: Sequence[str], place_key: str) -> float:
        """For how long none of some sources may be asked; 0 where one may, inf where there is none. [s]"""
        return min((self.of(name, place_key) for name in names), default=math.inf)

    def of(self, name: str, place_key: str) -> float:
        """For how long a source may not be asked about a place. [s]"""
        now = self._clock()
        with self._lock:
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

    def _take_in(self, told: dict[str, dt.datetime]) -> None:
        now = self._clock()
        with self._lock:
            self._until = {key: until for key, until in self._until.items() if until > now}
            for key, until in told.items():
                self._until[key] = max(until, self._until.get(key, until))


def _key(name: str, scope: str) -> str:
    return f"{PREFIX}{name} {scope}"
