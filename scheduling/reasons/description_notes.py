"""Notes on how a zone is described: its flow, its soil and plants, and how wet it was."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from scheduling.reasons import Note
from scheduling.reasons.words import (
    Words,
    apart,
    capital,
    counted,
    day_of_year,
    share,
)


@dataclass(frozen=True, slots=True)
class FlowAssumed(Note):
    """No flow was given."""

    code: ClassVar[str] = "flow-assumed"
    when: ClassVar[str] = "no flow was given; the usual one of the way of watering is taken"
    means: ClassVar[str] = "Run times may be wrong by half, and the plants get too much or too little."
    do: ClassVar[str] = "Give its flow: what the valve's meter counts in a minute, or a bucket and a watch."

    flow_l_min: float
    usual_rate_mm_h: float

    def sentence(self, words: Words) -> str:
        return (
            f"No flow is given. Run times go by {words.flow(self.flow_l_min)}, from the usual "
            f"{words.rate(self.usual_rate_mm_h)} of this way of watering."
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
        flow, supply = apart(words.volume_number, self.flow_l_min, self.supply_l_min)
        return (
            f"This zone would take {flow} {words.volume_unit} a minute, but the tap gives {supply}. Run "
            "times "
            "go by the tap."
        )


@dataclass(frozen=True, slots=True)
class FlowHasDrifted(Note):
    """The meter tells another flow than it did, or than its owner says."""

    code: ClassVar[str] = "flow-has-drifted"
    when: ClassVar[str] = "the meter shows over a fifth more, or less, than before or than was given"
    means: ClassVar[str] = "Run times follow the meter, but some plants may get too little, or water is lost."
    do: ClassVar[str] = (
        "Watch a run. Less flow: clean filter and emitters, look at the pressure. More: look for a burst "
        "pipe or a lost emitter. If all is well, give the zone the flow that the meter tells."
    )

    flow_l_min: float
    was_l_min: float
    is_declared: bool
    """Whether that is what its owner says; else what the meter told before."""

    def sentence(self, words: Words) -> str:
        flow, was = words.flow(self.flow_l_min), words.volume_number(self.was_l_min)
        change = share(abs(self.flow_l_min / self.was_l_min - 1.0))
        less = self.flow_l_min < self.was_l_min
        way, when = "less" if less else "more", "given" if self.is_declared else "before"
        why = (
            "A filter or an emitter may be blocked, or the pressure low"
            if less
            else "A pipe may have burst, or an emitter come off"
        )
        wrong = ", or the flow that was given is wrong" if self.is_declared else ""
        return f"The meter shows {flow}, {change} {way} than the {was} {when}. {why}{wrong}."


@dataclass(frozen=True, slots=True)
class FlowBeyondBelief(Note):
    """The meter tells a flow that no plan can be made with."""

    code: ClassVar[str] = FlowHasDrifted.code
    do: ClassVar[str] = FlowHasDrifted.do

    flow_l_min: float

    def sentence(self, words: Words) -> str:
        return (
            f"The meter shows {words.flow(self.flow_l_min)}, by which this zone cannot be watered. Run times "
            "go by the flow that was given."
        )


@dataclass(frozen=True, slots=True)
class RateUnusual(Note):
    """Flow and area do not look like the method."""

    code: ClassVar[str] = "rate-unusual"
    when: ClassVar[str] = "flow and area do not look like the way of watering"
    means: ClassVar[str] = "If one of them is wrong, the plants get too much or too little."
    do: ClassVar[str] = "Check the flow, the area and the way of watering; one of them is likely wrong."

    flow_l_min: float
    area_m2: float
    rate_mm_h: float
    usual_rate_mm_h: float

    def sentence(self, words: Words) -> str:
        return (
            f"{capital(words.flow(self.flow_l_min))} over {words.area(self.area_m2)} is "
            f"{words.rate(self.rate_mm_h)}, but {words.rate_number(self.usual_rate_mm_h)} is usual here. The "
            "flow or the area may be wrong."
        )


@dataclass(frozen=True, slots=True)
class KeptAlive(Note):
    """Plants that are to live on as little water as is known to keep them."""

    code: ClassVar[str] = "kept-alive"
    when: ClassVar[str] = 'the planting has `aim` "alive"'
    means: ClassVar[str] = "It saves most of the water. Plants grow and bloom little; lawns turn brown."
    do: ClassVar[str] = "Look at the plants every week or two. If they suffer, set the aim back to thriving."

    plant: str
    eto_share: float

    def sentence(self, words: Words) -> str:
        return (
            f"The {self.plant} is only kept alive, on {share(self.eto_share)} of what a reference lawn uses. "
            "It grows little and may turn brown."
        )


@dataclass(frozen=True, slots=True)
class SeasonEnds(Note):
    """An annual's season ends, by its stages and not by its owner's word."""

    code: ClassVar[str] = "season-ends"
    when: ClassVar[str] = "an annual's stages end within 14 days, and no `season_ends` is given"
    means: ClassVar[str] = "After that day it is taken to be gone, and gets no water."
    do: ClassVar[str] = "Give a later date in `season_ends`, if the plants are to be watered for longer."

    plant: str
    ends_on: dt.date

    def sentence(self, words: Words) -> str:
        return (
            f"The season of the {self.plant} ends on {words.dated(self.ends_on)}; after that it gets no "
            "water. Give it a later end if it is to be watered for longer."
        )


@dataclass(frozen=True, slots=True)
class PlantingDateUnknown(Note):
    """An annual without its date."""

    code: ClassVar[str] = "planting-date-unknown"
    when: ClassVar[str] = "an annual has no `planted_on`; it is taken as fully grown all year"
    means: ClassVar[str] = "Young plants get more water than they need."
    do: ClassVar[str] = "Give the planting date, and the water follows the plant as it grows."

    plant: str

    def sentence(self, words: Words) -> str:
        return f"No planting date is given for the {self.plant}. The plan takes it as fully grown all year."


@dataclass(frozen=True, slots=True)
class LeafOutAssumed(Note):
    """A plant that rests in winter, without the day on which its leaves open."""

    code: ClassVar[str] = "leaf-out-assumed"
    when: ClassVar[str] = (
        "a plant that rests in winter has no `leaf_out`; its season begins as in FAO-56 table 11"
    )
    means: ClassVar[str] = "Watering may begin some weeks too early or too late."
    do: ClassVar[str] = "Give the day on which its leaves usually open where you are."

    plant: str
    starts_on: tuple[int, int]
    """Month and day."""
    season_days: int

    def sentence(self, words: Words) -> str:
        return (
            f"Nothing says when the {self.plant} comes into leaf. The plan takes the season to start on "
            f"{day_of_year(*self.starts_on)} and to last {counted(self.season_days, 'day')}."
        )


@dataclass(frozen=True, slots=True)
class IntakeAssumed(Note):
    """No texture beside own water points."""

    code: ClassVar[str] = "intake-assumed"
    when: ClassVar[str] = (
        "a soil has water points of its own and no texture; the nearest texture says how fast it takes in "
        "water"
    )
    means: ClassVar[str] = "Water may run off, or be given in more runs than it needs."
    do: ClassVar[str] = "Give a texture beside the water points."

    intake_mm_h: float
    texture: str

    def sentence(self, words: Words) -> str:
        return (
            f"The soil's texture is not given. The plan takes it to drink in {words.rate(self.intake_mm_h)}, "
            f"as {self.texture} does."
        )


@dataclass(frozen=True, slots=True)
class OpeningAssumed(Note):
    """No depletion was given."""

    code: ClassVar[str] = "opening-assumed"
    when: ClassVar[str] = "no depletion was given for a zone; half of the easy water is taken as used"
    means: ClassVar[str] = "For some weeks its plants may get too much or too little."
    do: ClassVar[str] = "Give a depletion, or set `soil_full_on` to the date of a good soaking."

    date: dt.date

    def sentence(self, words: Words) -> str:
        day = words.dated(self.date)
        return f"Nothing says how dry the soil was on {day}. The plan takes half of the easy water as used."


@dataclass(frozen=True, slots=True)
class SoilFullOnUnused(Note):
    """A full soil outside of the days at hand."""

    code: ClassVar[str] = "soil-full-on-unused"
    when: ClassVar[str] = "`soil_full_on` is outside the days that are known"
    means: ClassVar[str] = "The account of the zone's water still rests on a guess."
    do: ClassVar[str] = "Soak the zone, and give the date of that."

    full_on: dt.date
    where: Literal["before-the-weather", "after-the-date"]

    def sentence(self, words: Words) -> str:
        day = words.dated(self.full_on)
        if self.where == "after-the-date":
            return (
                f"The soil is said to be full on {day}, which is later than this plan. It does not count yet."
            )
        return (
            f"The soil is said to be full on {day}, but no weather is known so far back. It does not count."
        )


DESCRIPTION_NOTES: Final[tuple[type[Note], ...]] = (
    FlowAssumed,
    FlowHasDrifted,
    FlowAboveSupply,
    RateUnusual,
    KeptAlive,
    SeasonEnds,
    PlantingDateUnknown,
    IntakeAssumed,
    LeafOutAssumed,
    OpeningAssumed,
    SoilFullOnUnused,
)
"""One for each code."""
