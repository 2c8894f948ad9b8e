"""Where the tests of plans begin: on the evening of 14 July, with a store that has no gardens yet."""

from collections.abc import Callable

import pytest

from tests.api.stored_garden import House


@pytest.fixture
def house(open_house: Callable[..., House]) -> House:
    """What one process has of a plan's life; a test puts its garden into it."""
    return open_house()
