"""What a planting transpires and how deep it roots, on any date.

An annual's stages begin on the day it is planted. A perennial's season comes again every year,
when its leaves open; for how long its roots have been growing counts from the day it was
planted, and one without such a day is taken to be established.
"""

import datetime as dt
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from scheduling import catalogue
from scheduling.catalogue import Plant
from scheduling.fao56.crop_coefficient import (
    StageLengths,
    climate_adjustment,
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
from scheduling.fao56.soil_evaporation import mulched_coefficient, mulched_initial_coefficient
from scheduling.garden.description import A_LEAP_YEAR, LandscapeCoefficient, Planting
from scheduling.landscape.coefficient import basal_coefficient_of_cover, landscape_coefficient
from scheduling.zone.climate import Climate

LEAST_ROOT_DEPTH_M = 0.15
"""Roots of an annual on the day it is planted; FAO-56 page 279 gives 0.15 to 0.20 m."""
MIDDLE_OF_MONTH = 15
"""Table 11 prints a month; its middle is meant to err by as little as can be. Our choice."""
LONGEST_PICKING_D = 365
"""What is picked again and again is taken to be gone a year after planting, if nobody ends its season."""
KILLING_FROST_C = 0.0
"""FAO-56 ends the season of frost-sensitive crops with the first killing frost (page 103, from memory)."""
PRINTED_CLIMATE = Climate()


@dataclass(frozen=True, slots=True)
class GrowingSeason:
    """Stages from the day of planting, or from the day on which leaves open.

    Coefficients are those of the printed climate; `coefficients` adjusts them.
    """

    starts_on: dt.date
    recurs: bool
    """Whether the season comes again every year on the same day."""
    rests: bool
    """Whether the planting is dormant outside of the season; an evergreen is not."""
    lengths: StageLengths
    kc_ini: float
    kc_mid: float
    kc_end: float
    kcb_ini: float
    kcb_mid: float
    kcb_end: float
    height_m: float
    """Of the grown plant."""
    mulched_share: float = 0.0
    """Share of the ground under an organic mulch, where it lowers single coefficients."""
    dies_by_frost: bool = False
    """Whether the first frost after planting ends the season."""
    climate_shares: tuple[float, float] = (1.0, 1.0)
    """What of the climate adjustment applies in the mid-season and at the end, by the plants' cover."""
    is_annual: bool = False
    """Whether its roots and its height begin anew."""
    lasts_d: int | None = None
    """Days after which it is ended, in the middle of its stages; None: as they do. [d]"""

    def start_on(self, date: dt.date) -> dt.date:
        """First day of the season that a date belongs to, or of the last one before it."""
        if not self.recurs:
            return self.starts_on
        start = _anniversary(self.starts_on, date.year)
        return start if start <= date else _anniversary(self.starts_on, date.year - 1)

    def ends_on(self, start: dt.date, climate: Climate = PRINTED_CLIMATE) -> dt.date:
        """Last day of the season that starts on a day; a known frost ends that of a tender plant."""
        last = start + dt.timedelta(days=(self.lasts_d or self.lengths.season_d) - 1)
        frost = climate.first_frost(start, last, KILLING_FROST_C) if self.dies_by_frost else None
        return last if frost is None else frost

    def day_on(self, date: dt.date) -> int | None:
        """Number of a date within the season, 1 on its first day; None outside of it. Knows no frost."""
        start = self.start_on(date)
        return (date - start).days + 1 if start <= date <= self.ends_on(start) else None

    def running_on(self, date: dt.date, climate: Climate, ends: dict[dt.date, dt.date]) -> dt.date | None:
        """First day of the season that a date lies in, None: in none; `ends` keeps what is reckoned."""
        start = self.start_on(date)
        if start > date:
            return None
        if start not in ends:
            ends[start] = self.ends_on(start, climate)
        return start if date <= ends[start] else None

    def coefficients(self, start: dt.date, climate: Climate) -> tuple[float, float, float]:
        """Kc ini, mid and end of the season that starts on a day (FAO-56 equations 62 and 65).

        Wind and dryness are means over the mid-season, and over the late season, of that season.
        """
        height_m, (of_mid, of_end) = self.height_m, self.climate_shares
        mid, end = self._over_mid(start, climate), self._over_late(start, climate)
        kc_mid = _partly(of_mid, self.kc_mid, mid_season_coefficient(self.kc_mid, *mid, height_m))
        kc_end = _partly(of_end, self.kc_end, end_of_season_coefficient(self.kc_end, *end, height_m))
        share = self.mulched_share
        if share == 0.0:
            return self.kc_ini, kc_mid, kc_end
        _, kcb_mid, kcb_end = self.basal_coefficients(start, climate)
        return (
            mulched_initial_coefficient(self.kc_ini, share),
            mulched_coefficient(kc_mid, kcb_mid, share),
            mulched_coefficient(kc_end, kcb_end, share),
        )

    def basal_coefficients(self, start: dt.date, climate: Climate) -> tuple[float, float, float]:
        """Kcb ini, mid and end of the season that starts on a day (FAO-56 equation 70)."""
        height_m, (of_mid, of_end) = self.height_m, self.climate_shares
        mid, end = self._over_mid(start, climate), self._over_late(start, climate)
        return (
            self.kcb_ini,
            _partly(of_mid, self.kcb_mid, basal_mid_season_coefficient(self.kcb_mid, *mid, height_m)),
            _partly(of_end, self.kcb_end, basal_end_of_season_coefficient(self.kcb_end, *end, height_m)),
        )

    def _over_mid(self, start: dt.date, climate: Climate) -> tuple[float, float]:
        first = start + dt.timedelta(days=self.lengths.full_cover_day)
        return climate.mean_over(first, first + dt.timedelta(days=self.lengths.mid_season_d - 1))

    def _over_late(self, start: dt.date, climate: Climate) -> tuple[float, float]:
        first = start + dt.timedelta(days=self.lengths.full_cover_day + self.lengths.mid_season_d)
        return climate.mean_over(first, start + dt.timedelta(days=self.lengths.season_d - 1))


def _partly(share: float, printed: float, adjusted: float) -> float:
    """A share of an adjustment."""
    return printed + share * (adjusted - printed)


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
    """January to December, in the middle of each; twelve times the same where it is constant, or
    outside a season. Of the printed climate."""
    season: GrowingSeason | None
    root_depth_m: float
    """Of the grown, established plant."""
    kcb_by_month: tuple[float, ...]
    """Basal coefficients beside `kc_by_month`."""
    height_m: float
    """Of the grown plant."""
    establishing: Establishing | None = None
    later: tuple[GrowingSeason, ...] = ()
    """Of an annual that is planted again: the seasons after `season`, in order."""
    is_mid_season: bool = False
    """Whether Kc is that of a mid-season all year, which wind and dry air raise (equation 62)."""

    @property
    def is_steady(self) -> bool:
        """Whether only the day of the year matters: no season, no growing roots, never dormant."""
        return self.season is None and self.establishing is None

    def on(self, date: dt.date) -> tuple[float, float, bool]:
        """Crop coefficient, depth of the roots [m], and whether the planting is dormant, on a date.

        In the printed climate.
        """
        [(kc, root_depth_m, is_dormant)] = self.over((date,))
        return kc, root_depth_m, is_dormant

    def over(
        self, dates: Iterable[dt.date], climate: Climate = PRINTED_CLIMATE
    ) -> Iterator[tuple[float, float, bool]]:
        """The same for each of some dates, in the garden's climate.

        Outside a season Kc is that of the initial stage, as for bare or weedy soil (FAO-56,
        pages 208 and 209): a fallow bed goes on losing water. The roots of an annual grow until
        its mid-season. What is yet to be planted is dormant.
        """
        grown_m, new = self.root_depth_m, self.establishing
        ends: dict[dt.date, dt.date] = {}
        coefficients: dict[dt.date, tuple[float, float, float]] = {}
        for date in dates:
            season = self._season_on(date)
            start = None if season is None else season.running_on(date, climate, ends)
            is_dormant = season is not None and season.rests and start is None
            depth_m = grown_m
            if new is not None:
                depth_m = new.depth_m(date, grown_m)
                is_dormant = is_dormant or date < new.planted_on
            elif season is not None and season.is_annual:
                least_m = min(LEAST_ROOT_DEPTH_M, grown_m)
                since = (date - season.start_on(date)).days + 1
                depth_m = root_depth_on_day(since, season.lengths.full_cover_day + 1, least_m, grown_m)
            if season is None or start is None:
                yield self._monthly(self.kc_by_month, date, climate), depth_m, is_dormant
                continue
            if start not in coefficients:
                coefficients[start] = season.coefficients(start, climate)
            day = (date - start).days + 1
            yield coefficient_on_day(day, season.lengths, *coefficients[start]), depth_m, is_dormant

    def basal_over(
        self, dates: Iterable[dt.date], climate: Climate = PRINTED_CLIMATE
    ) -> Iterator[tuple[float, float]]:
        """Basal coefficient and height of the plants [m] on each of some dates.

        An annual's height follows its Kcb up to the mid-season (FAO-56 Annex 8) and is 0 outside
        its season; everything else is as high as it is all year.
        """
        ends: dict[dt.date, dt.date] = {}
        coefficients: dict[dt.date, tuple[float, float, float]] = {}
        for date in dates:
            season = self._season_on(date)
            start = None if season is None else season.running_on(date, climate, ends)
            if season is None or start is None:
                is_there = season is None or not season.is_annual
                yield self._monthly(self.kcb_by_month, date, climate), self.height_m if is_there else 0.0
                continue
            day = (date - start).days + 1
            if start not in coefficients:
                coefficients[start] = season.basal_coefficients(start, climate)
            kcb_ini, kcb_mid, kcb_end = coefficients[start]
            kcb = coefficient_on_day(day, season.lengths, kcb_ini, kcb_mid, kcb_end)
            grown = not season.is_annual or day > season.lengths.full_cover_day
            yield kcb, height_on_day(kcb, kcb_mid, self.height_m, self.height_m if grown else 0.0)

    def ends_on(self, date: dt.date, climate: Climate = PRINTED_CLIMATE) -> dt.date | None:
        """Last day of an annual's season that a date lies in; None: in none, or of no annual."""
        season = self._season_on(date)
        if season is None or not season.is_annual or season.start_on(date) > date:
            return None
        last = season.ends_on(season.start_on(date), climate)
        return last if date <= last else None

    def _season_on(self, date: dt.date) -> GrowingSeason | None:
        """The last season that has begun, else the first."""
        for season in reversed(self.later):
            if season.starts_on <= date:
                return season
        return self.season

    def _monthly(self, months: tuple[float, ...], date: dt.date, climate: Climate) -> float:
        """Straight lines from the middle of one month to that of the next.

        FAO-56 draws straight lines between stages (page 132). Whoever prints Kc by month uses steps;
        from March to April they would raise the Kc of a cool-season lawn by 39 % over night.
        """
        kc = months[date.month - 1]
        if date.day < MIDDLE_OF_MONTH:
            last = (date.replace(day=1) - dt.timedelta(days=1)).day
            before = months[date.month - 2]
            kc += (MIDDLE_OF_MONTH - date.day) / last * (before - kc)
        elif date.day > MIDDLE_OF_MONTH:
            following = (date.replace(day=1) + dt.timedelta(days=31)).replace(day=1)
            length = (following - date.replace(day=1)).days
            kc += (date.day - MIDDLE_OF_MONTH) / length * (months[following.month - 1] - kc)
        if not self.is_mid_season:
            return kc
        return kc + climate_adjustment(*climate.mean_of_month(date), self.height_m)


def growth_of(planting: Planting, plant: Plant, southern: bool) -> Growth:
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
    mulched_share = 0.0 if planting.kc_method == "dual" else planting.mulched_share
    root_depth_m = planting.root_depth_m or plant.root_depth_m
    height_m = planting.height_m if planting.height_m is not None else plant.height_m
    new = _establishing(planting, plant)
    own = _given_months(planting)
    if own is not None:
        basal = tuple(basal_from_single_coefficient(kc) for kc in own)
        return Growth(own, None, root_depth_m, basal, height_m, new)
    printed = _printed_months(plant, southern)
    if printed is not None:
        kc_by_month, basal = printed
        if planting.covered_share is not None and plant.cover is not None:
            kcb, _ = basal_coefficient_of_cover(
                planting.covered_share, height_m, plant.cover.multiplier, plant.cover.fr_mid
            )
            kc_by_month = tuple(kcb + kc - of_row for kc, of_row in zip(kc_by_month, basal, strict=True))
            basal = (kcb,) * 12
        return Growth(
            tuple(
                mulched_coefficient(kc, kcb, mulched_share)
                for kc, kcb in zip(kc_by_month, basal, strict=True)
            ),
            None,
            root_depth_m,
            basal,
            height_m,
            new,
        )

    if plant.habit == "annual":
        starts = () if planting.planted_on is None else (planting.planted_on, *planting.planted_again)
    else:
        starts = _leaf_out(planting, plant, southern)
    if not starts:
        stages = catalogue.stages_of(plant, planting.stage_region)
        assert stages is not None, plant.id  # the catalogue holds one of the three
        kc = mulched_coefficient(stages.kc_mid, stages.kcb_mid, mulched_share)
        return Growth(
            (kc,) * 12, None, root_depth_m, (stages.kcb_mid,) * 12, height_m, new, is_mid_season=True
        )
    seasons = [
        _season(planting, plant, start, following, southern, height_m, mulched_share)
        for start, following in itertools.zip_longest(starts, starts[1:])
    ]
    first = seasons[0]
    kc_ini = mulched_initial_coefficient(first.kc_ini, mulched_share)
    return Growth(
        (kc_ini,) * 12,
        first,
        root_depth_m,
        (first.kcb_ini,) * 12,
        height_m,
        new,
        later=tuple(seasons[1:]),
    )


def _season(
    planting: Planting,
    plant: Plant,
    start: dt.date,
    following: dt.date | None,
    southern: bool,
    height_m: float,
    mulched_share: float,
) -> GrowingSeason:
    """The season that starts on a day, of an annual at most until the one that follows on its ground.

    What is picked again and again has no late season. `season_ends` before the stages are over cuts them
    short; after that it makes the mid-season longer.
    """
    is_annual = plant.habit == "annual"
    month = _northern_month(start, southern) if is_annual else None
    stages = catalogue.stages_of(plant, planting.stage_region, month)
    assert stages is not None, plant.id
    own = planting.stage_lengths_d
    lengths = StageLengths(*(own or (stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late)))
    if plant.picking != "once" and own is None:
        lengths = replace(lengths, mid_season_d=LONGEST_PICKING_D - lengths.full_cover_day, late_season_d=0)
    last = _end_given(planting, start)
    lasts_d = None if last is None else (last - start).days + 1
    if following is not None:
        lasts_d = min(lasts_d or lengths.season_d, (following - start).days)
    elif lasts_d is not None and lasts_d > lengths.season_d:
        lengths = replace(lengths, mid_season_d=lengths.mid_season_d + lasts_d - lengths.season_d)
    season = GrowingSeason(
        starts_on=start,
        recurs=not is_annual or planting.planted_yearly,
        rests=plant.habit != "evergreen",
        lengths=lengths,
        kc_ini=stages.kc_ini,
        kc_mid=stages.kc_mid,
        kc_end=stages.kc_end,
        kcb_ini=stages.kcb_ini,
        kcb_mid=stages.kcb_mid,
        kcb_end=stages.kcb_end,
        height_m=height_m,
        mulched_share=mulched_share,
        dies_by_frost=plant.picking == "until-frost",
        is_annual=is_annual,
        lasts_d=lasts_d,
    )
    if planting.covered_share is None or plant.cover is None:
        return season
    return _by_cover(season, planting.covered_share, plant.cover)


def _by_cover(season: GrowingSeason, covered_share: float, cover: catalogue.CoverFactors) -> GrowingSeason:
    """The same season with Kcb by cover and height; what the soil adds to it stays that of the row."""
    height_m, multiplier = season.height_m, cover.multiplier
    kcb_mid, mid_share = basal_coefficient_of_cover(covered_share, height_m, multiplier, cover.fr_mid)
    kcb_end, end_share = basal_coefficient_of_cover(covered_share, height_m, multiplier, cover.fr_end)
    return replace(
        season,
        kc_mid=kcb_mid + season.kc_mid - season.kcb_mid,
        kc_end=kcb_end + season.kc_end - season.kcb_end,
        kcb_mid=kcb_mid,
        kcb_end=kcb_end,
        climate_shares=(mid_share, end_share),
    )


def overlap_of(growth: Growth, planting: Planting, plant: Plant) -> str | None:
    """Why two plantings stand on the same ground at once, as the end of a sentence; None: they do not.

    What is picked again and again is taken to make room for what follows it.
    """
    seasons = () if growth.season is None else (growth.season, *growth.later)
    for season, following in itertools.pairwise(seasons):
        start = season.starts_on
        last = _end_given(planting, start) or start + dt.timedelta(days=season.lengths.season_d - 1)
        if plant.picking == "once" and last >= following.starts_on:
            return (
                f"has {following.starts_on}, when what was planted on {start} still grows, until {last}; "
                "give season_ends for it, or a later date."
            )
    return None


def _end_given(planting: Planting, start: dt.date) -> dt.date | None:
    """The first of the given last days that lies on or after the start of a season."""
    days = []
    for given in planting.season_ends:
        if isinstance(given, dt.date):
            days.append(given)
            continue
        day = dt.date(A_LEAP_YEAR, *given)
        days.extend(_anniversary(day, start.year + years) for years in (0, 1))
    return min((day for day in days if day >= start), default=None)


def _given_months(planting: Planting) -> tuple[float, ...] | None:
    """Kc by month as the owner gave it, in one way or another."""
    if planting.kc is not None:
        return (planting.kc,) * 12
    if planting.kc_by_month is not None:
        return planting.kc_by_month
    if planting.landscape_coefficient is not None:
        return (_landscape(planting.landscape_coefficient),) * 12
    return None


def _printed_months(plant: Plant, southern: bool) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
    """Kc and Kcb by month as the catalogue has them; None: it has stages."""
    if plant.kc is not None and plant.kcb is not None:
        return (plant.kc,) * 12, (plant.kcb,) * 12
    if plant.kc_by_month is not None and plant.kcb_by_month is not None:
        return _in_hemisphere(plant.kc_by_month, southern), _in_hemisphere(plant.kcb_by_month, southern)
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


def _northern_month(date: dt.date, southern: bool) -> int:
    """The month of a date, as the northern hemisphere would have it."""
    return (date.month - 1 + (6 if southern else 0)) % 12 + 1


def _leaf_out(planting: Planting, plant: Plant, southern: bool) -> tuple[dt.date, ...]:
    """The day in some year on which a perennial's season begins; empty: nobody knows."""
    if planting.leaf_out is not None:
        return (dt.date(A_LEAP_YEAR, *planting.leaf_out),)
    stages = catalogue.stages_of(plant, planting.stage_region)
    if stages is None or not stages.months:
        return ()
    month = (stages.months[0] - 1 + (6 if southern else 0)) % 12 + 1
    return (dt.date(A_LEAP_YEAR, month, MIDDLE_OF_MONTH),)


def _landscape(given: LandscapeCoefficient) -> float:
    return landscape_coefficient(given.species, given.density, given.microclimate)


def _anniversary(date: dt.date, year: int) -> dt.date:
    """The same day of another year; 29 February becomes the 28th."""
    try:
        return date.replace(year=year)
    except ValueError:
        return date.replace(year=year, day=28)
