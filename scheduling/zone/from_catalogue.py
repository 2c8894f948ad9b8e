"""A zone with every number in place: what its owner gave, else what the catalogue says."""

import functools
from dataclasses import replace

from scheduling import catalogue
from scheduling.errors import InvalidGarden, Problem, zone_cannot_be
from scheduling.garden.description import Garden, WaterSupply, Zone
from scheduling.landscape.containers import available_water_mm
from scheduling.reasons import Note
from scheduling.reasons.description_notes import (
    FlowAboveSupply,
    FlowAssumed,
    FlowBeyondBelief,
    KeptAlive,
    LeafOutAssumed,
    PlantingDateUnknown,
)
from scheduling.zone.crop import GrowingSeason, Growth, growth_of, overlap_of
from scheduling.zone.hydraulics import (
    air_loss_share_of,
    efficiency_of,
    flow_of,
    leaching_share_of,
)
from scheduling.zone.limits import (
    guessed_intake,
    odd_rate,
    refuse_endless_runs,
    refuse_floods,
    refuse_small_allowances,
)
from scheduling.zone.metering import LearnedFlow, drift_note
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.soil import (
    available_mm_per_m_of,
    container_points_of,
    rain_caught_share,
    surface_of,
    water_points_of,
)
from scheduling.zone.surface_layer import TopLayer, top_layer_of


def numbers_of(zone: Zone, garden: Garden, learned: LearnedFlow | None = None) -> ZoneNumbers:
    """Put every number of a zone in place; `learned` is what its meter tells of the flow.

    Raises `UnknownName` for a name that is not in the catalogue, and `InvalidGarden` for
    numbers that cannot be.
    """
    return _numbers_once(zone, garden.latitude < 0.0, garden.water_supply, learned)


# Without it a plan of 12 zones over 60 past days takes 12 % longer.
@functools.lru_cache(maxsize=1024)
def _numbers_once(
    zone: Zone, in_the_south: bool, supply: WaterSupply, learned: LearnedFlow | None
) -> ZoneNumbers:
    """A plan is made anew every hour, and what it is made for has seldom changed since."""
    plant = catalogue.plant(zone.planting.plant)
    method = catalogue.method(zone.watering.method)
    notes: list[Note] = []
    growth = _growth(zone, plant, in_the_south)
    if plant.stages is not None and growth.season is None and _relies_on_stages(zone):
        notes.append(PlantingDateUnknown(plant.called))

    if growth.season is not None and growth.season.rests and not growth.season.is_annual:
        notes.extend(_assumed_leaf_out(zone, plant, growth.season))

    alive_kc = _alive_kc(zone, plant)
    if alive_kc is not None:
        notes.append(KeptAlive(plant.called, alive_kc))

    container = zone.soil.container
    capacity, unavailable = (
        water_points_of(zone) if container is None else container_points_of(zone, container)
    )
    container_mm = available_mm_per_m = None
    if container is not None:
        container_mm = available_water_mm(
            container.count * container.volume_l, capacity, unavailable, zone.area_m2
        )
    else:
        available_mm_per_m = available_mm_per_m_of(zone, capacity, unavailable)

    flow_l_min, flow_assumed = flow_of(zone, method.rate_mm_h)
    if learned is not None:
        note = drift_note(learned, None if flow_assumed else flow_l_min)
        notes.extend(() if note is None else (note,))
        flow_l_min = learned.flow_l_min
    elif flow_assumed:
        notes.append(FlowAssumed(flow_l_min, method.rate_mm_h))
    most_l_min = supply.flow_l_min
    if learned is None and most_l_min is not None and flow_l_min > most_l_min:
        notes.append(FlowAboveSupply(flow_l_min, most_l_min))
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
        depletion_fraction=(
            zone.planting.depletion_fraction or plant.depletion_fraction
            if alive_kc is None
            else DEPLETION_FRACTION_ALIVE
        ),
        allowed_depletion=zone.planting.allowed_depletion,
        alive_kc=alive_kc,
        available_mm_per_m=available_mm_per_m,
        container_mm=container_mm,
        capacity_share=capacity,
        unavailable_share=unavailable,
        rain_share=zone.site.rain_share * rain_caught_share(zone, container),
        efficiency=(
            efficiency_of(zone, method.efficiency)
            * (1.0 - air_loss_share_of(zone, method.overhead))
            * (1.0 - leaching_share_of(zone))
        ),
        leaching_share=leaching_share_of(zone),
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
    notes.extend(odd_rate(numbers, method.rate_mm_h, flow_assumed or learned is not None))
    notes.extend(guessed_intake(numbers))
    refuse_endless_runs(numbers)
    refuse_floods(numbers)
    refuse_small_allowances(numbers, supply.allowance_l)
    return replace(numbers, notes=tuple(notes))


def stands_of(zone: Zone, garden: Garden, learned: LearnedFlow | None = None) -> tuple[ZoneNumbers, ...]:
    """The numbers of all that grows in a zone, in its order; raises as `numbers_of`.

    What is the zone's own is the same in all of them; the shares of the ground come to 1. A learned
    flow by which the zone could not be watered is told, and not planned with: the garden is as valid
    as it was before its pipe burst.
    """
    if learned is None:
        return _stands_of(zone, garden, None)
    try:
        return _stands_of(zone, garden, learned)
    except InvalidGarden:
        stands = _stands_of(zone, garden, None)
        note = FlowBeyondBelief(learned.flow_l_min)
        return tuple(replace(numbers, notes=(*numbers.notes, note)) for numbers in stands)


def _stands_of(zone: Zone, garden: Garden, learned: LearnedFlow | None) -> tuple[ZoneNumbers, ...]:
    if not zone.others:
        return (numbers_of(zone, garden, learned),)
    whole = sum(planting.share for planting in zone.plantings)
    stands = []
    for place, planting in enumerate(zone.plantings):
        try:
            alone = numbers_of(replace(zone, planting=planting, others=()), garden, learned)
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
            numbers.append(stands_of(zone, garden))
        except InvalidGarden as invalid:
            problems.extend(invalid.problems)
    if problems:
        raise InvalidGarden(tuple(problems))
    return numbers


def _growth(zone: Zone, plant: catalogue.Plant, in_the_south: bool) -> Growth:
    try:
        growth = growth_of(zone.planting, plant, in_the_south)
    except ValueError as impossible:
        raise zone_cannot_be(zone.id, "planting/landscape_coefficient", str(impossible)) from impossible
    overlap = overlap_of(growth, zone.planting, plant)
    if overlap is not None:
        raise zone_cannot_be(zone.id, "planting/planted_on", overlap)
    return growth


DEPLETION_FRACTION_ALIVE = 0.8
"""Share of TAW that plants use before water is due, where they are only kept alive: rare and deep. In Irvine
ground covers were watered whenever 40 mm had built up (Pittenger et al. 2001); the share is our choice."""
SHALLOWEST_TURF_M = 0.10
"""Of 25 warm-season grasses none came back from 60 dry days on so much soil (Chalmers et al. 2007)."""


def _alive_kc(zone: Zone, plant: catalogue.Plant) -> float | None:
    """The most that plants which are only kept alive use of ETo; None: they are to thrive."""
    planting = zone.planting
    if planting.aim == "thriving":
        return None
    problem = None
    if zone.soil.container is not None:
        problem = "is for plants in the ground; in a container they wilt within a day or two."
    elif plant.alive_share is None:
        problem = f"has no published rate for {plant.id}; give allowed_depletion instead."
    elif planting.kc_method == "dual":
        problem = "is a share of ETo, beside which evaporation cannot be told apart; give kc_method single."
    elif plant.habit != "annual" and planting.planted_on is not None:
        problem = "is for plants that have stood for two summers: leave planted_on out once these have."
    elif plant.kind == "turf" and (planting.root_depth_m or plant.root_depth_m) <= SHALLOWEST_TURF_M:
        problem = "would kill a lawn on 10 cm of soil; it must have more, or thrive."
    if problem is not None:
        raise zone_cannot_be(zone.id, "planting/aim", f'"alive" {problem}')
    return plant.alive_share


def _assumed_leaf_out(zone: Zone, plant: catalogue.Plant, season: GrowingSeason) -> list[Note]:
    if zone.planting.leaf_out is not None:
        return []
    starts_on = (season.starts_on.month, season.starts_on.day)
    return [LeafOutAssumed(plant.called, starts_on, season.lengths.season_d)]


def _relies_on_stages(zone: Zone) -> bool:
    planting = zone.planting
    return planting.kc is None and planting.kc_by_month is None and planting.landscape_coefficient is None


def _top_layer(
    zone: Zone, plant: catalogue.Plant, method: catalogue.Method, wetted_share: float
) -> TopLayer | None:
    planting, soil = zone.planting, zone.soil
    if planting.kc_method == "single":
        return None
    if soil.container is not None:
        raise zone_cannot_be(
            zone.id,
            "planting/kc_method",
            'is "dual", which is for ground that dries at its surface; in a container it must be "single".',
        )
    return top_layer_of(planting, plant, soil, water_points_of(zone), method, wetted_share)
