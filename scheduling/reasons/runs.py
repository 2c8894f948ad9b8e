"""Why a run of a final plan is cut or withdrawn, beside the reasons that any plan may have."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling import reasons
from scheduling.reasons import Reason, RunReason
from scheduling.reasons.watering import Period
from scheduling.reasons.words import Words

_PERIODS: Final = {"day": "the date", "week": "the week", "month": "the month"}


@dataclass(frozen=True, slots=True)
class AlreadyDelivered(RunReason):
    """More has flowed from its runs than they were to give."""

    code: ClassVar[str] = "already-delivered"
    when: ClassVar[str] = (
        "water has flowed for the date beside the plan's runs, or a run gave more than it was to; or may "
        "have: "
        "of an announced run whose litres are not told by its limit, or before the zone's next run begins, "
        "5 % are taken for the meter's error"
    )
    means: ClassVar[str] = "The zone has had what it needs, or has it with less than was planned."
    do: ClassVar[str] = "Report what really flowed; the next plan goes by it."

    over_l: float
    is_certain: bool
    """Whether that is known; else it is what may have flowed at most."""

    def sentence(self, words: Words) -> str:
        may = "have given" if self.is_certain else "may have given up to"
        return f"Its runs {may} {self.over_l:.3g} l more than they were to."


@dataclass(frozen=True, slots=True)
class DeliveredBeside(RunReason):
    """Water has flowed for the date beside the plan."""

    code: ClassVar[str] = AlreadyDelivered.code

    beside_l: float
    enough_l: float | None
    """What the zone gets in all; None: it needs nothing more."""
    because: Reason | None
    """Then the reason to wait."""

    def sentence(self, words: Words) -> str:
        flowed = f"{self.beside_l:.10g} l have flowed for this date beside the plan."
        if self.because is not None:
            return f"{flowed} {self.because.sentence(words)}"
        return f"{flowed} {self.enough_l:.10g} l are enough."


@dataclass(frozen=True, slots=True)
class ForbiddenHours(RunReason):
    """A ban now covers its time."""

    code: ClassVar[str] = "forbidden-hours"
    when: ClassVar[str] = "`forbidden_hours` now cover its time"
    means: ClassVar[str] = "The zone misses this run; the next plan sees what it lacks."
    do: ClassVar[str] = "Leave watering hours that the ban does not cover."

    def sentence(self, words: Words) -> str:
        return "No water may flow then: forbidden_hours were set."


@dataclass(frozen=True, slots=True)
class LessNeeded(RunReason):
    """It needs less than was planned."""

    code: ClassVar[str] = "less-needed"
    when: ClassVar[str] = "what is known now asks for less: another area, moister soil, a cooler day"
    means: ClassVar[str] = "The zone still gets what it needs."
    do: ClassVar[str] = "Nothing."

    enough_l: float

    def sentence(self, words: Words) -> str:
        return f"By what is known now, {self.enough_l:.10g} l are enough."


@dataclass(frozen=True, slots=True)
class OutsideHours(RunReason):
    """The hours were changed."""

    code: ClassVar[str] = "outside-hours"
    when: ClassVar[str] = "`watering_hours` were changed, and leave its time out"
    means: ClassVar[str] = "The zone misses this run; the next plan uses the new hours."
    do: ClassVar[str] = "Nothing, if the new hours are meant so."

    def sentence(self, words: Words) -> str:
        return "The watering hours were changed, and it lies outside of them."


@dataclass(frozen=True, slots=True)
class ZoneRemoved(RunReason):
    """Its zone is no more."""

    code: ClassVar[str] = "zone-removed"
    when: ClassVar[str] = "the zone was taken out of the garden"
    means: ClassVar[str] = "Nothing more flows for it."
    do: ClassVar[str] = "Nothing, if that is meant so; under the same id it returns with its reports."

    def sentence(self, words: Words) -> str:
        return "The zone was taken out of the garden."


@dataclass(frozen=True, slots=True)
class PausedSince(RunReason):
    """A pause was set after the plan became final."""

    code: ClassVar[str] = reasons.PAUSED

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"A pause covers {self.date}."


@dataclass(frozen=True, slots=True)
class NoWateringDaySince(RunReason):
    """The rules were changed after the plan became final."""

    code: ClassVar[str] = reasons.NOT_A_WATERING_DAY

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"{self.date} is not a watering day any more."


@dataclass(frozen=True, slots=True)
class FrostAtItsTime(RunReason):
    """It may freeze while it runs, or soon after."""

    code: ClassVar[str] = reasons.FROST_RISK

    def sentence(self, words: Words) -> str:
        return "Its time, or the three hours after it, may be too cold by the newest forecast."


@dataclass(frozen=True, slots=True)
class WindAtItsTime(RunReason):
    """The newest forecast has too much wind for it."""

    code: ClassVar[str] = reasons.TOO_WINDY

    wind_m_s: float
    limit_m_s: float

    def sentence(self, words: Words) -> str:
        return (
            f"Wind of {self.wind_m_s:.1f} m/s at 2 m is forecast for its time, above {self.limit_m_s:g} m/s."
        )


@dataclass(frozen=True, slots=True)
class AllowanceLeftOver(RunReason):
    """The allowance has fewer litres left than the runs would take."""

    code: ClassVar[str] = reasons.ALLOWANCE_SPENT

    allowed_l: float
    left_l: float
    period: Period

    def sentence(self, words: Words) -> str:
        return (
            f"{self.allowed_l:.10g} l are allowed for {_PERIODS[self.period]}; {self.left_l:.10g} l are left."
        )


@dataclass(frozen=True, slots=True)
class TurnCameLate(RunReason):
    """The hours have room for a part of it only."""

    code: ClassVar[str] = "turn-came-late"
    when: ClassVar[str] = (
        "its turn was asked for when the watering hours, or the time before a ban, had room for a part of it"
    )
    means: ClassVar[str] = "The zone gets that part; the next plan sees what it lacks."
    do: ClassVar[str] = "Let the controller ask for turns every few minutes, or leave longer hours."

    volume_l: float
    planned_l: float

    def sentence(self, words: Words) -> str:
        return f"Its turn came late: the hours have time for {self.volume_l:.10g} of {self.planned_l:.10g} l."


RUN_REASONS: Final[tuple[type[RunReason], ...]] = (
    AlreadyDelivered,
    ForbiddenHours,
    LessNeeded,
    OutsideHours,
    TurnCameLate,
    ZoneRemoved,
)
"""One for each code that only a final plan has."""
