"""What a zone's ground does with water that comes fast: how much goes in, how much runs off."""

import math
from dataclasses import dataclass

from scheduling import catalogue
from scheduling.catalogue import PlantKind
from scheduling.garden import Soil, Zone
from scheduling.landscape.infiltration import (
    HYDROLOGIC_GROUPS,
    LAWN_CURVE_NUMBERS,
    ORCHARD_CURVE_NUMBERS,
    ROW_CROP_CURVE_NUMBERS,
    SHRUB_CURVE_NUMBERS,
)
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
