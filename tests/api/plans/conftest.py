"""Where the tests of plans begin: on the evening of 14 July, with a store that has no gardens yet."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from api.plans.plan_maker import PlanMaker
from tests.api.stored_garden import House


@pytest.fixture
def house(open_house: Callable[..., House]) -> House:
    """What one process has of a plan's life; a test puts its garden into it."""
    return open_house()


@pytest.fixture
def while_planning(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[Callable[[], object]], None]]:
    """Lets something happen once, after the next plan was made and before it is stored."""
    whole, to_happen, has_happened = PlanMaker.plan, [], []

    def interrupted(maker: PlanMaker, *args: Any, **options: Any) -> Any:
        planned = whole(maker, *args, **options)
        if to_happen:
            has_happened.append(to_happen.pop()())
        return planned

    monkeypatch.setattr(PlanMaker, "plan", interrupted)
    yield to_happen.append
    assert has_happened
