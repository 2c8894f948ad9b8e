"""Evapotranspiration of the grass reference: equation 6."""


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
