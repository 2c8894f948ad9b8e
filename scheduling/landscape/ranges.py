"""Ranges that every formula of this package demands of its numbers."""

import math


def require_positive(name: str, value: float) -> None:
    """Raise ValueError unless `value` is a finite number above 0."""
    if not 0.0 < value < math.inf:
        raise ValueError(f"{name} is {value}; it must be above 0.")


def require_not_negative(name: str, value: float) -> None:
    """Raise ValueError unless `value` is a finite number of 0 or more."""
    if not 0.0 <= value < math.inf:
        raise ValueError(f"{name} is {value}; it must be 0 or more.")


def require_within(name: str, value: float, low: float, high: float) -> None:
    """Raise ValueError unless `low` <= `value` <= `high`."""
    if not low <= value <= high:
        raise ValueError(f"{name} is {value}; it must be {low:g} to {high:g}.")
