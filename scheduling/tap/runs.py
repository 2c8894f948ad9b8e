"""From a depth to openings of a valve: litres, seconds, limits, and the rests that the soil wants.

What is given is rounded down (litres, seconds), what protects is rounded up (limits, rests).
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from scheduling.landscape.application import gross_depth_mm, run_time_s, volume_of_depth_l
from scheduling.landscape.infiltration import soak_s
from scheduling.zone.numbers import ZoneNumbers

LIMIT_FACTOR = 1.25
"""A run may take a quarter longer than reckoned: pressure falls when others draw water."""
LIMIT_ALLOWANCE_S = 30
"""And half a minute, for the valve to turn and the pipe to fill."""


class ValveOpening(NamedTuple):
    """One opening of a valve, not yet placed in time."""

    volume_l: float
    run_time_s: int
    max_open_s: int


def round_down_l(volume_l: float) -> float:
    """A volume that a valve can be told: whole litres from 10 l on, tenths from 1 l, else hundredths."""
    steps = _steps(volume_l)
    # The small allowance keeps 12 l from becoming 11 l by the last bit of a product.
    return math.floor(volume_l * steps + 1e-6) / steps


def round_up_l(volume_l: float) -> float:
    """A volume that serves as a limit: as `round_down_l`, upwards."""
    steps = _steps(volume_l)
    return math.ceil(volume_l * steps - 1e-6) / steps


def _steps(volume_l: float) -> int:
    """Into how many steps a litre of such a volume is divided."""
    return 1 if volume_l >= 10.0 else 10 if volume_l >= 1.0 else 100


def openings_of(numbers: ZoneNumbers, net_mm: float) -> tuple[ValveOpening, ...]:
    """The openings that bring a net depth to a zone: one, or several much alike where the valve
    allows, or the soil takes in, only a shorter run than the dose takes."""
    volume_l = volume_of_depth_l(gross_depth_mm(net_mm, numbers.efficiency), numbers.zone.area_m2)
    return openings_of_volume(numbers, volume_l)


def openings_of_volume(numbers: ZoneNumbers, volume_l: float) -> tuple[ValveOpening, ...]:
    """The openings that pass a volume; none where it is below what a valve can be told."""
    own_limit_s = numbers.zone.valve.max_open_s
    longest_s = numbers.longest_run_s if own_limit_s is None else min(numbers.longest_run_s, own_limit_s)
    openings = tuple(
        _opening(piece_l, numbers.flow_l_min, own_limit_s)
        for piece_l in _pieces(volume_l, longest_s * numbers.flow_l_min / 60.0)
    )
    return openings if openings and openings[-1].run_time_s > 0 else ()


def _pieces(volume_l: float, largest_l: float) -> list[float]:
    """A volume rounded down and divided into as few volumes as may be, much alike, the larger first."""
    at_least = max(1, math.ceil(volume_l / largest_l * (1.0 - 1e-9)))
    steps = _steps(volume_l / at_least)
    units, largest_units = math.floor(volume_l * steps + 1e-6), math.inf
    if largest_l < math.inf:
        largest_units = math.floor(largest_l * steps + 1e-6)
    if units == 0 or largest_units == 0:
        return []
    count = max(1, math.ceil(units / largest_units))
    each, left_over = divmod(units, count)
    return [(each + (place < left_over)) / steps for place in range(count)]


def _opening(volume_l: float, flow_l_min: float, own_limit_s: int | None) -> ValveOpening:
    seconds = math.floor(run_time_s(volume_l, flow_l_min) + 1e-6)
    limit_s = math.ceil(LIMIT_FACTOR * seconds + LIMIT_ALLOWANCE_S)
    return ValveOpening(volume_l, seconds, limit_s if own_limit_s is None else min(limit_s, own_limit_s))


class Rests(NamedTuple):
    """How long a zone's soil has to soak. [s]"""

    between_s: int
    """Between the openings of one dose."""
    after_s: int
    """Before another dose of the same zone."""


NO_RESTS = Rests(0, 0)


def rests_of(numbers: ZoneNumbers, openings: Sequence[ValveOpening]) -> Rests:
    """The rests that a dose wants, so that what stands on the ground never runs off.

    A dose that the ground could hold in one go wants none between its openings.
    """
    if numbers.intake_mm_h == math.inf or not openings:
        return NO_RESTS
    rate_mm_h, intake_mm_h = numbers.surface_rate_mm_h, numbers.intake_mm_h
    whole_s = sum(opening.run_time_s for opening in openings)
    if whole_s <= numbers.longest_run_s:
        return Rests(0, math.ceil(soak_s(rate_mm_h, intake_mm_h, whole_s)))
    soak = math.ceil(soak_s(rate_mm_h, intake_mm_h, max(opening.run_time_s for opening in openings)))
    return Rests(soak, soak)
