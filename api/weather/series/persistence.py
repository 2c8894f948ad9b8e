"""What is left where no source has answered for days: the days that were kept, and nothing about rain.

Tomorrow then asks for the mean of the last week that is known. That holds for some days and not for
long, so it wants enough days, and none too old.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from api.weather.series.local_days import ONE_DAY
from scheduling.balance.weather import IS_PROMISE, Origin, WeatherDay

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
        if day.date < today and day.is_complete and _was_foreseeable(day):
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


MARGIN_OF_A_DAY: Final = 0.1
"""Of the demand, for each day that a forecast is older than the evening before the plan's date. Our choice:
in a simulated summer, what an outage hid of the hottest day was a tenth a day."""
MOST_MARGIN: Final = 0.3
"""After three days nothing is planned from it any more."""


def margin_share(made_at: dt.datetime, stale: bool, date: dt.date, zone: ZoneInfo) -> float:
    """What to add to the demand of a plan's date and the days around it, 0 to 0.3.

    By dates, so that no plan changes while nothing happens.
    """
    evening_before = date - dt.timedelta(days=1)
    late_days = (evening_before - made_at.astimezone(zone).date()).days
    return min(MOST_MARGIN, MARGIN_OF_A_DAY * late_days) if stale and late_days > 0 else 0.0


def with_margin(
    days: Iterable[WeatherDay], share: float, made_at: dt.datetime, zone: ZoneInfo
) -> tuple[WeatherDay, ...]:
    """Days of which those after a forecast was made ask for more water by a share.

    Not so where their heat was measured. A second opinion grows along, so that the two still compare.
    """
    if not share:
        return tuple(days)
    made_on = made_at.astimezone(zone).date()
    return tuple(
        replace(
            day,
            eto_margin_share=share,
            source_eto_mm=None if day.source_eto_mm is None else day.source_eto_mm * (1.0 + share),
        )
        if day.date > made_on and day.origin in IS_PROMISE and "t_max_c" not in day.observed
        else day
        for day in days
    )
