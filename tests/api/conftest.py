"""A stored garden with a past, for whoever asks about it over HTTP."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from tests.api.stored_garden import EVENING, ONE_DAY, Clock, House, Steady


@pytest.fixture(scope="session", autouse=True)
def _patient(_patient_service: None) -> None:
    """Nothing here fails since a machine is slow."""


@pytest.fixture
def clock() -> Clock:
    """Ten days before the evening of 14 July."""
    return Clock(EVENING - 10 * ONE_DAY)


@pytest.fixture
def source(clock: Clock) -> Steady:
    return Steady(clock)


@pytest.fixture
def house(tmp_path: Path, clock: Clock, source: Steady) -> Iterator[House]:
    """A garden that was stored ten days ago, on the evening of Saturday 4 July; its lawn is thirsty by now.

    As 15:00 had passed, its ledger begins with the next date, 5 July.
    """
    opened = House(f"sqlite:///{tmp_path}/rootledger.db", clock, source)
    opened.put()
    clock.now = EVENING
    yield opened
    opened.close()


@pytest.fixture
def client(house: House) -> FlaskClient:
    return house.client()
