"""How a zone's soil probes stand: which are followed, which are in doubt, and how that is told."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from scheduling.balance.ledger import NOTHING_ADJUSTED
from scheduling.probes.quality_control import ProbeRecord
from scheduling.reasons import Note
from scheduling.reasons.probe_notes import (
    Doubt,
    MovedByProbe,
    ProbeDoubtful,
    ProbeFollowed,
    ProbeNotFollowed,
)


@dataclass(frozen=True, slots=True)
class ProbeStanding:
    """How a soil probe stands: whether the ledger follows it, since when, and why not."""

    zone: str
    probe: str
    told: ProbeFollowed | ProbeNotFollowed
    last_reading: dt.date
    bias_mm: float
    """How much drier than it is it is taken to read the soil."""

    @property
    def standing(self) -> str:
        """`followed` or `doubtful`."""
        return self.told.code

    @property
    def since(self) -> dt.date:
        """Since when it stands so."""
        return self.told.since

    @property
    def why(self) -> str | None:
        """Code of the doubt; None where it is followed."""
        return self.told.doubt.code if isinstance(self.told, ProbeNotFollowed) else None


@dataclass(frozen=True, slots=True)
class JudgedReading:
    """What became of one morning's reading."""

    probe: str
    date: dt.date
    is_used: bool
    why: str | None
    """Code of what speaks against it; None: nothing, though its probe may still have to earn trust."""
    found_mm: float
    """By how much drier it is than the ledger and the probe's bias let expect."""


READINGS_TO_RETURN: Final = 3
"""A probe in doubt is followed again after so many good readings in a row."""
TOLD_FROM_MM: Final = 0.5
"""Smaller corrections go without saying."""


class Followed(NamedTuple):
    """What the probes of a zone did to its ledger."""

    adjustment_mm: Mapping[int, float]
    """By day: the correction of the depletion after the night's water; above 0 the soil is drier."""
    standings: tuple[ProbeStanding, ...]
    readings: tuple[JudgedReading, ...]


NOTHING_FOLLOWED: Final = Followed(NOTHING_ADJUSTED, (), ())


@dataclass(slots=True)
class Probe:
    """A probe while its readings are gone through."""

    name: str
    place: int
    """In the filter."""
    since: dt.date
    doubt: Doubt | None = None
    good: int = READINGS_TO_RETURN
    """Believed readings in a row; a new probe need not earn its trust."""
    odds: int = 0
    """Readings in a row that moved as soil may, and were at odds with the ledger all the same."""
    is_new: bool = True
    """Until it was believed once."""
    has_jumped: bool = False
    """Since it was believed last."""
    stuck: Mapping[int, Doubt] = field(default_factory=dict)
    """The days on which it only repeated itself."""
    record: ProbeRecord = field(default_factory=ProbeRecord)
    moved: list[tuple[float, float]] = field(default_factory=list)
    """The depletion by the ledger that no probe corrects, and by the probe, reading by reading."""
    must_move: bool = False
    """Whether it is in a doubt that only a probe that dries and wets with the soil gets out of."""

    def is_trusted(self, doubt: Doubt | None, date: dt.date, nobody_sees: bool) -> bool:
        """Whether a reading is used, by what speaks against it; keeps the probe's standing.

        While nobody is there to look at it, a probe in doubt does not return, however well it reads.
        """
        if doubt is not None:
            if self.doubt is None:
                self.since = date
            self.doubt, self.good = doubt, 0
            return False
        self.good += 1
        if self.good < READINGS_TO_RETURN or (self.doubt is not None and (nobody_sees or self.must_move)):
            return False
        if self.doubt is not None:
            self.doubt, self.since = None, date
        return True

    def standing(self, zone_id: str, bias_mm: float) -> ProbeStanding:
        """How it stands, and in words; `bias_mm` is how much drier than it is it is taken to read."""
        told = (
            ProbeFollowed(self.since, bias_mm)
            if self.doubt is None
            else ProbeNotFollowed(self.since, self.doubt)
        )
        return ProbeStanding(zone_id, self.name, told, self.record.last_date, bias_mm)


def probe_notes(followed: Followed, day: int, date: dt.date) -> list[Note]:
    """What the owner should know of a zone's probes: what they moved on a day, and which are not followed."""
    notes: list[Note] = []
    moved_mm = followed.adjustment_mm.get(day, 0.0)
    if abs(moved_mm) >= TOLD_FROM_MM:
        read = tuple(one.probe for one in followed.readings if one.date == date and one.is_used)
        notes.append(MovedByProbe(date, read, moved_mm))
    for probe in followed.standings:
        if isinstance(probe.told, ProbeNotFollowed):
            notes.append(ProbeDoubtful(probe.probe, probe.told))
    return notes
