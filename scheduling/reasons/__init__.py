"""Everything that is told to people: reasons, notes, findings and alerts, each a value of its facts.

A code has a class. It says when it holds, what that means for the plants, and what a person may do;
its fields are the facts, and its sentence is made of them last, in the reader's units.
"""

import datetime as dt
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from scheduling.reasons.words import METRIC, Words

Decision = Literal["water", "wait"]
CloseBy = Literal["volume", "time"]

DORMANT: Final = "dormant"
PAUSED: Final = "paused"
NOT_A_WATERING_DAY: Final = "not-a-watering-day"
FROST_RISK: Final = "frost-risk"
BEFORE_ABSENCE: Final = "before-absence"
SOIL_MOIST: Final = "soil-moist"
RAIN_EXPECTED: Final = "rain-expected"
TOO_WINDY: Final = "too-windy"
ALLOWANCE_SPENT: Final = "allowance-spent"
HOURS_FULL: Final = "hours-full"
RAIN_NOT_ENOUGH: Final = "rain-not-enough"
SOIL_DRYING_OUT: Final = "soil-drying-out"

REASONS: Final = (
    DORMANT,
    PAUSED,
    NOT_A_WATERING_DAY,
    FROST_RISK,
    BEFORE_ABSENCE,
    SOIL_MOIST,
    RAIN_EXPECTED,
    TOO_WINDY,
    ALLOWANCE_SPENT,
    HOURS_FULL,
    RAIN_NOT_ENOUGH,
    SOIL_DRYING_OUT,
)
"""Every reason to wait, or to water, in order of precedence."""
WATERS = frozenset({BEFORE_ABSENCE, RAIN_NOT_ENOUGH, SOIL_DRYING_OUT})
"""The reasons to water; any other is one to wait."""


@dataclass(frozen=True, slots=True)
class Told(ABC):
    """Something that people are told: a stable code, its facts, and a sentence that may improve."""

    code: ClassVar[str]
    when: ClassVar[str]
    """When it holds, as a row of a table says it."""
    means: ClassVar[str]
    """What it means for the plants."""
    do: ClassVar[str]
    """What a person may do about it."""

    @abstractmethod
    def sentence(self, words: Words) -> str:
        """The facts in words, for one reader."""

    def advice(self, words: Words) -> str:
        """What would make sense, with these facts."""
        del words
        return self.do

    @property
    def text(self) -> str:
        """The sentence in metric units, with every date written out."""
        return self.sentence(METRIC)


@dataclass(frozen=True, slots=True)
class Reason(Told):
    """Why a zone is watered or waits."""


@dataclass(frozen=True, slots=True)
class RunReason(Reason):
    """Why a run of a final plan is cut or withdrawn; reasons of any plan may do that too."""


@dataclass(frozen=True, slots=True)
class Note(Told):
    """Something about a zone or a garden that its owner should know; no reason to water or to wait."""


@dataclass(frozen=True, slots=True)
class Odd(Told):
    """Something about a description that can be, and seldom is meant."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Where a garden is odd, and how."""

    pointer: str
    """JSON pointer within the garden, `/zones/fescue-lawn/watering/efficiency`."""
    about: Odd | Note

    @property
    def code(self) -> str:
        """Stable."""
        return self.about.code

    @property
    def text(self) -> str:
        """The sentence in metric units, with every date written out."""
        return self.about.text


def within(zone_id: str, part: str) -> str:
    """Pointer to a part of a zone."""
    return f"/zones/{zone_id}/{part}"


@dataclass(frozen=True, slots=True)
class Concern(Told):
    """What an alert may be about."""


@dataclass(frozen=True, slots=True)
class Alert:
    """Something that wants a person's eye."""

    zone: str | None
    """None: it concerns the whole garden."""
    since: dt.datetime | dt.date
    """Since when it has been so; of what is forecast, when it begins. Told by the data, not by the clock."""
    about: Concern | Note

    @property
    def code(self) -> str:
        """Stable."""
        return self.about.code

    @property
    def text(self) -> str:
        """The sentence in metric units, with every date written out."""
        return self.about.text
