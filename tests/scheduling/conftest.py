"""What holds for all tests of the arithmetic."""

from collections.abc import Iterator

import pytest

from scheduling.tap import allocation


@pytest.fixture(scope="module", autouse=True)
def _without_reserve() -> Iterator[None]:
    """Starts are those of a timetable without reserve; test_allocation says what the reserve does to them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(allocation, "RESERVE_S", 0)
        yield
