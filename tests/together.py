"""Work that several threads begin at the same moment."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from tests.profile import PATIENCE_S

T = TypeVar("T")


def together(count: int, work: Callable[[int], T]) -> list[T]:
    """What each of so many threads gives, in their order; `work` is told the thread's number from 0 on.

    Raises what one of them raises.
    """
    start = threading.Barrier(count, timeout=PATIENCE_S)

    def begin(number: int) -> T:
        start.wait()
        return work(number)

    with ThreadPoolExecutor(count) as threads:
        return list(threads.map(begin, range(count)))
