"""The wind and the dryness of a garden, by which FAO-56 adjusts Kc and Kcb (equations 62, 65, 70, 72).

The equations take means over a growth stage (page 121). So does this: a mean is taken over the days of
one stage of one season, or of one month, and days outside of it change nothing.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

PRINTED_WIND_M_S = 2.0
PRINTED_RH_MIN_PCT = 45.0
"""The climate for which FAO-56 prints tables 12 and 17: no adjustment."""
LEAST_DAYS_OF_MEAN = 7
"""A few days are no stage: what is short of a week is filled up with the printed climate. Our choice."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Wind, dryness and lowest temperature of consecutive days; without any, the printed climate."""

    first: dt.date = dt.date.max
    wind_2m_m_s: tuple[float, ...] = ()
    rh_min_pct: tuple[float, ...] = ()
    t_min_c: tuple[float, ...] = ()
    """As long as the others, or empty: nobody knows of frost."""

    def mean_over(self, first: dt.date, last: dt.date) -> tuple[float, float]:
        """Mean wind [m/s] and mean RHmin [%] over the known days between two dates, both included."""
        if not self.wind_2m_m_s:
            return PRINTED_WIND_M_S, PRINTED_RH_MIN_PCT
        start = max(0, (first - self.first).days)
        end = min(len(self.wind_2m_m_s), (last - self.first).days + 1)
        known = max(0, end - start)
        missing = max(0, LEAST_DAYS_OF_MEAN - known)
        wind = sum(self.wind_2m_m_s[start:end]) if known else 0.0
        humidity = sum(self.rh_min_pct[start:end]) if known else 0.0
        days = known + missing
        return (
            (wind + missing * PRINTED_WIND_M_S) / days,
            (humidity + missing * PRINTED_RH_MIN_PCT) / days,
        )

    def mean_of_month(self, date: dt.date) -> tuple[float, float]:
        """Mean wind and mean RHmin over the known days of the calendar month of a date."""
        first = date.replace(day=1)
        return self.mean_over(first, (first + dt.timedelta(days=31)).replace(day=1) - dt.timedelta(days=1))

    def by_month(self, dates: Iterable[dt.date]) -> list[tuple[float, float]]:
        """The mean wind and RHmin of the month of each of some dates."""
        means: dict[dt.date, tuple[float, float]] = {}
        columns = []
        for date in dates:
            month = date.replace(day=1)
            if month not in means:
                means[month] = self.mean_of_month(month)
            columns.append(means[month])
        return columns

    def first_frost(self, first: dt.date, last: dt.date, limit_c: float) -> dt.date | None:
        """First known day between two dates that falls to a temperature. [°C]"""
        start = max(0, (first - self.first).days) if self.t_min_c else 0
        for place in range(start, len(self.t_min_c)):
            date = self.first + dt.timedelta(days=place)
            if date > last:
                return None
            if self.t_min_c[place] <= limit_c:
                return date
        return None
