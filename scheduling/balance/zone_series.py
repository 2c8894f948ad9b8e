"""The days of a garden as one zone has them: its store, its demand, the rain that reaches it.

Columns of plain floats, as in `season`; made anew from a day on as the watering wets the surface.
"""

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import close_day
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.landscape.counted_rain import Ensemble, heavy_enough_to_count
from scheduling.landscape.infiltration import (
    curve_number_after_rain,
    curve_number_when_wet,
    initial_abstraction_mm,
    rain_runoff_mm,
)
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.surface_layer import TopLayerDays, TopLayerState, top_layer_days


@dataclass(frozen=True, slots=True)
class ZoneDays:
    """One zone's store, demand and rain on the days of its garden, in columns."""

    kc: list[float]
    etc_mm: list[float]
    taw_mm: list[float]
    raw_mm: list[float]
    """Depletion beyond which plants are stressed (Ks, equation 84)."""
    certain_rain_mm: list[float]
    """Rain that has fallen, reaches the zone, is heavy enough to count and goes into the ground."""
    counted_rain_mm: list[float]
    """That, and what a plan relies on of the forecast."""
    dormant: list[bool]
    runoff_mm: list[float]
    """What of the rain in `counted_rain_mm` leaves over the surface."""
    ensembles: Mapping[int, Ensemble] = field(default_factory=dict)
    """By day: rain of which each member of an ensemble is known."""
    allowed_mm: list[float] | None = None
    """Depletion at which water is due, where it is not at RAW."""
    top_layer: TopLayerDays | None = None
    """With the dual coefficient, what `etc_mm` has from the soil's surface; it hangs on the watering."""

    @property
    def due_mm(self) -> list[float]:
        """Depletion at which water is due: what is allowed, else RAW."""
        return self.raw_mm if self.allowed_mm is None else self.allowed_mm

    @property
    def evaporation_mm(self) -> list[float] | None:
        """The part of `etc_mm` that evaporates from bare soil; None: not separated."""
        return None if self.top_layer is None else self.top_layer.evaporation_mm

    def close(self, day: int, depletion_mm: float, irrigation_mm: float) -> tuple[float, float, float, float]:
        """Carry a depletion across one of the days, see `scheduling.balance.soil_water.close_day`."""
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


# Without it a plan of 12 zones over 60 past days that has no new weather takes 27 % longer.
@functools.lru_cache(maxsize=128)
def zone_days_once(numbers: ZoneNumbers, days: GardenDays) -> ZoneDays:
    """`zone_days`, cached while neither the zone nor the weather changes."""
    return zone_days(numbers, days)


def zone_days(numbers: ZoneNumbers, days: GardenDays) -> ZoneDays:
    """Reckon a zone's columns: Kc ETo, TAW (eq 82), RAW with p adjusted to ETc (eq 83), rain.

    Light rain is put aside, and runoff taken off, by the whole depth that reaches the zone, the
    forecast included: what is doubtful about a forecast is its chance, which is applied after that.

    With the dual coefficient all rain counts, since evaporation is calculated separately (FAO-56 page
    156), and the columns are those of a zone that was never watered, see `with_water`. RAW is that
    of the single coefficient, the mean over wet and dry surfaces: wet ground makes no roots thirsty.
    """
    kc, taw, dormant = _growth_columns(numbers, days)
    etc = [coefficient * eto for coefficient, eto in zip(kc, days.eto_mm, strict=True)]
    raw = _raw_mm(numbers, etc, taw)
    share = numbers.allowed_depletion
    allowed = None if share is None else [share * store for store in taw]
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
        return _dual(
            numbers, days, ZoneDays(kc, etc, taw, raw, certain, counted, dormant, runoff, allowed_mm=allowed)
        )
    ensembles = _ensembles(numbers, days, certain, counted)
    for day, ensemble in ensembles.items():
        # Of a zone that is as dry in the evening as it is meant to become; `decide` knows it better.
        counted[day] = min(counted[day], ensemble.stored_mm((allowed or raw)[day] + etc[day]))
    return _dual(
        numbers, days, ZoneDays(kc, etc, taw, raw, certain, counted, dormant, runoff, ensembles, allowed)
    )


def _dual(numbers: ZoneNumbers, days: GardenDays, zone: ZoneDays) -> ZoneDays:
    """The columns with evaporation apart, where the zone asks for it."""
    if numbers.top_layer is None:
        return zone
    # Forecast rain does not wet the surface yet: what it brings is doubtful, and so what it costs.
    wets = zone.counted_rain_mm[: days.planned] + zone.certain_rain_mm[days.planned :]
    basal = list(numbers.growth.basal_over(days.dates, days.climate))
    layer = top_layer_days(numbers.top_layer, days.eto_mm, wets, basal, days.climate.by_month(days.dates))
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


def _raw_mm(numbers: ZoneNumbers, etc: list[float], taw: list[float]) -> list[float]:
    """RAW by the p of each day's demand; of plants that are kept alive by a fixed one. [mm]"""
    fraction = numbers.depletion_fraction
    if numbers.alive_kc is not None:
        return [fraction * store for store in taw]
    return [
        depletion_fraction_for_demand(fraction, demand) * store
        for demand, store in zip(etc, taw, strict=True)
    ]


def _growth_columns(numbers: ZoneNumbers, days: GardenDays) -> tuple[list[float], list[float], list[bool]]:
    kc, taw, dormant = [], [], []
    most_kc = math.inf if numbers.alive_kc is None else numbers.alive_kc
    for coefficient, root_depth_m, sleeps in numbers.growth.over(days.dates, days.climate):
        kc.append(min(coefficient, most_kc))
        taw.append(numbers.total_available_mm(root_depth_m))
        dormant.append(sleeps)
    return kc, taw, dormant
