"""What a planting transpires and how deep it roots, on any date."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduling.catalogue import Plant
from scheduling.fao56.crop_coefficient import (
    StageLengths,
    coefficient_on_day,
    end_of_season_coefficient,
    mid_season_coefficient,
)
from scheduling.fao56.root_zone import root_depth_on_day
from scheduling.garden import LandscapeCoefficient, Planting
from scheduling.landscape.coefficient import landscape_coefficient

LEAST_ROOT_DEPTH_M = 0.15
"""Roots of an annual on the day it is planted; FAO-56 page 279 gives 0.15 to 0.20 m."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Mean wind and dryness of the garden, by which FAO-56 adjusts Kc (equations 62 and 65)."""

    wind_2m_m_s: float = 2.0
    rh_min_pct: float = 45.0
    """The defaults are the climate that FAO-56 table 12 is printed for: no adjustment."""


@dataclass(frozen=True, slots=True)
class GrowingSeason:
    """Stages from a planting date."""

    planted_on: dt.date
    recurs: bool
    """True for perennials: the season comes again every year on the same day."""
    lengths: StageLengths
    kc_ini: float
    kc_mid: float
    kc_end: float

    def day_on(self, date: dt.date) -> int | None:
        """Number of a date within the season, 1 on the day of planting; None outside of it."""
        start = self.planted_on
        if self.recurs and date >= start:
            start = _anniversary(start, date.year)
            if start > date:
                start = _anniversary(start, date.year - 1)
        day = (date - start).days + 1
        return day if 1 <= day <= self.lengths.season_d else None


@dataclass(frozen=True, slots=True)
class Growth:
    """A planting's crop coefficient and root depth through the year."""

    kc_by_month: tuple[float, ...]
    """January to December; twelve times the same where it is constant, or outside a season."""
    season: GrowingSeason | None
    root_depth_m: float

    def on(self, date: dt.date) -> tuple[float, float, bool]:
        """Crop coefficient, depth of the roots [m], and whether the planting is dormant, on a date."""
        [(kc, root_depth_m, is_dormant)] = self.over((date,))
        return kc, root_depth_m, is_dormant

    def over(self, dates: Iterable[dt.date]) -> Iterator[tuple[float, float, bool]]:
        """The same for each of some dates.

        Outside a season Kc is that of the initial stage, as for bare or weedy soil (FAO-56,
        pages 208 and 209): a fallow bed goes on losing water. The roots of an annual grow until
        its mid-season.
        """
        season, months, root_depth_m = self.season, self.kc_by_month, self.root_depth_m
        if season is None:
            for date in dates:
                yield months[date.month - 1], root_depth_m, False
            return
        lengths, kc_ini, kc_mid, kc_end = season.lengths, season.kc_ini, season.kc_mid, season.kc_end
        least_m = root_depth_m if season.recurs else min(LEAST_ROOT_DEPTH_M, root_depth_m)
        grown_on = lengths.full_cover_day + 1
        for date in dates:
            day = season.day_on(date)
            since = (date - season.planted_on).days + 1
            depth_m = root_depth_on_day(since, grown_on, least_m, root_depth_m)
            if day is None:
                yield months[date.month - 1], depth_m, True
            else:
                yield coefficient_on_day(day, lengths, kc_ini, kc_mid, kc_end), depth_m, False


def growth_of(planting: Planting, plant: Plant, southern: bool, climate: Climate) -> Growth:
    """Put together how a planting grows, from what was given and what the catalogue says.

    What was given comes first: `kc`, then `kc_by_month`, then `landscape_coefficient`; else the
    catalogue's constant, monthly (turned by half a year in the south) or staged coefficient.
    A crop with stages and no planting date stands in its mid-season all year: the thirstiest
    guess, and the plan says that it is one.
    """
    root_depth_m = planting.root_depth_m or plant.root_depth_m
    months: tuple[float, ...] | None = None
    if planting.kc is not None:
        months = (planting.kc,) * 12
    elif planting.kc_by_month is not None:
        months = planting.kc_by_month
    elif planting.landscape_coefficient is not None:
        months = (_landscape(planting.landscape_coefficient),) * 12
    elif plant.kc is not None:
        months = (plant.kc,) * 12
    elif plant.kc_by_month is not None:
        months = plant.kc_by_month[6:] + plant.kc_by_month[:6] if southern else plant.kc_by_month
    if months is not None:
        return Growth(months, None, root_depth_m)

    stages = plant.stages
    assert stages is not None, plant.id  # the catalogue holds one of the three
    height_m = planting.height_m if planting.height_m is not None else plant.height_m
    kc_mid = mid_season_coefficient(stages.kc_mid, climate.wind_2m_m_s, climate.rh_min_pct, height_m)
    if planting.planted_on is None:
        return Growth((kc_mid,) * 12, None, root_depth_m)
    kc_end = end_of_season_coefficient(stages.kc_end, climate.wind_2m_m_s, climate.rh_min_pct, height_m)
    lengths = StageLengths(stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late)
    season = GrowingSeason(
        planting.planted_on, plant.kind != "vegetable", lengths, stages.kc_ini, kc_mid, kc_end
    )
    return Growth((stages.kc_ini,) * 12, season, root_depth_m)


def _landscape(given: LandscapeCoefficient) -> float:
    return landscape_coefficient(given.species, given.density, given.microclimate)


def _anniversary(date: dt.date, year: int) -> dt.date:
    """The same day of another year; 29 February becomes the 28th."""
    try:
        return date.replace(year=year)
    except ValueError:
        return date.replace(year=year, day=28)
