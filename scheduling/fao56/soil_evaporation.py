"""The drying of the soil's surface: FAO-56 equations 71, 73 to 75 and 77 to 79, tables 20 and 21.

A thin layer at the top, Ze deep, is wetted by rain and watering and dried by the sun alone. Its
depletion De is that of the ground which is both wetted and exposed, few of the zone; what
evaporates over the whole zone is E = few x what that ground loses. De and the root zone's Dr
are different stores over different areas: the one is never taken from the other.
"""

SURFACE_DEPTH_M = 0.10
"""Ze, 0.10 to 0.15 m (FAO-56 page 144); table 19 is printed for 0.10 m."""
LEAST_FRACTION = 0.01
"""few, 1 - fc and fw are limited to 0.01 to 1 (FAO-56 pages 147 and 149)."""
RAIN_THAT_WETS_ALL_MM = 3.0
"""Rain above 3 to 4 mm wets the whole surface (FAO-56 page 149)."""


def total_evaporable_water(
    field_capacity: float, wilting_point: float, surface_depth_m: float = SURFACE_DEPTH_M
) -> float:
    """What the surface layer can lose from wet to dry, TEW. [mm]

    FAO-56 equation 73 (page 144)::

        TEW = 1000 (θFC - 0.5 θWP) Ze

    Raises ValueError where field capacity is below the wilting point.
    """
    if field_capacity < wilting_point:
        raise ValueError(
            f"field_capacity is {field_capacity}, below wilting_point, {wilting_point}; "
            "a soil holds at least as much after draining as when its plants wilt."
        )
    return 1000.0 * (field_capacity - 0.5 * wilting_point) * surface_depth_m


def exposed_wetted_fraction(fc: float, fw: float, under_canopy: bool = False) -> float:
    """Share of the ground that is both exposed to the sun and wetted, few.

    FAO-56 equation 75 (page 147)::

        few = min (1 - fc, fw)

    Drip under the canopy wets shaded ground, so fw is then multiplied by 1 - (2/3) fc (same
    page). Each is limited to 0.01 to 1.
    """
    wetted = fw * (1.0 - 2.0 / 3.0 * fc) if under_canopy else fw
    return max(LEAST_FRACTION, min(1.0, 1.0 - fc, wetted))


def wetted_fraction_on_day(
    fw_before: float, rain_mm: float, irrigation_mm: float, fw_irrigation: float
) -> float:
    """Share of the surface that was wetted last, fw.

    FAO-56 page 149, the rule beside table 20: on a day of watering, with or without rain, that of
    the system; on a day of significant rain alone (above 3 mm) 1; else that of the day before.
    """
    if irrigation_mm > 0.0:
        return fw_irrigation
    if rain_mm > RAIN_THAT_WETS_ALL_MM:
        return 1.0
    return fw_before


def surface_day(
    depletion_mm: float,
    rain_mm: float,
    irrigation_mm: float,
    fw: float,
    few: float,
    kcb: float,
    kc_max: float,
    eto_mm: float,
    tew_mm: float,
    rew_mm: float,
    mulch_factor: float = 1.0,
    water_comes_late: bool = False,
) -> tuple[float, float, float, float]:
    """Carry the surface layer across one day; FAO-56 equations 71, 74 and 77 to 79.

    Equation 77 (page 152), with Tew = 0::

        De = De(i-1) - (P - RO) - I / fw + E / few + DPe      0 ≤ De ≤ TEW (equation 78)

    Parameters
    ----------
    depletion_mm : float
        De at the end of the day before, 0..TEW. [mm]
    rain_mm, irrigation_mm : float
        Infiltrated rain, light rain included, and net irrigation over the whole zone. [mm]
    fw, few : float
        Share of the surface wetted by the day's water, above 0; share wetted and exposed.
    kcb, kc_max : float
        Basal coefficient and the largest there can be; Kcb ≤ Kc max.
    eto_mm : float
        Reference evapotranspiration. [mm]
    tew_mm, rew_mm : float
        Total and readily evaporable water, REW < TEW. [mm]
    mulch_factor : float
        What a mulch leaves of the evaporation, see `under_organic_mulch`.
    water_comes_late : bool
        False: rain and irrigation come early in the day, so that the surface dries from what
        they leave. True: late in the day, so that it dries from where the day before left it
        (both on pages 155 and 156).

    Returns
    -------
    tuple
        Ke, E [mm], DPe [mm], De at the end [mm]. Evaporation is cut where it would take De
        beyond TEW, so that no water is lost that was not there (the spreadsheet of Annex 8 lets
        De pass TEW).
    """
    water = rain_mm + irrigation_mm / fw
    wetted = depletion_mm - water
    percolation = 0.0
    if wetted < 0.0:
        percolation = -wetted
        wetted = 0.0
    start = depletion_mm if water_comes_late else wetted
    if start <= rew_mm:
        kr = 1.0
    elif start >= tew_mm:
        kr = 0.0
    else:
        kr = (tew_mm - start) / (tew_mm - rew_mm)
    ke = kr * (kc_max - kcb)
    if ke > few * kc_max:
        ke = few * kc_max
    ke *= mulch_factor
    evaporation = ke * eto_mm
    most = few * (tew_mm - start)
    if evaporation > most:
        evaporation = most
        ke = evaporation / eto_mm
    return ke, evaporation, percolation, wetted + evaporation / few


def under_organic_mulch(mulched_share: float) -> float:
    """What bark, straw or compost on the ground leaves of soil evaporation, as a factor.

    FAO-56 page 197 (text): evaporation falls by about 5 % for each 10 % of the surface covered::

        factor = 1 - 0.5 mulched share
    """
    return 1.0 - 0.5 * mulched_share


def mulched_coefficient(kc: float, kcb: float, mulched_share: float) -> float:
    """Single coefficient over an organic mulch: only its soil part falls.

    FAO-56 page 198 (text), Kc mid and Kc end: half of the covered share of Kc - Kcb is taken
    off.
    """
    return kc - 0.5 * mulched_share * (kc - kcb)


def mulched_initial_coefficient(kc_ini: float, mulched_share: float) -> float:
    """Kc ini over an organic mulch: half of the covered share of all of it (FAO-56 page 198, text)."""
    return mulched_coefficient(kc_ini, 0.0, mulched_share)
