"""What a check finds odd about a garden's description, beside the notes that its numbers have anyway."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling.reasons import Note, Odd
from scheduling.reasons.description_notes import (
    FlowAboveSupply,
    FlowAssumed,
    IntakeAssumed,
    KeptAlive,
    LeafOutAssumed,
    PlantingDateUnknown,
    RateUnusual,
    SeasonEnds,
)
from scheduling.reasons.words import Words, about_days, apart, counted, duration, listed, little, month_name


@dataclass(frozen=True, slots=True)
class AbsenceByHand(Odd):
    """Watered by hand, and nobody is there."""

    code: ClassVar[str] = "absence-by-hand"
    when: ClassVar[str] = "a zone is watered by hand, and would not last through an absence in summer"
    means: ClassVar[str] = "Its plants run dry while you are away."
    do: ClassVar[str] = "Ask somebody to water it, or give it a valve."

    away_days: int
    lasts_days: int

    def sentence(self, words: Words) -> str:
        return (
            f"It is watered by hand, but you are away for {counted(self.away_days, 'day')}. Filled up, it "
            f"lasts about {counted(self.lasts_days, 'day')} in summer."
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
        leaves, returns = words.days(self.leaves_on, self.returns_on)
        return f"It was from {leaves} to {returns}, and is over."


@dataclass(frozen=True, slots=True)
class AbsencesOverlap(Odd):
    """Two absences at once."""

    code: ClassVar[str] = "absences-overlap"
    when: ClassVar[str] = "an absence begins before another one ends"
    means: ClassVar[str] = "Zones are filled up before the first one only."
    do: ClassVar[str] = "Make one of the two."

    begins_on: dt.date
    leaves_on: dt.date
    """Of the other one."""
    returns_on: dt.date

    def sentence(self, words: Words) -> str:
        begins, leaves, returns = words.days(self.begins_on, self.leaves_on, self.returns_on)
        return f"It begins on {begins}, before the one from {leaves} to {returns} ends."


@dataclass(frozen=True, slots=True)
class CannotLastBetweenDays(Odd):
    """Watering days that are too far apart."""

    code: ClassVar[str] = "cannot-last-between-days"
    when: ClassVar[str] = "watering days are too far apart for what the roots can draw in summer"
    means: ClassVar[str] = "Its plants are short of water before each watering day."
    do: ClassVar[str] = (
        'Give more watering days, or "days" among the zone\'s exempt rules where that is allowed.'
    )

    gap_days: int
    ks: float
    are_two_rules: bool
    """Whether weekdays and odd or even dates together leave so few."""

    def sentence(self, words: Words) -> str:
        whose = "Its weekdays and odd or even dates together" if self.are_two_rules else "Its watering days"
        return (
            f"{whose} leave up to {counted(self.gap_days, 'day')} between them. In summer its plants could "
            f"then draw {little(self.ks)} of the water they need."
        )

    def advice(self, words: Words) -> str:
        more = "Leave one of the two out. Else give more" if self.are_two_rules else "Give more"
        return f'{more} watering days, or "days" among the zone\'s exempt rules where that is allowed.'


@dataclass(frozen=True, slots=True)
class ContainerCannotLast(Odd):
    """A container that runs short on hot days."""

    code: ClassVar[str] = "container-cannot-last"
    when: ClassVar[str] = "a container runs short on hot days, however it is watered within its rules"
    means: ClassVar[str] = "Its plants wilt in the afternoon of a hot day."
    do: ClassVar[str] = "Take a larger container, fewer plants in it, or second watering hours about 13:00."

    holds_mm: float
    etc_mm: float
    gap_days: int
    ks: float
    has_two_spans: bool

    def sentence(self, words: Words) -> str:
        every = "day" if self.gap_days == 1 else f"{self.gap_days} days"
        return (
            f"It holds {words.depth(self.holds_mm)} for its roots, and a hot day takes "
            f"{words.depth(self.etc_mm)}. Watered every {every}, its plants get {little(self.ks)} of the "
            "water they need."
        )

    def advice(self, words: Words) -> str:
        noon = "" if self.has_two_spans else ", or second watering hours about 13:00"
        return f"Take a larger container, fewer plants in it{noon}."


@dataclass(frozen=True, slots=True)
class EfficiencyAbovePublished(Odd):
    """An efficiency that nobody has measured."""

    code: ClassVar[str] = "efficiency-above-published"
    when: ClassVar[str] = "an efficiency is above the best that is published for the way of watering"
    means: ClassVar[str] = "The plants get less than the account says, and slowly dry out."
    do: ClassVar[str] = "Leave it out, or give at most the best that is published."

    efficiency: float
    best: float
    usual: float

    def sentence(self, words: Words) -> str:
        return (
            f"Its efficiency is {self.efficiency:g}, but the best that is published for this way of watering "
            f"is {self.best:g}. The plants would get less than the account says."
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
        "Check the flow; where it is right, measure it once with a bucket, as time then decides."
    )

    flow_l_min: float
    meter_from_l_min: float

    def sentence(self, words: Words) -> str:
        flow, meter = apart(words.volume_number, self.flow_l_min, self.meter_from_l_min)
        return (
            f"It takes {flow} {words.volume_unit} a minute, but its meter counts from {meter} on. So the "
            "valve "
            "closes by time, and reports too little."
        )


@dataclass(frozen=True, slots=True)
class HoursNeverOpen(Odd):
    """Hours without a length."""

    code: ClassVar[str] = "hours-never-open"
    when: ClassVar[str] = "the watering hours are closed all year"
    means: ClassVar[str] = "Nothing is ever watered."
    do: ClassVar[str] = 'Give hours that have a length, as {"from": "22:00", "to": "sunrise"}.'

    def sentence(self, words: Words) -> str:
        return "The watering hours are closed all year, because they would end before they begin."


@dataclass(frozen=True, slots=True)
class HoursSometimesClosed(Odd):
    """Hours that the sun closes in some months."""

    code: ClassVar[str] = "hours-sometimes-closed"
    when: ClassVar[str] = "by the sun, watering hours would end before they begin in some months"
    means: ClassVar[str] = "Nothing is watered in those hours then."
    do: ClassVar[str] = "Open them earlier, or close them at a clock time."

    months: tuple[int, ...]

    def sentence(self, words: Words) -> str:
        months = listed([month_name(month) for month in self.months])
        return f"In {months} some hours are closed, because by the sun they would end before they begin."


@dataclass(frozen=True, slots=True)
class AllZonesTooLong(Odd):
    """Hours too short for all zones on a hot day."""

    code: ClassVar[str] = "hours-too-short"
    when: ClassVar[str] = "in hot weather all zones together need more than the shortest watering hours"
    means: ClassVar[str] = "Zones take turns then, and some plants wait in need."
    do: ClassVar[str] = (
        "Give longer hours, more watering days or more flow. Else all take turns, and get less."
    )

    wanted_s: float
    date: dt.date
    open_s: float

    def sentence(self, words: Words) -> str:
        wanted, there_are = apart(duration, self.wanted_s, self.open_s)
        return (
            f"In hot weather all zones together need {wanted} a night. The hours of {words.day(self.date)} "
            "last "
            f"only {there_are}."
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
    are_all_paused: bool
    """Else some dates are left out by watering days, and pauses cover the rest."""

    def sentence(self, words: Words) -> str:
        day = "day" if self.are_all_paused else "watering day"
        first, last = words.days(self.first, self.last)
        return f"Pauses cover every {day} from {first} to {last}, so it is never watered."


@dataclass(frozen=True, slots=True)
class PlantsDifferInSummer(Odd):
    """Plants of very different need on one valve."""

    code: ClassVar[str] = "plants-differ"
    when: ClassVar[str] = "plants share a valve, and one lasts at least twice as long as another"
    means: ClassVar[str] = "What keeps the one alive is too much for the other."
    do: ClassVar[str] = "Make two zones of it, or plant what has like needs together."

    thirsty: str
    thirsty_days: float
    modest: str
    modest_days: float

    def sentence(self, words: Words) -> str:
        return (
            f"In summer a full soil lasts the {self.thirsty} about {about_days(self.thirsty_days)}, the "
            f"{self.modest} {about_days(self.modest_days)}. What suits the one is too much for the other."
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
        slope = f" on its slope of {self.slope_pct:g} %" if self.slope_pct else ""
        rate, intake = apart(words.rate_number, self.rate_mm_h, self.intake_mm_h)
        return (
            f"Water arrives at {rate} {words.rate_unit}, and this ground{slope} takes in {intake}. It would "
            "run "
            f"off after {duration(self.longest_run_s)}, and one refill takes {duration(self.refill_s)}."
        )

    def advice(self, words: Words) -> str:
        return (
            f"Plans give it in {counted(self.runs, 'run')}, {duration(self.rest_s)} apart. Heads that give "
            "less need fewer."
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
    date: dt.date
    open_s: float

    def sentence(self, words: Words) -> str:
        refill, there_are = apart(duration, self.refill_s, self.open_s)
        return f"One refill takes {refill}, but the hours of {words.day(self.date)} last only {there_are}."


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
            f"Its smallest dose is {words.depth(self.smallest_depth_mm)}, but its roots can easily draw only "
            f"{words.depth(self.readily_available_mm)}. That leaves little room for rain."
        )

    def advice(self, words: Words) -> str:
        return f"Give at most {words.depth(0.5 * self.readily_available_mm)}."


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
    KeptAlive,
    LeafOutAssumed,
    NeverWatered,
    PlantingDateUnknown,
    PlantsDifferInSummer,
    RateAboveIntake,
    RateUnusual,
    RunLongerThanHours,
    SeasonEnds,
    SmallestDepthLarge,
)
"""One for each code, by name."""
