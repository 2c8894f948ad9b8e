"""The service and the clock that most tests of this folder use."""

from collections.abc import Iterator

import pytest

from tests.api.stored_garden import Clock
from tests.api.weather.weather_service import NOON, MemoryKeep, Service


@pytest.fixture
def clock() -> Clock:
    return Clock(NOON)


@pytest.fixture
def service(clock: Clock) -> Iterator[Service]:
    service = Service(clock)
    yield service
    service.close()


@pytest.fixture
def keep() -> MemoryKeep:
    return MemoryKeep()
