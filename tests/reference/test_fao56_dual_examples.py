"""FAO-56's examples of the dual crop coefficient, to half a unit of each last printed digit.

Slips of the print that were met:

- Example 31: the column Ke names equation 21; it is equation 71.
- Example 32: few Kc max is printed 0.61, the product of rounded terms; unrounded it is 0.616.
- Example 35 names REW = 8 mm; its own columns follow with 9 mm only.
- Box 8.1: REW is 8 mm there, 9 mm in Box 16; cells AB15, L14, AG15 and AI15 name the wrong cells,
  and De is not kept below TEW. The daily table of figure 8.1 is a picture and is not compared.
"""

import datetime as dt

import pytest

from scheduling.balance.soil_water import close_day
from scheduling.fao56.crop_coefficient import StageLengths, coefficient_on_day
from scheduling.fao56.dual_coefficient import (
    basal_end_of_season_coefficient,
    basal_mid_season_coefficient,
    covered_fraction,
    dual_coefficient,
    height_on_day,
    largest_coefficient,
)
from scheduling.fao56.humidity import minimum_relative_humidity, vapour_pressure_from_dew_point
from scheduling.fao56.radiation import day_of_year
from scheduling.fao56.root_zone import root_depth_on_day, total_available_water
from scheduling.fao56.soil_evaporation import (
    exposed_wetted_fraction,
    mulched_coefficient,
    surface_day,
    total_evaporable_water,
    under_organic_mulch,
    wetted_fraction_on_day,
)

BEANS = StageLengths(25, 25, 30, 20)
NO_DEMAND_MM = 1e-9
"""So little that the layer cannot run dry within the day, which would lower Ke."""


def ke_of(depletion_mm: float, kc_max: float, kcb: float, few: float, tew_mm: float, rew_mm: float) -> float:
    return surface_day(depletion_mm, 0.0, 0.0, 1.0, few, kcb, kc_max, NO_DEMAND_MM, tew_mm, rew_mm)[0]


def kr_of(depletion_mm: float, tew_mm: float, rew_mm: float) -> float:
    """Ke of equation 71 with Kc max - Kcb = 1 is Kr."""
    return ke_of(depletion_mm, 1.0, 0.0, 1.0, tew_mm, rew_mm)


def printed(number: str) -> object:
    # The small excess lets in what FAO-56 rounded up from exactly half a unit.
    return pytest.approx(float(number), abs=0.5 * 10.0 ** -len(number.partition(".")[2]) + 1e-9)


def test_example_29_basal_coefficients_of_beans_in_idaho() -> None:  # page 136
    assert basal_mid_season_coefficient(1.10, 2.2, 30.0, 0.4) == printed("1.14")
    assert basal_end_of_season_coefficient(0.25, 2.2, 30.0, 0.4) == printed("0.25")


@pytest.mark.parametrize(("day", "kcb"), [(12, "0.15"), (37, "0.63"), (65, "1.14"), (90, "0.70")])
def test_example_30_basal_coefficient_in_the_middle_of_each_stage(day: int, kcb: str) -> None:  # page 141
    assert coefficient_on_day(day, BEANS, 0.15, 1.14, 0.25) == printed(kcb)


# De at the start, Kr, Ke, E, De at the end, ETc; page 146.
EXAMPLE_31 = [
    ("0.00", "1", "1.05", "4.73", "4.73", "5.4"),
    ("4.73", "1", "1.05", "4.73", "9.45", "5.4"),
    ("9.45", "0.96", "1.01", "4.53", "13.98", "5.2"),
    ("13.98", "0.55", "0.57", "2.59", "16.57", "3.3"),
    ("16.57", "0.31", "0.33", "1.47", "18.04", "2.1"),
    ("18.04", "0.18", "0.19", "0.84", "18.88", "1.5"),
    ("18.88", "0.10", "0.11", "0.48", "19.36", "1.2"),
    ("19.36", "0.06", "0.06", "0.27", "19.64", "0.9"),
    ("19.64", "0.03", "0.03", "0.16", "19.79", "0.8"),
    ("19.79", "0.02", "0.02", "0.09", "19.88", "0.8"),
]


def test_example_31_bare_loam_dries_for_ten_days() -> None:
    depletion_mm = 0.0
    for start, kr, ke_printed, e_printed, end, etc in EXAMPLE_31:
        assert depletion_mm == printed(start)
        assert kr_of(depletion_mm, 20.0, 9.0) == printed(kr)
        ke, evaporation_mm, percolation_mm, depletion_mm = surface_day(
            depletion_mm, 0.0, 0.0, 1.0, 1.0, 0.15, 1.20, 4.5, 20.0, 9.0
        )
        assert (ke, evaporation_mm) == (printed(ke_printed), printed(e_printed))
        assert (depletion_mm, percolation_mm) == (printed(end), 0.0)
        assert dual_coefficient(1.0, 0.15, ke) * 4.5 == printed(etc)


def test_example_32_sprinkled_cotton() -> None:  # page 150
    kc_max = largest_coefficient(0.9, 3.0, 20.0, 1.0)
    assert kc_max == printed("1.30")
    fc = covered_fraction(0.9, 0.15, kc_max, 1.0)
    assert fc == printed("0.53")
    few = exposed_wetted_fraction(fc, 1.0)
    assert few == printed("0.47")
    ke = ke_of(0.0, kc_max, 0.9, few, 20.0, 9.0)
    assert ke == printed("0.40")
    # The limit few Kc max, of the rounded terms; with so small a Kcb it is what holds.
    assert ke_of(0.0, 1.30, 0.15, 0.47, 20.0, 9.0) == printed("0.61")
    assert dual_coefficient(1.0, 0.9, ke) == printed("1.30")


def test_examples_33_and_34_the_same_cotton_by_furrow_and_by_drip() -> None:
    # Pages 151 and 152, from memory: Kc max 1.30 and fc 0.53 as above, fw 0.3 in both.
    in_furrows = exposed_wetted_fraction(0.53, 0.3)
    assert in_furrows == printed("0.30")
    assert ke_of(0.0, 1.30, 0.9, in_furrows, 20.0, 9.0) == printed("0.39")
    by_drip = exposed_wetted_fraction(0.53, 0.3, under_canopy=True)
    assert by_drip == printed("0.19")
    ke = ke_of(0.0, 1.30, 0.9, by_drip, 20.0, 9.0)
    assert ke == printed("0.25")
    assert dual_coefficient(1.0, 0.9, ke) == printed("1.15")


# ETo, P, I, Kcb, Ke, Kc, ETc of Example 35, as the table of Example 38 (page 173) repeats them.
EXAMPLE_35 = [
    (4.5, 0.0, 40.0, "0.30", "0.91", "1.21", "5.5"),
    (5.0, 0.0, 0.0, "0.31", "0.90", "1.21", "6.1"),
    (3.9, 0.0, 0.0, "0.32", "0.72", "1.04", "4.0"),
    (4.2, 0.0, 0.0, "0.33", "0.37", "0.70", "2.9"),
    (4.8, 0.0, 0.0, "0.34", "0.18", "0.52", "2.5"),
    (2.7, 6.0, 0.0, "0.36", "0.64", "1.00", "2.7"),
    (5.8, 0.0, 0.0, "0.37", "0.45", "0.82", "4.7"),
    (5.1, 0.0, 0.0, "0.38", "0.17", "0.55", "2.8"),
    (4.7, 0.0, 0.0, "0.39", "0.08", "0.47", "2.2"),
    (5.2, 0.0, 27.0, "0.40", "0.81", "1.21", "6.3"),
]


def test_example_35_ten_days_of_watering_drying_rain_and_watering() -> None:
    # From memory (pages 157 to 159): u2 1.6 m/s, RHmin 35 %, h 0.3 m, fw 0.8, De 18 mm before, and
    # 1 - fc from 0.92 on day 1 to 0.86 on day 10. Field capacity 0.23, wilting point 0.10.
    tew_mm = total_evaporable_water(0.23, 0.10)
    depletion_mm, fw = tew_mm, 0.8
    assert tew_mm == pytest.approx(18.0)
    for day, (eto_mm, rain_mm, water_mm, kcb_p, ke_p, kc_p, etc_p) in enumerate(EXAMPLE_35):
        kcb = 0.30 + 0.10 * day / 9
        kc_max = largest_coefficient(kcb, 1.6, 35.0, 0.3)
        fw = wetted_fraction_on_day(fw, rain_mm, water_mm, 0.8)
        few = exposed_wetted_fraction(0.08 + 0.06 * day / 9, fw)
        ke, _, _, depletion_mm = surface_day(
            depletion_mm, rain_mm, water_mm, fw, few, kcb, kc_max, eto_mm, tew_mm, 9.0
        )
        assert (kcb, ke, kcb + ke) == (printed(kcb_p), printed(ke_p), printed(kc_p)), day
        assert dual_coefficient(1.0, kcb, ke) * eto_mm == printed(etc_p), day


def test_example_35_what_the_surface_cannot_hold_runs_on_to_the_roots() -> None:
    # 40 mm over 0.8 of the ground are 50 mm; the dry surface takes 18 of them.
    percolation_mm = surface_day(18.0, 0.0, 40.0, 0.8, 0.8, 0.3, 1.2, 0.0, 18.0, 9.0)[2]
    assert percolation_mm == pytest.approx(32.0)


def test_page_197_organic_mulch_takes_five_per_cent_off_for_each_ten_covered() -> None:
    # The text's own case, from memory of page 198: half of the ground covered, a quarter less.
    assert under_organic_mulch(0.5) == pytest.approx(0.75)
    assert mulched_coefficient(1.0, 0.0, 0.5) == pytest.approx(0.75)
    assert mulched_coefficient(1.05, 0.95, 1.0) == pytest.approx(1.00)


def test_annex_8_beans_at_kimberly_on_15_and_16_may() -> None:
    # Box 8.1 (pages 269 to 280) prints inputs and formulas; J and, in Box 16, Kcb mid are the only
    # results of it that were seen in print. The rest is the formulas by hand, to four digits.
    assert day_of_year(dt.date(1974, 5, 15)) == 135
    kcb_mid = basal_mid_season_coefficient(1.10, 2.2, 30.0, 0.4)
    assert kcb_mid == printed("1.14")

    depletion_mm = 18.0
    by_hand = [
        # Tmax, Tdew, wind as measured, ETo, then RHmin, Kc max, Kr, Ke, E, De at the end
        (10.0, 0.0, 5.7655, 3.4, 49.7409, 1.2323, 0.2857, 0.3092, 1.0514, 19.0620),
        (13.3, -5.0, 2.2175, 4.1, 27.5744, 1.2207, 0.2099, 0.2247, 0.9212, 19.9925),
    ]
    for t_max_c, t_dew_c, wind, eto_mm, rh_min, kc_max_h, kr_h, ke_h, e_h, end_h in by_hand:
        rh_min_pct = minimum_relative_humidity(vapour_pressure_from_dew_point(t_dew_c), t_max_c)
        assert rh_min_pct == pytest.approx(rh_min, abs=5e-5)
        height_m = height_on_day(0.15, kcb_mid, 0.4, 0.0)
        # The spreadsheet adjusts for heights below 0.1 m too, so the term is written out.
        term = (0.04 * (0.9 * wind - 2.0) - 0.004 * (rh_min_pct - 45.0)) * (height_m / 3.0) ** 0.3
        kc_max = 1.2 + term
        assert kc_max == pytest.approx(kc_max_h, abs=5e-5)
        assert kr_of(depletion_mm, 22.0, 8.0) == pytest.approx(kr_h, abs=5e-5)
        few = exposed_wetted_fraction(covered_fraction(0.15, 0.15, kc_max, height_m), 1.0)
        assert few == printed("0.99")  # the spreadsheet's fc is 0.01 at least
        ke, evaporation_mm, _, depletion_mm = surface_day(
            depletion_mm, 0.0, 0.0, 1.0, 0.99, 0.15, kc_max, eto_mm, 22.0, 8.0
        )
        assert (ke, evaporation_mm) == (pytest.approx(ke_h, abs=5e-5), pytest.approx(e_h, abs=5e-5))
        assert depletion_mm == pytest.approx(end_h, abs=5e-5)


def test_example_38_is_reckoned_from_example_35_through_surface_and_root_zone() -> None:
    # Both stores together: the surface's Ke makes ETc, the root zone loses it; Dr printed in whole mm.
    # Day 10's water refills exactly, see test_example_38.
    printed_end = ["5", "12", "16", "18", "21", "18", "22", "25", "27"]
    surface_mm, fw = 18.0, 0.8
    depletion_mm = 0.6 * total_available_water(0.23, 0.10, 0.30)
    for day, (eto_mm, rain_mm, water_mm, *_) in enumerate(EXAMPLE_35[:9]):
        kcb = 0.30 + 0.10 * day / 9
        fw = wetted_fraction_on_day(fw, rain_mm, water_mm, 0.8)
        few = exposed_wetted_fraction(0.08 + 0.06 * day / 9, fw)
        kc_max = largest_coefficient(kcb, 1.6, 35.0, 0.3)
        ke, _, _, surface_mm = surface_day(
            surface_mm, rain_mm, water_mm, fw, few, kcb, kc_max, eto_mm, 18.0, 9.0
        )
        taw_mm = total_available_water(0.23, 0.10, root_depth_on_day(day + 1, 10, 0.30, 0.35))
        ks, _, _, depletion_mm = close_day(
            depletion_mm, rain_mm, water_mm, (kcb + ke) * eto_mm, taw_mm, 0.6 * taw_mm, drains_before_et=True
        )
        assert ks == 1.0
        assert depletion_mm == printed(printed_end[day]), day
