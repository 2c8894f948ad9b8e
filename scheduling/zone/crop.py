"""What a planting transpires and how deep it roots, on any date.

An annual's stages begin on the day it is planted. A perennial's season comes again every year,
when its leaves open; for how long its roots have been growing counts from the day it was
planted, and one without such a day is taken to be established.
"""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from scheduling import catalogue
from scheduling.catalogue import Plant
from scheduling.fao56.crop_coefficient import (
    StageLengths,
    coefficient_on_day,
    end_of_season_coefficient,
    mid_season_coefficient,
)
from scheduling.fao56.dual_coefficient import (
    basal_end_of_season_coefficient,
    basal_from_single_coefficient,
    basal_mid_season_coefficient,
    height_on_day,
)
from scheduling.fao56.root_zone import root_depth_on_day
from scheduling.fao56.soil_evaporation import mulched_coefficient
from scheduling.garden.description import LandscapeCoefficient, Planting
from scheduling.landscape.coefficient import landscape_coefficient

LEAST_ROOT_DEPTH_M = 0.15
"""Roots of an annual on the day it is planted; FAO-56 page 279 gives 0.15 to 0.20 m."""
MIDDLE_OF_MONTH = 15
"""Table 11 prints a month; its middle is meant to err by as little as can be. Our choice."""
A_LEAP_YEAR = 2000
"""Any one: the season of a perennial comes again every year."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Mean wind and dryness of the garden, by which FAO-56 adjusts Kc (equations 62 and 65)."""

    wind_2m_m_s: float = 2.0
    rh_min_pct: float = 45.0
    """The defaults are the climate that FAO-56 table 12 is printed for: no adjustment."""


@dataclass(frozen=True, slots=True)
class GrowingSeason:
    """Stages from the day of planting, or from the day on which leaves open."""

    starts_on: dt.date
    recurs: bool
    """True for perennials: the season comes again every year on the same day."""
    rests: bool
    """Whether the planting is dormant outside of the season; an evergreen is not."""
    lengths: StageLengths
    kc_ini: float
    kc_mid: float
    kc_end: float
    kcb_ini: float
    kcb_mid: float
    kcb_end: float

    def day_on(self, date: dt.date) -> int | None:
        """Number of a date within the season, 1 on its first day; None outside of it."""
        start = self.starts_on
        if self.recurs:
            start = _anniversary(start, date.year)
            if start > date:
                start = _anniversary(start, date.year - 1)
        day = (date - start).days + 1
        return day if 1 <= day <= self.lengths.season_d else None


@dataclass(frozen=True, slots=True)
class Establishing:
    """Roots of a new planting on their way into the ground, growing evenly (as FAO-56 page 279)."""

    planted_on: dt.date
    days: int
    """From planting until the roots are those of an established plant."""
    planted_depth_m: float

    def depth_m(self, date: dt.date, established_depth_m: float) -> float:
        """Depth of the roots on a date. [m]"""
        since = (date - self.planted_on).days + 1
        least_m = min(self.planted_depth_m, established_depth_m)
        return root_depth_on_day(since, self.days + 1, least_m, established_depth_m)

    def is_new_on(self, date: dt.date) -> bool:
        """Whether the planting still wants the more frequent water of a new one."""
        return 0 <= (date - self.planted_on).days < self.days


@dataclass(frozen=True, slots=True)
class Growth:
    """A planting's crop coefficients and root depth through the year."""

    kc_by_month: tuple[float, ...]
    """January to December; twelve times the same where it is constant, or outside a season."""
    season: GrowingSeason | None
    root_depth_m: float
    """Of the grown, established plant."""
    kcb_by_month: tuple[float, ...]
    """Basal coefficients beside `kc_by_month`."""
    height_m: float
    """Of the grown plant."""
    establishing: Establishing | None = None

    @property
    def is_steady(self) -> bool:
        """Whether only the month matters: no season, no growing roots, never dormant."""
        return self.season is None and self.establishing is None

    def on(self, date: dt.date) -> tuple[float, float, bool]:
        """Crop coefficient, depth of the roots [m], and whether the planting is dormant, on a date."""
        [(kc, root_depth_m, is_dormant)] = self.over((date,))
        return kc, root_depth_m, is_dormant

    def over(self, dates: Iterable[dt.date]) -> Iterator[tuple[float, float, bool]]:
        """The same for each of some dates.

        Outside a season Kc is that of the initial stage, as for bare or weedy soil (FAO-56,
        pages 208 and 209): a fallow bed goes on losing water. The roots of an annual grow until
        its mid-season. What is yet to be planted is dormant.
        """
        months, grown_m = self.kc_by_month, self.root_depth_m
        if self.is_steady:
            for date in dates:
                yield months[date.month - 1], grown_m, False
            return
        season, new = self.season, self.establishing
        for date in dates:
            day = None if season is None else season.day_on(date)
            is_dormant = season is not None and season.rests and day is None
            depth_m = grown_m
            if new is not None:
                depth_m = new.depth_m(date, grown_m)
                is_dormant = is_dormant or date < new.planted_on
            elif season is not None and not season.recurs:
                least_m = min(LEAST_ROOT_DEPTH_M, grown_m)
                since = (date - season.starts_on).days + 1
                depth_m = root_depth_on_day(since, season.lengths.full_cover_day + 1, least_m, grown_m)
            if season is None or day is None:
                yield months[date.month - 1], depth_m, is_dormant
            else:
                kc = coefficient_on_day(day, season.lengths, season.kc_ini, season.kc_mid, season.kc_end)
                yield kc, depth_m, is_dormant

    def basal_over(self, dates: Iterable[dt.date]) -> Iterator[tuple[float, float]]:
        """Basal coefficient and height of the plants [m] on each of some dates.

        An annual's height follows its Kcb up to the mid-season (FAO-56 Annex 8) and is 0 outside
        its season; everything else is as high as it is all year.
        """
        months, season = self.kcb_by_month, self.season
        for date in dates:
            day = None if season is None else season.day_on(date)
            if season is None or day is None:
                stands = season is None or season.recurs
                yield months[date.month - 1], self.height_m if stands else 0.0
                continue
            kcb = coefficient_on_day(day, season.lengths, season.kcb_ini, season.kcb_mid, season.kcb_end)
            grown = season.recurs or day > season.lengths.full_cover_day
            yield kcb, height_on_day(kcb, season.kcb_mid, self.height_m, self.height_m if grown else 0.0)


def growth_of(planting: Planting, plant: Plant, southern: bool, climate: Climate) -> Growth:
    """Put together how a planting grows, from what was given and what the catalogue says.

    What was given comes first: `kc`, then `kc_by_month`, then `landscape_coefficient`; else the
    catalogue's constant, monthly (turned by half a year in the south) or staged coefficient.

    Stages are as long as `stage_lengths_d` says, else as in `stage_region`, else as suits the month
    in which an annual was planted; without a planting date that stands in its mid-season all year:
    the thirstiest guess, and the plan says that it is one. A perennial's begin on `leaf_out`, else in
    the middle of the month that FAO-56 table 11 prints, half a year later in the south.

    A mulch lowers the catalogue's single coefficients, not those that were given; with the dual
    method it is the evaporation that falls.

    Raises UnknownName for a `stage_region` that the plant does not have.
    """
    growth = _unmulched_growth_of(planting, plant, southern, climate)
    if planting.kc_method == "dual" or planting.mulched_share == 0.0 or _given_months(planting) is not None:
        return growth
    return _mulched(growth, planting.mulched_share)


def _mulched(growth: Growth, share: float) -> Growth:
    """The same growth over an organic mulch, by the rule for single coefficients (FAO-56 page 198)."""
    months = zip(growth.kc_by_month, growth.kcb_by_month, strict=True)
    season = growth.season
    if season is not None:
        season = replace(
            season,
            kc_ini=mulched_coefficient(season.kc_ini, season.kcb_ini, share),
            kc_mid=mulched_coefficient(season.kc_mid, season.kcb_mid, share),
            kc_end=mulched_coefficient(season.kc_end, season.kcb_end, share),
        )
    return replace(
        growth, kc_by_month=tuple(mulched_coefficient(kc, kcb, share) for kc, kcb in months), season=season
    )


def _unmulched_growth_of(planting: Planting, plant: Plant, southern: bool, climate: Climate) -> Growth:
    root_depth_m = planting.root_depth_m or plant.root_depth_m
    height_m = planting.height_m if planting.height_m is not None else plant.height_m
    new = _establishing(planting, plant)
    given, basal = _given_months(planting), plant.kcb_by_month
    if given is not None:
        basal = tuple(basal_from_single_coefficient(kc) for kc in given)
    elif plant.kc is not None and plant.kcb is not None:
        given, basal = (plant.kc,) * 12, (plant.kcb,) * 12
    elif plant.kc_by_month is not None and basal is not None:
        given = _in_hemisphere(plant.kc_by_month, southern)
        basal = _in_hemisphere(basal, southern)
    if given is not None and basal is not None:
        return Growth(given, None, root_depth_m, basal, height_m, new)

    stages = catalogue.stages_of(plant, planting.stage_region, _planted_month(planting, plant, southern))
    assert stages is not None, plant.id  # the catalogue holds one of the three
    wind, humidity = climate.wind_2m_m_s, climate.rh_min_pct
    kc_mid = mid_season_coefficient(stages.kc_mid, wind, humidity, height_m)
    kcb_mid = basal_mid_season_coefficient(stages.kcb_mid, wind, humidity, height_m)
    own = planting.stage_lengths_d
    lengths = own if own is not None else (stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late)
    starts_on = _season_start(planting, plant, stages, southern)
    if starts_on is None:
        return Growth((kc_mid,) * 12, None, root_depth_m, (kcb_mid,) * 12, height_m, new)
    season = GrowingSeason(
        starts_on=starts_on,
        recurs=plant.habit != "annual",
        rests=plant.habit != "evergreen",
        lengths=StageLengths(*lengths),
        kc_ini=stages.kc_ini,
        kc_mid=kc_mid,
        kc_end=end_of_season_coefficient(stages.kc_end, wind, humidity, height_m),
        kcb_ini=stages.kcb_ini,
        kcb_mid=kcb_mid,
        kcb_end=basal_end_of_season_coefficient(stages.kcb_end, wind, humidity, height_m),
    )
    return Growth((stages.kc_ini,) * 12, season, root_depth_m, (stages.kcb_ini,) * 12, height_m, new)


def _given_months(planting: Planting) -> tuple[float, ...] | None:
    """Kc by month as the owner gave it, in one way or another."""
    if planting.kc is not None:
        return (planting.kc,) * 12
    if planting.kc_by_month is not None:
        return planting.kc_by_month
    if planting.landscape_coefficient is not None:
        return (_landscape(planting.landscape_coefficient),) * 12
    return None


def _in_hemisphere(months: tuple[float, ...], southern: bool) -> tuple[float, ...]:
    """The catalogue's northern months, turned by half a year in the south."""
    return months[6:] + months[:6] if southern else months


def _establishing(planting: Planting, plant: Plant) -> Establishing | None:
    """How new roots grow; None where nobody says when they were planted, or where stages do."""
    if planting.planted_on is None or plant.establishment is None:
        return None
    way = catalogue.establishment(plant.establishment)
    return Establishing(planting.planted_on, 7 * way.weeks, way.planted_depth_m)


def _planted_month(planting: Planting, plant: Plant, southern: bool) -> int | None:
    """Month in which an annual was planted, as the northern hemisphere would have it."""
    if planting.planted_on is None or plant.habit != "annual":
        return None
    return (planting.planted_on.month - 1 + (6 if southern else 0)) % 12 + 1


def _season_start(
    planting: Planting, plant: Plant, stages: catalogue.Stages, southern: bool
) -> dt.date | None:
    """First day of the season; of a perennial's in some year. None: nobody knows."""
    if plant.habit == "annual":
        return planting.planted_on
    if planting.leaf_out is not None:
        return dt.date(A_LEAP_YEAR, *planting.leaf_out)
    if not stages.months:
        return None
    month = (stages.months[0] - 1 + (6 if southern else 0)) % 12 + 1
    return dt.date(A_LEAP_YEAR, month, MIDDLE_OF_MONTH)


def _landscape(given: LandscapeCoefficient) -> float:
    return landscape_coefficient(given.species, given.density, given.microclimate)


def _anniversary(date: dt.date, year: int) -> dt.date:
    """The same day of another year; 29 February becomes the 28th."""
    try:
        return date.replace(year=year)
    except ValueError:
        return date.replace(year=year, day=28)
