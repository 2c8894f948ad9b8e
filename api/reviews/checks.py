"""A garden in, with the hours that its sun gives it; what is odd about it out."""

import datetime as dt
from typing import Final
from zoneinfo import ZoneInfo

from api.watering_hours import DEFAULT_HOURS, hours_of
from scheduling.check.check import check_garden
from scheduling.check.hours import HoursOverYear
from scheduling.garden.description import Garden
from scheduling.reasons import Finding

DAYS_OF_A_YEAR: Final = 366
ONE_DAY: Final = dt.timedelta(days=1)
LOOK_EVERY_DAYS: Final = 7
"""The sun moves by a quarter of an hour a week at most in the latitudes of gardens."""


def findings_of(garden: Garden, now: dt.datetime) -> tuple[Finding, ...]:
    """What is odd about a garden in the year from a moment on.

    Raises
    ------
    InvalidGarden, UnknownName
        A zone whose numbers cannot be.
    """
    today = now.astimezone(ZoneInfo(garden.timezone)).date()
    dates = [today + ahead * ONE_DAY for ahead in range(DAYS_OF_A_YEAR)]
    hours = HoursOverYear(
        dates=dates,
        spans=[(date, hours_of(garden, date).spans) for date in dates[::LOOK_EVERY_DAYS]],
        described=len(garden.rules.watering_hours or DEFAULT_HOURS),
    )
    return check_garden(garden, hours)
