"""Kc of bare or nearly bare ground, by how often it is wetted: equations 59 to 61 and Annex 7."""

import math
from typing import NamedTuple


class WettedSurface(NamedTuple):
    """Evaporable water of one of the curves that FAO-56 figures 29 and 30 draw. [mm]"""

    tew_mm: float
    rew_mm: float


def surface_after_light_wetting(eto_mm: float) -> WettedSurface:
    """Figure 29, 10 mm or less at a time, all soils (FAO-56 page 267)."""
    return WettedSurface(10.0, min(max(2.5, 6.0 / math.sqrt(eto_mm)), 7.0))


def coarse_surface_after_heavy_wetting(eto_mm: float) -> WettedSurface:
    """Figure 30a, 40 mm or more at a time, coarse soils (FAO-56 page 267)."""
    tew_mm = min(15.0, 7.0 * math.sqrt(eto_mm))
    return WettedSurface(tew_mm, min(6.0, tew_mm - 0.01))


def fine_surface_after_heavy_wetting(eto_mm: float) -> WettedSurface:
    """Figure 30b, 40 mm or more at a time, medium and fine soils (FAO-56 page 267)."""
    tew_mm = min(28.0, 13.0 * math.sqrt(eto_mm))
    return WettedSurface(tew_mm, min(9.0, tew_mm - 0.01))


def mean_wetting_interval(l_ini_d: float, wettings: float) -> float:
    """Mean time between wettings of the initial stage, tw. [days]

    FAO-56 equation 7-7 (page 266); adjoining days count once, less than 0.2 ETo not at all::

        tw = L ini / (nw + 0.5)
    """
    return l_ini_d / (wettings + 0.5)


def potential_evaporation(eto_mm: float) -> float:
    """What a wet bare surface evaporates, Eso. [mm/day]

    FAO-56 equation 7-1 (page 263)::

        Eso = 1.15 ETo
    """
    return 1.15 * eto_mm


def initial_coefficient(interval_d: float, eto_mm: float, surface: WettedSurface) -> float:
    """Mean Kc of the initial stage, Kc ini, for a mean interval between wettings.

    FAO-56 equations 7-2 to 7-4 (pages 264 and 265)::

        t1 = REW / Eso
        Kc ini = 1.15                                                        where tw ≤ t1
        Kc ini = [TEW - (TEW - REW) exp( -(tw - t1) Eso [1 + REW / (TEW - REW)] / TEW )] / (tw ETo)

    at most 1.15. Raises ValueError where interval or ETo is not above 0.
    """
    if interval_d <= 0.0 or eto_mm <= 0.0:
        raise ValueError(
            f"interval_d is {interval_d} and eto_mm {eto_mm}; both must be above 0 to tell how far "
            "the ground dries between two wettings."
        )
    tew, rew = surface
    eso = potential_evaporation(eto_mm)
    t1 = rew / eso
    if interval_d <= t1:
        return 1.15
    drying = math.exp(-(interval_d - t1) * eso * (1.0 + rew / (tew - rew)) / tew)
    return min(1.15, (tew - (tew - rew) * drying) / (interval_d * eto_mm))


def coefficient_between_depths(depth_mm: float, kc_light: float, kc_heavy: float) -> float:
    """Kc ini for wettings between 10 and 40 mm.

    FAO-56 equation 59 (page 117)::

        Kc ini = Kc ini (fig. 29) + (I - 10) / (40 - 10) [Kc ini (fig. 30) - Kc ini (fig. 29)]

    Lighter wettings have figure 29's value, heavier ones figure 30's.
    """
    share = max(0.0, min(1.0, (depth_mm - 10.0) / 30.0))
    return kc_light + share * (kc_heavy - kc_light)


def partly_wetted_coefficient(kc_ini_wetted: float, fw: float) -> float:
    """Kc ini of ground of which only a share gets wet.

    FAO-56 equation 60 (page 119)::

        Kc ini = fw Kc ini (wetted)
    """
    return fw * kc_ini_wetted


def depth_on_wetted_ground(irrigation_mm: float, fw: float) -> float:
    """Depth of watering over the ground that gets wet, Iw. [mm]

    FAO-56 equation 61 (page 119)::

        Iw = I / fw
    """
    return irrigation_mm / fw
