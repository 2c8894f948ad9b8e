"""What really happened: water that flowed through a valve."""

import datetime as dt
from dataclasses import dataclass, field
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Delivery:
    """Water that reached a zone, booked before the ETc of its date."""

    zone: str
    date: dt.date
    """The garden day it belongs to: its run's date, or that of the next 15:00 after it began."""
    volume_l: float
    """What the valve passed, so before losses on the way to the roots."""


class StandState(NamedTuple):
    """One planting of a zone on a morning."""

    depletion_mm: float
    surface_depletion_mm: float | None = None
    """With a dual crop coefficient, what the top layer lacks where it was wetted last."""
    surface_wetted_share: float | None = None
    """How much of the ground that is."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Where a ledger begins: the depletion of each zone at the start of a date."""

    date: dt.date
    depletion_mm: dict[str, float]
    """By zone id, before any water that belongs to `date`."""
    turns_without: dict[str, int]
    """By zone id: how many plans in a row left it without water for want of hours or litres, up to
    but not including that of `date`."""
    turns_after: dict[str, int] = field(default_factory=dict)
    """The same with the plan of `date`, which is what the plan of a later date goes by: whoever asks
    for one date twice is not left without twice."""

    stands: dict[str, tuple[StandState, ...]] = field(default_factory=dict)
    """By zone id, where `depletion_mm` does not tell all: each planting in the order of the zone's."""

    def turns_for(self, date: dt.date) -> dict[str, int]:
        """Who went without, and how often in a row, before the plan of a date."""
        return self.turns_after if self.date < date else self.turns_without
