"""Why a run of a final plan is cut or withdrawn, beside the reasons that any plan may have."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling import reasons
from scheduling.reasons import RunReason
from scheduling.reasons.watering import Period
from scheduling.reasons.words import Words, apart


@dataclass(frozen=True, slots=True)
class AlreadyDelivered(RunReason):
    """More has flowed from its runs than they were to give."""

    code: ClassVar[str] = "already-delivered"
    when: ClassVar[str] = (
        "water came from outside the plan, or a run gave more than planned; 5 % is set aside where its "
        "litres are still unknown"
    )
    means: ClassVar[str] = "The zone has had what it needs, or has it with less than was planned."
    do: ClassVar[str] = "Report what really flowed; the next plan goes by it."

    over_l: float
    is_certain: bool
    """Whether that is known; else it is what may have flowed at most."""

    def sentence(self, words: Words) -> str:
        over = words.volume(self.over_l)
        if self.is_certain:
            return f"Its runs have given {over} more than planned, so less is left to give."
        return f"Its runs may have given up to {over} more than planned, so less is left to give."


@dataclass(frozen=True, slots=True)
class DeliveredBeside(RunReason):
    """Water has flowed for the date beside the plan."""

    code: ClassVar[str] = AlreadyDelivered.code

    beside_l: float
    enough_l: float | None
    """What the zone needs in all; None: nothing more."""

    def sentence(self, words: Words) -> str:
        flowed = f"This day already had {words.volume(self.beside_l)} from outside the plan"
        if self.enough_l is None:
            return f"{flowed}, so the zone can wait."
        return f"{flowed}. After that, {words.volume(self.enough_l)} from the plan are enough."


@dataclass(frozen=True, slots=True)
class ForbiddenHours(RunReason):
    """A ban now covers its time."""

    code: ClassVar[str] = "forbidden-hours"
    when: ClassVar[str] = "`forbidden_hours` now cover its time"
    means: ClassVar[str] = "The zone misses this run; the next plan sees what it lacks."
    do: ClassVar[str] = "Leave watering hours that the ban does not cover."

    def sentence(self, words: Words) -> str:
        return "Watering is now forbidden at this time."


@dataclass(frozen=True, slots=True)
class LessNeeded(RunReason):
    """It needs less than was planned."""

    code: ClassVar[str] = "less-needed"
    when: ClassVar[str] = "the zone needs less than was planned: another area, moister soil, a cooler day"
    means: ClassVar[str] = "The zone still gets what it needs."
    do: ClassVar[str] = "Nothing."

    enough_l: float

    def sentence(self, words: Words) -> str:
        return f"By what is known now, {words.volume(self.enough_l)} are enough."


@dataclass(frozen=True, slots=True)
class OutsideHours(RunReason):
    """The hours were changed."""

    code: ClassVar[str] = "outside-hours"
    when: ClassVar[str] = "`watering_hours` were changed, and leave its time out"
    means: ClassVar[str] = "The zone misses this run; the next plan uses the new hours."
    do: ClassVar[str] = "Nothing, if the new hours are meant so."

    def sentence(self, words: Words) -> str:
        return "The watering hours have changed, and this run is outside them."


@dataclass(frozen=True, slots=True)
class ZoneRemoved(RunReason):
    """Its zone is no more."""

    code: ClassVar[str] = "zone-removed"
    when: ClassVar[str] = "the zone was taken out of the garden"
    means: ClassVar[str] = "Nothing more flows for it."
    do: ClassVar[str] = "Nothing, if that is meant so; under the same id it returns with its reports."

    def sentence(self, words: Words) -> str:
        return "This zone was taken out of the garden."


@dataclass(frozen=True, slots=True)
class PausedSince(RunReason):
    """A pause was set after the plan became final."""

    code: ClassVar[str] = reasons.PAUSED

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"A pause now covers {words.day(self.date)}."


@dataclass(frozen=True, slots=True)
class NoWateringDaySince(RunReason):
    """The rules were changed after the plan became final."""

    code: ClassVar[str] = reasons.NOT_A_WATERING_DAY

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"{words.day(self.date)} is not a watering day any more."


@dataclass(frozen=True, slots=True)
class FrostAtItsTime(RunReason):
    """It may freeze while it runs, or soon after."""

    code: ClassVar[str] = reasons.FROST_RISK

    def sentence(self, words: Words) -> str:
        return "By the newest forecast it may freeze at this time, or in the three hours after it."


@dataclass(frozen=True, slots=True)
class WindAtItsTime(RunReason):
    """The newest forecast has too much wind for it."""

    code: ClassVar[str] = reasons.TOO_WINDY

    wind_m_s: float
    limit_m_s: float

    def sentence(self, words: Words) -> str:
        wind, limit = apart(words.wind, self.wind_m_s, self.limit_m_s)
        return f"The newest forecast has wind of {wind} for this time, above the limit of {limit}."


@dataclass(frozen=True, slots=True)
class AllowanceLeftOver(RunReason):
    """The allowance has fewer litres left than the runs would take."""

    code: ClassVar[str] = reasons.ALLOWANCE_SPENT

    allowed_l: float
    left_l: float
    period: Period

    def sentence(self, words: Words) -> str:
        allowed = f"{words.volume(self.allowed_l)} allowed for the {self.period}"
        if self.left_l <= 0.0:
            return f"Nothing is left of the {allowed}."
        return f"Only {words.volume_number(self.left_l)} of the {allowed} are left."


@dataclass(frozen=True, slots=True)
class TurnCameLate(RunReason):
    """The hours have room for a part of it only."""

    code: ClassVar[str] = "turn-came-late"
    when: ClassVar[str] = (
        "its turn was asked for when the hours, or the time before a ban, had room for a part of it only"
    )
    means: ClassVar[str] = "The zone gets that part; the next plan sees what it lacks."
    do: ClassVar[str] = "Let the controller ask for turns every few minutes, or leave longer hours."

    volume_l: float
    planned_l: float

    def sentence(self, words: Words) -> str:
        part, whole = words.volume(self.volume_l), words.volume(self.planned_l)
        return f"Its turn came late. The hours have time for {part} of its {whole}."


RUN_REASONS: Final[tuple[type[RunReason], ...]] = (
    AlreadyDelivered,
    ForbiddenHours,
    LessNeeded,
    OutsideHours,
    TurnCameLate,
    ZoneRemoved,
)
"""One for each code that only a final plan has."""
