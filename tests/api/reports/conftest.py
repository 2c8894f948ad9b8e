"""The garden whose water is reported: stored at noon on 12 July, in either kind of database."""

from collections.abc import Callable

import pytest

from tests.api.stored_garden import Clock, House


@pytest.fixture
def house(open_house: Callable[..., House], database_url: str, clock: Clock) -> House:
    """That garden, at noon on 14 July; its lawn is declared to take 20 l/min."""
    house = open_house(database_url)
    clock.to(12, day=12)
    house.put()
    clock.to(12)
    return house
