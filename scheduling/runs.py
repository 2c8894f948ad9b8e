"""From a depth to openings of a valve: litres, seconds, limits, and starts within the hours.

What is given is rounded down (litres, seconds, starts), what protects is rounded up (limits).
Times within this file are whole seconds of Unix time: clock changes have no say in a run.
"""

import datetime as dt
import math
from collections.abc import Sequence
from typing import NamedTuple

from scheduling.landscape.application import gross_depth_mm, run_time_s, volume_of_depth_l
from scheduling.zone import ZoneNumbers

LIMIT_FACTOR = 1.25
"""A run may take a quarter longer than reckoned: pressure falls when others draw water."""
LIMIT_ALLOWANCE_S = 30
"""And half a minute, for the valve to turn and the pipe to fill."""


class Span(NamedTuple):
    """Hours in which water may flow, as instants."""

    opens: dt.datetime
    closes: dt.datetime


class ValveOpening(NamedTuple):
    """One opening of a valve, not yet placed in time."""

    volume_l: float
    run_time_s: int
    max_open_s: int


class Placed(NamedTuple):
    """One opening of a valve with its start, in seconds of Unix time."""

    start_s: int
    opening: ValveOpening


def round_down_l(volume_l: float) -> float:
    """A volume that a valve can be told: whole litres from 10 l on, tenths from 1 l, else hundredths."""
    steps = 1 if volume_l >= 10.0 else 10 if volume_l >= 1.0 else 100
    # The small allowance keeps 12 l from becoming 11 l by the last bit of a product.
    return math.floor(volume_l * steps + 1e-6) / steps


def round_up_l(volume_l: float) -> float:
    """A volume that serves as a limit: as `round_down_l`, upwards."""
    steps = 1 if volume_l >= 10.0 else 10 if volume_l >= 1.0 else 100
    return math.ceil(volume_l * steps - 1e-6) / steps


def openings_of(numbers: ZoneNumbers, net_mm: float) -> tuple[ValveOpening, ...]:
    """The openings that bring a net depth to a zone: one, or equal ones where the valve's own
    limit is shorter than the dose takes."""
    volume_l = volume_of_depth_l(gross_depth_mm(net_mm, numbers.efficiency), numbers.zone.area_m2)
    return openings_of_volume(numbers, volume_l)


def openings_of_volume(numbers: ZoneNumbers, volume_l: float) -> tuple[ValveOpening, ...]:
    """The openings that pass a volume; none where it is below what a valve can be told."""
    own_limit_s = numbers.zone.valve.max_open_s
    pieces = 1
    if own_limit_s is not None:
        pieces = max(1, math.ceil(run_time_s(volume_l, numbers.flow_l_min) / own_limit_s))
    piece_l = round_down_l(volume_l / pieces)
    seconds = math.floor(run_time_s(piece_l, numbers.flow_l_min) + 1e-6)
    if piece_l <= 0.0 or seconds < 1:
        return ()
    limit_s = math.ceil(LIMIT_FACTOR * seconds + LIMIT_ALLOWANCE_S)
    if own_limit_s is not None:
        limit_s = min(limit_s, own_limit_s)
    return (ValveOpening(piece_l, seconds, limit_s),) * pieces


def place_before(
    openings: Sequence[ValveOpening], opens_s: int, closes_s: int, gap_s: int
) -> list[Placed] | None:
    """Place openings one after another so that the last one ends when the hours end.

    Starts are whole minutes. None: they do not fit.
    """
    placed: list[Placed] = []
    end_s = closes_s
    for opening in reversed(openings):
        start_s = (end_s - opening.run_time_s) // 60 * 60
        if start_s < opens_s:
            return None
        placed.append(Placed(start_s, opening))
        end_s = start_s - gap_s
    placed.reverse()
    return placed
