"""What really happened: water that flowed through a valve, and what probes in the soil read."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Final, NamedTuple

OUT_OF_RANGE: Final = "out-of-range"
STUCK: Final = "stuck"
JUMPED: Final = "jumped"
AT_ODDS: Final = "at-odds"
TOO_DEEP: Final = "below-the-roots"
BARELY_MOVES: Final = "barely-moves"
DOUBTS: Final = (OUT_OF_RANGE, STUCK, JUMPED, AT_ODDS, TOO_DEEP, BARELY_MOVES)
"""Why a probe's reading is not followed."""
MOST_PROBES: Final = 8
"""Of one zone, the first by name are followed; more say nothing new."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """Water that reached a zone, booked before the ETc of its date."""

    zone: str
    date: dt.date
    """The garden day it belongs to: its run's date, or that of the next 15:00 after it began."""
    volume_l: float
    """What the valve passed, so before losses on the way to the roots."""


@dataclass(frozen=True, slots=True)
class Metered:
    """A run that went as it should, by a valve's meter: what it passed, and in what time."""

    zone: str
    date: dt.date
    """The garden day it belongs to."""
    volume_l: float
    open_s: int
    """From opening to closing."""


@dataclass(frozen=True, slots=True)
class MorningReading:
    """What a probe read before the sunrise of a date, before the day's ETc.

    One for each probe and date: the median of the hours before sunrise. It says either how much water
    the soil holds or how full the store is.
    """

    zone: str
    probe: str
    """Which probe of the zone."""
    date: dt.date
    water_content: float | None = None
    """Water as a share of the soil's volume. [m3/m3]"""
    store_share: float | None = None
    """What plants can use of what the roots' soil can hold: 1 at field capacity, 0 at the wilting point."""
    depth_m: float | None = None
    """How deep it sits; None: in the roots, wherever they are. [m]"""
    error_share: float | None = None
    """How exact its maker says it is, bias included, in the unit of the reading; None: as is usual."""
    water_share: float = 1.0
    """How much of the date's water had come when it was read; the rest is still to reach the soil."""


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

    assumed: frozenset[str] = frozenset()
    """By zone id, those whose depletion goes back to a first guess."""

    def turns_for(self, date: dt.date) -> dict[str, int]:
        """Who went without, and how often in a row, before the plan of a date."""
        return self.turns_after if self.date < date else self.turns_without
