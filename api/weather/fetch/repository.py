"""What a store must be able to do for weather, and which of two accounts of a day it keeps."""

import datetime as dt
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

from api.weather.series.forecast_verification import Promise
from api.weather.series.hours import CLOCK_TOLERANCE, HourlyWeather
from scheduling.balance.weather import Origin, WeatherDay

NO_LIMIT = dt.datetime(9999, 1, 1, tzinfo=dt.UTC)
"""A present moment at which no clock was ahead."""

FORBIDDEN = ""
"""Stands for the holder of a key that nobody may take."""


class AnswerUnreadable(Exception):
    """A kept answer is damaged; from then on, it counts as never kept."""


class NotKept(Exception):
    """Nothing can be kept at the moment; the log has been told why."""


class KeptAnswer:
    """The newest answer for a place, with the version that its store gave it.

    `weather` may be given as a function that reads it: who only wants to know whether the version
    is still the one at hand does not pay for the reading.
    """

    __slots__ = ("_weather", "version")

    def __init__(self, version: int, weather: HourlyWeather | Callable[[], HourlyWeather]) -> None:
        self.version = version
        self._weather = weather

    @property
    def weather(self) -> HourlyWeather:
        """The hours from the day before the answer, 00:00 UTC, on. Raises AnswerUnreadable."""
        if not isinstance(self._weather, HourlyWeather):
            self._weather = self._weather()
        return self._weather


class WeatherKeep(Protocol):
    """Keeps the newest answer and all weather days of every place, for all processes.

    Beside them, keys that one process at a time may hold: who is fetching, and what is to be left alone.
    """

    def latest(self, place_key: str) -> KeptAnswer | None:
        """The newest answer; None where there never was one."""
        ...

    def days(self, place_key: str, since: dt.date) -> list[WeatherDay]:
        """The days kept from `since` on, in ascending order; dates may be missing."""
        ...

    def promises(self, place_key: str, since: dt.date) -> list[Promise]:
        """What was promised the day before each date from `since` on, in ascending order."""
        ...

    def keep(
        self,
        place_key: str,
        weather: HourlyWeather,
        days: Sequence[WeatherDay],
        promises: Sequence[Promise] = (),
        now: dt.datetime = NO_LIMIT,
    ) -> int:
        """Keep an answer and its days in one transaction; gives the place's new, higher version.

        A kept day gives way only where `replaces` says so, a promise to a later one for its date.
        What was kept by a clock ahead of `now` gives way in any case.
        """
        ...

    def hold(self, key: str, holder: str, now: dt.datetime, until: dt.datetime) -> bool:
        """Take a key until an instant; False while somebody else has it."""
        ...

    def release(self, key: str, holder: str) -> None:
        """Give a key back, if it is the holder's."""
        ...

    def forbid(self, key: str, now: dt.datetime, until: dt.datetime) -> None:
        """Let nobody take a key before an instant, or before a later one that stands."""
        ...

    def held(self, now: dt.datetime) -> dict[str, dt.datetime]:
        """The keys that are taken or forbidden, and until when."""
        ...


def replaces(new: WeatherDay, kept: WeatherDay) -> bool:
    """Whether a new account of a date is to take the place of the kept one.

    A complete day never gives way to an incomplete one, nor to one with more hours assumed, a newer
    account not to an older one, and what has been (measured, analysed) neither to a forecast nor to
    an account that knows less.
    """
    if new.is_complete != kept.is_complete:
        return new.is_complete
    if new.hours_assumed > kept.hours_assumed:
        return False
    if (
        new.retrieved_at is not None
        and kept.retrieved_at is not None
        and new.retrieved_at < kept.retrieved_at
    ):
        return False
    if kept.origin in (Origin.MEASURED, Origin.ANALYSED):
        return new.origin is not Origin.FORECAST and _knows_as_much(new, kept)
    return True


_VALUES = (
    "t_min_c", "t_max_c", "t_dew_c", "rh_min_pct", "rh_max_pct", "rh_mean_pct", "wind_m_s", "wind_max_m_s",
    "solar_mj_m2", "sunshine_h", "cloud_share", "rain_mm",
)  # fmt: skip


def _knows_as_much(new: WeatherDay, kept: WeatherDay) -> bool:
    return all(getattr(kept, name) is None or getattr(new, name) is not None for name in _VALUES)


class KeptInMemory:
    """A `WeatherKeep` for one process, where nothing has to outlive it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: dict[str, tuple[int, HourlyWeather]] = {}
        self._days: dict[str, dict[dt.date, WeatherDay]] = {}
        self._promises: dict[str, dict[dt.date, Promise]] = {}
        self._holds: dict[str, tuple[str, dt.datetime]] = {}

    def latest(self, place_key: str) -> KeptAnswer | None:
        """The newest answer; None where there never was one."""
        with self._lock:
            found = self._answers.get(place_key)
        return None if found is None else KeptAnswer(*found)

    def days(self, place_key: str, since: dt.date) -> list[WeatherDay]:
        """The days kept from `since` on, in ascending order."""
        with self._lock:
            days = self._days.get(place_key, {})
            return [days[date] for date in sorted(days) if date >= since]

    def promises(self, place_key: str, since: dt.date) -> list[Promise]:
        """What was promised for dates from `since` on."""
        with self._lock:
            kept = self._promises.get(place_key, {})
            return [kept[date] for date in sorted(kept) if date >= since]

    def keep(
        self,
        place_key: str,
        weather: HourlyWeather,
        days: Sequence[WeatherDay],
        promises: Sequence[Promise] = (),
        now: dt.datetime = NO_LIMIT,
    ) -> int:
        """Keep an answer, its days and promises; gives the place's new version."""
        with self._lock:
            version = self._answers.get(place_key, (0,))[0] + 1
            self._answers[place_key] = (version, weather)
            kept = self._days.setdefault(place_key, {})
            for day in days:
                if day.date not in kept or _is_ahead(kept[day.date], now) or replaces(day, kept[day.date]):
                    kept[day.date] = day
            promised = self._promises.setdefault(place_key, {})
            for promise in promises:
                if promise.date not in promised or promise.made_at >= promised[promise.date].made_at:
                    promised[promise.date] = promise
            return version

    def hold(self, key: str, holder: str, now: dt.datetime, until: dt.datetime) -> bool:
        """Take a key until an instant."""
        with self._lock:
            before = self._holds.get(key)
            if before is not None and before[0] != holder and before[1] > now:
                return False
            self._holds[key] = holder, until
            return True

    def release(self, key: str, holder: str) -> None:
        """Give a key back."""
        with self._lock:
            if self._holds.get(key, ("",))[0] == holder:
                del self._holds[key]

    def forbid(self, key: str, now: dt.datetime, until: dt.datetime) -> None:
        """Let nobody take a key before an instant."""
        with self._lock:
            before = self._holds.get(key, (FORBIDDEN, until))
            self._holds[key] = FORBIDDEN, max(until, before[1])

    def held(self, now: dt.datetime) -> dict[str, dt.datetime]:
        """The keys that are taken or forbidden, and until when."""
        with self._lock:
            return {key: until for key, (_, until) in self._holds.items() if until > now}


def _is_ahead(day: WeatherDay, now: dt.datetime) -> bool:
    return day.retrieved_at is not None and day.retrieved_at > now + CLOCK_TOLERANCE
