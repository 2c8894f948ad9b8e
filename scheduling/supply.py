"""Shares the watering hours of one tap among the zones that want water.

Hours go by priority, then by thirst, in whole doses until they are spent: a fair share for
everyone would leave everyone below the smallest dose that does any good.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scheduling.garden import Priority
from scheduling.landscape.application import volume_of_depth_l
from scheduling.runs import Placed, Span, ValveOpening, openings_of_volume, place_before
from scheduling.zone import ZoneNumbers

RANK: dict[Priority, int] = {"high": 0, "normal": 1, "low": 2}
TURNS_BEFORE_FIRST_OF_ALL = 3
"""A zone that went without so many times comes before every priority."""


@dataclass(frozen=True, slots=True)
class Dose:
    """What one zone wants of the hours."""

    numbers: ZoneNumbers
    openings: tuple[ValveOpening, ...]
    thirst: float
    """Depletion over RAW."""
    turns_without: int


class Share(NamedTuple):
    """What one zone gets of the hours."""

    placed: tuple[Placed, ...]
    cut: bool
    """True where the hours were too short for the whole dose."""


def share_hours(doses: Sequence[Dose], span: Span | None, gap_s: int) -> dict[str, Share]:
    """Place all doses in the hours, or as many as fit; by zone id.

    The last dose to get a part is cut, not below its zone's smallest depth. In time, zones of
    high priority come last, nearest to the end of the hours, then by id.
    """
    nothing = {dose.numbers.zone.id: Share((), True) for dose in doses}
    if span is None:
        return nothing
    opens_s, closes_s = _whole_minute_after(span.opens), int(span.closes.timestamp())
    served: list[Dose] = []
    placed = _place(served, opens_s, closes_s, gap_s)
    cut: str | None = None
    for dose in sorted(doses, key=_turn):
        whole = _place([*served, dose], opens_s, closes_s, gap_s)
        if whole is not None:
            served, placed = [*served, dose], whole
            continue
        if cut is not None:
            continue
        part = _part_of(dose, served, opens_s, closes_s, gap_s)
        if part is not None:
            served = [*served, part]
            placed = _place(served, opens_s, closes_s, gap_s)
            cut = dose.numbers.zone.id
    return nothing | {zone_id: Share(tuple(runs), zone_id == cut) for zone_id, runs in (placed or {}).items()}


def _turn(dose: Dose) -> tuple[bool, int, bool, float, str]:
    """Sort key: who is served first."""
    zone = dose.numbers.zone
    return (
        dose.turns_without < TURNS_BEFORE_FIRST_OF_ALL,
        RANK[zone.priority],
        dose.turns_without == 0,
        -dose.thirst,
        zone.id,
    )


def _place(doses: Sequence[Dose], opens_s: int, closes_s: int, gap_s: int) -> dict[str, list[Placed]] | None:
    in_time = sorted(doses, key=lambda dose: (-RANK[dose.numbers.zone.priority], dose.numbers.zone.id))
    openings = [opening for dose in in_time for opening in dose.openings]
    owners = [dose.numbers.zone.id for dose in in_time for _ in dose.openings]
    placed = place_before(openings, opens_s, closes_s, gap_s)
    if placed is None:
        return None
    by_zone: dict[str, list[Placed]] = {}
    for owner, run in zip(owners, placed, strict=True):
        by_zone.setdefault(owner, []).append(run)
    return by_zone


def _part_of(dose: Dose, served: Sequence[Dose], opens_s: int, closes_s: int, gap_s: int) -> Dose | None:
    """The largest part of a dose that still fits; None where that is below its smallest depth."""
    numbers = dose.numbers
    smallest_l = volume_of_depth_l(numbers.smallest_depth_mm / numbers.efficiency, numbers.zone.area_m2)
    low_l, high_l = 0.0, sum(opening.volume_l for opening in dose.openings)
    best: Dose | None = None
    while high_l - low_l > 0.5 * numbers.flow_l_min:
        middle_l = 0.5 * (low_l + high_l)
        part = Dose(numbers, openings_of_volume(numbers, middle_l), dose.thirst, dose.turns_without)
        if part.openings and _place([*served, part], opens_s, closes_s, gap_s) is not None:
            best, low_l = part, middle_l
        else:
            high_l = middle_l
    if best is None or sum(opening.volume_l for opening in best.openings) < smallest_l:
        return None
    return best


def _whole_minute_after(instant: dt.datetime) -> int:
    return -int(-instant.timestamp() // 60) * 60
