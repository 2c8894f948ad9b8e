"""The weather sources of this installation, by name, and what is known of them before they are asked."""

import datetime as dt
import sqlite3
import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Final

from api.weather.place import Place
from api.weather.series.hours import Attribution, HourlyWeather
from api.weather.series.own_weather import NAME as OWN_WEATHER
from api.weather.sources import demo, dwd, met_norway, open_meteo, us_nws
from api.weather.sources.services import Installation, Service, Setting, Source

REAL: Final = (open_meteo.SERVICE, met_norway.SERVICE, us_nws.SERVICE, dwd.SERVICE)
"""The sources on the network, in the order in which to try them."""
SERVICES: Final[Mapping[str, Service]] = {service.name: service for service in (*REAL, demo.SERVICE)}
OWN_WEATHER_KNOWS: Final = (
    "only what your own instruments measured (`observations`), which counts beside every other source too; "
    "alone, no forecast: plans go by the mean of the last days that you told in full, and the network is "
    "not used"
)
WEATHER_SOURCES: Final = (*(service.name for service in REAL), OWN_WEATHER, demo.NAME)
"""What a garden may name."""
SETTINGS: Final[Mapping[str, Setting]] = {
    setting.name: setting for service in SERVICES.values() for setting in service.settings
}


def weather_sources(
    settings: Mapping[str, str],
    *,
    cache: Path | None,
    contact: str | None,
    clock: Callable[[], dt.datetime],
) -> dict[str, Source]:
    """Every available source.

    `settings` are those of the sources, by name; where one gives no address, the service's own is asked.
    `cache` is the file of the HTTP cache, `contact` goes into the User-Agent.

    Raises OSError or sqlite3.OperationalError where the cache cannot be kept in that file.
    """
    if cache is not None:
        _require_usable(cache)
    here = Installation(settings, cache, contact, clock)
    network = _Network(here)
    return {
        **{service.name: _OfTheNetwork(network, service.name) for service in REAL},
        demo.NAME: demo.SERVICE.make(here),
    }


class _Network:
    """The sources on the network, all created at the first use of one."""

    def __init__(self, here: Installation) -> None:
        self._here = here
        self._lock = threading.Lock()
        self._made: Mapping[str, Source] = {}

    def source(self, name: str) -> Source:
        """The source of a name."""
        with self._lock:
            self._made = self._made or {service.name: service.make(self._here) for service in REAL}
        return self._made[name]


class _OfTheNetwork:
    """Stands for one of them."""

    def __init__(self, network: _Network, name: str) -> None:
        self._network = network
        self._name = name

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """As the source itself answers."""
        return self._network.source(self._name).hours(place, past_days=past_days)


def can_give(name: str, *, past: bool, radiation: bool) -> bool:
    """Whether a source may have what another one lacks."""
    service = SERVICES.get(name)
    return service is not None and ((past and service.knows_past) or (radiation and service.gives_radiation))


def attributions(names: Iterable[str], told: Mapping[str, Attribution]) -> tuple[Attribution, ...]:
    """What has to be said beside data of some sources, in their order; `told` is what came with an answer."""
    found = (told.get(name) or (SERVICES[name].attribution if name in SERVICES else None) for name in names)
    return tuple(dict.fromkeys(attribution for attribution in found if attribution is not None))


def why_not(name: str, latitude: float, longitude: float, timezone: str = "") -> str | None:
    """A sentence for a source that a place cannot have, with those that it can; None where it can.

    Near a border, the time zone tells on which side of it a garden lies.
    """
    coverage = SERVICES[name].coverage if name in SERVICES else None
    if coverage is None:
        return None
    is_beyond = coverage.is_beyond(timezone)
    if coverage.holds(latitude, longitude) and not is_beyond:
        return None
    where = f"time zone {timezone}" if is_beyond else f"latitude {latitude:g}, longitude {longitude:g}"
    anywhere = [service for service in REAL if service.coverage is None]
    always = ", ".join(service.name for service in anywhere if not service.only_where)
    at_times = "".join(
        f", and {service.name} {service.only_where}" for service in anywhere if service.only_where
    )
    return f'"{name}" has weather only for {coverage.where}, not for {where}; {always} would work{at_times}.'


def _require_usable(cache: Path) -> None:
    """See at the start whether a file can be written as a database, not at the first question."""
    cache.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with closing(sqlite3.connect(cache, timeout=30, isolation_level=None)) as connection:
        try:
            connection.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            return  # damaged: it is made anew when it is first used
