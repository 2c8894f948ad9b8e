"""Why a zone is watered or waits, in order of precedence."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final, Literal, NamedTuple

from scheduling import reasons
from scheduling.reasons import Decision, Reason
from scheduling.reasons.words import Words, apart, capital, counted, day_of_year, listed, share, weekday

Period = Literal["day", "week", "month"]
DayOfYear = tuple[int, int]
"""Month and day."""


class PlantInGround(NamedTuple):
    """A plant of a zone that is not in season."""

    plant: str
    planted_on: dt.date | None


@dataclass(frozen=True, slots=True)
class Dormant(Reason):
    """Nothing of it is in season."""

    code: ClassVar[str] = reasons.DORMANT
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "the date is outside the season of what is planted"
    means: ClassVar[str] = "Nothing grows that would use water."
    do: ClassVar[str] = "Nothing; when you plant again, change the planting date."

    date: dt.date
    plants: tuple[PlantInGround, ...]

    def sentence(self, words: Words) -> str:
        first = self.plants[0]
        if len(self.plants) == 1 and first.planted_on is not None and first.planted_on > self.date:
            day = words.dated(first.planted_on)
            return f"Planting day of the {first.plant} is {day}, so there is nothing to water yet."
        plants = [f"the {plant}{self._planted(planted_on, words)}" for plant, planted_on in self.plants]
        return f"It is not the season of {listed(plants)}, so it needs no water now."

    def _planted(self, planted_on: dt.date | None, words: Words) -> str:
        if planted_on is None:
            return ""
        return f"{' to be' if planted_on > self.date else ''} planted on {words.dated(planted_on)}"


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
        if isinstance(self.first, dt.date) and isinstance(self.last, dt.date):
            first, last = words.days(self.first, self.last)
            return f"Paused from {first} to {last}{because}."
        assert not isinstance(self.first, dt.date)
        assert not isinstance(self.last, dt.date)
        return f"Paused every year from {day_of_year(*self.first)} to {day_of_year(*self.last)}{because}."


@dataclass(frozen=True, slots=True)
class NotAWateringDay(Reason):
    """Its rules leave the date out."""

    code: ClassVar[str] = reasons.NOT_A_WATERING_DAY
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "`watering_days` or `odd_even` leave the date out"
    means: ClassVar[str] = (
        "It waits for its next day; where it could, it got enough before to last until then."
    )
    do: ClassVar[str] = "Allow more days, if local rules do."

    date: dt.date
    weekdays: tuple[int, ...] | None
    """Those that are watering days, Monday is 0, where this date's is not one of them."""
    odd_even: str | None

    def sentence(self, words: Words) -> str:
        if self.weekdays is not None:
            allowed = ", ".join(weekday(day) for day in self.weekdays)
            return f"{weekday(self.date.weekday())} is not a watering day here ({allowed})."
        other = "odd" if self.odd_even == "even" else "even"
        return (
            f"{words.dated(self.date)} is an {other} date, and watering is allowed on {self.odd_even} dates "
            "only."
        )


@dataclass(frozen=True, slots=True)
class FrostRisk(Reason):
    """It may freeze."""

    code: ClassVar[str] = reasons.FROST_RISK
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "the forecast goes below `frost_limit_c` (5 °C) between the opening of the hours and the end of the "
        "date; `frost_warm_hours` may find a warm hour"
    )
    means: ClassVar[str] = "Water on leaves, pipes and paths could freeze. Plants use little in the cold."
    do: ClassVar[str] = "Nothing; where days are warm and dry, `frost_warm_hours` waters at noon."

    lowest_c: float
    """Rounded down, so that it is seen to be below the limit."""
    limit_c: float

    def sentence(self, words: Words) -> str:
        return (
            f"The forecast goes down to {words.temperature(self.lowest_c)}, below the frost limit of "
            f"{words.temperature(self.limit_c)}."
        )


class Easily(NamedTuple):
    """How much of what roots can draw easily is used."""

    depletion_mm: float
    readily_available_mm: float
    plant: str | None
    """Whose roots, where several plants share the zone."""

    @property
    def whose(self) -> str:
        """The roots, as the beginning of a sentence."""
        return f"The roots of the {self.plant}" if self.plant else "Roots"

    def in_words(self, words: Words) -> str:
        """As the beginning of a sentence. What is told is chosen after rounding."""
        raw = f"{words.depth(self.readily_available_mm)} they can draw easily"
        over_mm = self.depletion_mm - self.readily_available_mm
        if not words.is_seen(self.depletion_mm):
            return f"{self.whose} have used hardly any of the {raw}"
        if words.is_seen(over_mm):
            return (
                f"{self.whose} have used all {raw} and {words.depth(over_mm)} they can only draw with effort"
            )
        if words.is_as_much(self.depletion_mm, self.readily_available_mm):
            return f"{self.whose} have used all {raw}"
        return f"{self.whose} have used {words.depth_number(self.depletion_mm)} of the {raw}"


class NextChance(NamedTuple):
    """When the zone can be watered next, and what its plants use until then."""

    date: dt.date
    use_mm: float
    is_next: bool = True
    """Whether the rules let it be watered then; else it is as far as can be seen."""


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

    def in_words(self, words: Words) -> str:
        """As a sentence."""
        last = f"the last {words.depth(self.mm)}"
        left = f"{capital(last)} are left free for"
        match self.why:
            case "dry-ground":
                return (
                    f"Only {share(self.wetted_share)} of the ground gets wet, so {last} cannot be refilled."
                )
            case "rain-tomorrow":
                return f"{left} the rain."
            case "fill-share":
                return (
                    f"{capital(last)} are left dry, because this zone is set to refill "
                    f"{share(self.fill_share)} of what is missing."
                )
            case "rain":
                by_season = f"the season brings {words.depth(self.season_mm)} a day"
                if not self.counted_is_told:
                    return f"{left} rain, as {by_season}."
                likely = f"about {words.depth(self.counted_mm)} is likely within {counted(self.days, 'day')}"
                return f"{left} rain: {likely}{f', and {by_season}' if self.season_is_told else ''}."


@dataclass(frozen=True, slots=True)
class BeforeAbsence(Reason):
    """The last chance before nobody is there."""

    code: ClassVar[str] = reasons.BEFORE_ABSENCE
    decision: ClassVar[Decision] = "water"
    when: ClassVar[str] = (
        "it is the zone's last chance before you are away; it is filled up, without room for rain"
    )
    means: ClassVar[str] = "Its plants begin the absence with all the water that their soil holds."
    do: ClassVar[str] = "Look at its valve and emitters before you leave."

    leaves_on: dt.date
    returns_on: dt.date
    room: Room | None = None

    def sentence(self, words: Words) -> str:
        leaves, returns = words.days(self.leaves_on, self.returns_on)
        filled = "So the zone is filled up." if self.room is None else self.room.in_words(words)
        return (
            f"You are away from {leaves} to {returns}, and this is the last chance to water before. {filled}"
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
        left_mm = self.used.readily_available_mm - self.used.depletion_mm
        use = words.about(self.chance.use_mm)
        until = words.day(self.chance.date)
        if not words.is_seen(left_mm):
            return f"{self.used.in_words(words)}. They will use {use} by {until}, and can wait that long."
        return (
            f"{self.used.whose} still have {words.depth(left_mm)} they can draw easily. They will use {use} "
            f"by {until}, so it can wait."
        )


@dataclass(frozen=True, slots=True)
class SoilFull(Reason):
    """Nothing is missing."""

    code: ClassVar[str] = reasons.SOIL_MOIST

    def sentence(self, words: Words) -> str:
        return "The soil around the roots is full, so nothing is missing."


@dataclass(frozen=True, slots=True)
class LessThanAValveTakes(Reason):
    """A dose that rounds to nothing."""

    code: ClassVar[str] = reasons.SOIL_MOIST

    def sentence(self, words: Words) -> str:
        return "So little is missing that the valve cannot give it."


@dataclass(frozen=True, slots=True)
class RainExpected(Reason):
    """Rain is likely to bring what is missing."""

    code: ClassVar[str] = reasons.RAIN_EXPECTED
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "likely rain brings enough, and the plants would last even if it stays away"
    means: ClassVar[str] = "If the rain stays away, its plants still last until they can be watered next."
    do: ClassVar[str] = "Nothing."

    used: Easily
    counted_mm: float
    until: dt.date

    def sentence(self, words: Words) -> str:
        return (
            f"{self.used.in_words(words)}. {capital(words.about(self.counted_mm))} of rain can be relied on "
            f"by {words.day(self.until)}, so it can wait."
        )


@dataclass(frozen=True, slots=True)
class TooWindy(Reason):
    """The wind would carry its water away."""

    code: ClassVar[str] = reasons.TOO_WINDY
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "every permitted hour has more wind than `wind_limit_m_s` (4 m/s at 2 m), water comes through the "
        "air, and the plants can wait"
    )
    means: ClassVar[str] = "Its plants can wait; in the wind much of the water would land elsewhere."
    do: ClassVar[str] = "Nothing; drip needs no calm."

    limit_m_s: float
    calmest_m_s: float

    def sentence(self, words: Words) -> str:
        calmest, limit = apart(words.wind, self.calmest_m_s, self.limit_m_s)
        return (
            f"Even the calmest permitted hour has wind of {calmest}, above the limit of {limit}. The plants "
            "can wait."
        )


@dataclass(frozen=True, slots=True)
class AllowanceSpent(Reason):
    """The allowed litres do not do for all."""

    code: ClassVar[str] = reasons.ALLOWANCE_SPENT
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = (
        "`allowance_l`, spread over the dates left, is not enough for all; whole doses go by priority and "
        "thirst, and who went without comes earlier"
    )
    means: ClassVar[str] = "It gets less than it needs, or nothing, until there are litres again."
    do: ClassVar[str] = "Give high priority to what must live. Raise the allowance if local rules let you."

    allowed_l: float
    period: Period

    def sentence(self, words: Words) -> str:
        return (
            f"The {words.volume(self.allowed_l)} allowed for the {self.period} are not enough for all zones "
            "that need water."
        )


@dataclass(frozen=True, slots=True)
class HoursFull(Reason):
    """The watering hours do not do for all."""

    code: ClassVar[str] = reasons.HOURS_FULL
    decision: ClassVar[Decision] = "wait"
    when: ClassVar[str] = "the watering hours are too short for all; they are shared in the same way"
    means: ClassVar[str] = "It gets less than it needs, or nothing, and is among the first next time."
    do: ClassVar[str] = "Give longer watering hours, more watering days, or more flow."

    def sentence(self, words: Words) -> str:
        return "The watering hours are too short for all zones that need water."


@dataclass(frozen=True, slots=True)
class RainNotEnough(Reason):
    """Rain is likely, and its plants could not do without."""

    code: ClassVar[str] = reasons.RAIN_NOT_ENOUGH
    decision: ClassVar[Decision] = "water"
    when: ClassVar[str] = (
        "rain is likely, but the plants could not last if it stays away; they get just enough"
    )
    means: ClassVar[str] = "Its plants last until they can be watered next, with the rain or without it."
    do: ClassVar[str] = "Nothing."

    counted_mm: float
    chance: NextChance
    room: Room | None = None

    def sentence(self, words: Words) -> str:
        until = words.day(self.chance.date)
        free = ""
        if self.room is not None and self.room.why == "rain-tomorrow":
            free = f", which leaves {words.depth(self.room.mm)} free for the rain"
        return (
            f"{capital(words.about(self.counted_mm))} of rain is likely, but if it stays away the plants "
            f"would suffer before {until}. They get just enough to last until then{free}."
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
        used = self.used.in_words(words)
        until = words.day(self.chance.date)
        text = f"{used}, and will use {words.about(self.chance.use_mm)} more before {until}"
        if self.chance.is_next:
            text += ", the next day it can be watered"
        if self.is_early_container:
            return f"{text}. While you are away, pots are watered when half of their easy water is left."
        return f"{text}." if self.room is None else f"{text}. {self.room.in_words(words)}"


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
