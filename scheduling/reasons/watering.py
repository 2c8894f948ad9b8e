"""Why a zone is watered or waits, in order of precedence."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final, Literal, NamedTuple

from scheduling import reasons
from scheduling.reasons import Decision, Reason
from scheduling.reasons.words import Words, weekday

Period = Literal["day", "week", "month"]
DayOfYear = tuple[int, int]
"""Month and day."""

_PERIODS: Final = {"day": "the date", "week": "the week, Monday to Sunday,", "month": "the month"}


class PlantInGround(NamedTuple):
    """A plant of a zone that is not in season."""

    plant: str
    planted_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Dormant(Reason):
    """Nothing of it is in season."""

    code: ClassVar[str] = reasons.DORMANT
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "outside the season of what is planted"
    means: ClassVar[str] = "Nothing grows that would use water."
    do: ClassVar[str] = "Nothing; when you plant again, change the planting date."

    date: dt.date
    plants: tuple[PlantInGround, ...]

    def sentence(self, words: Words) -> str:
        seasons = []
        for plant, planted_on in self.plants:
            planted = "" if planted_on is None else f", planted on {planted_on}"
            seasons.append(f"{plant}{planted}")
        return f"{self.date} lies outside the season of {' and of '.join(seasons)}."


@dataclass(frozen=True, slots=True)
class Paused(Reason):
    """Somebody paused it."""

    code: ClassVar[str] = reasons.PAUSED
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "one of `pauses` covers the date"
    means: ClassVar[str] = "It gets no water, however dry it is."
    do: ClassVar[str] = "End the pause if it is no longer meant."

    first: dt.date | DayOfYear
    """A day of the year: of every year."""
    last: dt.date | DayOfYear
    because: str

    def sentence(self, words: Words) -> str:
        because = f": {self.because}" if self.because else ""
        if isinstance(self.first, dt.date):
            return f"Paused from {self.first} to {self.last}{because}."
        assert not isinstance(self.last, dt.date)
        first, last = (f"{month:02}-{day:02}" for month, day in (self.first, self.last))
        return f"Paused every year from {first} to {last}{because}."


@dataclass(frozen=True, slots=True)
class NotAWateringDay(Reason):
    """Its rules leave the date out."""

    code: ClassVar[str] = reasons.NOT_A_WATERING_DAY
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "`watering_days` or `odd_even` leave the date out"
    means: ClassVar[str] = (
        "It waits for its next day; it got enough before to last until then, where it could."
    )
    do: ClassVar[str] = "Allow more days, if local rules do."

    date: dt.date
    weekdays: tuple[str, ...] | None
    """Those that are watering days, where this date's is not one of them."""
    odd_even: str | None

    def sentence(self, words: Words) -> str:
        if self.weekdays is not None:
            return f"{weekday(self.date)} is none of its watering days ({', '.join(self.weekdays)})."
        return f"Only {self.odd_even} dates are watering days; {self.date} is none."


@dataclass(frozen=True, slots=True)
class FrostRisk(Reason):
    """It may freeze."""

    code: ClassVar[str] = reasons.FROST_RISK
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "the forecast goes below `frost_limit_c` (5 °C) between the opening of the hours and the end of the "
        "date; with `frost_warm_hours`, only where no hour up to 15:00 stays above it for three hours more"
    )
    means: ClassVar[str] = "Water on leaves, pipes and paths could freeze. Plants use little in the cold."
    do: ClassVar[str] = "Nothing; where days are warm and dry, `frost_warm_hours` waters at noon."

    lowest_c: float
    """Rounded down, so that it is seen to be below the limit."""
    limit_c: float

    def sentence(self, words: Words) -> str:
        return (
            f"The forecast goes down to {self.lowest_c:.1f} °C, below the frost limit of {self.limit_c:g} °C."
        )


class Easily(NamedTuple):
    """How much of what roots can draw easily is used."""

    depletion_mm: float
    readily_available_mm: float
    plant: str | None
    """Whose roots, where several plants share the zone."""

    def in_words(self) -> str:
        """As the beginning of a sentence."""
        if self.depletion_mm <= self.readily_available_mm:
            used = (
                f"{self.depletion_mm:.1f} of {self.readily_available_mm:.1f} mm easily available water is "
                "used"
            )
        else:
            over_mm = self.depletion_mm - self.readily_available_mm
            used = (
                f"All {self.readily_available_mm:.1f} mm easily available water is used, and "
                f"{over_mm:.1f} mm beyond it"
            )
        return f"{self.plant}: {used}" if self.plant else used


class NextChance(NamedTuple):
    """When the zone can be watered next, and what its plants use until then."""

    date: dt.date
    is_watering_day: bool
    """Whether that is one of its watering days; else any day is one."""
    use_mm: float

    def in_words(self, words: Words) -> str:
        """The day, and what it is."""
        return (
            f"{words.day(self.date)}, the next "
            f"{'watering day' if self.is_watering_day else 'chance to water'}"
        )


Left = Literal["dry-ground", "rain-tomorrow", "fill-share", "rain"]


class Room(NamedTuple):
    """What a watering leaves unfilled, and why."""

    mm: float
    why: Left
    wetted_share: float = 1.0
    fill_share: float = 1.0
    counted_mm: float = 0.0
    """Rain that is counted on in the days that room is left for."""
    days: int = 0
    season_mm: float = 0.0
    """What the season brings on an average day."""
    counted_is_told: bool = False
    season_is_told: bool = False

    def in_words(self) -> str:
        """As a sentence."""
        left = f"{self.mm:.1f} mm are left free"
        match self.why:
            case "dry-ground":
                return (
                    f"{self.mm:.1f} mm stay unfilled, since only {self.wetted_share:.0%} of the ground gets "
                    "wet."
                )
            case "rain-tomorrow":
                return f"{left} for the rain."
            case "fill-share":
                return f"{left}, as fill_share {self.fill_share:g} has it."
            case "rain":
                by_season = f"the season brings {self.season_mm:.1f} mm a day"
                if not self.counted_is_told:
                    return f"{left} for rain: {by_season}."
                counted = f"{self.counted_mm:.1f} mm are counted on within {self.days} days"
                return f"{left} for rain: {counted}{f', and {by_season}' if self.season_is_told else ''}."


def _with(room: Room | None, sentence: str) -> str:
    return sentence if room is None else f"{sentence} {room.in_words()}"


@dataclass(frozen=True, slots=True)
class BeforeAbsence(Reason):
    """The last chance before nobody is there."""

    code: ClassVar[str] = reasons.BEFORE_ABSENCE
    decision: ClassVar[Decision] = "water"
    when: ClassVar[str] = (
        "the zone's last chance before nobody is there: it is filled up, without room for rain"
    )
    means: ClassVar[str] = "Its plants begin the absence with all the water that their soil holds."
    do: ClassVar[str] = "Look at its valve and emitters before you leave."

    used: Easily
    leaves_on: dt.date
    returns_on: dt.date
    room: Room | None = None

    def sentence(self, words: Words) -> str:
        return _with(
            self.room,
            f"{self.used.in_words()}; it is filled up, as this is its last chance before nobody is there, "
            f"from {self.leaves_on} to {self.returns_on}.",
        )


@dataclass(frozen=True, slots=True)
class SoilMoist(Reason):
    """The roots have enough."""

    code: ClassVar[str] = reasons.SOIL_MOIST
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "the roots have enough until the next chance to water, whether it rains or not"
    means: ClassVar[str] = "Its plants draw what they need without effort."
    do: ClassVar[str] = "Nothing."

    used: Easily
    chance: NextChance

    def sentence(self, words: Words) -> str:
        return (
            f"{self.used.in_words()}; the {self.chance.use_mm:.1f} mm more by "
            f"{self.chance.in_words(words)}, can be borne."
        )


@dataclass(frozen=True, slots=True)
class SoilFull(Reason):
    """Nothing is missing."""

    code: ClassVar[str] = reasons.SOIL_MOIST

    def sentence(self, words: Words) -> str:
        return "Nothing is missing: the root zone is full."


@dataclass(frozen=True, slots=True)
class LessThanAValveTakes(Reason):
    """A dose that rounds to nothing."""

    code: ClassVar[str] = reasons.SOIL_MOIST

    def sentence(self, words: Words) -> str:
        return "What is missing is less than a valve can be told to give."


@dataclass(frozen=True, slots=True)
class RainExpected(Reason):
    """Rain is likely to bring what is missing."""

    code: ClassVar[str] = reasons.RAIN_EXPECTED
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "rain that can be counted on brings it there, and the plants could bear its failing"
    means: ClassVar[str] = "If the rain stays away, its plants still last until they can be watered next."
    do: ClassVar[str] = "Nothing."

    used: Easily
    counted_mm: float
    until: dt.date

    def sentence(self, words: Words) -> str:
        return (
            f"{self.used.in_words()}; {self.counted_mm:.1f} mm of forecast rain is counted on by "
            f"{words.day(self.until)}."
        )


@dataclass(frozen=True, slots=True)
class TooWindy(Reason):
    """The wind would carry its water away."""

    code: ClassVar[str] = reasons.TOO_WINDY
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "water that comes through the air, and more wind than `wind_limit_m_s` (4 m/s at 2 m) in every "
        "permitted hour; plants that cannot wait are watered in the calmest"
    )
    means: ClassVar[str] = "Its plants can wait; in the wind much of the water would land elsewhere."
    do: ClassVar[str] = "Nothing; drip needs no calm."

    used: Easily
    limit_m_s: float
    calmest_m_s: float

    def sentence(self, words: Words) -> str:
        return (
            f"{self.used.in_words()}, but every permitted hour has more wind than {self.limit_m_s:g} m/s "
            f"(at 2 m; the calmest {self.calmest_m_s:.1f}), and the plants can wait."
        )


@dataclass(frozen=True, slots=True)
class AllowanceSpent(Reason):
    """The allowed litres do not do for all."""

    code: ClassVar[str] = reasons.ALLOWANCE_SPENT
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "`allowance_l` does not suffice for all; whole doses go by priority and thirst, and who went without "
        "is first next time"
    )
    means: ClassVar[str] = "It gets less than it needs, or nothing, until there are litres again."
    do: ClassVar[str] = "Give high priority to what must live. Raise the allowance if local rules let you."

    allowed_l: float
    period: Period

    def sentence(self, words: Words) -> str:
        return (
            f"The {self.allowed_l:.10g} l allowed for {_PERIODS[self.period]} do not suffice for all zones "
            "that want water."
        )


@dataclass(frozen=True, slots=True)
class HoursFull(Reason):
    """The watering hours do not do for all."""

    code: ClassVar[str] = reasons.HOURS_FULL
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "the watering hours are too short for all; shared likewise"
    means: ClassVar[str] = "It gets less than it needs, or nothing, and is among the first next time."
    do: ClassVar[str] = "Give longer watering hours, more watering days, or more flow."

    def sentence(self, words: Words) -> str:
        return "The watering hours are too short for all zones that want water."


@dataclass(frozen=True, slots=True)
class RainNotEnough(Reason):
    """Rain is likely, and its plants could not do without."""

    code: ClassVar[str] = reasons.RAIN_NOT_ENOUGH
    decision: ClassVar[Decision] = "water"
    when: ClassVar[str] = (
        "a rain day, but without that rain the zone could not stand it: it gets the least that lasts"
    )
    means: ClassVar[str] = "Its plants last until they can be watered next, with the rain or without it."
    do: ClassVar[str] = "Nothing."

    counted_mm: float
    chance: NextChance
    room: Room | None = None

    def sentence(self, words: Words) -> str:
        return _with(
            self.room,
            f"{self.counted_mm:.1f} mm of rain is counted on, but without it the zone could not stand it "
            f"until {self.chance.in_words(words)}: it gets the least that lasts.",
        )


@dataclass(frozen=True, slots=True)
class SoilDryingOut(Reason):
    """The roots would run out of what they draw easily."""

    code: ClassVar[str] = reasons.SOIL_DRYING_OUT
    decision: ClassVar[Decision] = "water"
    when: ClassVar[str] = "the easily available water would be used up before the next chance"
    means: ClassVar[str] = "Watered now, its plants do not suffer."
    do: ClassVar[str] = "Nothing."

    used: Easily
    chance: NextChance
    is_early_container: bool = False
    """A container, while nobody is there: half of what it can lose is kept."""
    room: Room | None = None

    def sentence(self, words: Words) -> str:
        text = f"{self.used.in_words()}; {self.chance.use_mm:.1f} mm more by {self.chance.in_words(words)}."
        if self.is_early_container:
            text += " While nobody is there, half of what a container has to lose is kept."
        return _with(self.room, text)


WATERING_REASONS: Final[tuple[type[Reason], ...]] = (
    Dormant,
    Paused,
    NotAWateringDay,
    FrostRisk,
    BeforeAbsence,
    SoilMoist,
    RainExpected,
    TooWindy,
    AllowanceSpent,
    HoursFull,
    RainNotEnough,
    SoilDryingOut,
)
"""One for each code, in order of precedence."""
