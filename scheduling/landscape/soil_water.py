"""Water points of a soil from its sand, clay and organic matter.

Saxton, K. E., and W. J. Rawls. 2006. Soil water characteristic estimates by texture and
organic matter for hydrologic solutions. Soil Science Society of America Journal 70:1569-1578.

Sand and clay are shares of the mineral soil by weight (the paper's text says percent; its
numbers come out with shares), organic matter is in percent by weight. Water points are m³ of
water in a m³ of soil. The regression was made with clay up to 60 % and organic matter up to
8 %; within that, a few corners (nearly pure sand without organic matter, sandy clay with very
much of it) give points that no soil has, and are refused.
"""

import math
from typing import NamedTuple

from scheduling.landscape import require_within

MOST_CLAY_SHARE = 0.6
"""Clay share up to which the regression was made (from memory)."""
MOST_ORGANIC_MATTER_PCT = 8.0
"""Organic matter up to which the regression was made (from memory). [%]"""
LEAST_WILTING_POINT = 0.001
"""Below this, the wilting point is an artefact of the regression. [m³/m³]"""

TENSION_AT_WILTING_POINT_KPA = 1500.0
TENSION_AT_FIELD_CAPACITY_KPA = 33.0


class WaterPoints(NamedTuple):
    """What a soil holds, and how fast water moves through it once it is full."""

    wilting_point: float
    """Water at 1500 kPa. [m³/m³]"""
    field_capacity: float
    """Water at 33 kPa. [m³/m³]"""
    saturation: float
    """Water with every pore full. [m³/m³]"""
    ksat_mm_h: float
    """Saturated hydraulic conductivity. [mm/h]"""


def wilting_point(sand_share: float, clay_share: float, organic_matter_pct: float) -> float:
    """Water that plants cannot draw, θ at 1500 kPa [m³/m³].

    Saxton & Rawls 2006, equation 1::

        θt = -0.024 S + 0.487 C + 0.006 OM + 0.005 S OM - 0.013 C OM + 0.068 S C + 0.031
        θ  = θt + (0.14 θt - 0.02)
    """
    S, C, OM = sand_share, clay_share, organic_matter_pct
    first = -0.024 * S + 0.487 * C + 0.006 * OM + 0.005 * S * OM - 0.013 * C * OM + 0.068 * S * C + 0.031
    return first + (0.14 * first - 0.02)


def field_capacity(sand_share: float, clay_share: float, organic_matter_pct: float) -> float:
    """Water that stays after a soil has drained, θ at 33 kPa [m³/m³].

    Saxton & Rawls 2006, equation 2::

        θt = -0.251 S + 0.195 C + 0.011 OM + 0.006 S OM - 0.027 C OM + 0.452 S C + 0.299
        θ  = θt + (1.283 θt² - 0.374 θt - 0.015)
    """
    S, C, OM = sand_share, clay_share, organic_matter_pct
    first = -0.251 * S + 0.195 * C + 0.011 * OM + 0.006 * S * OM - 0.027 * C * OM + 0.452 * S * C + 0.299
    return first + (1.283 * first**2 - 0.374 * first - 0.015)


def saturation(sand_share: float, clay_share: float, organic_matter_pct: float) -> float:
    """Water with every pore full, θS [m³/m³].

    Saxton & Rawls 2006, equations 3 and 5::

        θt = 0.278 S + 0.034 C + 0.022 OM - 0.018 S OM - 0.027 C OM - 0.584 S C + 0.078
        θS = θ33 + θt + (0.636 θt - 0.107) - 0.097 S + 0.043
    """
    S, C, OM = sand_share, clay_share, organic_matter_pct
    first = 0.278 * S + 0.034 * C + 0.022 * OM - 0.018 * S * OM - 0.027 * C * OM - 0.584 * S * C + 0.078
    above_field_capacity = first + (0.636 * first - 0.107)
    return field_capacity(S, C, OM) + above_field_capacity - 0.097 * S + 0.043


def saturated_conductivity_mm_h(wilting_point: float, field_capacity: float, saturation: float) -> float:
    """How fast water moves through a full soil, Ks [mm/h].

    Saxton & Rawls 2006, equations 15, 16 and 18 (numbers of the equations from memory)::

        Ks = 1930 (θS - θ33)^(3 - λ)
        λ  = (ln θ33 - ln θ1500) / (ln 1500 - ln 33)

    It is many times what a lawn takes in during a run; `infiltration` works with basic intake
    rates instead.
    """
    tension_range = math.log(TENSION_AT_WILTING_POINT_KPA) - math.log(TENSION_AT_FIELD_CAPACITY_KPA)
    slope = (math.log(field_capacity) - math.log(wilting_point)) / tension_range
    return float(1930.0 * (saturation - field_capacity) ** (3.0 - slope))


def water_points(sand_share: float, clay_share: float, organic_matter_pct: float = 2.5) -> WaterPoints:
    """All four properties of a soil of known sand and clay.

    2.5 % organic matter is what the paper's table of texture classes assumes.

    Raises ValueError for shares that no soil has, for more clay or organic matter than the
    equations were made for, and where the equations give points that are out of order.
    """
    require_within("Sand", sand_share, 0.0, 1.0)
    require_within("Clay", clay_share, 0.0, MOST_CLAY_SHARE)
    require_within("Organic matter in %", organic_matter_pct, 0.0, MOST_ORGANIC_MATTER_PCT)
    if sand_share + clay_share > 1.0 + 1e-9:
        raise ValueError(
            f"Sand {sand_share:g} and clay {clay_share:g} together are {sand_share + clay_share:g}; "
            "with silt they make up the whole, so their sum must be at most 1."
        )
    wilts_at = wilting_point(sand_share, clay_share, organic_matter_pct)
    holds = field_capacity(sand_share, clay_share, organic_matter_pct)
    full_at = saturation(sand_share, clay_share, organic_matter_pct)
    if not LEAST_WILTING_POINT <= wilts_at < holds < full_at < 1.0:
        raise ValueError(
            f"The equations do not describe a soil of sand {sand_share:g}, clay {clay_share:g} and "
            f"{organic_matter_pct:g} % organic matter: wilting point {wilts_at:.4f}, field capacity "
            f"{holds:.3f} and saturation {full_at:.3f} must rise from at least "
            f"{LEAST_WILTING_POINT:g}. Give field capacity and wilting point, or a texture, instead."
        )
    return WaterPoints(wilts_at, holds, full_at, saturated_conductivity_mm_h(wilts_at, holds, full_at))
