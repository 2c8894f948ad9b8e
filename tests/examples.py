"""How many examples a property test is tried with: each number is written for the gate, and the plain suite
tries a third of it. The profiles themselves are in conftest.py."""

from typing import Any

from hypothesis import settings

IN_FULL = 100
"""Examples of a property test that names no number of its own, in the gate."""
A_THIRD = 33


def are_in_full() -> bool:
    """Whether the suite runs with the profile of the gate."""
    return settings().max_examples == IN_FULL


def examples(in_full: int, **further: Any) -> settings:
    """The settings of a test whose examples take longer than most, or of one that needs more of them."""
    return settings(max_examples=max(2, in_full * settings().max_examples // IN_FULL), **further)
