"""What is left where no source has answered for days: the days that were kept, and nothing about rain.

Tomorrow then asks for the mean of the last week that is known. That holds for some days and not for
long, so it wants enough days, and none too old.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final, NamedTuple

from api.weather.days import ONE_DAY
from api.weather.keeping import is_complete
from scheduling.weather import IS_PROMISE, Origin, WeatherDay

LEAST_DAYS: Final = 7
"""A mean of fewer is one spell of weather. Our choice, no source."""
OLDEST_DAYS: Final = 10
"""The last day that is known lies at most so far back: later, the season has moved on. Our choice."""
FORESEEN_DAYS: Final = 3
"""A forecast counts for days so far after it was made, 72 hours, as it does for plans."""
COLDEST_OF_DAYS: Final = 14
"""Frost is feared as in so many of the last days that are known: twice the week, for it may turn colder."""
ASSUMED_AHEAD: Final = 2
"""Tomorrow, and the day after it for hours that open late tomorrow."""


class KeptDays(NamedTuple):
    """Days that are known, followed by assumed ones up to the day after tomorrow."""

    days: tuple[WeatherDay, ...]
    newest: dt.date
    """The last that is known."""
    lowest_c: float
    """Lowest temperature of the last fortnight that is known."""


def kept_days(days: Sequence[WeatherDay], today: dt.date) -> KeptDays | None:
    """Make do with the days at hand; None where they are too few or too old to be fair.

    `days` follow each other, as a forecast has them. What counts is the last unbroken stretch of
    days that are over and whole.
    """
    known: list[WeatherDay] = []
    for day in days:
        if day.date < today and is_complete(day) and _was_foreseeable(day):
            if known and day.date != known[-1].date + ONE_DAY:
                known.clear()
            known.append(day)
    if len(known) < LEAST_DAYS or (today - known[-1].date).days > OLDEST_DAYS:
        return None
    newest = known[-1].date
    count = (today - newest).days + ASSUMED_AHEAD
    assumed = (
        WeatherDay(newest + number * ONE_DAY, origin=Origin.ASSUMED, source="none")
        for number in range(1, count + 1)
    )
    lowest_c = min(day.t_min_c for day in known[-COLDEST_OF_DAYS:] if day.t_min_c is not None)
    return KeptDays((*known, *assumed), newest, lowest_c)


def _was_foreseeable(day: WeatherDay) -> bool:
    if day.origin not in IS_PROMISE or day.retrieved_at is None:
        return True
    return (day.date - day.retrieved_at.date()).days <= FORESEEN_DAYS
