"""What a zone's ground does with water that comes fast: how much goes in, how much runs off."""

import math
from dataclasses import dataclass

from scheduling import catalogue
from scheduling.catalogue import PlantKind
from scheduling.errors import zone_cannot_be
from scheduling.fao56.root_zone import total_available_water
from scheduling.garden.description import Container, Soil, Zone
from scheduling.landscape.containers import USUAL_SPREAD, disc_m2, pot_top_m2, rain_factor
from scheduling.landscape.infiltration import (
    HYDROLOGIC_GROUPS,
    LAWN_CURVE_NUMBERS,
    ORCHARD_CURVE_NUMBERS,
    ROW_CROP_CURVE_NUMBERS,
    SHRUB_CURVE_NUMBERS,
)
from scheduling.landscape.soil_water import water_points
from scheduling.landscape.texture import nearest_texture, texture_of_fractions

CURVE_NUMBERS_BY_KIND: dict[PlantKind, dict[str, float]] = {
    "turf": LAWN_CURVE_NUMBERS,
    "ornamental": SHRUB_CURVE_NUMBERS,
    "hedge": SHRUB_CURVE_NUMBERS,
    "tree": ORCHARD_CURVE_NUMBERS,
    "fruit": ORCHARD_CURVE_NUMBERS,
    "herb": ROW_CROP_CURVE_NUMBERS,
    "vegetable": ROW_CROP_CURVE_NUMBERS,
    "container": ROW_CROP_CURVE_NUMBERS,
}
"""TR-55's cover that is nearest to each kind of plant, where it grows in the ground; our choice."""


@dataclass(frozen=True, slots=True)
class Surface:
    """How a zone's ground takes water in."""

    intake_mm_h: float
    """What goes in at once; infinite in a container, whose rim holds what comes. [mm/h]"""
    ponding_mm: float
    """What may stand on it before it runs off. [mm]"""
    curve_number: float | None
    """By which rain runs off; None: none does."""
    guessed_texture: str | None = None
    """The texture that was taken for the intake where own water points say nothing of it."""


IN_A_CONTAINER = Surface(math.inf, math.inf, None)


def surface_of(zone: Zone, kind: PlantKind) -> Surface:
    """The ground of a zone under a kind of plant; its soil is known to be one that can be."""
    if zone.soil.container is not None:
        return IN_A_CONTAINER
    texture, is_guess = _texture(zone.soil)
    soil = catalogue.soil(texture)
    return Surface(
        soil.intake_mm_h,
        soil.ponding_mm(zone.site.slope_pct),
        CURVE_NUMBERS_BY_KIND[kind][HYDROLOGIC_GROUPS[texture]],
        texture if is_guess else None,
    )


def _texture(soil: Soil) -> tuple[str, bool]:
    """The soil's texture class, and whether it had to be guessed."""
    if soil.texture is not None:
        return soil.texture, False
    if soil.sand_pct is not None and soil.clay_pct is not None:
        return texture_of_fractions(soil.sand_pct, soil.clay_pct), False
    assert soil.field_capacity is not None
    assert soil.wilting_point is not None
    classes = {entry.id: (entry.field_capacity, entry.wilting_point) for entry in catalogue.soils()}
    return nearest_texture(soil.field_capacity, soil.wilting_point, classes), True


DEFAULT_ORGANIC_MATTER_PCT = 2.5
"""Saxton & Rawls 2006 print their class values for 2.5 % of organic matter."""


def available_mm_per_m_of(zone: Zone, capacity: float, wilting: float) -> float:
    """Available water per metre of roots."""
    if capacity <= wilting:
        raise zone_cannot_be(
            zone.id,
            "soil",
            f"holds {capacity:.3f} at field capacity and {wilting:.3f} at the wilting point; "
            "field capacity has to be the larger.",
        )
    return total_available_water(capacity, wilting, 1.0)


def water_points_of(zone: Zone) -> tuple[float, float]:
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
            raise zone_cannot_be(
                zone.id, "soil", f"has fractions that no soil has: {impossible}"
            ) from impossible
        return points.field_capacity, points.wilting_point
    if soil.texture is None:
        raise zone_cannot_be(
            zone.id, "soil", "needs a texture, its own water points, its fractions or a container."
        )
    texture = catalogue.soil(soil.texture)
    return texture.field_capacity, texture.wilting_point


def container_points_of(zone: Zone, container: Container) -> tuple[float, float]:
    """What it holds after draining, and what of it cannot be drawn, as shares of its volume."""
    substrate = catalogue.substrate(container.substrate or catalogue.DEFAULT_SUBSTRATE)
    capacity = container.capacity_share if container.capacity_share is not None else substrate.capacity_share
    unavailable = (
        container.unavailable_share
        if container.unavailable_share is not None
        else substrate.unavailable_share
    )
    if capacity <= unavailable:
        raise zone_cannot_be(
            zone.id,
            "soil/container",
            f"holds {capacity:g} of its volume after draining and {unavailable:g} cannot be drawn; "
            "capacity_share has to be above unavailable_share.",
        )
    return capacity, unavailable


def top_m2(container: Container) -> float:
    """Open surface of one container: as given, by its diameter, else by its volume."""
    if container.surface_m2 is not None:
        return container.surface_m2
    return pot_top_m2(container.volume_l) if container.diameter_m is None else disc_m2(container.diameter_m)


def canopy_m2(container: Container) -> float:
    """Leaf area over all the containers, by the width of the plants, else by that of the pots."""
    if container.spread_m is not None:
        return container.count * disc_m2(container.spread_m)
    return container.count * top_m2(container) * USUAL_SPREAD**2


def rain_caught_share(zone: Zone, container: Container | None) -> float:
    """Depth over the leaf area for each depth that falls on the open surface.

    A surface that nobody gave is taken to be no larger than the leaf area.
    """
    if container is None:
        return 1.0
    share = rain_factor(container.count * top_m2(container), zone.area_m2)
    is_known = container.surface_m2 is not None or container.diameter_m is not None
    return share if is_known else min(1.0, share)
