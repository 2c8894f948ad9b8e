"""The weather sources of this installation, by name.

What asking over a network takes is imported when the first source is asked: that is a fifth of the time
of a start, and 10 MB of a server that has not had to ask yet.
"""

import datetime as dt
import sqlite3
import threading
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Final

from api.weather.fetch.fetching import Source
from api.weather.place import Place
from api.weather.series.hours import HourlyWeather
from api.weather.sources import demo
from api.weather.sources.services import sources_for

__all__ = ["sources_for", "weather_sources"]

ASKED_OVER_A_NETWORK: Final = ("open-meteo", "met-norway", "us-nws", "dwd")


def weather_sources(
    *,
    cache: Path | None,
    contact: str | None,
    open_meteo_url: str | None,
    open_meteo_key: str | None,
    clock: Callable[[], dt.datetime],
    open_meteo_archive_url: str | None = None,
    open_meteo_ensemble_url: str | None = None,
    met_norway_url: str | None = None,
    us_nws_url: str | None = None,
    dwd_url: str | None = None,
) -> dict[str, Source]:
    """Every source that a garden may name.

    `cache` is the file of the HTTP cache, `contact` goes into the User-Agent. Where no address is
    given, a source's own is asked; of Open-Meteo's, an empty one for its ensemble asks for none.

    Raises OSError or sqlite3.OperationalError where the cache cannot be kept in that file.
    """
    if cache is not None:
        _require_usable(cache)

    def make() -> dict[str, Source]:
        from api.weather.sources import dwd, met_norway, open_meteo, us_nws
        from api.weather.sources.session import WeatherSession, user_agent

        session = WeatherSession(cache=cache, user_agent=user_agent(contact))
        return {
            open_meteo.NAME: open_meteo.OpenMeteo(
                session,
                base_url=open_meteo_url,
                key=open_meteo_key,
                archive_url=open_meteo_archive_url,
                ensemble_url=open_meteo_ensemble_url,
                clock=clock,
            ),
            met_norway.NAME: met_norway.MetNorway(session, base_url=met_norway_url, clock=clock),
            us_nws.NAME: us_nws.UsNws(session, base_url=us_nws_url, clock=clock),
            dwd.NAME: dwd.Dwd(session, base_url=dwd_url, clock=clock),
        }

    network = _Network(make)
    sources: dict[str, Source] = {name: _OfTheNetwork(network, name) for name in ASKED_OVER_A_NETWORK}
    return {**sources, demo.NAME: demo.Demo(clock)}


class _Network:
    """The sources that are asked over a network, made together when the first of them is asked."""

    def __init__(self, make: Callable[[], Mapping[str, Source]]) -> None:
        self._make = make
        self._lock = threading.Lock()
        self._made: Mapping[str, Source] | None = None

    def source(self, name: str) -> Source:
        """The source of a name."""
        with self._lock:
            if self._made is None:
                self._made = self._make()
        return self._made[name]


class _OfTheNetwork:
    """Stands for one of them."""

    def __init__(self, network: _Network, name: str) -> None:
        self._network = network
        self._name = name

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """As the source itself answers."""
        return self._network.source(self._name).hours(place, past_days=past_days)


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
