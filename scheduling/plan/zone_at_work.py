"""One zone on an evening: what it lacks, when it may be watered, and what it gets."""

from collections.abc import Sequence
from typing import NamedTuple

from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.stand import PreparedZone
from scheduling.decision.decision import Verdict, watered
from scheduling.probes.status import Followed
from scheduling.reasons import Note
from scheduling.tap.allocation import Share, Wish
from scheduling.tap.permission import Permission
from scheduling.tap.windows import Windows

ANY_HOURS = Permission(())
"""The hours are not looked at."""


class Stand(NamedTuple):
    """One planting of a zone on the morning of a date."""

    prepared: PreparedZone
    depletion_mm: float
    """Before any water that belongs to the date."""
    rows: tuple[LedgerRow, ...] | None = None
    """The days behind it, where they are asked for."""

    def lacking_mm(self, delivered_mm: float) -> float:
        """Depletion less what has already been delivered for the date."""
        return max(0.0, self.depletion_mm - delivered_mm)

    def after(self, day: int, net_mm: float) -> "Stand":
        """The planting a morning later, with so much water on a day and the rain that is counted."""
        prepared, layer = self.prepared, self.prepared.days.top_layer
        if layer is not None and layer.irrigation_mm[day] != net_mm:
            prepared = prepared.with_water({day: net_mm}, day)
        closing_mm = prepared.days.close(day, self.depletion_mm, net_mm)[3]
        return Stand(prepared, min(closing_mm, prepared.days.taw_mm[day + 1]))


class Ledgers(NamedTuple):
    """The ledgers of one zone's plantings, carried to the morning of the plan's date."""

    stands: Sequence[Stand]
    delivered_mm: float
    """Net depth already delivered for the date."""
    assumed: bool
    """Where they begin is a guess."""
    notes: Sequence[Note]
    followed: Followed
    """What soil probes did to them."""


class ZoneMorning(NamedTuple):
    """One zone before anything is decided for a date."""

    stands: Sequence[Stand]
    permission: Permission = ANY_HOURS
    delivered_mm: float = 0.0
    """Net depth already delivered for the date."""
    turns_without: int = 0
    """How many plans in a row left it without water for want of hours or litres."""


class ZoneAtWork(NamedTuple):
    """One zone, once it is decided what a date gives it."""

    stands: Sequence[Stand]
    delivered_mm: float
    turns_without: int
    permission: Permission
    """Without the hours that are too windy."""
    chosen: Verdict
    second_mm: float = 0.0
    """Net depth of a second run."""
    windy_windows: tuple[Windows, ...] | None = None
    """Where the wind is above the limit in all of them, and it is watered all the same: the windows
    of which only the calmest hours are used."""
    calmest_m_s: float | None = None
    """The wind in those hours, at most."""
    share: Share | None = None
    """What it gets of the tap; None: it wants nothing that a valve can be told."""

    @property
    def given_mm(self) -> float:
        """Net depth that is decided, whether or not the tap has it."""
        return self.chosen.net_mm + self.second_mm

    @property
    def windows(self) -> tuple[Windows, ...]:
        """When water may flow to it, whether or not all of that is used."""
        return self.permission.windows if self.windy_windows is None else self.windy_windows

    @property
    def leader(self) -> Stand:
        """The planting that the verdict and its sentences speak of."""
        return self.stands[self.chosen.stand]

    @property
    def prepared(self) -> PreparedZone:
        """That planting over the days."""
        return self.leader.prepared

    @property
    def depletion_mm(self) -> float:
        """What it lacks on the morning of the date, before any water that belongs to it."""
        return self.leader.depletion_mm

    @property
    def lacking_mm(self) -> float:
        """The same, less what has already been delivered for the date."""
        return self.leader.lacking_mm(self.delivered_mm)

    @property
    def turns_after(self) -> int:
        """`turns_without` as the next plan finds it."""
        if self.share is None:
            return self.turns_without
        return 0 if self.share.placed else self.turns_without + 1

    def on_wet_ground(self, index: int) -> "ZoneAtWork":
        """The same where the columns know of what is decided for the date."""
        given_mm = self.given_mm
        if given_mm == 0.0 or all(stand.prepared.days.top_layer is None for stand in self.stands):
            return self
        wet = [stand._replace(prepared=watered(stand.prepared, index, given_mm)) for stand in self.stands]
        return self._replace(stands=wet)

    def wish(self, index: int) -> Wish:
        """What it wants of the tap."""
        return Wish(
            numbers=self.prepared.numbers,
            first_mm=self.chosen.net_mm,
            second_mm=self.second_mm,
            thirst=self.lacking_mm / self.prepared.days.due_mm[index],
            turns_without=self.turns_without,
            windows=self.permission.windows,
        )
