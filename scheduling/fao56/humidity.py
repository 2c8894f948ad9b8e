"""Water vapour in the air: equations 11 to 14, 17 to 19, 48 and 63.

The ways to the actual vapour pressure, in FAO-56's order of preference (pages 37 to 40 and 58):
dew point (14), RHmax with RHmin (17), RHmax (18), RHmean (19), minimum temperature (48).
"""

import math

ARID_DEW_POINT_DEPRESSION_C = 2.0
"""Ko of equation 6-6 in arid and semi-arid climates: dew point below the minimum temperature (page 261)."""


def saturation_vapour_pressure(temperature_c: float) -> float:
    """Pressure of water vapour in air that can hold no more, e°(T). [kPa]

    FAO-56 equation 11 (page 36)::

        e°(T) = 0.6108 exp[17.27 T / (T + 237.3)]

    The curve bends upwards: for a whole day call `mean_saturation_vapour_pressure`. Below 0 °C
    this is the value over supercooled water, not over ice.

    >>> round(saturation_vapour_pressure(24.5), 3)  # example 3
    3.075
    """
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def mean_saturation_vapour_pressure(t_min_c: float, t_max_c: float) -> float:
    """Saturation vapour pressure of a day, es. [kPa]

    FAO-56 equation 12 (page 36)::

        es = [e°(Tmax) + e°(Tmin)] / 2
    """
    return (saturation_vapour_pressure(t_max_c) + saturation_vapour_pressure(t_min_c)) / 2.0


def slope_of_saturation_curve(t_mean_c: float) -> float:
    """Slope of the saturation vapour pressure curve, Δ. [kPa/°C]

    FAO-56 equation 13 (page 37)::

        Δ = 4098 e°(T) / (T + 237.3)^2
    """
    return 4098.0 * saturation_vapour_pressure(t_mean_c) / ((t_mean_c + 237.3) * (t_mean_c + 237.3))


def vapour_pressure_from_dew_point(t_dew_c: float) -> float:
    """Actual vapour pressure from the dew point, ea. [kPa]

    FAO-56 equation 14 (page 37)::

        ea = e°(Tdew)
    """
    return saturation_vapour_pressure(t_dew_c)


def vapour_pressure_from_rh_max_and_min(
    t_min_c: float, t_max_c: float, rh_max_pct: float, rh_min_pct: float
) -> float:
    """Actual vapour pressure from both extremes of relative humidity, ea. [kPa]

    FAO-56 equation 17 (page 38); the air is moistest when it is coldest::

        ea = [e°(Tmin) RHmax / 100 + e°(Tmax) RHmin / 100] / 2
    """
    return (
        saturation_vapour_pressure(t_min_c) * rh_max_pct + saturation_vapour_pressure(t_max_c) * rh_min_pct
    ) / 200.0


def vapour_pressure_from_rh_max(t_min_c: float, rh_max_pct: float) -> float:
    """Actual vapour pressure from the highest relative humidity alone, ea. [kPa]

    FAO-56 equation 18 (page 39)::

        ea = e°(Tmin) RHmax / 100
    """
    return saturation_vapour_pressure(t_min_c) * rh_max_pct / 100.0


def vapour_pressure_from_rh_mean(t_min_c: float, t_max_c: float, rh_mean_pct: float) -> float:
    """Actual vapour pressure from the mean relative humidity, ea. [kPa]

    FAO-56 equation 19 (page 39), the least preferred of those from relative humidity::

        ea = RHmean / 100 [e°(Tmax) + e°(Tmin)] / 2
    """
    return rh_mean_pct / 100.0 * mean_saturation_vapour_pressure(t_min_c, t_max_c)


def dew_point_from_minimum_temperature(t_min_c: float, arid: bool = False) -> float:
    """Estimate of the dew point where no humidity is known, Tdew. [°C]

    FAO-56 equation 6-6 (Annex 6, page 261)::

        Tdew = Tmin - Ko      Ko = 0 where humid or subhumid, 2 where arid or semi-arid
    """
    return t_min_c - ARID_DEW_POINT_DEPRESSION_C if arid else t_min_c


def vapour_pressure_from_minimum_temperature(t_min_c: float, arid: bool = False) -> float:
    """Estimate of the actual vapour pressure where no humidity is known, ea. [kPa]

    FAO-56 equation 48 (page 58), printed there with 0.611 for 0.6108::

        ea = e°(Tmin)         in arid climates e°(Tmin - 2)
    """
    return saturation_vapour_pressure(dew_point_from_minimum_temperature(t_min_c, arid))


def dew_point(actual_kpa: float) -> float:
    """Dew point of air with a given vapour pressure, Tdew. [°C]

    FAO-56 equation 3-11 (Annex 3, page 225)::

        Tdew = [116.91 + 237.3 ln(ea)] / [16.78 - ln(ea)]

    Raises ValueError where there is no vapour at all.
    """
    if actual_kpa <= 0.0:
        raise ValueError(f"actual_kpa is {actual_kpa}; a dew point needs a vapour pressure above 0 kPa.")
    log_ea = math.log(actual_kpa)
    return (116.91 + 237.3 * log_ea) / (16.78 - log_ea)


def minimum_relative_humidity(actual_kpa: float, t_max_c: float) -> float:
    """Relative humidity at the day's highest temperature, RHmin. [%]

    FAO-56 equation 63 (page 123), whose e°(Tdew) is the actual vapour pressure (equation 14)::

        RHmin = 100 e°(Tdew) / e°(Tmax)

    At most 100.
    """
    return min(100.0, 100.0 * actual_kpa / saturation_vapour_pressure(t_max_c))
