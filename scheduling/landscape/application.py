"""Depths, litres, rates and seconds, and how evenly water arrives.

1 mm on 1 m² is 1 litre, so most of this is one multiplication; it is written here once, with the
unit in each name. *Net* is what plants can use, *gross* what the valve lets through.
"""

import math
from collections.abc import Sequence

from scheduling.landscape import require_not_negative, require_positive

FEWEST_CATCH_CANS = 4
"""Fewer have no lowest quarter. UC Davis (CCUH) asks for at least 24 cans in a real audit."""


def application_rate_mm_h(flow_l_min: float, area_m2: float) -> float:
    """Gross depth that an hour of flow spreads over an area: 60 Q / A [mm/h]."""
    require_not_negative("Flow in l/min", flow_l_min)
    require_positive("Area in m²", area_m2)
    return 60.0 * flow_l_min / area_m2


def flow_of_rate_l_min(rate_mm_h: float, area_m2: float) -> float:
    """Flow that makes an application rate on an area: R A / 60 [l/min]."""
    require_not_negative("Rate in mm/h", rate_mm_h)
    require_positive("Area in m²", area_m2)
    return rate_mm_h * area_m2 / 60.0


def emitters_flow_l_min(count: int, emitter_flow_l_h: float) -> float:
    """Flow of so many equal emitters: n q / 60 [l/min]."""
    require_not_negative("Number of emitters", count)
    require_not_negative("Flow of an emitter in l/h", emitter_flow_l_h)
    return count * emitter_flow_l_h / 60.0


def gross_depth_mm(net_mm: float, efficiency: float) -> float:
    """What has to leave the valve so that `net_mm` reaches the roots [mm].

    Landscape water need over irrigation efficiency (UC Cooperative Extension and DWR 2000).
    """
    require_not_negative("Net depth in mm", net_mm)
    _require_efficiency(efficiency)
    return net_mm / efficiency


def volume_of_depth_l(gross_mm: float, area_m2: float) -> float:
    """Litres in a depth over an area [l]."""
    require_not_negative("Gross depth in mm", gross_mm)
    require_positive("Area in m²", area_m2)
    return gross_mm * area_m2


def run_time_s(volume_l: float, flow_l_min: float) -> float:
    """Time in which a flow delivers a volume [s], not rounded."""
    require_not_negative("Volume in l", volume_l)
    require_positive("Flow in l/min", flow_l_min)
    return volume_l / flow_l_min * 60.0


def net_depth_of_volume_mm(volume_l: float, area_m2: float, efficiency: float) -> float:
    """What delivered litres add to the root zone [mm]."""
    require_not_negative("Volume in l", volume_l)
    require_positive("Area in m²", area_m2)
    _require_efficiency(efficiency)
    return volume_l / area_m2 * efficiency


def distribution_uniformity(caught_mm: Sequence[float]) -> float:
    """Low-quarter distribution uniformity, DU: mean of the lowest quarter over the mean of all.

    UC Davis (CCUH), "Measuring Distribution Uniformity and Calculating Run Time". Where the
    number of cans is no multiple of 4, the can on the border counts with its share.

    Raises ValueError for fewer than 4 cans, a negative depth, or cans that all stayed dry.
    """
    mean_mm = _mean_caught_mm(caught_mm)
    if len(caught_mm) < FEWEST_CATCH_CANS:
        raise ValueError(
            f"There are {len(caught_mm)} catch cans; a lowest quarter needs at least {FEWEST_CATCH_CANS}."
        )
    if mean_mm == 0.0:
        raise ValueError("Every catch can is dry; at least one depth must be above 0.")
    rising = sorted(caught_mm)
    quarter = len(rising) / 4.0
    whole = int(quarter)
    lowest_mm = math.fsum(rising[:whole]) + (quarter - whole) * rising[whole]
    return min(1.0, lowest_mm / quarter / mean_mm)


def efficiency_of_uniformity(distribution_uniformity: float) -> float:
    """Share of the mean depth to reckon with, given a low-quarter DU: 0.4 + 0.6 DU.

    Irrigation Association 2005, Landscape Irrigation Scheduling and Water Management (from
    memory); it stands for the low half of a usual pattern. Watering by 1/DU instead gives the
    best-watered three quarters too much.

    It takes the place of an efficiency that already contains uniformity; never use both.
    """
    if not 0.0 <= distribution_uniformity <= 1.0:
        raise ValueError(f"Distribution uniformity is {distribution_uniformity}; it must be 0 to 1.")
    return 0.4 + 0.6 * distribution_uniformity


def _require_efficiency(efficiency: float) -> None:
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"Efficiency is {efficiency}; it must be above 0 and at most 1.")


def _mean_caught_mm(caught_mm: Sequence[float]) -> float:
    if not caught_mm:
        raise ValueError("There are no catch cans; at least one depth is needed.")
    for depth_mm in caught_mm:
        require_not_negative("Depth in a catch can in mm", depth_mm)
    return math.fsum(caught_mm) / len(caught_mm)
