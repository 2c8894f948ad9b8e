"""What an evening of a past season would have known of the days to come."""

from typing import NamedTuple, Protocol

from scheduling.season import DAYS_OF_MEAN_DEMAND, GardenDays

FORECAST_DAYS = 5
"""How far a forecast reaches: the plan's date and the four after it."""


class DayAhead(NamedTuple):
    """One day to come, as it is expected."""

    eto_mm: float
    rain_mm: float
    rain_probability: float
    lowest_c: float | None


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
    """No forecast at all: tomorrow is as the last week was, and dry."""

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        """Nothing."""
        return []


def mean_of_last_days(index: int, season: GardenDays) -> float:
    """Mean ETo of the week before a place in the columns; on the first day, its own. [mm]"""
    recent = season.eto_mm[max(0, index - DAYS_OF_MEAN_DEMAND) : index] or season.eto_mm[:1]
    return sum(recent) / len(recent)
