"""What a check finds odd about a garden's description, beside the notes that its numbers have anyway."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling.reasons import Note, Odd
from scheduling.reasons.notes import (
    FlowAboveSupply,
    FlowAssumed,
    IntakeAssumed,
    LeafOutAssumed,
    PlantingDateUnknown,
    RateUnusual,
)
from scheduling.reasons.words import Words, lasting

_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class AbsenceByHand(Odd):
    """Watered by hand, and nobody is there."""

    code: ClassVar[str] = "absence-by-hand"
    when: ClassVar[str] = "a zone is watered by hand, and would not last through an absence in summer"
    means: ClassVar[str] = "Its plants run dry while you are away."
    do: ClassVar[str] = "Ask somebody to water it, or give it a valve."

    away_days: int
    lasts_days: int
    summer_eto_mm: float

    def sentence(self, words: Words) -> str:
        return (
            f"It is watered by hand, and nobody is there for {self.away_days} days; filled up, it lasts "
            "about "
            f"{self.lasts_days} in summer (reference ET {self.summer_eto_mm:g} mm)."
        )


@dataclass(frozen=True, slots=True)
class AbsenceOver(Odd):
    """An absence of the past."""

    code: ClassVar[str] = "absence-over"
    when: ClassVar[str] = "an absence has ended"
    means: ClassVar[str] = "It does nothing any more."
    do: ClassVar[str] = "Take it out, or correct its year."

    leaves_on: dt.date
    returns_on: dt.date

    def sentence(self, words: Words) -> str:
        return f"It was from {self.leaves_on} to {self.returns_on}, and is over."


@dataclass(frozen=True, slots=True)
class AbsencesOverlap(Odd):
    """Two absences at once."""

    code: ClassVar[str] = "absences-overlap"
    when: ClassVar[str] = "an absence begins before another one ends"
    means: ClassVar[str] = "Zones are filled up before the first; the second may have been meant otherwise."
    do: ClassVar[str] = "Make one of the two."

    begins_on: dt.date
    leaves_on: dt.date
    """Of the other one."""
    returns_on: dt.date

    def sentence(self, words: Words) -> str:
        return f"It begins on {self.begins_on}, before that from {self.leaves_on} to {self.returns_on} ends."


@dataclass(frozen=True, slots=True)
class CannotLastBetweenDays(Odd):
    """Watering days that are too far apart."""

    code: ClassVar[str] = "cannot-last-between-days"
    when: ClassVar[str] = "watering days are too far apart for what the roots can draw in summer"
    means: ClassVar[str] = "Its plants are short of water before each watering day."
    do: ClassVar[str] = 'More watering days, or "days" among the zone\'s exempt rules where that is allowed.'

    gap_days: int
    etc_mm: float
    summer_eto_mm: float
    ks: float
    total_available_mm: float
    wetted_share: float
    are_two_rules: bool
    """Whether weekdays and odd or even dates together leave so few."""
    planned_days: int | None
    """How many days ahead plans look for a chance, where the gap is longer."""

    def sentence(self, words: Words) -> str:
        whose = "watering_days and odd_even together" if self.are_two_rules else "Its watering days"
        reached = (
            f", and a watering refills only the {self.wetted_share:.0%} of the ground that gets wet"
            if self.wetted_share < 1.0
            else ""
        )
        beyond = (
            "" if self.planned_days is None else f" Plans look {self.planned_days} days ahead for a chance."
        )
        return (
            f"{whose} leave up to {self.gap_days} days between them. At {self.etc_mm:.1f} mm a day "
            "(reference ET "
            f"{self.summer_eto_mm:g} mm) its plants would be left with {self.ks:.0%} of what they want: "
            "roots can "
            f"draw {self.total_available_mm:.0f} mm{reached}.{beyond}"
        )

    def advice(self, words: Words) -> str:
        more = "Leave one of the two out. Else give more" if self.are_two_rules else "More"
        return f'{more} watering days, or "days" among the zone\'s exempt rules where that is allowed.'


@dataclass(frozen=True, slots=True)
class ContainerCannotLast(Odd):
    """A container that runs short on hot days."""

    code: ClassVar[str] = "container-cannot-last"
    when: ClassVar[str] = "a container runs short on hot days, however it is watered within its rules"
    means: ClassVar[str] = "Its plants wilt in the afternoon of a hot day."
    do: ClassVar[str] = "A larger container, fewer plants in it, or second watering hours about 13:00."

    holds_mm: float
    hot_eto_mm: float
    etc_mm: float
    gap_days: int
    ks: float
    has_two_spans: bool

    def sentence(self, words: Words) -> str:
        every = "day" if self.gap_days == 1 else f"{self.gap_days} days"
        return (
            f"Roots can draw {self.holds_mm:.1f} mm from it, and a hot day (reference ET {self.hot_eto_mm:g} "
            "mm) "
            f"takes {self.etc_mm:.1f} mm; watered every {every}, its plants would be left with {self.ks:.0%} "
            "of "
            "what they want."
        )

    def advice(self, words: Words) -> str:
        noon = "" if self.has_two_spans else ", or second watering hours about 13:00"
        return f"A larger container, fewer plants in it{noon}."


@dataclass(frozen=True, slots=True)
class EfficiencyAbovePublished(Odd):
    """An efficiency that nobody has measured."""

    code: ClassVar[str] = "efficiency-above-published"
    when: ClassVar[str] = "an efficiency is above the best that is published for the method"
    means: ClassVar[str] = "The plants get less than the account books, and slowly dry out."
    do: ClassVar[str] = "Leave it out, or give at most the best that is published."

    efficiency: float
    method: str
    best: float
    usual: float

    def sentence(self, words: Words) -> str:
        return (
            f"efficiency is {self.efficiency:g}; the best that is published for {self.method} is "
            f"{self.best:g}. "
            "The plants would get less than the ledger books."
        )

    def advice(self, words: Words) -> str:
        return f"Leave it out, which means {self.usual:g}, or give at most {self.best:g}."


@dataclass(frozen=True, slots=True)
class FlowBelowMeter(Odd):
    """A flow that the meter does not see."""

    code: ClassVar[str] = "flow-below-meter"
    when: ClassVar[str] = "the zone takes less than its valve's meter can count"
    means: ClassVar[str] = "The plants get what the valve's time gives, which nothing measures."
    do: ClassVar[str] = (
        "Check the flow; where it is right, measure it once with a bucket, since time then decides."
    )

    flow_l_min: float
    meter_from_l_min: float

    def sentence(self, words: Words) -> str:
        return (
            f"The zone takes {self.flow_l_min:.3g} l/min; its valve's meter counts from "
            f"{self.meter_from_l_min:g} l/min on: the valve closes by time, and reports too little."
        )


@dataclass(frozen=True, slots=True)
class HoursNeverOpen(Odd):
    """Hours without a length."""

    code: ClassVar[str] = "hours-never-open"
    when: ClassVar[str] = "the watering hours are closed all year"
    means: ClassVar[str] = "Nothing is ever watered."
    do: ClassVar[str] = 'Give hours that have a length, as {"from": "22:00", "to": "sunrise"}.'

    def sentence(self, words: Words) -> str:
        return "The watering hours are closed all the year to come: they would end before they begin."


@dataclass(frozen=True, slots=True)
class HoursSometimesClosed(Odd):
    """Hours that the sun closes in some months."""

    code: ClassVar[str] = "hours-sometimes-closed"
    when: ClassVar[str] = "by the sun, watering hours would end before they begin in some months"
    means: ClassVar[str] = "Nothing is watered in those hours then."
    do: ClassVar[str] = "Open them earlier, or close them at a clock time."

    months: tuple[int, ...]

    def sentence(self, words: Words) -> str:
        months = ", ".join(_MONTHS[month - 1] for month in self.months)
        return f"By the sun, hours are closed at times in {months}: they would end before they begin."


@dataclass(frozen=True, slots=True)
class AllZonesTooLong(Odd):
    """Hours too short for all zones on a hot day."""

    code: ClassVar[str] = "hours-too-short"
    when: ClassVar[str] = "in hot weather all zones together need more than the shortest watering hours"
    means: ClassVar[str] = "Zones take turns then, and some plants wait in need."
    do: ClassVar[str] = "Longer hours, more watering days or more flow. Else all take turns, and get less."

    hot_eto_mm: float
    wanted_s: float
    date: dt.date
    open_s: float

    def sentence(self, words: Words) -> str:
        return (
            f"In hot weather (reference ET {self.hot_eto_mm:g} mm) all zones together want "
            f"{lasting(self.wanted_s)} of each night of watering; that of {self.date} has "
            f"{lasting(self.open_s)}."
        )


@dataclass(frozen=True, slots=True)
class NeverWatered(Odd):
    """Pauses that cover the year."""

    code: ClassVar[str] = "never-watered"
    when: ClassVar[str] = "pauses leave a zone no date of the year to come"
    means: ClassVar[str] = "Its plants get rain alone."
    do: ClassVar[str] = "End the pauses, or take the zone out of the garden."

    first: dt.date
    last: dt.date
    zone: str
    are_all_paused: bool
    """Else some dates are left out by watering days, and pauses cover the rest."""

    def sentence(self, words: Words) -> str:
        days = "" if self.are_all_paused else " on the days that watering_days and odd_even leave"
        return (
            f"From {self.first} to {self.last} pauses cover every date{days}: {self.zone} is never watered."
        )


@dataclass(frozen=True, slots=True)
class PlantsDifferInSummer(Odd):
    """Plants of very different need on one valve."""

    code: ClassVar[str] = "plants-differ"
    when: ClassVar[str] = "plants on one valve of which one stands at least twice the days of another"
    means: ClassVar[str] = "What keeps the one alive is too much for the other."
    do: ClassVar[str] = "Make two zones of it, or plant what has like needs together."

    thirsty: str
    thirsty_days: float
    modest: str
    modest_days: float

    def sentence(self, words: Words) -> str:
        return (
            f"In summer {self.thirsty} wants water about every {self.thirsty_days:.2g} days and "
            f"{self.modest} "
            f"every {self.modest_days:.2g}: what keeps the one is too much for the other."
        )


@dataclass(frozen=True, slots=True)
class RateAboveIntake(Odd):
    """Water that comes faster than the ground takes it in, for longer than its surface holds it."""

    code: ClassVar[str] = "rate-above-intake"
    when: ClassVar[str] = (
        "water comes faster than the ground takes it in, for longer than its surface holds it"
    )
    means: ClassVar[str] = "In one run some of the water would run off; plans give several."
    do: ClassVar[str] = "Heads that give less need fewer runs."

    rate_mm_h: float
    slope_pct: float
    intake_mm_h: float
    longest_run_s: float
    refill_s: float
    runs: int
    rest_s: float

    def sentence(self, words: Words) -> str:
        slope = f" on a slope of {self.slope_pct:g} %" if self.slope_pct else ""
        return (
            f"{self.rate_mm_h:.3g} mm/h arrive, and the ground{slope} takes in {self.intake_mm_h:.3g} mm/h: "
            "after "
            f"{lasting(self.longest_run_s)} the surface holds no more, and one refill takes "
            f"{lasting(self.refill_s)}."
        )

    def advice(self, words: Words) -> str:
        return (
            f"Plans give it in {self.runs} runs, {lasting(self.rest_s)} apart; heads that give less need "
            "fewer."
        )


@dataclass(frozen=True, slots=True)
class RunLongerThanHours(Odd):
    """A refill that the hours do not hold."""

    code: ClassVar[str] = "run-longer-than-hours"
    when: ClassVar[str] = "one refill of a zone takes longer than the shortest watering hours"
    means: ClassVar[str] = "It is never filled up in one night, and its plants may run short."
    do: ClassVar[str] = (
        "Check flow and area; where they are right, give longer hours, or make two zones of it."
    )

    refill_s: float
    flow_l_min: float
    date: dt.date
    open_s: float

    def sentence(self, words: Words) -> str:
        return (
            f"One refill takes {lasting(self.refill_s)} at {self.flow_l_min:.3g} l/min; the hours of "
            f"{self.date} "
            f"have {lasting(self.open_s)}."
        )


@dataclass(frozen=True, slots=True)
class SmallestDepthLarge(Odd):
    """A smallest dose that is no small one."""

    code: ClassVar[str] = "smallest-depth-large"
    when: ClassVar[str] = "`smallest_depth_mm` is more than half of what the roots can easily draw"
    means: ClassVar[str] = "The plants are watered seldom and in excess, with little room for rain."
    do: ClassVar[str] = "Give at most half of what the roots can easily draw."

    smallest_depth_mm: float
    readily_available_mm: float

    def sentence(self, words: Words) -> str:
        return (
            f"smallest_depth_mm is {self.smallest_depth_mm:g}; the roots can easily draw "
            f"{self.readily_available_mm:.1f} mm. Every need is raised to more than half of that, with "
            "little "
            "room for rain."
        )

    def advice(self, words: Words) -> str:
        return f"Give at most {0.5 * self.readily_available_mm:.1f} mm."


FINDINGS: Final[tuple[type[Odd | Note], ...]] = (
    AbsenceByHand,
    AbsenceOver,
    AbsencesOverlap,
    CannotLastBetweenDays,
    ContainerCannotLast,
    EfficiencyAbovePublished,
    FlowAboveSupply,
    FlowAssumed,
    FlowBelowMeter,
    HoursNeverOpen,
    HoursSometimesClosed,
    AllZonesTooLong,
    IntakeAssumed,
    LeafOutAssumed,
    NeverWatered,
    PlantingDateUnknown,
    PlantsDifferInSummer,
    RateAboveIntake,
    RateUnusual,
    RunLongerThanHours,
    SmallestDepthLarge,
)
"""One for each code, by name."""
