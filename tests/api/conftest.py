"""A stored garden with a past, for whoever asks about it over HTTP."""

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from tests.api.stored_garden import EVENING, ONE_DAY, Clock, House, Steady


@pytest.fixture(scope="session", autouse=True)
def _patient(_patient_service: None) -> None:
    """Nothing here fails because a machine is slow."""


@pytest.fixture
def clock() -> Clock:
    """The evening of 14 July 2026, until it is moved."""
    return Clock()


@pytest.fixture
def source(clock: Clock) -> Steady:
    """Dry days, all alike."""
    return Steady(clock)


@pytest.fixture
def open_house(sqlite_url: str, clock: Clock, source: Steady) -> Iterator[Callable[..., House]]:
    """Opens one store again and again, as one process after another does; the first finds no gardens."""
    houses: list[House] = []

    def opened(url: str = sqlite_url) -> House:
        houses.append(House(url, clock, source))
        return houses[-1]

    yield opened
    for house in houses:
        house.close()


@pytest.fixture
def another_house(tmp_path: Path, _sqlite_file: Path) -> Iterator[Callable[..., House]]:
    """Makes houses that share nothing: each has a store without gardens and a clock of its own."""
    houses: list[House] = []

    def made(now: dt.datetime = EVENING) -> House:
        path, clock = shutil.copy(_sqlite_file, tmp_path / f"{len(houses)}.db"), Clock(now)
        houses.append(House(f"sqlite:///{path}", clock, Steady(clock)))
        return houses[-1]

    yield made
    for house in houses:
        house.close()


@pytest.fixture
def house(open_house: Callable[..., House], clock: Clock) -> House:
    """A garden that was stored ten days ago, on the evening of Saturday 4 July; its lawn is thirsty by now.

    As 15:00 had passed, its ledger begins with the next date, 5 July.
    """
    house = open_house()
    clock.now = EVENING - 10 * ONE_DAY
    house.put()
    clock.now = EVENING
    return house


@pytest.fixture
def client(house: House) -> FlaskClient:
    return house.client()
