"""The water store of a pot, trough or planter.

A container holds a share of its volume after it has drained, and plants cannot draw all of
that. Its plants transpire over their leaf area, which is what `leaf_area_m2` means here, while
rain falls in through the rim. By definition; shares by substrate are in the catalogue.
"""

import math

from scheduling.landscape import require_not_negative, require_positive, require_within


def held_water_l(volume_l: float, capacity_share: float) -> float:
    """Water in a container after it has drained [l]."""
    require_positive("Volume of the container in l", volume_l)
    require_within("Capacity share", capacity_share, 0.0, 1.0)
    return volume_l * capacity_share


def available_water_l(volume_l: float, capacity_share: float, unavailable_share: float) -> float:
    """What plants can draw of the water held [l]; shares are of the container's volume.

    Raises ValueError where more is unavailable than is held.
    """
    held_l = held_water_l(volume_l, capacity_share)
    require_within("Unavailable share", unavailable_share, 0.0, capacity_share)
    return held_l - volume_l * unavailable_share


def available_water_mm(
    volume_l: float, capacity_share: float, unavailable_share: float, leaf_area_m2: float
) -> float:
    """Available water, as a depth over the leaf area: the container's TAW [mm]."""
    require_positive("Leaf area in m²", leaf_area_m2)
    return available_water_l(volume_l, capacity_share, unavailable_share) / leaf_area_m2


def rain_factor(surface_m2: float, leaf_area_m2: float) -> float:
    """By what to multiply rain to have it as a depth over the leaf area: rim over leaf area.

    It is above 1 for a small plant in a wide pot.
    """
    require_not_negative("Open surface in m²", surface_m2)
    require_positive("Leaf area in m²", leaf_area_m2)
    return surface_m2 / leaf_area_m2


DEEPEST_ASSUMED_M = 0.3
"""Pots are about as deep as wide; planters seldom deeper than this (common practice, no source)."""
USUAL_SPREAD = 1.5
"""Width of a plant that fills its pot, in diameters of the pot. Just planted it is 1, full grown 2.1, by
what Viburnum in 11.4-litre pots used (Beeson 2010, HortScience 45(8):1260); the middle is our choice."""


def pot_top_m2(volume_l: float) -> float:
    """Open surface of a pot of which only the volume is known [m²]: as deep as wide, at most 0.3 m deep."""
    require_positive("Volume of the container in l", volume_l)
    volume_m3 = volume_l / 1000.0
    diameter_m = math.cbrt(4.0 * volume_m3 / math.pi)
    return volume_m3 / min(diameter_m, DEEPEST_ASSUMED_M)


def disc_m2(diameter_m: float) -> float:
    """Area of a round top, or of the ground below a round crown [m²]."""
    require_positive("Diameter in m", diameter_m)
    return math.pi / 4.0 * diameter_m * diameter_m
