"""What wind and sun take of sprinkled water before it lands."""

from scheduling.landscape.ranges import require_not_negative, require_within

FINEST_SPRAY = 17.0
COARSEST_SPRAY = 7.0
"""Coarseness index of Keller and Bliesner: below and above these drops make no further difference."""


def effective_portion(eto_mm: float, wind_km_h: float, coarseness: float) -> float:
    """Re, the part of sprinkled water that lands:
    0.976 + 0.005 ETo - 0.00017 ETo2 + 0.0012 W - CI (0.00043 ETo + 0.00018 W + 0.000016 ETo W).

    Keller and Bliesner 1990, Sprinkle and Trickle Irrigation (from memory); at most 1.

    Parameters
    ----------
    eto_mm : float
        Reference evapotranspiration of a day. [mm]
    wind_km_h : float
        Mean wind of the day. [km/h]
    coarseness : float
        CI, from 7 (coarse drops) to 17 (fine spray).
    """
    require_not_negative("Reference evapotranspiration in mm", eto_mm)
    require_not_negative("Wind in km/h", wind_km_h)
    require_within("Coarseness index", coarseness, COARSEST_SPRAY, FINEST_SPRAY)
    still = 0.976 + 0.005 * eto_mm - 0.00017 * eto_mm**2 + 0.0012 * wind_km_h
    fine = 0.00043 * eto_mm + 0.00018 * wind_km_h + 0.000016 * eto_mm * wind_km_h
    return min(1.0, still - coarseness * fine)
