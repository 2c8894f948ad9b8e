"""The weather sources of this installation, by name."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from api.weather import demo, dwd, met_norway, open_meteo, us_nws
from api.weather.coverage import sources_for
from api.weather.fetching import Source
from api.weather.session import WeatherSession, user_agent

__all__ = ["sources_for", "weather_sources"]


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
    given, a source's own is asked; an ensemble only where its address is.
    """
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
        demo.NAME: demo.Demo(clock),
    }
