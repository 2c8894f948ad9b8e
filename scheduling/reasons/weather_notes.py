"""Notes on a plan's weather and its watering hours."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from scheduling.reasons import Note
from scheduling.reasons.words import Words, called, counted, share


@dataclass(frozen=True, slots=True)
class EvapotranspirationDiffers(Note):
    """Two reckonings of a day's reference evapotranspiration are far apart."""

    code: ClassVar[str] = "evapotranspiration-differs"
    when: ClassVar[str] = (
        "the weather source's evaporation differs from the plan's by more than 1 mm and more than a quarter"
    )
    means: ClassVar[str] = "If the plan's figure is wrong, all zones get too much or too little."
    do: ClassVar[str] = "See whether the garden's position and height are right."

    date: dt.date
    theirs_mm: float
    ours_mm: float

    def sentence(self, words: Words) -> str:
        return (
            f"For {words.day(self.date)} the weather source has {words.depth(self.theirs_mm)} of "
            f"evaporation, this plan {words.depth(self.ours_mm)}. See whether the garden's place and height "
            "are right."
        )


@dataclass(frozen=True, slots=True)
class KeptDays(Note):
    """A plan by the last days that are known."""

    code: ClassVar[str] = "kept-days"
    when: ClassVar[str] = (
        "no source has answered for 72 hours; the plan goes by the mean of the last known days and counts on "
        "no rain"
    )
    means: ClassVar[str] = "The plants get what such days take; rain that comes is not saved."
    do: ClassVar[str] = "See whether this machine reaches the network; name a second weather source."

    answered_at: dt.datetime | None
    """When a source answered last; None: there is none, and the owner's measurements are all."""
    newest: dt.date
    coldest_c: float

    def sentence(self, words: Words) -> str:
        newest = words.dated(self.newest)
        why = "There is no forecast"
        if self.answered_at is not None:
            why = f"No weather has come since {_utc(self.answered_at, words)}"
        return (
            f"{why}. The plan goes by the mean of the days up to {newest}, counts on no rain, and expects "
            f"nights down to {words.temperature(self.coldest_c)}."
        )


@dataclass(frozen=True, slots=True)
class OldForecast(Note):
    """A forecast of the day before, or older."""

    code: ClassVar[str] = "old-forecast"
    when: ClassVar[str] = (
        "the newest forecast is a day old or older; demand counts a tenth more for each day of delay"
    )
    means: ClassVar[str] = "The plants get a little more than the forecast asks for, in case it got hotter."
    do: ClassVar[str] = "See whether this machine reaches the network; name a second weather source."

    answered_at: dt.datetime
    margin_share: float

    def sentence(self, words: Words) -> str:
        return (
            f"No weather has come since {_utc(self.answered_at, words)}. The plan lets plants use "
            f"{share(self.margin_share)} more, in case it gets hotter."
        )


@dataclass(frozen=True, slots=True)
class HoursAssumed(Note):
    """Hours before a source was first asked."""

    code: ClassVar[str] = "hours-assumed"
    when: ClassVar[str] = (
        "the weather source knows no past and was first asked on this date, before noon; the hours before "
        "are taken from the next day"
    )
    means: ClassVar[str] = "Rain of those hours is not counted; the next days are known in full."
    do: ClassVar[str] = "Nothing; a rain gauge can tell what fell."

    date: dt.date
    hours: int

    def sentence(self, words: Words) -> str:
        hours = "The first hour" if self.hours == 1 else f"The first {self.hours} hours"
        return (
            f"{hours} of {words.day(self.date)} had passed when the weather was first asked for. The plan "
            "takes the next day's in their place, without rain."
        )


@dataclass(frozen=True, slots=True)
class PastFromForecasts(Note):
    """Days that are over, known by their forecast only."""

    code: ClassVar[str] = "past-from-forecasts"
    when: ClassVar[str] = (
        "some days that are over are known from forecasts only; their rain counts by its chance"
    )
    means: ClassVar[str] = "The account of the soil's water is less sure than with measured days."
    do: ClassVar[str] = "Tell what a rain gauge held on those days."

    days: int
    of_days: int

    def sentence(self, words: Words) -> str:
        are = "is" if self.days == 1 else "are"
        return (
            f"{self.days} of the last {counted(self.of_days, 'day')} {are} known from forecasts only. Rain "
            "of such days counts by its chance."
        )


@dataclass(frozen=True, slots=True)
class RainDistrusted(Note):
    """A source that promised more rain than came."""

    code: ClassVar[str] = "rain-distrusted"
    when: ClassVar[str] = (
        "a source has promised more rain than came; its rain counts for less, but at least for a tenth "
        "(`trust_since` starts anew)"
    )
    means: ClassVar[str] = "The plants wait less often for rain that may not come."
    do: ClassVar[str] = "Nothing; set `trust_since` if the reason for it is over."

    source: str
    promised_mm: float
    since: dt.date
    came_mm: float
    trust_share: float

    def sentence(self, words: Words) -> str:
        return (
            f"Since {words.dated(self.since)} the forecast of {called(self.source)} promised "
            f"{words.depth(self.promised_mm)} of rain, and {words.depth(self.came_mm)} came. So its rain "
            f"counts for {share(self.trust_share)}."
        )


@dataclass(frozen=True, slots=True)
class WeatherBeginsLate(Note):
    """Whole weather begins late."""

    code: ClassVar[str] = "weather-gap"
    when: ClassVar[str] = "complete weather begins late, and the account with it"
    means: ClassVar[str] = "For some weeks the plants may get too much or too little."
    do: ClassVar[str] = "Soak the zones and give the date as `soil_full_on`, and the guess ends."

    first: dt.date

    def sentence(self, words: Words) -> str:
        first = words.dated(self.first)
        return f"Not all weather before {first} is known. How dry the soil was then is a guess."


@dataclass(frozen=True, slots=True)
class HoursClosed(Note):
    """Hours that are not open on a date."""

    code: ClassVar[str] = "hours-closed"
    when: ClassVar[str] = "there are no watering hours on this date, or none is left"
    means: ClassVar[str] = "Nothing is watered in those hours."
    do: ClassVar[str] = "Give hours that are open all year, or read the plan earlier in the evening."

    date: dt.date
    opens: str
    """As described: a clock time, `sunrise` or `sunset`."""
    closes: str
    why: Literal["no-length", "by-the-sun"]

    def sentence(self, words: Words) -> str:
        why = {
            "no-length": "they have no length",
            "by-the-sun": "by the sun they would end before they begin",
        }[self.why]
        day = words.day(self.date)
        return f"The hours from {self.opens} to {self.closes} are closed on {day}, because {why}."


@dataclass(frozen=True, slots=True)
class NoHoursLeft(Note):
    """The hours of a date are over, or there are none."""

    code: ClassVar[str] = HoursClosed.code
    do: ClassVar[str] = HoursClosed.do

    date: dt.date

    def sentence(self, words: Words) -> str:
        return f"No watering hours are left for {words.day(self.date)}."


@dataclass(frozen=True, slots=True)
class NoSunTime(Note):
    """The sun does not rise or set."""

    code: ClassVar[str] = "no-sun-time"
    when: ClassVar[str] = "the sun does not rise or set, so a clock time is used"
    means: ClassVar[str] = "Watering goes on by the clock."
    do: ClassVar[str] = "Nothing, or give the hours as clock times."

    event: str
    """`sunrise` or `sunset`."""
    stand_in: dt.time

    def sentence(self, words: Words) -> str:
        does = "rise" if self.event == "sunrise" else "set"
        return f"The sun does not {does} on these days, so {self.stand_in:%H:%M} is used."


def _utc(instant: dt.datetime, words: Words) -> str:
    instant = instant.astimezone(dt.UTC)
    return f"{instant:%H:%M} UTC on {words.dated(instant.date())}"


WEATHER_NOTES: Final[tuple[type[Note], ...]] = (
    EvapotranspirationDiffers,
    HoursAssumed,
    HoursClosed,
    KeptDays,
    NoSunTime,
    OldForecast,
    PastFromForecasts,
    RainDistrusted,
    WeatherBeginsLate,
)
"""One for each code."""
