"""The weather sources of this installation, by name."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from api.weather import demo, open_meteo
from api.weather.fetching import Source
from api.weather.session import WeatherSession, user_agent


def weather_sources(
    *,
    cache: Path | None,
    contact: str | None,
    open_meteo_url: str | None,
    open_meteo_key: str | None,
    clock: Callable[[], dt.datetime],
) -> dict[str, Source]:
    """Every source that a garden may name.

    `cache` is the file of the HTTP cache, `contact` goes into the User-Agent.
    """
    session = WeatherSession(cache=cache, user_agent=user_agent(contact))
    return {
        open_meteo.NAME: open_meteo.OpenMeteo(
            session, base_url=open_meteo_url, key=open_meteo_key, clock=clock
        ),
        demo.NAME: demo.Demo(clock),
    }
