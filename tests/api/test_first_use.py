"""Parts that are made at first use."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from api.first_use import Once, at_first_use


class Counter:
    def __init__(self) -> None:
        self.count = 0

    def more(self, by: int) -> int:
        self.count += by
        return self.count


def test_a_part_is_made_at_its_first_use_and_not_before():
    made = []

    def make() -> Counter:
        made.append(Counter())
        return made[-1]

    part = at_first_use(Once(make))
    assert made == []
    assert part.more(2) == 2
    assert part.more(by=3) == 5
    assert len(made) == 1


def test_threads_that_ask_at_once_share_one_part():
    made = []
    together = threading.Barrier(8)

    def make() -> Counter:
        time.sleep(0.02)  # long enough for the others to come
        made.append(Counter())
        return made[-1]

    once = Once(make)

    def ask(_: int) -> Counter:
        together.wait(10)
        return once()

    with ThreadPoolExecutor(8) as pool:
        given = set(map(id, pool.map(ask, range(8))))
    assert len(made) == 1
    assert given == {id(made[0])}


def test_a_part_that_could_not_be_made_is_tried_again():
    tries = []

    def make() -> Counter:
        tries.append(1)
        if len(tries) == 1:
            raise OSError("not yet")
        return Counter()

    part = at_first_use(Once(make))
    with pytest.raises(OSError, match="not yet"):
        part.more(1)
    assert part.more(1) == 1


def test_what_a_part_does_not_have_its_stand_in_does_not_have_either():
    with pytest.raises(AttributeError, match="less"):
        at_first_use(Counter).less()
