"""Quantities, dates and lists as a sentence has them: in the reader's units, with digits of use to him.

Every number that a person reads in a sentence is written here, so that the same quantity reads the same
everywhere. What rounds to nothing is never written as 0.0: a sentence asks `is_seen` first, or gets
"less than 0.1 mm".
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

Units = Literal["metric", "us"]
UNITS: Final[tuple[Units, ...]] = ("metric", "us")

_WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
MOST_DIGITS_MORE: Final = 2
"""What looks the same with so many digits more is the same to anybody."""
DAYS_WITH_NAMES: Final = 6
"""So many days after a date a weekday is one only."""

MM_PER_INCH: Final = 25.4
LITRES_PER_GALLON: Final = 3.785411784
"""US gallon: 231 cubic inches."""
M2_PER_SQUARE_FOOT: Final = 0.3048**2
M_S_PER_MPH: Final = 0.44704


@dataclass(frozen=True, slots=True)
class Words:
    """How one reader is told of numbers and days."""

    seen_from: dt.date | None = None
    """The date that an answer is about; the six days after it have names. None: no day has."""
    units: Units = "metric"

    @property
    def _is_us(self) -> bool:
        return self.units == "us"

    # Depths

    def depth_number(self, depth_mm: float) -> str:
        """A depth without its unit: 8.6, or 0.34 of an inch."""
        return f"{depth_mm / MM_PER_INCH:.2f}" if self._is_us else f"{depth_mm:.1f}"

    @property
    def depth_unit(self) -> str:
        """That of depths."""
        return "inches" if self._is_us else "mm"

    def is_seen(self, depth_mm: float) -> bool:
        """Whether a depth is more than nothing once it is rounded."""
        return float(self.depth_number(depth_mm)) > 0.0

    def is_as_much(self, depth_mm: float, other_mm: float) -> bool:
        """Whether a depth is at least another once both are rounded."""
        return float(self.depth_number(depth_mm)) >= float(self.depth_number(other_mm))

    def depth(self, depth_mm: float) -> str:
        """A depth of water: 8.6 mm."""
        if depth_mm > 0.0 and not self.is_seen(depth_mm):
            return "less than 0.01 inches" if self._is_us else "less than 0.1 mm"
        if not self.is_seen(depth_mm):
            return f"0 {self.depth_unit}"
        return f"{self.depth_number(depth_mm)} {self.depth_unit}"

    def about(self, depth_mm: float) -> str:
        """A depth that is reckoned: about 4.3 mm; of next to nothing less than 0.1 mm."""
        return f"about {self.depth(depth_mm)}" if self.is_seen(depth_mm) else self.depth(depth_mm)

    def rate(self, rate_mm_h: float) -> str:
        """How fast water arrives: 14 mm an hour."""
        return f"{self.rate_number(rate_mm_h)} {self.rate_unit}"

    def rate_number(self, rate_mm_h: float, more: int = 0) -> str:
        """The same without its unit; `more` digits than usual."""
        if self._is_us:
            return _at_least(rate_mm_h / MM_PER_INCH, 2 + more)
        return _at_least(rate_mm_h, (0 if rate_mm_h >= 1.0 else 1) + more)

    @property
    def rate_unit(self) -> str:
        """That of rates."""
        return f"{self.depth_unit} an hour"

    # Volumes

    def volume_number(self, volume_l: float, more: int = 0) -> str:
        """A volume without its unit: 1,214, or 9.5; `more` digits than usual."""
        return _quantity(volume_l / LITRES_PER_GALLON if self._is_us else volume_l, more)

    @property
    def volume_unit(self) -> str:
        """That of volumes."""
        return "gallons" if self._is_us else "litres"

    def volume(self, volume_l: float) -> str:
        """A volume of water: 1,214 litres."""
        number = self.volume_number(volume_l)
        return f"{number} {self.volume_unit[:-1] if number == '1' else self.volume_unit}"

    def flow(self, flow_l_min: float) -> str:
        """What flows in a minute: 14 litres a minute."""
        return f"{self.volume(flow_l_min)} a minute"

    # Other quantities

    def temperature(self, celsius: float) -> str:
        """A temperature to a tenth: 4.9 °C; of whole degrees 5 °C."""
        degrees = celsius * 1.8 + 32.0 if self._is_us else celsius
        return f"{_tenths(degrees)} °{'F' if self._is_us else 'C'}"

    def wind(self, wind_m_s: float, more: int = 0) -> str:
        """A wind speed to a tenth: 4.6 m/s; `more` digits than usual."""
        if self._is_us:
            return f"{_tenths(wind_m_s / M_S_PER_MPH, more)} miles an hour"
        return f"{_tenths(wind_m_s, more)} m/s"

    def area(self, area_m2: float) -> str:
        """An area: 60 m²."""
        if self._is_us:
            return f"{_quantity(area_m2 / M2_PER_SQUARE_FOOT)} square feet"
        return f"{_quantity(area_m2)} m²"

    def length(self, length_m: float) -> str:
        """A length in the soil: 30 cm."""
        return (
            f"{length_m * 1000.0 / MM_PER_INCH:.0f} inches" if self._is_us else f"{length_m * 100.0:.0f} cm"
        )

    # Days

    def day(self, date: dt.date) -> str:
        """The name of a coming day, else its date: Thursday, 17 June, 17 June 2027."""
        return self.days(date)[0]

    def days(self, *dates: dt.date) -> tuple[str, ...]:
        """Several days of one sentence, all of them named or all of them dated."""
        if all(self._has_name(date) for date in dates):
            return tuple(_WEEKDAYS[date.weekday()] for date in dates)
        return tuple(self.dated(date) for date in dates)

    def _has_name(self, date: dt.date) -> bool:
        return self.seen_from is not None and 0 <= (date - self.seen_from).days <= DAYS_WITH_NAMES

    def dated(self, date: dt.date) -> str:
        """A date without its weekday: 17 June, 17 June 2027."""
        is_this_year = self.seen_from is not None and date.year == self.seen_from.year
        return f"{day_of_year(date.month, date.day)}{'' if is_this_year else f' {date.year}'}"

    def moment(self, instant: dt.datetime) -> str:
        """A moment by the clock that it is given in: 04:29 on Thursday."""
        return f"{instant:%H:%M} on {self.day(instant.date())}"

    def span(self, first: dt.datetime, last: dt.datetime) -> tuple[str, str]:
        """Two moments, the day said once where it is the same."""
        if first.date() == last.date():
            return f"{first:%H:%M}", self.moment(last)
        days = self.days(first.date(), last.date())
        return f"{first:%H:%M} on {days[0]}", f"{last:%H:%M} on {days[1]}"


METRIC: Final = Words()


def share(part: float) -> str:
    """A share: 60 %."""
    if 0.0 < part < 0.005:
        return "less than 1 %"
    return f"{part:.0%}".replace("%", " %")


def little(part: float) -> str:
    """A share that is too small: only 24 %; of next to nothing hardly any."""
    return f"only {share(part)}" if part >= 0.005 else "hardly any"


def duration(seconds: float, more: int = 0) -> str:
    """A length of time: 44 minutes, 2.5 hours; `more` digits than usual."""
    if seconds >= 5400.0:
        return f"{_tenths(seconds / 3600.0, more)} hours"
    if more:
        return f"{_tenths(seconds / 60.0, more - 1)} minutes"
    minutes = round(seconds / 60.0)
    return "less than a minute" if minutes == 0 else counted(minutes, "minute")


def apart(write: Callable[[float, int], str], first: float, second: float) -> tuple[str, str]:
    """Two quantities of which one is larger, with more digits where they would look the same without."""
    for more in range(MOST_DIGITS_MORE):
        written = write(first, more), write(second, more)
        if written[0] != written[1]:
            return written
    return write(first, MOST_DIGITS_MORE), write(second, MOST_DIGITS_MORE)


def counted(count: int, thing: str) -> str:
    """So many of a thing whose plural ends in s: 1 zone, 2 zones, 1,200 days."""
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def about_days(days: float) -> str:
    """Days that are reckoned, not counted: 2 days, 11 days."""
    return counted(max(1, round(days)), "day")


def listed(things: Sequence[str], last: str = "and") -> str:
    """Several things: a, b and c."""
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} {last} {things[-1]}"


def day_of_year(month: int, day: int) -> str:
    """A day of every year: 15 November."""
    return f"{day} {_MONTHS[month - 1]}"


def month_name(month: int) -> str:
    """1 is January."""
    return _MONTHS[month - 1]


def weekday(day: int) -> str:
    """0 is Monday."""
    return _WEEKDAYS[day]


def called(name: str) -> str:
    """An id in the place of a name that nobody gave: its words, apart."""
    return name.replace("-", " ").replace("_", " ")


def capital(text: str) -> str:
    """The same as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def _quantity(value: float, more: int = 0) -> str:
    """Whole from 10 on, with a tenth below."""
    return f"{value:,.{more}f}" if value >= 9.95 else _at_least(value, 1 + more)


def _at_least(value: float, digits: int) -> str:
    """Rounded, without a trailing 0 behind the point; never nothing where there is something."""
    text = f"{value:,.{digits}f}"
    if value > 0.0 and float(text.replace(",", "")) == 0.0:
        return f"less than {10.0**-digits:g}"
    return text.removesuffix(".0")


def _tenths(value: float, more: int = 0) -> str:
    """To a tenth, whole numbers without a point, and 0 without a sign."""
    return f"{round(value, 1 + more) + 0.0:.{1 + more}f}".rstrip("0").removesuffix(".")
