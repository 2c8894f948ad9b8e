"""What a home garden needs and FAO-56 leaves out; one function is one published formula.

`soil_water` gives the water points of a soil from its sand and clay, `containers` those of a
pot; `application` turns depths into litres and seconds and back; `infiltration` says how long
a run may last before water leaves the zone; `counted_rain` how much of a forecast to rely on;
`coefficient` gives Kc of mixed ornamental plants.

Quantities are plain floats in the unit that ends their name; shares are 0 to 1. A number that
no garden can have raises ValueError with a sentence that names it and its range.
"""

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
