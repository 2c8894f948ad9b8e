"""Notes on a zone in a plan or a replay: its water, its hours, what its plants go through."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import ClassVar, Final, NamedTuple

from scheduling.reasons import Note
from scheduling.reasons.words import (
    Words,
    about_days,
    apart,
    counted,
    duration,
    listed,
    little,
)


@dataclass(frozen=True, slots=True)
class WaterAlreadyGiven(Note):
    """Water has flowed for the date before its plan was made."""

    code: ClassVar[str] = "already-delivered"
    when: ClassVar[str] = "water has flowed for this date before its plan was made"
    means: ClassVar[str] = "The plants have had it."
    do: ClassVar[str] = "Nothing."

    given_l: float

    def sentence(self, words: Words) -> str:
        return f"The plan counts what was already given for this day, {words.volume(self.given_l)}."


@dataclass(frozen=True, slots=True)
class CannotLast(Note):
    """Filled up, it runs short before its next chance."""

    code: ClassVar[str] = "cannot-last"
    when: ClassVar[str] = "even filled up, the zone runs short before its next chance"
    means: ClassVar[str] = "Its plants slow down, wilt or lose leaves before they are watered again."
    do: ClassVar[str] = "Allow more watering days, or water by hand in between; local bans go first."

    date: dt.date
    """Of the plan."""
    short_on: dt.date

    def sentence(self, words: Words) -> str:
        day = words.day(self.short_on)
        if self.short_on == self.date:
            return f"Even if filled up, this zone will be short of water later on {day}."
        return (
            f"Even if filled up, this zone will be short of water on {day}, before it can be watered again."
        )


@dataclass(frozen=True, slots=True)
class NoChanceAhead(Note):
    """No date that can be looked over lets it be watered."""

    code: ClassVar[str] = "no-chance-ahead"
    when: ClassVar[str] = "no date within sight lets the zone be watered, and it will run short"
    means: ClassVar[str] = "Without rain its plants get too little from the date named."
    do: ClassVar[str] = "Look at pauses, watering days and the frost limit, or water by hand."

    days: int | None
    """How many dates were looked over; None: all of the forecast."""
    short_on: dt.date

    def sentence(self, words: Words) -> str:
        when = "on any day of the forecast" if self.days is None else f"in the next {self.days} days"
        day = words.day(self.short_on)
        return f"The rules allow no watering {when}, and this zone will be short of water from {day}."


@dataclass(frozen=True, slots=True)
class LeftDry(Note):
    """It waits in need."""

    code: ClassVar[str] = "left-dry"
    when: ClassVar[str] = (
        "a rule or a limit makes the zone wait, and its plants get less than 70 % of the water they need"
    )
    means: ClassVar[str] = "Its plants are short of water on this date."
    do: ClassVar[str] = "Water it by hand, if that is allowed, or give it more days, hours or litres."

    date: dt.date
    ks: float
    """Share of the water they need that its plants can draw on the date, counted rain included."""

    def sentence(self, words: Words) -> str:
        part = little(self.ks)
        return (
            f"It is not watered, and on {words.day(self.date)} its plants can draw {part} of the water they "
            "need."
        )


@dataclass(frozen=True, slots=True)
class CouldRunDry(Note):
    """It would not outlast an absence by itself."""

    code: ClassVar[str] = "could-run-dry"
    when: ClassVar[str] = (
        "you are away soon, and the zone is watered by hand or would not last if its valve failed"
    )
    means: ClassVar[str] = "With no water and no rain its plants would suffer from the date named."
    do: ClassVar[str] = "Ask somebody to look in while you are away."

    leaves_on: dt.date
    returns_on: dt.date
    dry_on: dt.date
    is_by_hand: bool

    def sentence(self, words: Words) -> str:
        leaves, returns, dry = words.days(self.leaves_on, self.returns_on, self.dry_on)
        if self.is_by_hand:
            return (
                f"This zone is watered by hand, and you are away from {leaves} to {returns}. It could be dry "
                f"by {dry}, so ask somebody to water it."
            )
        return (
            f"If its valve fails while you are away ({leaves} to {returns}), this zone could be dry by "
            f"{dry}. Ask somebody to look in."
        )


class Lasts(NamedTuple):
    """How long a zone lasts without water or rain, once filled up."""

    days: int
    zone: str


@dataclass(frozen=True, slots=True)
class AbsenceAhead(Note):
    """Somebody leaves soon."""

    code: ClassVar[str] = "absence-ahead"
    when: ClassVar[str] = "somebody leaves within five days; it says how long each zone lasts without water"
    means: ClassVar[str] = "If watering fails while you are away, the zones named first suffer first."
    do: ClassVar[str] = "Ask somebody to look in before the first of them runs dry."

    leaves_on: dt.date
    returns_on: dt.date
    lasting: tuple[Lasts, ...]
    """Those that suffer first, first."""
    most_days: int
    """What lasts so long may last longer."""

    def sentence(self, words: Words) -> str:
        zones = listed([f"{zone} {self._so_long(days)}" for days, zone in self.lasting])
        leaves, returns = words.days(self.leaves_on, self.returns_on)
        return (
            f"You are away from {leaves} to {returns}. Filled up and then left without water or rain, zones "
            f"last so long: {zones}."
        )

    def _so_long(self, days: int) -> str:
        if days >= self.most_days:
            return f"{self.most_days} days or more"
        return "less than a day" if days == 0 else counted(days, "day")


@dataclass(frozen=True, slots=True)
class CycleAndSoak(Note):
    """Water comes faster than the soil takes it in."""

    code: ClassVar[str] = "cycle-and-soak"
    when: ClassVar[str] = (
        "water comes faster than the soil takes it in, so it is given in several runs with rests between them"
    )
    means: ClassVar[str] = "The water reaches the roots and does not run off."
    do: ClassVar[str] = "Nothing; emitters that give less at a time need fewer runs."

    rate_mm_h: float
    intake_mm_h: float
    longest_run_s: float
    rest_s: float

    def sentence(self, words: Words) -> str:
        rate, intake = apart(words.rate_number, self.rate_mm_h, self.intake_mm_h)
        rest = duration(60.0 * math.ceil(self.rest_s / 60.0))
        return (
            f"Water arrives at {rate} {words.rate_unit} and this soil takes in {intake}. It is given in runs "
            "of at most "
            f"{duration(self.longest_run_s)}, with a rest of {rest} between them, so that "
            "it does not run off."
        )


@dataclass(frozen=True, slots=True)
class PlantsDiffer(Note):
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
            f"A full soil lasts the {self.thirsty} about {about_days(self.thirsty_days)}, the {self.modest} "
            f"{about_days(self.modest_days)}. What suits the one is too much for the other."
        )


@dataclass(frozen=True, slots=True)
class NewlyPlanted(Note):
    """Roots are young and shallow."""

    code: ClassVar[str] = "newly-planted"
    when: ClassVar[str] = (
        "roots are young and shallow; for six weeks the garden's watering days do not count (those in the "
        "zone's own `rules` do)"
    )
    means: ClassVar[str] = "It is watered more often, with less at a time."
    do: ClassVar[str] = "Look at the soil around new plants every few days."

    planted_on: dt.date
    rooted_on: dt.date
    any_day_until: dt.date | None
    """Until when watering days do not hold; None: they do, or there are none."""

    def sentence(self, words: Words) -> str:
        planted, rooted = words.dated(self.planted_on), words.dated(self.rooted_on)
        roots = f"Planted on {planted}, it has shallow roots until about {rooted}."
        if self.any_day_until is None:
            return roots
        until = words.dated(self.any_day_until)
        return f"{roots} Until {until} it may be watered on any day, as towns often let new plants."


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
            return "Rain has filled the ground. It can take no more until plants have used some."
        return (
            f"{words.depth(self.fallen_mm)} of rain has fallen for this day. Of more than "
            f"{words.depth(self.given_mm)} on top of it, some would be lost."
        )


@dataclass(frozen=True, slots=True)
class HoursTooShort(Note):
    """Not even the smallest dose fits."""

    code: ClassVar[str] = "hours-too-short"
    when: ClassVar[str] = "even alone, the zone's smallest dose does not fit into the hours"
    means: ClassVar[str] = "It gets nothing on this date."
    do: ClassVar[str] = "Give longer watering hours, a larger flow, or a smaller `smallest_depth_mm`."

    smallest_depth_mm: float

    def sentence(self, words: Words) -> str:
        smallest = words.depth(self.smallest_depth_mm)
        return f"Even its smallest dose, {smallest}, does not fit into the hours that are left."


@dataclass(frozen=True, slots=True)
class WarmHours(Note):
    """Runs were moved to hours that do not freeze."""

    code: ClassVar[str] = "warm-hours"
    when: ClassVar[str] = "runs were moved to hours that do not freeze"
    means: ClassVar[str] = "Its plants get water, and nothing freezes on them."
    do: ClassVar[str] = "Nothing."

    limit_c: float

    def sentence(self, words: Words) -> str:
        return (
            f"It is watered in hours that stay above {words.temperature(self.limit_c)} for three hours more."
        )


@dataclass(frozen=True, slots=True)
class WarmHoursUnknown(Note):
    """A replay without hours."""

    code: ClassVar[str] = "warm-hours-unknown"
    when: ClassVar[str] = "a replay has days without hours, so `frost_warm_hours` could not act"
    means: ClassVar[str] = "The zone got less in the replay than it would in the garden."
    do: ClassVar[str] = "Replay days of which the hours are known."

    dates_left_out: int

    def sentence(self, words: Words) -> str:
        left_out = (
            f"{counted(self.dates_left_out, 'day')} of frost {'was' if self.dates_left_out == 1 else 'were'}"
        )
        return f"These days have no hours, so no run could move to a warm one. {left_out} left out."


@dataclass(frozen=True, slots=True)
class SeasonNotReplayed(Note):
    """Nothing grew in the replayed days."""

    code: ClassVar[str] = "season-not-replayed"
    when: ClassVar[str] = "none of the replayed days is in the season of what is planted"
    means: ClassVar[str] = "Nothing grew in these days, so that nothing was watered."
    do: ClassVar[str] = "Give `planted_on` the year of the replay, or replay other days."

    plant: str | None
    """Where several share the zone; None: it is the zone's only one."""
    planted_on: dt.date | None

    def sentence(self, words: Words) -> str:
        whose = "the season of the plants" if self.plant is None else f"the season of the {self.plant}"
        planted = "" if self.planted_on is None else f" planted on {words.dated(self.planted_on)}"
        return f"None of these days is in {whose}{planted}. Nothing grew, so nothing is watered."


@dataclass(frozen=True, slots=True)
class WindUnknown(Note):
    """No wind by the hour."""

    code: ClassVar[str] = "wind-unknown"
    when: ClassVar[str] = "the garden has a `wind_limit_m_s`, but the weather has no wind by the hour"
    means: ClassVar[str] = "In wind, some water may land beside the plants."
    do: ClassVar[str] = "Name a weather source that has wind by the hour."

    limit_m_s: float

    def sentence(self, words: Words) -> str:
        limit = words.wind(self.limit_m_s)
        return f"The forecast has no wind by the hour, so the wind limit of {limit} could not be kept."


@dataclass(frozen=True, slots=True)
class WindUnknownInThePast(Note):
    """No wind by the hour, on some days of a replay."""

    code: ClassVar[str] = WindUnknown.code

    limit_m_s: float
    dates: int
    """On which it was watered."""

    def sentence(self, words: Words) -> str:
        return (
            f"On {counted(self.dates, 'day')} of watering the wind by the hour is not known, so the limit of "
            f"{words.wind(self.limit_m_s)} could not be kept."
        )


@dataclass(frozen=True, slots=True)
class WindyButNeeded(Note):
    """Watered in the wind."""

    code: ClassVar[str] = "windy-but-needed"
    when: ClassVar[str] = "every permitted hour is windy, but the plants cannot wait; the calmest are used"
    means: ClassVar[str] = "Its plants could not wait; some water is blown away."
    do: ClassVar[str] = "See whether all of the zone gets wet."

    limit_m_s: float
    wind_m_s: float
    """The most in the hours that are used."""

    def sentence(self, words: Words) -> str:
        limit, wind = apart(words.wind, self.limit_m_s, self.wind_m_s)
        return (
            f"Every permitted hour has more wind than {limit}, but the plants could not wait. They are "
            f"watered in the calmest hours, at up to {wind}."
        )


ZONE_NOTES: Final[tuple[type[Note], ...]] = (
    AbsenceAhead,
    WaterAlreadyGiven,
    CannotLast,
    CouldRunDry,
    CycleAndSoak,
    PlantsDiffer,
    GroundSaturated,
    HoursTooShort,
    LeftDry,
    NewlyPlanted,
    NoChanceAhead,
    SeasonNotReplayed,
    WarmHours,
    WindUnknown,
    WarmHoursUnknown,
    WindyButNeeded,
)
"""One for each code."""
