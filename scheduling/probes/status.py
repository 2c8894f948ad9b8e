"""How a zone's soil probes stand: which are followed, which are in doubt, and how that is told."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple

from scheduling.balance.ledger import NOTHING_ADJUSTED
from scheduling.probes.quality_control import Doubt, ProbeRecord
from scheduling.reasons import Note


@dataclass(frozen=True, slots=True)
class ProbeStanding:
    """How a soil probe stands: whether the ledger follows it, since when, and why not."""

    zone: str
    probe: str
    standing: Literal["followed", "doubtful"]
    since: dt.date
    why: str | None
    """Code of the doubt; None where it is followed."""
    text: str
    last_reading: dt.date
    bias_mm: float
    """How much drier than it is it is taken to read the soil."""


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
        if self.good < READINGS_TO_RETURN or (self.doubt is not None and nobody_sees):
            return False
        if self.doubt is not None:
            self.doubt, self.since = None, date
        return True

    def standing(self, zone_id: str, bias_mm: float) -> ProbeStanding:
        """How it stands, and in words; `bias_mm` is how much drier than it is it is taken to read."""
        if self.doubt is not None:
            text = f"Not followed since {self.since}: {self.doubt.text}."
        else:
            way = "drier" if bias_mm > 0.0 else "wetter"
            text = f"Followed since {self.since}; taken to read {abs(bias_mm):.1f} mm {way} than it is."
        return ProbeStanding(
            zone=zone_id,
            probe=self.name,
            standing="followed" if self.doubt is None else "doubtful",
            since=self.since,
            why=None if self.doubt is None else self.doubt.code,
            text=text,
            last_reading=self.record.last_date,
            bias_mm=bias_mm,
        )


def probe_notes(followed: Followed, day: int, date: dt.date) -> list[Note]:
    """What the owner should know of a zone's probes: what they moved on a day, and which are not followed."""
    notes = []
    moved_mm = followed.adjustment_mm.get(day, 0.0)
    if abs(moved_mm) >= TOLD_FROM_MM:
        read = [one.probe for one in followed.readings if one.date == date and one.is_used]
        names = " and ".join(read) or "what probes have taught of the plants' demand"
        way = "drier" if moved_mm > 0.0 else "wetter"
        notes.append(
            Note(
                "moved-by-probe",
                f"By {names} the soil is {abs(moved_mm):.1f} mm {way} on {date} than reckoned.",
            )
        )
    for probe in followed.standings:
        if probe.standing == "doubtful":
            notes.append(Note("probe-doubtful", f"Probe {probe.probe}: {probe.text}"))
    return notes
