"""Notes on a zone: its numbers, its place in the plan, what its plants go through."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import ClassVar, Final, Literal, NamedTuple

from scheduling.reasons import Note
from scheduling.reasons.words import Words


@dataclass(frozen=True, slots=True)
class WaterAlreadyGiven(Note):
    """Water has flowed for the date before its plan was made."""

    code: ClassVar[str] = "already-delivered"
    when: ClassVar[str] = "water that has flowed for this date is taken off"
    means: ClassVar[str] = "The plants have had it."
    do: ClassVar[str] = "Nothing."

    given_l: float

    def sentence(self, words: Words) -> str:
        return f"{self.given_l:.3g} l given for this date are taken off."


@dataclass(frozen=True, slots=True)
class CannotLast(Note):
    """Filled up, it runs short before its next chance."""

    code: ClassVar[str] = "cannot-last"
    when: ClassVar[str] = "even filled up, the zone runs short before its next chance"
    means: ClassVar[str] = "Its plants slow down, wilt or lose leaves before they are watered again."
    do: ClassVar[str] = "Allow more watering days, or water by hand in between; local bans go first."

    short_on: dt.date

    def sentence(self, words: Words) -> str:
        day = words.day(self.short_on)
        return f"Even filled up, the zone runs short of water on {day}, before its next chance."


@dataclass(frozen=True, slots=True)
class NoChanceAhead(Note):
    """No date that can be looked over lets it be watered."""

    code: ClassVar[str] = "no-chance-ahead"
    when: ClassVar[str] = "no date that can be looked over lets the zone be watered, and it will run short"
    means: ClassVar[str] = "Without rain its plants get too little from the date named."
    do: ClassVar[str] = "Look at pauses, watering days and the frost limit, or water by hand."

    days: int | None
    """How many dates were looked over; None: all of the forecast."""
    short_on: dt.date

    def sentence(self, words: Words) -> str:
        reach = "as far as the forecast reaches" if self.days is None else f"in the next {self.days} days"
        return (
            f"No date {reach} lets the zone be watered, and it runs short of water on "
            f"{words.day(self.short_on)}."
        )


@dataclass(frozen=True, slots=True)
class LeftDry(Note):
    """It waits in need."""

    code: ClassVar[str] = "left-dry"
    when: ClassVar[str] = (
        "a rule or a limit makes the zone wait though its plants get less than 70 % of what they want"
    )
    means: ClassVar[str] = "Its plants are short of water on this date."
    do: ClassVar[str] = "Water it by hand, if that is allowed, or give it more days, hours or litres."

    date: dt.date
    ks: float
    """Share of the water they need that its plants can draw on the date, counted rain included."""

    def sentence(self, words: Words) -> str:
        return f"It gets no water though its plants are left with {self.ks:.0%} of what they want."


@dataclass(frozen=True, slots=True)
class CouldRunDry(Note):
    """It would not outlast an absence by itself."""

    code: ClassVar[str] = "could-run-dry"
    when: ClassVar[str] = (
        "the zone would not outlast the coming absence should its valve fail, or is watered by hand"
    )
    means: ClassVar[str] = "With no water and no rain its plants would suffer from the date named."
    do: ClassVar[str] = "Ask somebody to look in while you are away."

    leaves_on: dt.date
    returns_on: dt.date
    dry_on: dt.date
    is_by_hand: bool

    def sentence(self, words: Words) -> str:
        if self.is_by_hand:
            fails = "It is watered by hand, and nobody is there"
        else:
            fails = f"Should its valve fail while nobody is there, from {self.leaves_on} to {self.returns_on}"
        return f"{fails}: it could run dry on {self.dry_on}. Ask somebody to look after it."


class Lasts(NamedTuple):
    """How long a zone lasts without water or rain, once filled up."""

    days: int
    zone: str


@dataclass(frozen=True, slots=True)
class AbsenceAhead(Note):
    """Somebody leaves soon."""

    code: ClassVar[str] = "absence-ahead"
    when: ClassVar[str] = (
        "somebody leaves within five days: how long each zone, once filled up, would last unwatered"
    )
    means: ClassVar[str] = "If watering fails while you are away, the zones named first suffer first."
    do: ClassVar[str] = "Ask somebody to look in before the first of them runs dry."

    leaves_on: dt.date
    returns_on: dt.date
    lasting: tuple[Lasts, ...]
    """Those that suffer first, first."""
    most_days: int
    """What lasts so long may last longer."""

    def sentence(self, words: Words) -> str:
        zones = ", ".join(f"{zone} {self._so_long(days)}" for days, zone in self.lasting)
        length = self._so_long((self.returns_on - self.leaves_on).days)
        return (
            f"Nobody is there from {self.leaves_on} to {self.returns_on}, {length}. Filled up and then "
            f"without any water or rain, zones would last: {zones}."
        )

    def _so_long(self, days: int) -> str:
        if days >= self.most_days:
            return f"{self.most_days} days or more"
        return "less than a day" if days == 0 else f"{days} day{'s' if days > 1 else ''}"


@dataclass(frozen=True, slots=True)
class CycleAndSoak(Note):
    """Water comes faster than the soil takes it in."""

    code: ClassVar[str] = "cycle-and-soak"
    when: ClassVar[str] = (
        "water comes faster than the soil takes it in: it is given in several runs with rests between them"
    )
    means: ClassVar[str] = "The water reaches the roots and does not run off."
    do: ClassVar[str] = "Nothing; emitters that give less at a time need fewer runs."

    rate_mm_h: float
    intake_mm_h: float
    longest_run_s: float
    rest_s: float

    def sentence(self, words: Words) -> str:
        return (
            f"{self.rate_mm_h:.3g} mm/h arrive and the soil takes in {self.intake_mm_h:.3g}: no run is "
            "longer "
            f"than {self.longest_run_s / 60.0:.3g} min, with at least {math.ceil(self.rest_s / 60.0)} min "
            "between "
            "two runs."
        )


@dataclass(frozen=True, slots=True)
class FlowAssumed(Note):
    """No flow was given."""

    code: ClassVar[str] = "flow-assumed"
    when: ClassVar[str] = "no flow was given; it follows from the method's usual rate"
    means: ClassVar[str] = "Run times may be wrong by half, and the plants get too much or too little."
    do: ClassVar[str] = "Give flow_l_min: what the valve's meter counts in a minute, or a bucket and a watch."

    flow_l_min: float
    method: str
    usual_rate_mm_h: float

    def sentence(self, words: Words) -> str:
        return (
            f"No flow is given; {self.flow_l_min:.3g} l/min follows from the usual "
            f"{self.usual_rate_mm_h:g} mm/h of {self.method}."
        )


@dataclass(frozen=True, slots=True)
class FlowAboveSupply(Note):
    """The zone would take more than the tap gives."""

    code: ClassVar[str] = "flow-above-supply"
    when: ClassVar[str] = "the zone would take more than the tap gives"
    means: ClassVar[str] = "Its emitters may not reach everywhere, and some plants get less."
    do: ClassVar[str] = "Check both flows; where they are right, water the zone as two."

    flow_l_min: float
    supply_l_min: float

    def sentence(self, words: Words) -> str:
        return (
            f"The zone would take {self.flow_l_min:.3g} l/min, the supply gives {self.supply_l_min:g}: run "
            f"times are reckoned with {self.supply_l_min:g}."
        )


@dataclass(frozen=True, slots=True)
class FlowHasDrifted(Note):
    """The meter tells another flow than it did, or than its owner says."""

    code: ClassVar[str] = "flow-has-drifted"
    when: ClassVar[str] = (
        "the valve's meter tells more than a fifth more, or less, than it did before or than was declared: "
        "something may be blocked, broken, or short of pressure"
    )
    means: ClassVar[str] = "Run times follow the meter, but water may not reach all plants, or be lost."
    do: ClassVar[str] = (
        "Watch a run. Less flow: clean filter and emitters, look at the pressure. More: look for a burst "
        "pipe "
        "or a lost emitter. If all is well, give the zone the flow that the meter tells."
    )

    flow_l_min: float
    was_l_min: float
    is_declared: bool
    """Whether that is what its owner says; else what the meter told before."""
    zone: str

    def sentence(self, words: Words) -> str:
        percent = abs(self.flow_l_min / self.was_l_min - 1.0) * 100.0
        if self.flow_l_min < self.was_l_min:
            change, why = "less", "Emitters or a filter may be blocked, or the pressure is low"
        else:
            change, why = "more", "A pipe may have burst, or an emitter come off"
        if self.is_declared:
            why += f", or the flow declared for {self.zone} is wrong"
        when = "are declared" if self.is_declared else "were before"
        return (
            f"The meter tells {self.flow_l_min:.3g} l/min where {self.was_l_min:.3g} {when}, {percent:.0f} % "
            f"{change}. {why}. Run times go by the meter."
        )


@dataclass(frozen=True, slots=True)
class FlowBeyondBelief(Note):
    """The meter tells a flow that no plan can be made with."""

    code: ClassVar[str] = FlowHasDrifted.code
    do: ClassVar[str] = FlowHasDrifted.do

    flow_l_min: float
    detail: str
    """What is wrong with it, as the problem of such a garden says it."""

    def sentence(self, words: Words) -> str:
        return (
            f"The meter tells {self.flow_l_min:.3g} l/min, by which the zone cannot be watered: it "
            f"{self.detail} Run times go on by the declared flow: look at the valve, the pipe and the "
            "emitters."
        )


@dataclass(frozen=True, slots=True)
class RateUnusual(Note):
    """Flow and area do not look like the method."""

    code: ClassVar[str] = "rate-unusual"
    when: ClassVar[str] = "flow and area do not look like the method; check both"
    means: ClassVar[str] = "If one of them is wrong, the plants get too much or too little."
    do: ClassVar[str] = "Check the flow, the area and the method; one of them is likely a slip of the pen."

    flow_l_min: float
    area_m2: float
    rate_mm_h: float
    method: str
    usual_rate_mm_h: float

    def sentence(self, words: Words) -> str:
        return (
            f"{self.flow_l_min:g} l/min over {self.area_m2:g} m2 is {self.rate_mm_h:.3g} mm/h; usual for "
            f"{self.method} is about {self.usual_rate_mm_h:g} mm/h. Check the flow and area_m2."
        )


@dataclass(frozen=True, slots=True)
class PlantsDiffer(Note):
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
            f"{self.thirsty} wants water about every {self.thirsty_days:.2g} days, {self.modest} every "
            f"{self.modest_days:.2g}: what the one needs is too much for the other. On valves of their own "
            "each could have its due."
        )


@dataclass(frozen=True, slots=True)
class PlantingDateUnknown(Note):
    """An annual without its date."""

    code: ClassVar[str] = "planting-date-unknown"
    when: ClassVar[str] = "no `planted_on`, so the plant is reckoned in mid-season all year"
    means: ClassVar[str] = "Young plants get more water than they need."
    do: ClassVar[str] = "Give planted_on, and the water follows the plant as it grows."

    plant: str

    def sentence(self, words: Words) -> str:
        return f"No planted_on is given, so {self.plant} is reckoned as in its mid-season all year."


@dataclass(frozen=True, slots=True)
class LeafOutAssumed(Note):
    """A plant that rests in winter, without the day on which its leaves open."""

    code: ClassVar[str] = "leaf-out-assumed"
    when: ClassVar[str] = (
        "no `leaf_out` for a plant that rests in winter: its season begins as FAO-56 table 11 has it"
    )
    means: ClassVar[str] = "Watering may begin some weeks too early or too late."
    do: ClassVar[str] = "Give leaf_out: the day on which its leaves commonly open where you are."

    plant: str
    starts_on: dt.date
    season_days: int

    def sentence(self, words: Words) -> str:
        return (
            f"No leaf_out is given: the season of {self.plant} is taken to begin on {self.starts_on:%m-%d} "
            f"every year, and to last {self.season_days} days."
        )


@dataclass(frozen=True, slots=True)
class IntakeAssumed(Note):
    """No texture beside own water points."""

    code: ClassVar[str] = "intake-assumed"
    when: ClassVar[str] = (
        "no texture beside own water points: how fast the soil takes in water is that of the nearest one"
    )
    means: ClassVar[str] = "Water may run off, or be given in more runs than it needs."
    do: ClassVar[str] = "Give a texture beside the water points."

    intake_mm_h: float
    texture: str

    def sentence(self, words: Words) -> str:
        return (
            f"No texture is given beside the water points: the soil is taken to take in "
            f"{self.intake_mm_h:.3g} mm/h, as {self.texture} does."
        )


@dataclass(frozen=True, slots=True)
class NewlyPlanted(Note):
    """Roots are young and shallow."""

    code: ClassVar[str] = "newly-planted"
    when: ClassVar[str] = (
        "roots are young and shallow; for the first six weeks the garden's watering days do not hold (those "
        "in "
        "the zone's own `rules` do)"
    )
    means: ClassVar[str] = "It is watered more often, with less at a time."
    do: ClassVar[str] = "Look at the soil around new plants every few days."

    planted_on: dt.date
    rooted_on: dt.date
    any_day_until: dt.date | None
    """Until when watering days do not hold; None: they do, or there are none."""

    def sentence(self, words: Words) -> str:
        roots = (
            f"Planted on {self.planted_on}: its roots are taken to grow until {self.rooted_on}, and are "
            "shallow still."
        )
        if self.any_day_until is None:
            return roots
        return (
            f"{roots} Up to {self.any_day_until} it may be watered on any day, as towns commonly let new "
            "plantings; where yours does not, give the zone watering_days of its own."
        )


@dataclass(frozen=True, slots=True)
class GroundSaturated(Note):
    """Rain has filled the ground."""

    code: ClassVar[str] = "ground-saturated"
    when: ClassVar[str] = "rain has filled the ground, so the zone waits, or gets no more than it does"
    means: ClassVar[str] = "More water would run through, below the roots."
    do: ClassVar[str] = "Nothing."

    fallen_mm: float | None = None
    """Of the date, where the zone is watered all the same; None: it waits."""
    given_mm: float = 0.0

    def sentence(self, words: Words) -> str:
        if self.fallen_mm is None:
            return "Rain has filled the ground: it takes no more before plants have used some of it."
        return (
            f"{self.fallen_mm:.1f} mm have fallen for this date: of more than {self.given_mm:.1f} mm some "
            "would "
            "run through."
        )


@dataclass(frozen=True, slots=True)
class HoursTooShort(Note):
    """Not even the smallest dose fits."""

    code: ClassVar[str] = "hours-too-short"
    when: ClassVar[str] = "not even the smallest dose of the zone alone fits into the hours"
    means: ClassVar[str] = "It gets nothing on this date."
    do: ClassVar[str] = "Give longer watering hours, a larger flow, or a smaller smallest_depth_mm."

    smallest_depth_mm: float

    def sentence(self, words: Words) -> str:
        return (
            f"Even alone, the smallest dose of {self.smallest_depth_mm:g} mm does not fit into the hours "
            "that "
            "are left for this date."
        )


@dataclass(frozen=True, slots=True)
class WarmHours(Note):
    """Runs were moved to hours that do not freeze."""

    code: ClassVar[str] = "warm-hours"
    when: ClassVar[str] = "runs were moved to hours that do not freeze"
    means: ClassVar[str] = "Its plants get water, and nothing freezes on them."
    do: ClassVar[str] = "Nothing."

    limit_c: float

    def sentence(self, words: Words) -> str:
        return f"It is watered in hours that stay above {self.limit_c:g} °C for three more."


@dataclass(frozen=True, slots=True)
class WarmHoursUnknown(Note):
    """A replay without hours."""

    code: ClassVar[str] = "warm-hours-unknown"
    when: ClassVar[str] = "of a replay: its days have no hours, so that `frost_warm_hours` could not act"
    means: ClassVar[str] = "The zone got less in the replay than it would in the garden."
    do: ClassVar[str] = "Replay days of which the hours are known."

    dates_left_out: int

    def sentence(self, words: Words) -> str:
        left_out = (
            "1 date of frost was"
            if self.dates_left_out == 1
            else f"{self.dates_left_out} dates of frost were"
        )
        return f"These days are told without hours, so no run could move to warm ones: {left_out} left out."


@dataclass(frozen=True, slots=True)
class SeasonNotReplayed(Note):
    """Nothing grew in the replayed days."""

    code: ClassVar[str] = "season-not-replayed"
    when: ClassVar[str] = "the replayed days hold nothing of the season of what is planted"
    means: ClassVar[str] = "Nothing grew in these days, so that nothing was watered."
    do: ClassVar[str] = "Give planted_on the year of the replay, or replay other days."

    plant: str | None
    """Where several share the zone; None: it is the zone's only one."""
    planted_on: dt.date | None

    def sentence(self, words: Words) -> str:
        whose = "Its season" if self.plant is None else f"The season of {self.plant}"
        season = whose if self.planted_on is None else f"{whose}, from planted_on {self.planted_on} on,"
        return f"{season} lies outside of these days: nothing grew, and nothing is watered."


@dataclass(frozen=True, slots=True)
class OpeningAssumed(Note):
    """No depletion was given."""

    code: ClassVar[str] = "opening-assumed"
    when: ClassVar[str] = (
        "no depletion was given for a zone: half of the easily available water is taken as used"
    )
    means: ClassVar[str] = "For some weeks its plants may get too much or too little."
    do: ClassVar[str] = "Give a depletion, or set soil_full_on to the date of a good soaking."

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"No depletion was given for {self.date}: half of RAW is taken."


@dataclass(frozen=True, slots=True)
class SoilFullOnUnused(Note):
    """A full soil outside of the days at hand."""

    code: ClassVar[str] = "soil-full-on-unused"
    when: ClassVar[str] = "`soil_full_on` lies outside of the days at hand"
    means: ClassVar[str] = "The account of the zone's water rests on a guess still."
    do: ClassVar[str] = "Soak the zone, and give the date of that."

    full_on: dt.date
    where: Literal["before-the-weather", "after-the-date"]

    def sentence(self, words: Words) -> str:
        where = {
            "before-the-weather": "before the weather at hand begins",
            "after-the-date": "after the plan's date",
        }[self.where]
        return f"soil_full_on {self.full_on} lies {where}: it is not used."


@dataclass(frozen=True, slots=True)
class WindUnknown(Note):
    """No wind by the hour."""

    code: ClassVar[str] = "wind-unknown"
    when: ClassVar[str] = "the garden has a `wind_limit_m_s`, and the weather no wind by the hour"
    means: ClassVar[str] = "In wind, some water may land beside the plants."
    do: ClassVar[str] = "Name a weather source that tells the wind by the hour."

    limit_m_s: float

    def sentence(self, words: Words) -> str:
        return f"The forecast has no wind by the hour: the limit of {self.limit_m_s:g} m/s was not kept."


@dataclass(frozen=True, slots=True)
class WindUnknownInThePast(Note):
    """No wind by the hour, on some days of a replay."""

    code: ClassVar[str] = WindUnknown.code

    limit_m_s: float
    dates: int
    """On which it was watered."""

    def sentence(self, words: Words) -> str:
        times = "1 date" if self.dates == 1 else f"{self.dates} dates"
        return (
            f"The wind by the hour is not known for {times} of watering, so the limit of "
            f"{self.limit_m_s:g} m/s could not be kept."
        )


@dataclass(frozen=True, slots=True)
class WindyButNeeded(Note):
    """Watered in the wind."""

    code: ClassVar[str] = "windy-but-needed"
    when: ClassVar[str] = "watered in the calmest hours, though these are windy too"
    means: ClassVar[str] = "Its plants could not wait; some water is blown away."
    do: ClassVar[str] = "Look at whether all of the zone gets wet."

    limit_m_s: float
    wind_m_s: float
    """The most in the hours that are used."""

    def sentence(self, words: Words) -> str:
        return (
            f"Every permitted hour has more wind than {self.limit_m_s:g} m/s; the plants could not wait, so "
            "it "
            f"is watered in the calmest, at up to {self.wind_m_s:.1f} m/s."
        )


ZONE_NOTES: Final[tuple[type[Note], ...]] = (
    AbsenceAhead,
    WaterAlreadyGiven,
    CannotLast,
    CouldRunDry,
    CycleAndSoak,
    FlowAssumed,
    FlowHasDrifted,
    FlowAboveSupply,
    RateUnusual,
    PlantsDiffer,
    PlantingDateUnknown,
    GroundSaturated,
    HoursTooShort,
    IntakeAssumed,
    LeftDry,
    LeafOutAssumed,
    NewlyPlanted,
    NoChanceAhead,
    OpeningAssumed,
    SeasonNotReplayed,
    SoilFullOnUnused,
    WarmHours,
    WindUnknown,
    WarmHoursUnknown,
    WindyButNeeded,
)
"""One for each code."""
