"""What the commands share: files that are read, forecasts, and errors told in words.

The first are the exit codes: 0 done, 2 wrong input, 3 no forecast to plan from, 4 no database.
"""

import datetime as dt
import os
import sqlite3
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
import orjson

from api.errors import ApiError
from scheduling.errors import Problem, SchedulingError

if TYPE_CHECKING:
    from api.store.store import Store
    from api.weather.fetch.forecasts import Forecasts

WRONG_INPUT = 2
NO_FORECAST = 3
NO_STORE = 4
LONGEST_WAIT_S = 30.0
"""A command may wait longer for a forecast than a request."""
EVENINGS_WORTH_A_BAR = 3000
"""Zones x days that take about a second."""


def live_forecasts(now: Callable[[], dt.datetime]) -> "Forecasts":
    """Forecasts as the environment sets them up; only the HTTP cache outlives the command."""
    from api.settings import SettingsError, read_settings
    from api.weather.fetch.forecasts import Forecasts
    from api.weather.fetch.repository import KeptInMemory
    from api.weather.sources.registry import weather_sources

    try:
        settings = read_settings(os.environ)
    except SettingsError as wrong:
        stop(WRONG_INPUT, *wrong.sentences)
    try:
        sources = weather_sources(
            settings.sources, cache=settings.cache_path, contact=settings.contact, clock=now
        )
    except (OSError, sqlite3.Error) as error:
        stop(WRONG_INPUT, f"ROOTLEDGER_CACHE_URL: {settings.cache_path} cannot be used: {error}.")
    return Forecasts(sources, KeptInMemory(), now, wait_s=LONGEST_WAIT_S)


def opened_store() -> "Store":
    """The database that the environment names; where it cannot be opened, the command ends."""
    from api.app import open_store
    from api.errors import StoreUnavailable
    from api.settings import SettingsError, read_settings

    try:
        return open_store(read_settings(os.environ))
    except SettingsError as wrong:
        stop(WRONG_INPUT, *wrong.sentences)
    except StoreUnavailable as error:
        stop(NO_STORE, str(error))


def no_forecasts(now: Callable[[], dt.datetime]) -> "Forecasts":
    """For commands that bring their own weather."""
    from api.weather.fetch.forecasts import Forecasts
    from api.weather.fetch.repository import KeptInMemory

    return Forecasts({}, KeptInMemory(), now)


def read_bytes(path: Path) -> bytes:
    """What is in a file; where it cannot be read, the command ends."""
    try:
        return path.read_bytes()
    except OSError as error:
        stop(WRONG_INPUT, f"{path}: cannot be read: {error.strerror}.")


def read_json(path: Path) -> Any:
    """The document in a file; where there is none, the command ends."""
    try:
        return orjson.loads(read_bytes(path))
    except orjson.JSONDecodeError as error:
        stop(WRONG_INPUT, f"{path}: is not JSON: {error}.")


@contextmanager
def evenings_shown(evenings: int) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal for a replay that takes a while; None where nobody would see it.

    Parameters
    ----------
    evenings
        Zones x days, as far as that is known beforehand.
    """
    if evenings < EVENINGS_WORTH_A_BAR or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label="Evenings planned", file=sys.stderr, update_min_steps=20) as bar:

        def passed(done: int, of: int) -> None:
            bar.length = of
            bar.update(1)

        yield passed


@contextmanager
def told_in_words() -> Iterator[None]:
    """Turn every error of ours into sentences and an exit code."""
    from api.weather.errors import WeatherError

    try:
        yield
    except WeatherError as error:
        stop(NO_FORECAST, str(error))
    except (ApiError, SchedulingError) as error:
        problems: Sequence[Problem] = getattr(error, "problems", ())
        if not problems:
            stop(WRONG_INPUT, str(error))
        # The garden is a file of its own here, so its pointers begin at its own top.
        stop(
            WRONG_INPUT,
            *(f"{problem.pointer.removeprefix('/garden') or '/'}: {problem.detail}" for problem in problems),
        )


def stop(code: int, *sentences: str) -> NoReturn:
    """End the command with sentences on the error stream."""
    for sentence in sentences:
        click.echo(sentence, err=True)
    sys.exit(code)
