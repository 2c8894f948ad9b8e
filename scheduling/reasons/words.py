"""Quantities, dates and lists as a sentence has them, for one reader."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

_WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Words:
    """How one reader is told of numbers and days."""

    seen_from: dt.date | None = None
    """The date that an answer is about; the coming days from it have names. None: none has."""

    def day(self, date: dt.date) -> str:
        """A weekday's name for the days of the coming week, else the date."""
        if self.seen_from is not None and 0 <= (date - self.seen_from).days <= 6:
            return _WEEKDAYS[date.weekday()]
        return date.isoformat()


METRIC: Final = Words()


def weekday(date: dt.date) -> str:
    """Its name."""
    return _WEEKDAYS[date.weekday()]


def lasting(seconds: float) -> str:
    """A length of time: 16 min, 2.5 h."""
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"
