"""What an evening of a past season would have known of the days to come."""

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple, Protocol

from scheduling.balance.garden_series import (
    DAYS_COUNTED_AHEAD,
    DAYS_OF_MEAN_DEMAND,
    FARTHER_RAIN_SHARE,
    LEAST_DAYS_OF_MEAN_RAIN,
    GardenDays,
)
from scheduling.balance.soil_water import close_day
from scheduling.balance.stand import PreparedZone
from scheduling.landscape.counted_rain import counted_depth_mm
from scheduling.landscape.infiltration import DAYS_THAT_SOAK

FORECAST_DAYS = 5
"""How far a forecast reaches: the plan's date and the four after it."""


class DayAhead(NamedTuple):
    """One day to come, as it is expected."""

    eto_mm: float
    rain_mm: float
    rain_probability: float
    lowest_c: float | None
    """None: not known, so that no frost is feared."""


class Foresight(Protocol):
    """What is expected of the days from a place in the columns on, seen from the evening before it."""

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        """The days that are forecast: the date at `index` first. Fewer where nothing more is known."""
        ...


class Perfect:
    """A forecast that always comes true, five days ahead."""

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        """What will be."""
        last = min(index + FORECAST_DAYS, season.known)
        return [
            DayAhead(season.eto_mm[day], season.certain_rain_mm[day], 1.0, season.lowest_c[day])
            for day in range(index, last)
        ]


class NoForecast:
    """No forecast at all: tomorrow is as the last week was, dry, and without frost."""

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        """Nothing."""
        return []


def evening_before(
    index: int, season: GardenDays, foresight: Foresight, fallen_mm: float, window_days: int
) -> GardenDays:
    """The days to come as the evening before one of them sees them.

    What is forecast comes first, then the mean demand of the last week of that, without rain.

    Parameters
    ----------
    index : int
        Place of the first of these days in the season's columns.
    fallen_mm : float
        Rain of all days before it.
    window_days : int
        How many days to look over.
    """
    ahead = foresight.ahead(index, season)[:window_days]
    beyond = window_days - len(ahead)
    counted = [
        counted_depth_mm(expected.rain_mm, expected.rain_probability)
        * (1.0 if place <= DAYS_COUNTED_AHEAD else FARTHER_RAIN_SHARE)
        for place, expected in enumerate(ahead)
    ]
    eto_mm = [expected.eto_mm for expected in ahead]
    nothing = [0.0] * beyond
    first = season.dates[index]
    return GardenDays(
        dates=[first + dt.timedelta(days=place) for place in range(window_days)],
        eto_mm=eto_mm + [_mean_of_last_days(index, season, eto_mm)] * beyond,
        certain_rain_mm=[0.0] * window_days,
        counted_rain_mm=counted + nothing,
        forecast_rain_mm=[expected.rain_mm for expected in ahead] + nothing,
        lowest_c=[expected.lowest_c for expected in ahead] + [None] * beyond,
        estimated=[()] * window_days,
        climate=season.climate,
        mean_rain_mm=fallen_mm / max(index, LEAST_DAYS_OF_MEAN_RAIN),
        known=len(ahead),
        rain_before_mm=season.certain_rain_mm[max(0, index - DAYS_THAT_SOAK) : index],
    )


def _mean_of_last_days(index: int, season: GardenDays, ahead_mm: list[float]) -> float:
    """Mean ETo of the last week that is known or forecast; where nothing is, the first day's own. [mm]"""
    known = season.eto_mm[max(0, index - DAYS_OF_MEAN_DEMAND) : index] + ahead_mm
    recent = known[-DAYS_OF_MEAN_DEMAND:] or season.eto_mm[:1]
    return sum(recent) / len(recent)


def clairvoyant_mm(stands: Sequence[PreparedZone], openings_mm: Sequence[float]) -> float:
    """Water of who knows everything and waters every day just so that all close at RAW. [mm]

    No way of watering that closes every day of the season at RAW or wetter takes less: to give
    water later never drains more of it. With the dual coefficient, what evaporates is taken as the
    columns have it, whenever the clairvoyant waters.
    """
    depletions = list(openings_mm)
    total = 0.0
    for day in range(len(stands[0].days.etc_mm)):
        net = 0.0
        for place, stand in enumerate(stands):
            zone = stand.days
            depletions[place] = min(depletions[place], zone.taw_mm[day])
            if not zone.dormant[day]:
                wet = depletions[place] - zone.certain_rain_mm[day]
                net = max(net, wet + zone.etc_mm[day] - zone.due_mm[day])
        total += net
        for place, stand in enumerate(stands):
            zone = stand.days
            depletions[place] = close_day(
                depletions[place],
                zone.certain_rain_mm[day],
                net,
                zone.etc_mm[day],
                zone.taw_mm[day],
                zone.raw_mm[day],
                evaporation_mm=0.0 if zone.evaporation_mm is None else zone.evaporation_mm[day],
            )[3]
    return total
