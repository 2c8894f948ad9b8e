"""What is added to the demand of days that an old forecast tells of: heat that it could not see coming.

A forecast of yesterday misses the rise of a hot spell. Water given a day early is not lost, the ledger has
it; a day of stress is.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from typing import Final
from zoneinfo import ZoneInfo

from scheduling.weather import IS_PROMISE, WeatherDay

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
