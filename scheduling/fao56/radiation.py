"""From the sun's place in the sky to net radiation: equations 20 to 25 and 34 to 40, 50.

Solar radiation, in order of preference: measured; from sunshine (35); from cloud (an estimate
that is not FAO-56's); from temperature (50).
"""

import datetime as dt
import math

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""Gsc (page 47)."""
STEFAN_BOLTZMANN_MJ_M2_K4 = 4.903e-9
"""σ for a day (page 52)."""
ALBEDO = 0.23
"""Share of solar radiation that the grass reference reflects (page 51)."""
KRS_INTERIOR = 0.16
"""kRs where land masses dominate. [°C^-0.5] (page 60)"""
KRS_COASTAL = 0.19
"""kRs on or near the coast of a large land mass. [°C^-0.5] (page 60)"""
LOWEST_CLEARNESS = 0.3
"""Lower bound of Rs/Rso in equation 39. FAO-56 prints only the upper bound of 1; the lower one is
ASCE-EWRI 2005's. Without it the sky would warm the ground under the densest cloud."""

_DAY_FACTOR = 24.0 * 60.0 / math.pi * SOLAR_CONSTANT_MJ_M2_MIN


def day_of_year(date: dt.date) -> int:
    """Number of the day in its year, J: 1 on the first of January, 366 on the last of a leap year."""
    return date.toordinal() - dt.date(date.year, 1, 1).toordinal() + 1


def latitude_in_radians(latitude_deg: float) -> float:
    """Latitude, φ. [rad]

    FAO-56 equation 22 (page 46)::

        φ = π / 180 degrees

    Raises ValueError beyond the poles.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(f"latitude_deg is {latitude_deg}; latitudes run from -90 (south) to 90 (north).")
    return math.pi / 180.0 * latitude_deg


def inverse_relative_distance(day_of_year: int) -> float:
    """Inverse square of the distance from earth to sun, 1 on average, dr.

    FAO-56 equation 23 (page 46)::

        dr = 1 + 0.033 cos(2π J / 365)
    """
    return 1.0 + 0.033 * math.cos(2.0 * math.pi * day_of_year / 365.0)


def solar_declination(day_of_year: int) -> float:
    """Angle of the sun above the plane of the equator, δ. [rad]

    FAO-56 equation 24 (page 46)::

        δ = 0.409 sin(2π J / 365 - 1.39)
    """
    return 0.409 * math.sin(2.0 * math.pi * day_of_year / 365.0 - 1.39)


def sunset_hour_angle(latitude_rad: float, declination_rad: float) -> float:
    """Angle that the earth turns from noon to sunset, ωs. [rad]

    FAO-56 equation 25 (page 46)::

        ωs = arccos[-tan(φ) tan(δ)]

    The bracket is limited to -1 to 1: π where the sun does not set, 0 where it does not rise.
    """
    return math.acos(max(-1.0, min(1.0, -math.tan(latitude_rad) * math.tan(declination_rad))))


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Solar radiation on a level surface above the atmosphere, Ra. [MJ/m² a day]

    FAO-56 equation 21 (page 46)::

        Ra = 24 (60) / π Gsc dr [ωs sin(φ) sin(δ) + cos(φ) cos(δ) sin(ωs)]

    0 in the polar night. FAO-56 gives winter values above 55° "limited validity".
    """
    phi = latitude_in_radians(latitude_deg)
    delta = solar_declination(day_of_year)
    omega = sunset_hour_angle(phi, delta)
    bracket = omega * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(omega)
    # Rounding alone could push the last days before the polar night below nothing.
    return max(0.0, _DAY_FACTOR * inverse_relative_distance(day_of_year) * bracket)


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Longest possible sunshine of the day, N. [h]

    FAO-56 equation 34 (page 48); 24 in the polar day, 0 in the polar night::

        N = 24 / π ωs
    """
    omega = sunset_hour_angle(latitude_in_radians(latitude_deg), solar_declination(day_of_year))
    return 24.0 / math.pi * omega


def solar_radiation_from_sunshine(
    sunshine_h: float, daylight_h: float, extraterrestrial_mj_m2: float
) -> float:
    """Solar radiation from the duration of sunshine, Rs. [MJ/m² a day]

    FAO-56 equation 35 (page 50), the Angström formula with as = 0.25 and bs = 0.50::

        Rs = (as + bs n / N) Ra

    n/N is at most 1; it is 0 where the sun does not rise.
    """
    share = min(1.0, sunshine_h / daylight_h) if daylight_h > 0.0 else 0.0
    return (0.25 + 0.50 * share) * extraterrestrial_mj_m2


def solar_radiation_from_temperature(
    t_min_c: float, t_max_c: float, extraterrestrial_mj_m2: float, clear_sky_mj_m2: float, krs: float
) -> float:
    """Estimate of solar radiation from the day's range of temperature, Rs. [MJ/m² a day]

    FAO-56 equation 50 (page 60), Hargreaves' formula; `krs` is KRS_INTERIOR or KRS_COASTAL::

        Rs = kRs sqrt(Tmax - Tmin) Ra       at most Rso

    FAO-56 advises against it on islands, and for means of several days rather than one.
    Raises ValueError where the minimum is above the maximum.
    """
    if t_min_c > t_max_c:
        raise ValueError(f"t_min_c is {t_min_c}, above t_max_c, {t_max_c}; it may be at most equal.")
    return min(krs * math.sqrt(t_max_c - t_min_c) * extraterrestrial_mj_m2, clear_sky_mj_m2)


def solar_radiation_from_cloud(cloud_share: float, clear_sky_mj_m2: float) -> float:
    """Estimate of solar radiation from the mean cloud cover, Rs. [MJ/m² a day]

    Not FAO-56's. Kasten, F., Czeplak, G. (1980), Solar Energy 24, 177-189, made for hours::

        Rs = Rso (1 - 0.75 c^3.4)

    With the mean cover of a day it comes out high, as the formula bends downwards.
    """
    return float(clear_sky_mj_m2 * (1.0 - 0.75 * cloud_share**3.4))


def clear_sky_radiation(elevation_m: float, extraterrestrial_mj_m2: float) -> float:
    """Solar radiation that would arrive without clouds, Rso. [MJ/m² a day]

    FAO-56 equation 37 (page 51), for heights below 6000 m; at sea level it is equation 36
    with as + bs = 0.75::

        Rso = (0.75 + 2 10^-5 z) Ra
    """
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial_mj_m2


def clearness(solar_mj_m2: float, clear_sky_mj_m2: float) -> float:
    """Relative shortwave radiation Rs/Rso as equation 39 wants it, within 0.3 and 1.

    Where the sun does not rise the sky counts as clear, so that no demand for water is read
    into clouds that nobody saw.
    """
    if clear_sky_mj_m2 <= 0.0:
        return 1.0
    share = solar_mj_m2 / clear_sky_mj_m2
    if share >= 1.0:
        return 1.0
    return share if share > LOWEST_CLEARNESS else LOWEST_CLEARNESS


def net_shortwave_radiation(solar_mj_m2: float) -> float:
    """Solar radiation that the grass reference does not reflect, Rns. [MJ/m² a day]

    FAO-56 equation 38 (page 51), with an albedo α of 0.23::

        Rns = (1 - α) Rs
    """
    return (1.0 - ALBEDO) * solar_mj_m2


def black_body_radiation(temperature_c: float) -> float:
    """Heat that a black body radiates in a day, σTK⁴, with TK = T + 273.16. [MJ/m² a day]

    The term tabulated in FAO-56 table 2.8 (page 221).
    """
    kelvin = temperature_c + 273.16
    return STEFAN_BOLTZMANN_MJ_M2_K4 * (kelvin * kelvin) * (kelvin * kelvin)


def net_longwave_radiation(t_min_c: float, t_max_c: float, actual_kpa: float, clearness: float) -> float:
    """Heat radiation that leaves the ground for good, Rnl. [MJ/m² a day]

    FAO-56 equation 39 (page 52); Rs/Rso is what `clearness` gives::

        Rnl = [σ TmaxK⁴ + σ TminK⁴] / 2 (0.34 - 0.14 sqrt(ea)) (1.35 Rs / Rso - 0.35)
    """
    return (
        (black_body_radiation(t_max_c) + black_body_radiation(t_min_c))
        / 2.0
        * (0.34 - 0.14 * math.sqrt(actual_kpa))
        * (1.35 * clearness - 0.35)
    )


def net_radiation(net_shortwave_mj_m2: float, net_longwave_mj_m2: float) -> float:
    """Radiation that is left for evaporation and warming, Rn. [MJ/m² a day]

    FAO-56 equation 40 (page 53); negative in a dark and clear winter::

        Rn = Rns - Rnl
    """
    return net_shortwave_mj_m2 - net_longwave_mj_m2
