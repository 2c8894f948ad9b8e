"""A zone with every number in place: what its owner gave, else what the catalogue says."""

import functools
import math
from dataclasses import dataclass, replace

from scheduling import catalogue
from scheduling.errors import InvalidGarden, Problem
from scheduling.fao56.root_zone import total_available_water
from scheduling.garden import Allowance, Container, Garden, Planting, WaterSupply, Zone
from scheduling.landscape.application import (
    application_rate_mm_h,
    distribution_uniformity,
    efficiency_of_uniformity,
    emitters_flow_l_min,
    flow_of_rate_l_min,
    gross_depth_mm,
    volume_of_depth_l,
)
from scheduling.landscape.containers import available_water_mm, rain_factor
from scheduling.landscape.infiltration import longest_run_s
from scheduling.landscape.soil_water import water_points
from scheduling.metering import LearnedFlow, beyond_belief, drift_note
from scheduling.plan import CloseBy, Note
from scheduling.planting import Climate, GrowingSeason, Growth, growth_of
from scheduling.surface import Surface, surface_of
from scheduling.top_layer import TopLayer, top_layer_of

DEFAULT_ORGANIC_MATTER_PCT = 2.5
"""Saxton & Rawls 2006 print their class values for 2.5 % of organic matter."""
LONGEST_REFILL_H = 24.0
"""A zone whose readily available water takes longer than a day to refill cannot be kept alive."""
SHORTEST_CYCLE_S = 2.0
"""Ground that overflows sooner cannot be watered in cycles: valves are told whole seconds."""
HIGHEST_RATE_MM_H = 3000.0
"""A can emptied over a pot comes close; nothing that is piped does. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class ZoneNumbers:
    """Everything the arithmetic wants to know of a zone."""

    zone: Zone
    planting: Planting
    share: float
    """Of the zone's ground that the planting has; 1 where nothing else grows there."""
    growth: Growth
    depletion_fraction: float
    available_mm_per_m: float | None
    """Available water of the soil per metre of roots; None in a container."""
    container_mm: float | None
    """Available water of a container over the leaf area; None in the ground."""
    capacity_share: float
    """Water at field capacity, or in a container that has drained, as a share of the volume."""
    unavailable_share: float
    """Water at the wilting point, or what roots in a container cannot draw, likewise."""
    rain_share: float
    """Depth of rain over the zone's area for each depth that falls."""
    efficiency: float
    """Share of the delivered water that serves the plants; of a known uniformity, 0.4 + 0.6 DU. What is
    to leach a container serves none."""
    flow_l_min: float
    wetted_share: float
    smallest_depth_mm: float
    is_overhead: bool
    """Through the air, so that wind matters."""
    surface: Surface
    top_layer: TopLayer | None
    """What the sun dries, for the dual crop coefficient; None: the single one."""
    close_by: CloseBy
    notes: tuple[Note, ...]

    @property
    def gross_rate_mm_h(self) -> float:
        """How fast the water comes. [mm/h]"""
        return application_rate_mm_h(self.flow_l_min, self.zone.area_m2)

    @property
    def surface_rate_mm_h(self) -> float:
        """How fast it comes onto the ground that gets wet. [mm/h]"""
        return self.gross_rate_mm_h / self.wetted_share

    @property
    def intake_mm_h(self) -> float:
        """How fast that ground takes it in; infinite in a container. [mm/h]"""
        return self.surface.intake_mm_h

    @property
    def longest_run_s(self) -> float:
        """After how long more would stand on the ground than it holds; infinite where all goes in. [s]"""
        if self.surface.intake_mm_h == math.inf:
            return math.inf
        return longest_run_s(self.surface_rate_mm_h, self.surface.intake_mm_h, self.surface.ponding_mm)

    @property
    def smallest_volume_l(self) -> float:
        """Litres of the smallest depth that is worth a run."""
        return volume_of_depth_l(gross_depth_mm(self.smallest_depth_mm, self.efficiency), self.zone.area_m2)

    def total_available_mm(self, root_depth_m: float) -> float:
        """TAW for a depth of roots; in a container the depth is the container's. [mm]"""
        if self.container_mm is not None:
            return self.container_mm
        assert self.available_mm_per_m is not None
        return self.available_mm_per_m * root_depth_m


def numbers_of(
    zone: Zone, garden: Garden, climate: Climate, learned: LearnedFlow | None = None
) -> ZoneNumbers:
    """Put every number of a zone in place; `learned` is what its meter tells of the flow.

    Raises `UnknownName` for a name that is not in the catalogue, and `InvalidGarden` for
    numbers that cannot be.
    """
    return _numbers_once(zone, garden.latitude < 0.0, garden.water_supply, climate, learned)


@functools.lru_cache(maxsize=1024)
def _numbers_once(
    zone: Zone, in_the_south: bool, supply: WaterSupply, climate: Climate, learned: LearnedFlow | None
) -> ZoneNumbers:
    """A plan is made anew every hour, and what it is made for has seldom changed since."""
    plant = catalogue.plant(zone.planting.plant)
    method = catalogue.method(zone.watering.method)
    notes: list[Note] = []
    growth = _growth(zone, plant, in_the_south, climate)
    if plant.stages is not None and growth.season is None and _relies_on_stages(zone):
        notes.append(
            Note(
                "planting-date-unknown",
                f"No planted_on is given, so {plant.name} is reckoned as in its mid-season all year.",
            )
        )

    if growth.season is not None and growth.season.rests and growth.season.recurs:
        notes.extend(_assumed_leaf_out(zone, plant, growth.season))

    container = zone.soil.container
    capacity, unavailable = _water_points(zone) if container is None else _container_points(zone, container)
    container_mm = available_mm_per_m = None
    if container is not None:
        container_mm = available_water_mm(container.volume_l, capacity, unavailable, zone.area_m2)
    else:
        available_mm_per_m = _available_mm_per_m(zone, capacity, unavailable)

    flow_l_min, flow_assumed = _flow(zone, method.rate_mm_h)
    if learned is not None:
        note = drift_note(zone, learned, None if flow_assumed else flow_l_min)
        notes.extend(() if note is None else (note,))
        flow_l_min = learned.flow_l_min
    elif flow_assumed:
        notes.append(
            Note(
                "flow-assumed",
                f"No flow is given; {flow_l_min:.3g} l/min follows from the usual "
                f"{method.rate_mm_h:g} mm/h of {method.name}.",
            )
        )
    most_l_min = supply.flow_l_min
    if learned is None and most_l_min is not None and flow_l_min > most_l_min:
        notes.append(
            Note(
                "flow-above-supply",
                f"The zone would take {flow_l_min:.3g} l/min, the supply gives {most_l_min:g}: "
                f"run times are reckoned with {most_l_min:g}.",
            )
        )
        flow_l_min = most_l_min

    watering = zone.watering
    if watering.wetted_share is not None:
        wetted_share = watering.wetted_share
    else:
        # Roots in a container meet at every drip point, so all of its store can be refilled.
        wetted_share = method.wetted_share if container is None else 1.0
    metered = zone.valve.meter and flow_l_min >= zone.valve.min_flow_l_min
    numbers = ZoneNumbers(
        zone=zone,
        planting=zone.planting,
        share=1.0,
        growth=growth,
        depletion_fraction=zone.planting.depletion_fraction or plant.depletion_fraction,
        available_mm_per_m=available_mm_per_m,
        container_mm=container_mm,
        capacity_share=capacity,
        unavailable_share=unavailable,
        rain_share=zone.site.rain_share * _catch(zone, container),
        efficiency=(
            _efficiency(zone, method.efficiency)
            * (1.0 - _air_loss_share(zone, method.overhead))
            * (1.0 - _leaching_share(zone))
        ),
        flow_l_min=flow_l_min,
        wetted_share=wetted_share,
        smallest_depth_mm=(
            watering.smallest_depth_mm if watering.smallest_depth_mm is not None else method.smallest_depth_mm
        ),
        is_overhead=method.overhead,
        surface=surface_of(zone, plant.kind),
        top_layer=_top_layer(zone, plant, method, wetted_share),
        close_by="volume" if metered else "time",
        notes=(),
    )
    notes.extend(_odd_rate(numbers, method.rate_mm_h, flow_assumed or learned is not None))
    notes.extend(_guessed_intake(numbers))
    _refuse_endless_runs(numbers)
    _refuse_floods(numbers)
    _refuse_small_allowances(numbers, supply.allowance_l)
    return replace(numbers, notes=tuple(notes))


def stands_of(
    zone: Zone, garden: Garden, climate: Climate, learned: LearnedFlow | None = None
) -> tuple[ZoneNumbers, ...]:
    """The numbers of all that grows in a zone, in its order; raises as `numbers_of`.

    What is the zone's own is the same in all of them; the shares of the ground come to 1. A learned
    flow by which the zone could not be watered is told, and not planned with: the garden is as valid
    as it was before its pipe burst.
    """
    if learned is None:
        return _stands_of(zone, garden, climate, None)
    try:
        return _stands_of(zone, garden, climate, learned)
    except InvalidGarden as invalid:
        stands = _stands_of(zone, garden, climate, None)
        note = beyond_belief(learned, invalid.problems[0].detail)
        return tuple(replace(numbers, notes=(*numbers.notes, note)) for numbers in stands)


def _stands_of(
    zone: Zone, garden: Garden, climate: Climate, learned: LearnedFlow | None
) -> tuple[ZoneNumbers, ...]:
    if not zone.others:
        return (numbers_of(zone, garden, climate, learned),)
    whole = sum(planting.share for planting in zone.plantings)
    stands = []
    for place, planting in enumerate(zone.plantings):
        try:
            alone = numbers_of(replace(zone, planting=planting, others=()), garden, climate, learned)
        except InvalidGarden as invalid:
            raise InvalidGarden(
                tuple(
                    Problem(pointer.replace("/planting/", f"/planting/plants/{place}/", 1), detail)
                    for pointer, detail in invalid.problems
                )
            ) from None
        stands.append(replace(alone, zone=zone, share=planting.share / whole))
    return tuple(stands)


def all_numbers(garden: Garden) -> list[tuple[ZoneNumbers, ...]]:
    """Put every number of a garden in place, without weather, to see whether it can be.

    For each zone those of all that grows in it. Raises `UnknownName`, and `InvalidGarden` with
    every zone's problem.
    """
    numbers: list[tuple[ZoneNumbers, ...]] = []
    problems: list[Problem] = []
    for zone in garden.zones:
        try:
            numbers.append(stands_of(zone, garden, Climate()))
        except InvalidGarden as invalid:
            problems.extend(invalid.problems)
    if problems:
        raise InvalidGarden(tuple(problems))
    return numbers


def _growth(zone: Zone, plant: catalogue.Plant, in_the_south: bool, climate: Climate) -> Growth:
    try:
        return growth_of(zone.planting, plant, in_the_south, climate)
    except ValueError as impossible:
        raise _cannot_be(zone, "planting/landscape_coefficient", str(impossible)) from impossible


def _assumed_leaf_out(zone: Zone, plant: catalogue.Plant, season: GrowingSeason) -> list[Note]:
    if zone.planting.leaf_out is not None:
        return []
    return [
        Note(
            "leaf-out-assumed",
            f"No leaf_out is given: the season of {plant.name} is taken to begin on "
            f"{season.starts_on:%m-%d} every year, and to last {season.lengths.season_d} days.",
        )
    ]


def _relies_on_stages(zone: Zone) -> bool:
    planting = zone.planting
    return planting.kc is None and planting.kc_by_month is None and planting.landscape_coefficient is None


def _available_mm_per_m(zone: Zone, capacity: float, wilting: float) -> float:
    """Available water per metre of roots."""
    if capacity <= wilting:
        raise _cannot_be(
            zone,
            "soil",
            f"holds {capacity:.3f} at field capacity and {wilting:.3f} at the wilting point; "
            "field capacity has to be the larger.",
        )
    return total_available_water(capacity, wilting, 1.0)


def _water_points(zone: Zone) -> tuple[float, float]:
    """Field capacity and wilting point, as shares of the soil's volume: own ones, else by own fractions,
    else of the class."""
    soil = zone.soil
    if soil.field_capacity is not None and soil.wilting_point is not None:
        return soil.field_capacity, soil.wilting_point
    if soil.sand_pct is not None and soil.clay_pct is not None:
        organic_matter_pct = soil.organic_matter_pct
        if organic_matter_pct is None:
            organic_matter_pct = DEFAULT_ORGANIC_MATTER_PCT
        try:
            points = water_points(soil.sand_pct / 100.0, soil.clay_pct / 100.0, organic_matter_pct)
        except ValueError as impossible:
            raise _cannot_be(zone, "soil", f"has fractions that no soil has: {impossible}") from impossible
        return points.field_capacity, points.wilting_point
    if soil.texture is None:
        raise _cannot_be(zone, "soil", "needs a texture, its own water points, its fractions or a container.")
    texture = catalogue.soil(soil.texture)
    return texture.field_capacity, texture.wilting_point


def _top_layer(
    zone: Zone, plant: catalogue.Plant, method: catalogue.Method, wetted_share: float
) -> TopLayer | None:
    planting, soil = zone.planting, zone.soil
    if planting.kc_method == "single":
        return None
    if soil.container is not None:
        raise _cannot_be(
            zone,
            "planting/kc_method",
            'is "dual", which is for ground that dries at its surface; in a container it must be "single".',
        )
    return top_layer_of(planting, plant, soil, _water_points(zone), method, wetted_share)


def _container_points(zone: Zone, container: Container) -> tuple[float, float]:
    """What it holds after draining, and what of it cannot be drawn, as shares of its volume."""
    substrate = catalogue.substrate(container.substrate or catalogue.DEFAULT_SUBSTRATE)
    capacity = container.capacity_share if container.capacity_share is not None else substrate.capacity_share
    unavailable = (
        container.unavailable_share
        if container.unavailable_share is not None
        else substrate.unavailable_share
    )
    if capacity <= unavailable:
        raise _cannot_be(
            zone,
            "soil/container",
            f"holds {capacity:g} of its volume after draining and {unavailable:g} cannot be drawn; "
            "capacity_share has to be above unavailable_share.",
        )
    return capacity, unavailable


def _catch(zone: Zone, container: Container | None) -> float:
    """Depth over the leaf area for each depth that falls on the open surface."""
    if container is None or container.surface_m2 is None:
        return 1.0
    return rain_factor(container.surface_m2, zone.area_m2)


def declared_flow_l_min(zone: Zone) -> float:
    """Flow through a zone's valve by its description, or by what its method usually brings. [l/min]"""
    return _flow(zone, catalogue.method(zone.watering.method).rate_mm_h)[0]


def _flow(zone: Zone, usual_rate_mm_h: float) -> tuple[float, bool]:
    """Flow in l/min, and whether it had to be assumed."""
    watering = zone.watering
    if watering.flow_l_min is not None:
        return watering.flow_l_min, False
    if watering.emitters is not None:
        return emitters_flow_l_min(watering.emitters.count, watering.emitters.flow_l_h), False
    if watering.rate_mm_h is not None:
        return flow_of_rate_l_min(watering.rate_mm_h, zone.area_m2), False
    return flow_of_rate_l_min(usual_rate_mm_h, zone.area_m2), True


def _air_loss_share(zone: Zone, is_overhead: bool) -> float:
    """Part of the water that never lands. A uniformity knows nothing of it; an efficiency holds it."""
    watering = zone.watering
    share = watering.air_loss_share
    if share == 0.0:
        return share
    if not is_overhead:
        sentence = (
            f"is {share:g}, which is for overhead watering; {watering.method} loses nothing to the air."
        )
        raise _cannot_be(zone, "watering/air_loss_share", sentence)
    if watering.distribution_uniformity is None and watering.catch_can_mm is None:
        holder = (
            "the efficiency that is given" if watering.efficiency is not None else "the method's efficiency"
        )
        raise _cannot_be(
            zone,
            "watering/air_loss_share",
            f"is {share:g}, and {holder} holds such losses already: give it beside "
            "distribution_uniformity or catch_can_mm only.",
        )
    return share


def _leaching_share(zone: Zone) -> float:
    """Part of the water that only carries salts out of a container, see `leaching_dose_l`."""
    share = zone.watering.leaching_share
    if share > 0.0 and zone.soil.container is None:
        raise _cannot_be(
            zone,
            "watering/leaching_share",
            f"is {share:g}, which is for containers; in the ground it must be 0 or left out, since rain "
            "carries salts away.",
        )
    return share


def _efficiency(zone: Zone, usual: float) -> float:
    """Share of the water that serves the plants: as given, or by its uniformity, or the method's."""
    watering = zone.watering
    if watering.efficiency is not None:
        return watering.efficiency
    if watering.distribution_uniformity is not None:
        return efficiency_of_uniformity(watering.distribution_uniformity)
    if watering.catch_can_mm is None:
        return usual
    try:
        return efficiency_of_uniformity(distribution_uniformity(watering.catch_can_mm))
    except ValueError as impossible:
        raise _cannot_be(zone, "watering/catch_can_mm", str(impossible)) from impossible


def _guessed_intake(numbers: ZoneNumbers) -> list[Note]:
    """Tell which texture stands in where it decides how runs are cut."""
    guessed = numbers.surface.guessed_texture
    if guessed is None or numbers.longest_run_s == math.inf:
        return []
    return [
        Note(
            "intake-assumed",
            f"No texture is given beside the water points: the soil is taken to take in "
            f"{numbers.intake_mm_h:.3g} mm/h, as {guessed} does.",
        )
    ]


def _odd_rate(numbers: ZoneNumbers, usual_rate_mm_h: float, undeclared: bool) -> list[Note]:
    """Tell of a declared rate far from the method's usual one; refuse one that nothing has."""
    rate = numbers.gross_rate_mm_h
    zone = numbers.zone
    if rate <= 0.0:
        raise _cannot_be(zone, "watering", "gives no water; its flow has to be above 0 l/min.")
    if rate > HIGHEST_RATE_MM_H:
        raise _cannot_be(
            zone,
            "watering",
            f"brings {rate:.0f} mm/h over {zone.area_m2:g} m2; no emitter gives more than "
            f"{HIGHEST_RATE_MM_H:g} mm/h. Check the flow and area_m2.",
        )
    if undeclared or numbers.container_mm is not None:
        return []
    if usual_rate_mm_h / 5.0 <= rate <= usual_rate_mm_h * 5.0:
        return []
    return [
        Note(
            "rate-unusual",
            f"{numbers.flow_l_min:g} l/min over {zone.area_m2:g} m2 is {rate:.3g} mm/h; usual for "
            f"{zone.watering.method} is about {usual_rate_mm_h:g} mm/h. Check the flow and area_m2.",
        )
    ]


def _refuse_endless_runs(numbers: ZoneNumbers) -> None:
    zone = numbers.zone
    raw_mm = numbers.depletion_fraction * numbers.total_available_mm(numbers.growth.root_depth_m)
    refill_h = numbers.wetted_share * raw_mm / numbers.efficiency / numbers.gross_rate_mm_h
    if refill_h > LONGEST_REFILL_H:
        raise _cannot_be(
            zone,
            "watering",
            f"gives {numbers.flow_l_min:.3g} l/min to {zone.area_m2:g} m2, so that one refill takes "
            f"{refill_h:.0f} h; at most {LONGEST_REFILL_H:g} h. Check the flow and area_m2.",
        )


def _refuse_floods(numbers: ZoneNumbers) -> None:
    longest_s = numbers.longest_run_s
    if longest_s < SHORTEST_CYCLE_S:
        raise _cannot_be(
            numbers.zone,
            "watering",
            f"brings {numbers.surface_rate_mm_h:.0f} mm/h onto the ground that gets wet, which overflows "
            f"after {longest_s:.1f} s. Check the flow, area_m2 and wetted_share.",
        )


def _refuse_small_allowances(numbers: ZoneNumbers, allowance: Allowance) -> None:
    """Refuse an allowance that the zone could never be watered from."""
    smallest_l = numbers.smallest_volume_l
    problems = [
        Problem(
            f"/water_supply/allowance_l/{period}",
            f"{period} is {allowed_l:g}; the smallest dose of {numbers.zone.id}, "
            f"{numbers.smallest_depth_mm:g} mm, takes {smallest_l:.3g} l, so it would never be watered. "
            f"Allow at least that, or give the zone a smaller smallest_depth_mm.",
        )
        for period, allowed_l in (
            ("day", allowance.day),
            ("week", allowance.week),
            ("month", allowance.month),
        )
        if allowed_l is not None and allowed_l < smallest_l
    ]
    if problems:
        raise InvalidGarden(tuple(problems))


def _cannot_be(zone: Zone, part: str, detail: str) -> InvalidGarden:
    return InvalidGarden((Problem(f"/zones/{zone.id}/{part}", detail),))
