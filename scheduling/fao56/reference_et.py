"""Evapotranspiration of the grass reference: equations 6 and 52."""

import math


def penman_monteith(
    t_mean_c: float,
    wind_2m_m_s: float,
    slope_kpa_c: float,
    psychrometric_kpa_c: float,
    net_mj_m2: float,
    deficit_kpa: float,
    soil_heat_mj_m2: float = 0.0,
) -> float:
    """Evapotranspiration of the grass reference, ETo. [mm/day]

    FAO-56 equation 6 (page 65), for grass of 0.12 m, 70 s/m and an albedo of 0.23::

        ETo = [0.408 Δ (Rn - G) + γ 900 / (T + 273) u2 (es - ea)] / [Δ + γ (1 + 0.34 u2)]

    `deficit_kpa` is es - ea. In cold, still, dark weather the result is below 0.
    """
    radiation_term = 0.408 * slope_kpa_c * (net_mj_m2 - soil_heat_mj_m2)
    wind_term = psychrometric_kpa_c * 900.0 / (t_mean_c + 273.0) * wind_2m_m_s * deficit_kpa
    return (radiation_term + wind_term) / (slope_kpa_c + psychrometric_kpa_c * (1.0 + 0.34 * wind_2m_m_s))


def hargreaves_samani(t_min_c: float, t_max_c: float, extraterrestrial_mj_m2: float) -> float:
    """Estimate of ETo from temperature alone, a second opinion. [mm/day]

    FAO-56 equation 52 (page 64), with Ra as a depth of water (equation 20)::

        ETo = 0.0023 (Tmean + 17.8) (Tmax - Tmin)^0.5 Ra

    Too low in wind above 3 m/s, too high in humid air. Below a mean of -17.8 °C it is negative.
    Raises ValueError where the minimum is above the maximum.
    """
    if t_min_c > t_max_c:
        raise ValueError(f"t_min_c is {t_min_c}, above t_max_c, {t_max_c}; it may be at most equal.")
    t_mean_c = (t_max_c + t_min_c) / 2.0
    return 0.0023 * (t_mean_c + 17.8) * math.sqrt(t_max_c - t_min_c) * 0.408 * extraterrestrial_mj_m2
