"""How many places that belong to no stored garden a weather service is asked about."""

import datetime as dt
import math
import threading
from collections.abc import Callable

from api.errors import TooManyPlaces
from api.weather.place import Place

PLACES_AN_HOUR = 20
AN_HOUR = dt.timedelta(hours=1)


class Visitors:
    """Counts the places of the last hour, in this process."""

    def __init__(self, is_garden_place: Callable[[str], bool], clock: Callable[[], dt.datetime]) -> None:
        self._is_garden_place = is_garden_place
        self._clock = clock
        self._lock = threading.Lock()
        self._last_asked: dict[str, dt.datetime] = {}

    def admit(self, place: Place) -> None:
        """Let a place be asked about. Raises TooManyPlaces, which says when to come again."""
        if self._is_garden_place(place.key):
            return
        now = self._clock()
        with self._lock:
            recent = {key: asked for key, asked in self._last_asked.items() if now - asked < AN_HOUR}
            if place.key not in recent and len(recent) >= PLACES_AN_HOUR:
                self._last_asked = recent
                wait = min(recent.values()) + AN_HOUR - now
                raise TooManyPlaces(max(1, math.ceil(wait.total_seconds())))
            self._last_asked = {**recent, place.key: now}
