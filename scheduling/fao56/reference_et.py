"""Evapotranspiration of the grass reference, and the air it takes place in: equations 6, 7, 8 and 47."""

import math

LOWEST_WIND_HEIGHT_M = 0.5
"""Below it equation 47 magnifies any error, and below 0.095 m it fails. Common practice, no source."""


def atmospheric_pressure(elevation_m: float) -> float:
    """Pressure of a standard atmosphere at 20 °C, P. [kPa]

    FAO-56 equation 7 (page 31)::

        P = 101.3 [(293 - 0.0065 z) / 293]^5.26

    Holds below sea level too, where it gives more than 101.3 kPa.
    """
    return float(101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26)


def psychrometric_constant(pressure_kpa: float) -> float:
    """Psychrometric constant, γ. [kPa/°C]

    FAO-56 equation 8 (page 32), with a latent heat of 2.45 MJ/kg::

        γ = 0.665 10^-3 P
    """
    return 0.665e-3 * pressure_kpa


def wind_at_2m(wind_m_s: float, wind_height_m: float) -> float:
    """Wind 2 m above short grass from wind at another height, u2. [m/s]

    FAO-56 equation 47 (page 56)::

        u2 = uz 4.87 / ln(67.8 z - 5.42)

    Raises ValueError for a height below 0.5 m.
    """
    if wind_height_m < LOWEST_WIND_HEIGHT_M:
        raise ValueError(
            f"wind_height_m is {wind_height_m}; wind is brought to 2 m from {LOWEST_WIND_HEIGHT_M} m upwards."
        )
    return wind_m_s * 4.87 / math.log(67.8 * wind_height_m - 5.42)


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
