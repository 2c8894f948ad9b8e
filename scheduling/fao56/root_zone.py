"""What a root zone holds (equation 82), what plants draw easily on a given day, and how roots grow."""


def total_available_water(field_capacity: float, wilting_point: float, root_depth_m: float) -> float:
    """Water between field capacity and wilting point in the root zone, TAW. [mm]

    FAO-56 equation 82 (page 162)::

        TAW = 1000 (θFC - θWP) Zr

    Raises ValueError where field capacity is below the wilting point.
    """
    if field_capacity < wilting_point:
        raise ValueError(
            f"field_capacity is {field_capacity}, below wilting_point, {wilting_point}; "
            "a soil holds at least as much after draining as when its plants wilt."
        )
    return 1000.0 * (field_capacity - wilting_point) * root_depth_m


def depletion_fraction_for_demand(depletion_fraction_table: float, etc_mm: float) -> float:
    """Depletion fraction on a day of a given demand, p.

    FAO-56 pages 162 and 163 (text, and footnote 2 of table 22); tables are for 5 mm/day::

        p = p (table) + 0.04 (5 - ETc)      within 0.1 and 0.8
    """
    fraction = depletion_fraction_table + 0.04 * (5.0 - etc_mm)
    if fraction < 0.1:  # a comparison costs a third of min and max, and a plan asks for every day
        return 0.1
    return fraction if fraction < 0.8 else 0.8


def root_depth_on_day(
    day_of_season: float, full_depth_day: float, root_depth_min_m: float, root_depth_max_m: float
) -> float:
    """Depth of the roots of an annual plant, growing linearly in time, Zr. [m]

    FAO-56 Annex 8 (page 279): from the least depth on day 1 to the greatest on
    `full_depth_day`, the start of the mid-season, and that from there on. Example 38 (page 172)
    grows its roots in this way. FAO-56 gives 0.15 to 0.20 m as the least depth of annuals.
    """
    if day_of_season >= full_depth_day:
        return root_depth_max_m
    if day_of_season <= 1.0:
        return root_depth_min_m
    share = (day_of_season - 1.0) / (full_depth_day - 1.0)
    return root_depth_min_m + share * (root_depth_max_m - root_depth_min_m)
