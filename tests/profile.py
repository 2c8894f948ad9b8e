"""How many examples a property test tries, and how long a test waits; conftest.py says which and when."""

from typing import Any

from hypothesis import settings

PATIENCE_S = 120
"""Longer than anything takes on a machine under load: only what is broken takes so long."""
IN_FULL = 100
"""Examples of a property test that names no number of its own, in the gate."""
A_THIRD = 33
"""The same in the plain suite."""


def are_in_full() -> bool:
    """Whether the suite runs with the profile of the gate."""
    return settings().max_examples == IN_FULL


def examples(in_full: int, **further: Any) -> settings:
    """The settings of a test whose examples take longer than most, or of one that needs more of them.

    The number is that of the gate; the plain suite tries a third of it, and two at least.
    """
    return settings(max_examples=max(2, in_full * settings().max_examples // IN_FULL), **further)
