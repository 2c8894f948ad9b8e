"""How a soil probe stands, what speaks against its readings, and the notes on both."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling.reasons import Note, Told
from scheduling.reasons.words import Words, called, listed, share

TOLD_UP_TO: Final = 10.0
"""Shares beyond it are told without the number."""


@dataclass(frozen=True, slots=True)
class Doubt(Told):
    """Why a reading is not believed; its sentence is the end of one."""


@dataclass(frozen=True, slots=True)
class BecameWetter(Doubt):
    """Wetter than any water can have made it."""

    code: ClassVar[str] = "jumped"

    by_mm: float

    def sentence(self, words: Words) -> str:
        return f"it became {words.depth(self.by_mm)} wetter, and no such water came"


@dataclass(frozen=True, slots=True)
class BecameDrier(Doubt):
    """Drier than plants can have made it."""

    code: ClassVar[str] = "jumped"

    by_mm: float

    def sentence(self, words: Words) -> str:
        return f"it became {words.depth(self.by_mm)} drier, faster than soil dries"


@dataclass(frozen=True, slots=True)
class ReadTheSame(Doubt):
    """It repeats itself."""

    code: ClassVar[str] = "stuck"

    since: dt.date
    soil_moved_mm: float

    def sentence(self, words: Words) -> str:
        return (
            f"it has read the same since {words.dated(self.since)}, while the water in the soil moved by "
            f"{words.depth(self.soil_moved_mm)}"
        )


@dataclass(frozen=True, slots=True)
class NoSoilHolds(Doubt):
    """It reads what cannot be."""

    code: ClassVar[str] = "out-of-range"

    share: float
    is_of_store: bool
    """Of what roots can draw; else of the soil's volume."""

    def sentence(self, words: Words) -> str:
        if abs(self.share) > TOLD_UP_TO:
            return "it reads what no soil holds"
        whole = "of what roots can draw" if self.is_of_store else "water by volume"
        return f"it reads {share(self.share)} {whole}, which no soil holds"


@dataclass(frozen=True, slots=True)
class AtOdds(Doubt):
    """It and the ledger cannot both be right."""

    code: ClassVar[str] = "at-odds"

    drier_mm: float
    """Than the ledger; below 0: wetter."""

    def sentence(self, words: Words) -> str:
        way = "drier" if self.drier_mm > 0.0 else "wetter"
        return f"it reads {words.depth(abs(self.drier_mm))} {way} than the account, more than both should err"


@dataclass(frozen=True, slots=True)
class BelowRoots(Doubt):
    """It sits too deep."""

    code: ClassVar[str] = "below-the-roots"

    depth_m: float
    roots_m: float

    def sentence(self, words: Words) -> str:
        return f"it sits {words.length(self.depth_m)} deep, below roots of {words.length(self.roots_m)}"


@dataclass(frozen=True, slots=True)
class BarelyMoves(Doubt):
    """It hardly follows the soil as it dries and is wetted."""

    code: ClassVar[str] = "barely-moves"

    slope: float
    """What it moved for each part that the account moved; below 0: the other way."""

    def sentence(self, words: Words) -> str:
        if self.slope <= 0.0:
            return "it does not move with the water in the soil"
        return f"it moves by {share(self.slope)} of what the water in the soil does"


@dataclass(frozen=True, slots=True)
class ProbeFollowed(Told):
    """The ledger follows a probe."""

    code: ClassVar[str] = "followed"

    since: dt.date
    bias_mm: float
    """How much drier than it is it is taken to read the soil."""

    def sentence(self, words: Words) -> str:
        since = words.dated(self.since)
        if not words.is_seen(abs(self.bias_mm)):
            return f"The account has followed it since {since}."
        way = "dry" if self.bias_mm > 0.0 else "wet"
        bias = words.depth(abs(self.bias_mm))
        return f"The account has followed it since {since}, and takes it to read {bias} too {way}."


@dataclass(frozen=True, slots=True)
class ProbeNotFollowed(Told):
    """The ledger does not follow a probe."""

    code: ClassVar[str] = "doubtful"

    since: dt.date
    doubt: Doubt

    def sentence(self, words: Words) -> str:
        since = words.dated(self.since)
        return f"The account has not followed it since {since}: {self.doubt.sentence(words)}."


@dataclass(frozen=True, slots=True)
class ProbeDoubtful(Note):
    """A probe that is not followed."""

    code: ClassVar[str] = "probe-doubtful"
    when: ClassVar[str] = (
        "a soil probe reads what cannot be; it is followed again once it dries and wets as the soil does"
    )
    means: ClassVar[str] = "The plants are watered by the account alone, as without a probe."
    do: ClassVar[str] = (
        "Look at the probe: firm contact with the soil, its cable and battery, its depth. It is followed "
        "again once its readings agree with each other and with the account."
    )

    probe: str
    standing: ProbeNotFollowed

    def sentence(self, words: Words) -> str:
        since, doubt = words.dated(self.standing.since), self.standing.doubt.sentence(words)
        return f"Probe {called(self.probe)} has not been followed since {since}: {doubt}."


@dataclass(frozen=True, slots=True)
class MovedByProbe(Note):
    """What a probe read moved what the zone lacks."""

    code: ClassVar[str] = "moved-by-probe"
    when: ClassVar[str] = "a soil probe found the soil drier or wetter than reckoned"
    means: ClassVar[str] = "The plants get what the soil was found to lack."
    do: ClassVar[str] = "Nothing; if it happens day after day, check the zone's area, soil and flow."

    date: dt.date
    probes: tuple[str, ...]
    """None of them: what probes taught of the plants' demand before."""
    drier_mm: float
    """Below 0: wetter."""

    def sentence(self, words: Words) -> str:
        way = "drier" if self.drier_mm > 0.0 else "wetter"
        moved = f"{words.depth(abs(self.drier_mm))} {way}"
        day = words.dated(self.date)
        if not self.probes:
            return f"What probes taught before makes the soil of {day} {moved} than reckoned."
        probes = listed([called(probe) for probe in self.probes])
        return (
            f"{'Probe' if len(self.probes) == 1 else 'Probes'} {probes} found the soil {moved} than reckoned "
            f"on {day}."
        )


PROBE_NOTES: Final[tuple[type[Note], ...]] = (MovedByProbe, ProbeDoubtful)
"""One for each code."""
