"""The dual crop coefficient: what plants transpire apart from what bare soil evaporates.

FAO-56 chapter 7: Kc = Kcb + Ke. Here is the part that plants and climate decide (equations 69,
70, 72, 76 and 80, and table 18); the drying of the surface is in `soil_evaporation`.
"""

from scheduling.fao56.crop_coefficient import climate_adjustment

LEAST_BASAL_COEFFICIENT = 0.15
"""Kc min, the least basal coefficient of dry bare soil: 0.15 to 0.20 (FAO-56 page 149)."""
LEAST_RISE = 0.01
"""Kcb stays at least so much above Kc min in equation 76 (FAO-56 page 149)."""
LARGEST_COVER = 0.99
"""Equation 76 gives 0 to 0.99 (FAO-56 page 149)."""


def basal_mid_season_coefficient(
    kcb_mid_table: float, wind_2m_m_s: float, rh_min_pct: float, height_m: float
) -> float:
    """Basal coefficient of the mid-season in the garden's own climate, Kcb mid.

    FAO-56 equation 70 (page 136)::

        Kcb = Kcb (table) + [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3
    """
    return kcb_mid_table + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)


def basal_end_of_season_coefficient(
    kcb_end_table: float, wind_2m_m_s: float, rh_min_pct: float, height_m: float
) -> float:
    """Basal coefficient of the last day in the garden's own climate, Kcb end.

    FAO-56 equation 70 (page 136), as `basal_mid_season_coefficient`; a tabulated value below
    0.45 is not adjusted.
    """
    if kcb_end_table < 0.45:
        return kcb_end_table
    return kcb_end_table + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)


def basal_from_single_coefficient(kc: float, covers_ground: bool = True) -> float:
    """Basal coefficient of grown plants, where only the single one is known.

    FAO-56 table 18 (page 141), mid-season: Kc - 0.05 where plants cover more than 80 % of the
    ground, else Kc - 0.10. Kept at 0 or more.
    """
    return max(0.0, kc - (0.05 if covers_ground else 0.10))


def largest_coefficient(kcb: float, wind_2m_m_s: float, rh_min_pct: float, height_m: float) -> float:
    """What plants and wet soil together can lose at most, Kc max.

    FAO-56 equation 72 (page 143)::

        Kc max = max { 1.2 + [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3,  Kcb + 0.05 }

    Unlike Kc mid and Kc end it may be calculated with the weather of a single day. Plants below
    0.1 m, and bare soil, are calculated without adjustment.
    """
    return max(1.2 + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m), kcb + 0.05)


def covered_fraction(kcb: float, kc_min: float, kc_max: float, height_m: float) -> float:
    """Share of the ground that plants shade, fc.

    FAO-56 equation 76 (page 149)::

        fc = [(Kcb - Kc min) / (Kc max - Kc min)]^(1 + 0.5 h)

    Kcb - Kc min is limited to 0.01 or more, fc to 0.99 or less. Raises ValueError where Kc max is
    not above Kc min.
    """
    if kc_max <= kc_min:
        raise ValueError(f"kc_max is {kc_max}; it must be above kc_min, {kc_min}.")
    rise = max(kcb - kc_min, LEAST_RISE)
    return float(min(LARGEST_COVER, (rise / (kc_max - kc_min)) ** (1.0 + 0.5 * height_m)))


def height_on_day(kcb: float, kcb_mid: float, height_max_m: float, height_before_m: float) -> float:
    """Height of a growing annual, h: it rises with Kcb and does not shrink again. [m]

    FAO-56 Annex 8, the spreadsheet of Box 8.1::

        h = max { h of the day before,  (Kcb / Kcb mid) h max }
    """
    return max(height_before_m, min(1.0, kcb / kcb_mid) * height_max_m)


def dual_coefficient(ks: float, kcb: float, ke: float) -> float:
    """ETc adj over ETo where water is short: plants close their leaves, the soil does not know.

    FAO-56 equation 80 (page 161), and with Ks = 1 equation 69 (page 135)::

        Kc adj = Ks Kcb + Ke
    """
    return ks * kcb + ke
