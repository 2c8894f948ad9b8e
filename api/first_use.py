"""Parts that are made when something is first asked of them."""

import threading
from collections.abc import Callable
from typing import Any, Generic, TypeVar, cast

Part = TypeVar("Part")


class Once(Generic[Part]):
    """Makes a part at the first call and gives that one ever after; for any number of threads."""

    def __init__(self, make: Callable[[], Part]) -> None:
        self._make = make
        self._made: list[Part] = []
        self._making = threading.Lock()

    def __call__(self) -> Part:
        """The part."""
        if not self._made:
            with self._making:
                if not self._made:
                    self._made.append(self._make())
        return self._made[0]


class _StandIn:
    """Has what its part has; asks for the part when something of it is first wanted."""

    def __init__(self, part: Callable[[], object]) -> None:
        self._part = part

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._part(), name)
        setattr(self, name, value)
        return value


def at_first_use(part: Callable[[], Part]) -> Part:
    """A stand-in for a part, which is asked for when one of its methods is.

    Methods are kept once they were asked for, so later calls cost nothing: the part is to have no
    attribute that changes.
    """
    return cast(Part, _StandIn(part))
