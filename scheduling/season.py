"""The days a plan looks over, for the garden and for each zone of it.

`GardenDays` turns weather days into demand and rain, extends them beyond the forecast, and is
made once for all zones. `ZoneDays` is one zone's store, demand and rain on the same days. Both
are columns of plain floats: the ledger, the need and the outlook all run over them.
"""

import datetime as dt
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduling.balance import close_day
from scheduling.demand import Demand, Site, daily_demand
from scheduling.ensemble import Ensemble
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.landscape.counted_rain import counted_depth_mm, heavy_enough_to_count
from scheduling.landscape.infiltration import (
    DAYS_THAT_SOAK,
    curve_number_after_rain,
    curve_number_when_wet,
    initial_abstraction_mm,
    rain_runoff_mm,
)
from scheduling.planting import Climate
from scheduling.top_layer import TopLayerDays, TopLayerState, top_layer_days
from scheduling.weather import EVAPOTRANSPIRATION, IS_PROMISE, RAIN, Origin, WeatherDay
from scheduling.zone_numbers import ZoneNumbers

DAYS_OF_MEAN_DEMAND = 7
"""Beyond the forecast, the demand is the mean of so many last days."""
LEAST_DAYS_OF_MEAN_RAIN = 30
"""One wet day is no wet season: days short of a month are taken as dry. Our choice, no source."""
DAYS_COUNTED_AHEAD = 3
"""Forecast rain is counted for the plan's date and so many days after it, no further."""
IS_OVER = frozenset({Origin.MEASURED, Origin.ANALYSED, Origin.PAST_FORECAST})

ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True, eq=False)
class GardenDays:
    """Weather of consecutive days, as water. All columns run over the same days.

    Each is equal to itself only, so that what is reckoned from it can be kept by it.
    """

    dates: list[dt.date]
    eto_mm: list[float]
    certain_rain_mm: list[float]
    """Rain that has fallen."""
    counted_rain_mm: list[float]
    """That, and the part of the forecast that a plan relies on."""
    forecast_rain_mm: list[float]
    """Rain that is still forecast, the whole depth."""
    lowest_c: list[float | None]
    """Minimum of the date; None beyond the forecast."""
    estimated: list[tuple[str, ...]]
    climate: Climate
    mean_rain_mm: float
    """Mean daily rain of the days that are over; of less than a month, as if the rest had been dry."""
    known: int
    """How many days have weather; the rest is assumed."""
    members_mm: Mapping[dt.date, tuple[float, ...]] = field(default_factory=dict)
    """The days counted on of which an ensemble tells the rain, each member's."""
    planned: int = 0
    """Place of the date that is planned."""
    rain_before_mm: Sequence[float] = ()
    """Rain that fell on the last days before the first one, as far as it matters."""

    def antecedent_rain_mm(self, day: int) -> float:
        """Rain that fell on the five days before one of them; what is only forecast soaks nothing."""
        first = day - DAYS_THAT_SOAK
        before = sum(self.rain_before_mm[first:]) if first < 0 else 0.0
        return before + sum(self.certain_rain_mm[max(0, first) : day])

    def index(self, date: dt.date) -> int:
        """Place of a date in the columns."""
        return (date - self.dates[0]).days

    def since(self, date: dt.date) -> "GardenDays":
        """The same days from a date on; what they tell of the climate and the season stays."""
        first = max(0, self.index(date))
        if first == 0:
            return self
        return replace(
            self,
            dates=self.dates[first:],
            eto_mm=self.eto_mm[first:],
            certain_rain_mm=self.certain_rain_mm[first:],
            counted_rain_mm=self.counted_rain_mm[first:],
            forecast_rain_mm=self.forecast_rain_mm[first:],
            lowest_c=self.lowest_c[first:],
            estimated=self.estimated[first:],
            known=self.known - first,
            planned=max(0, self.planned - first),
            rain_before_mm=[*self.rain_before_mm, *self.certain_rain_mm[:first]][-DAYS_THAT_SOAK:],
        )


@functools.lru_cache(maxsize=32)
def garden_days_once(
    weather: tuple[WeatherDay, ...], site: Site, planned: dt.date, until: dt.date, since: dt.date | None
) -> GardenDays:
    """`garden_days`, from a date on: a plan is made anew with every report, and most bring no new weather."""
    days = garden_days(weather, site, planned, until)
    return days if since is None else days.since(since)


def garden_days(weather: Sequence[WeatherDay], site: Site, planned: dt.date, until: dt.date) -> GardenDays:
    """Turn weather days into demand and rain, and extend them to a last date.

    Parameters
    ----------
    weather : sequence of WeatherDay
        Consecutive days that reach at least to the planned date.
    site : Site
        Where they happen.
    planned : date
        The plan's date: forecast rain is counted for it and the three days after it.
    until : date
        Last date of the columns, included.

    Raises
    ------
    WeatherGap
        A day is missing, or the weather begins after the planned date or ends before it.
    WeatherIncomplete
        A day up to the planned date lacks a temperature, or a day that is over lacks its rain.
    """
    known = _consecutive(weather, planned)
    demands = demands_of(known, site)
    last_counted = planned + dt.timedelta(days=DAYS_COUNTED_AHEAD)
    certain, counted, forecast, estimated = [], [], [], []
    for day, demand in zip(known, demands, strict=True):
        fallen, to_come = _rain_of(day)
        certain.append(fallen)
        forecast.append(to_come)
        relied_on = counted_depth_mm(to_come, day.rain_probability, day.rain_is_expected_value)
        relied_on *= day.rain_trust_share
        counted.append(fallen + (relied_on if day.date <= last_counted else 0.0))
        estimated.append(demand.estimated if day.rain_mm is not None else (*demand.estimated, RAIN))

    over = [depth for day, depth in zip(known, counted, strict=True) if day.origin in IS_OVER]
    eto = [demand.eto_mm for demand in demands]
    reckoned = [eto_mm for day, eto_mm in zip(known, eto, strict=True) if day.origin is not Origin.ASSUMED]
    recent = reckoned[-DAYS_OF_MEAN_DEMAND:]
    beyond = max(0, (until - known[-1].date).days)
    nothing = [0.0] * beyond
    return GardenDays(
        dates=[day.date for day in known]
        + [known[-1].date + (ahead + 1) * ONE_DAY for ahead in range(beyond)],
        eto_mm=eto + [sum(recent) / len(recent)] * beyond,
        certain_rain_mm=certain + nothing,
        counted_rain_mm=counted + nothing,
        forecast_rain_mm=forecast + nothing,
        lowest_c=[day.t_min_c for day in known] + [None] * beyond,
        estimated=[*estimated, *([()] * beyond)],
        climate=_climate(demands),
        mean_rain_mm=sum(over) / max(len(over), LEAST_DAYS_OF_MEAN_RAIN),
        known=len(known),
        members_mm={
            day.date: day.rain_members_mm
            for day in known
            if day.rain_members_mm and day.origin is Origin.FORECAST and day.date <= last_counted
        },
        planned=(planned - known[0].date).days,
    )


def demands_of(days: Sequence[WeatherDay], site: Site) -> list[Demand]:
    """Each day's demand; that of an assumed day is the mean of the last week before it that is none."""
    demands: list[Demand] = []
    recent: list[Demand] = []
    for day in days:
        if day.origin is Origin.ASSUMED:
            demands.append(_mean_demand(recent[-DAYS_OF_MEAN_DEMAND:]))
        else:
            recent.append(_demand_once(day, site))
            demands.append(recent[-1])
    return demands


def _mean_demand(days: Sequence[Demand]) -> Demand:
    count = len(days)
    return Demand(
        eto_mm=sum(day.eto_mm for day in days) / count,
        wind_2m_m_s=sum(day.wind_2m_m_s for day in days) / count,
        rh_min_pct=sum(day.rh_min_pct for day in days) / count,
        estimated=(EVAPOTRANSPIRATION,),
    )


@functools.lru_cache(maxsize=16_384)
def _demand_once(day: WeatherDay, site: Site) -> Demand:
    """A plan is made anew every hour, and most of its days have not changed since."""
    return daily_demand(day, site)


def _consecutive(weather: Sequence[WeatherDay], planned: dt.date) -> list[WeatherDay]:
    """The days as they follow each other, up to the first forecast day that cannot be used."""
    if not weather:
        raise WeatherGap(planned, planned)
    known: list[WeatherDay] = []
    for day in weather:
        if known and day.date != known[-1].date + ONE_DAY:
            if known[-1].date >= planned:
                break
            raise WeatherGap(known[-1].date + ONE_DAY, day.date - ONE_DAY)
        lacks = tuple(
            name for name, value in (("t_min_c", day.t_min_c), ("t_max_c", day.t_max_c)) if value is None
        )
        if day.origin is Origin.ASSUMED and known:
            known.append(day)
            continue
        if day.rain_mm is None and day.origin not in IS_PROMISE:
            lacks = (*lacks, "rain_mm")
        if lacks:
            if day.date > planned:
                break
            raise WeatherIncomplete(day.date, lacks)
        known.append(day)
    if known[0].date > planned:
        raise WeatherGap(planned, known[0].date - ONE_DAY)
    if known[-1].date < planned:
        raise WeatherGap(known[-1].date + ONE_DAY, planned)
    return known


def _rain_of(day: WeatherDay) -> tuple[float, float]:
    """What has fallen of a day's rain, and what is still forecast. [mm]"""
    if day.rain_mm is None:
        return day.rain_fallen_mm or 0.0, 0.0
    if day.origin not in IS_PROMISE:
        return day.rain_mm, 0.0
    fallen = min(day.rain_fallen_mm or 0.0, day.rain_mm)
    return fallen, day.rain_mm - fallen


def _climate(demands: Sequence[Demand]) -> Climate:
    """Mean wind and dryness over the days at hand; FAO-56 wants means over a stage (page 121)."""
    count = len(demands)
    return Climate(
        wind_2m_m_s=sum(demand.wind_2m_m_s for demand in demands) / count,
        rh_min_pct=sum(demand.rh_min_pct for demand in demands) / count,
    )


@dataclass(frozen=True, slots=True)
class ZoneDays:
    """One zone's store, demand and rain on the days of its garden, in columns."""

    kc: list[float]
    etc_mm: list[float]
    taw_mm: list[float]
    raw_mm: list[float]
    certain_rain_mm: list[float]
    """Rain that has fallen, reaches the zone, is heavy enough to count and goes into the ground."""
    counted_rain_mm: list[float]
    """That, and what a plan relies on of the forecast."""
    dormant: list[bool]
    runoff_mm: list[float]
    """What of the rain in `counted_rain_mm` leaves over the surface."""
    ensembles: Mapping[int, Ensemble] = field(default_factory=dict)
    """By day: rain of which each member of an ensemble is known."""
    top_layer: TopLayerDays | None = None
    """With the dual coefficient, what `etc_mm` has from the soil's surface; it hangs on the watering."""

    @property
    def evaporation_mm(self) -> list[float] | None:
        """What of `etc_mm` bare soil loses; None: nothing is told apart."""
        return None if self.top_layer is None else self.top_layer.evaporation_mm

    def close(self, day: int, depletion_mm: float, irrigation_mm: float) -> tuple[float, float, float, float]:
        """Carry a depletion across one of the days, see `scheduling.balance.close_day`."""
        return close_day(
            depletion_mm,
            self.counted_rain_mm[day],
            irrigation_mm,
            self.etc_mm[day],
            self.taw_mm[day],
            self.raw_mm[day],
            evaporation_mm=0.0 if self.top_layer is None else self.top_layer.evaporation_mm[day],
        )

    def with_free_storage(self, day: int, free_storage_mm: float) -> "ZoneDays":
        """The same days, where it is known what one of them can hold of its rain. [mm]"""
        if day not in self.ensembles:
            return self
        counted = list(self.counted_rain_mm)
        counted[day] = self.ensembles[day].stored_mm(free_storage_mm)
        return replace(self, counted_rain_mm=counted)


@functools.lru_cache(maxsize=128)
def zone_days_once(numbers: ZoneNumbers, days: GardenDays) -> ZoneDays:
    """`zone_days`, kept while neither the zone nor the weather changes."""
    return zone_days(numbers, days)


def zone_days(numbers: ZoneNumbers, days: GardenDays) -> ZoneDays:
    """Reckon a zone's columns: Kc ETo, TAW (eq 82), RAW with p adjusted to ETc (eq 83), rain.

    Light rain is put aside, and runoff taken off, by the whole depth that reaches the zone, the
    forecast included: what is doubtful about a forecast is its chance, which is applied after that.

    With the dual coefficient all rain counts, since what evaporates is reckoned apart (FAO-56 page
    156), and the columns are those of a zone that was never watered, see `with_water`. RAW is that
    of the single coefficient, the mean over wet and dry surfaces: wet ground makes no roots thirsty.
    """
    kc, taw, dormant = _growth_columns(numbers, days)
    etc = [coefficient * eto for coefficient, eto in zip(kc, days.eto_mm, strict=True)]
    fraction = numbers.depletion_fraction
    raw = [
        depletion_fraction_for_demand(fraction, demand) * store
        for demand, store in zip(etc, taw, strict=True)
    ]
    share, curve_number = numbers.rain_share, numbers.surface.curve_number
    is_dual = numbers.top_layer is not None
    keeps_mm = math.inf
    if curve_number is not None:
        keeps_mm = initial_abstraction_mm(curve_number_when_wet(curve_number))
    certain, counted, runoff = [], [], [0.0] * len(etc)
    for day, (fallen, relied_on, to_come, eto) in enumerate(
        zip(days.certain_rain_mm, days.counted_rain_mm, days.forecast_rain_mm, days.eto_mm, strict=True)
    ):
        if fallen == 0.0 and relied_on == 0.0:
            certain.append(0.0)
            counted.append(0.0)
            continue
        certain.append(share * fallen if is_dual or heavy_enough_to_count(share * fallen, eto) else 0.0)
        heavy = is_dual or heavy_enough_to_count(share * (fallen + to_come), eto)
        counted.append(share * relied_on if heavy else 0.0)
        if not heavy or share * (fallen + to_come) <= keeps_mm:
            continue
        number = _curve_number_on(day, curve_number, share, days)
        if number is not None and share * (fallen + to_come) > initial_abstraction_mm(number):
            goes_in = _infiltrates(fallen, to_come, share, number)
            chance = (relied_on - fallen) / to_come if to_come > 0.0 else 0.0
            certain[day] = min(certain[day], goes_in[0])
            counted[day] = goes_in[0] + chance * (goes_in[1] - goes_in[0])
            runoff[day] = share * relied_on - counted[day]
    if "rain" in numbers.zone.rules.exempt:
        counted = certain
        runoff = [
            _runoff(share * fallen, _curve_number_on(day, curve_number, share, days)) if sheds else 0.0
            for day, (fallen, sheds) in enumerate(zip(days.certain_rain_mm, runoff, strict=True))
        ]
        return _dual(numbers, days, ZoneDays(kc, etc, taw, raw, certain, counted, dormant, runoff))
    ensembles = _ensembles(numbers, days, certain, counted)
    for day, ensemble in ensembles.items():
        # Of a zone that is as dry in the evening as it is meant to become; `decide` knows it better.
        counted[day] = min(counted[day], ensemble.stored_mm(raw[day] + etc[day]))
    return _dual(numbers, days, ZoneDays(kc, etc, taw, raw, certain, counted, dormant, runoff, ensembles))


def _dual(numbers: ZoneNumbers, days: GardenDays, zone: ZoneDays) -> ZoneDays:
    """The columns with evaporation apart, where the zone asks for it."""
    if numbers.top_layer is None:
        return zone
    # Forecast rain does not wet the surface yet: what it brings is doubtful, and so what it costs.
    wets = zone.counted_rain_mm[: days.planned] + zone.certain_rain_mm[days.planned :]
    basal = list(numbers.growth.basal_over(days.dates))
    layer = top_layer_days(numbers.top_layer, days.eto_mm, wets, basal, days.climate)
    return _over(zone, layer)


def with_water(
    zone: ZoneDays, irrigation_mm: Mapping[int, float], first: int, morning: TopLayerState | None = None
) -> ZoneDays:
    """The columns from a first day on, as the watering changes what the soil's surface evaporates.

    `irrigation_mm` is net, by day, and replaces what was known of these days; `morning` is how the
    first day finds the surface, None: as before. With a single coefficient nothing changes.
    """
    if zone.top_layer is None:
        return zone
    return _over(zone, zone.top_layer.ran(first, irrigation_mm, morning))


def _over(zone: ZoneDays, layer: TopLayerDays) -> ZoneDays:
    """The columns with another day-to-day evaporation: Kc = Kcb + Ke (FAO-56 equation 69)."""
    kc = [kcb + ke for kcb, ke in zip(layer.kcb, layer.ke, strict=True)]
    etc = [
        kcb * eto + evaporation
        for kcb, eto, evaporation in zip(layer.kcb, layer.eto_mm, layer.evaporation_mm, strict=True)
    ]
    return replace(zone, kc=kc, etc_mm=etc, top_layer=layer)


def _ensembles(
    numbers: ZoneNumbers, days: GardenDays, certain: list[float], counted: list[float]
) -> dict[int, Ensemble]:
    """What goes into a zone's ground in each member, for the days whose rain counts at all."""
    share, curve_number = numbers.rain_share, numbers.surface.curve_number
    ensembles = {}
    for date, members_mm in days.members_mm.items():
        day = days.index(date)
        if day < 0 or counted[day] == 0.0 or days.forecast_rain_mm[day] == 0.0:
            continue
        number = _curve_number_on(day, curve_number, share, days)
        goes_in = tuple(share * depth - _runoff(share * depth, number) for depth in members_mm)
        relied_on = days.counted_rain_mm[day] - days.certain_rain_mm[day]
        ensembles[day] = Ensemble(goes_in, certain[day], relied_on / days.forecast_rain_mm[day])
    return ensembles


def _curve_number_on(day: int, curve_number: float | None, share: float, days: GardenDays) -> float | None:
    """CN of a day, as wet as the rain of the days before has left the ground."""
    if curve_number is None:
        return None
    return curve_number_after_rain(curve_number, share * days.antecedent_rain_mm(day))


def _infiltrates(fallen: float, to_come: float, share: float, curve_number: float) -> tuple[float, float]:
    """What goes in of the rain that has fallen, and what will have once the rest came too. [mm]"""
    whole = share * (fallen + to_come)
    return share * fallen - _runoff(share * fallen, curve_number), whole - _runoff(whole, curve_number)


def _runoff(rain_mm: float, curve_number: float | None) -> float:
    return 0.0 if curve_number is None else rain_runoff_mm(rain_mm, curve_number)


def _growth_columns(numbers: ZoneNumbers, days: GardenDays) -> tuple[list[float], list[float], list[bool]]:
    growth = numbers.growth
    if growth.is_steady:
        store = numbers.total_available_mm(growth.root_depth_m)
        count = len(days.dates)
        kc_by_month = growth.kc_by_month
        return [kc_by_month[date.month - 1] for date in days.dates], [store] * count, [False] * count
    kc, taw, dormant = [], [], []
    for coefficient, root_depth_m, sleeps in growth.over(days.dates):
        kc.append(coefficient)
        taw.append(numbers.total_available_mm(root_depth_m))
        dormant.append(sleeps)
    return kc, taw, dormant
