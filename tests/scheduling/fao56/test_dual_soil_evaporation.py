"""The surface layer: limits, order of events, and that no water is made or lost."""

from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.soil_evaporation import (
    exposed_wetted_fraction,
    surface_day,
    total_evaporable_water,
    under_organic_mulch,
    wetted_fraction_on_day,
)

TEW_MM, REW_MM = 18.0, 9.0
depths_mm = st.floats(0.0, 60.0)
shares = st.floats(0.01, 1.0)


class SurfaceDay(NamedTuple):
    ke: float
    evaporation_mm: float
    percolation_mm: float
    closing_mm: float


def evaporation_reduction(depletion_mm: float) -> float:
    """FAO-56 equation 74 (page 146): Kr = (TEW - De) / (TEW - REW) for De above REW, from 0 to 1."""
    return min(1.0, max(0.0, (TEW_MM - depletion_mm) / (TEW_MM - REW_MM)))


def a_day(
    depletion_mm: float,
    rain_mm: float = 0.0,
    irrigation_mm: float = 0.0,
    fw: float = 1.0,
    few: float = 0.8,
    kcb: float = 0.3,
    eto_mm: float = 5.0,
    mulch_factor: float = 1.0,
    late: bool = False,
) -> SurfaceDay:
    return SurfaceDay(
        *surface_day(
            depletion_mm,
            rain_mm,
            irrigation_mm,
            fw,
            few,
            kcb,
            1.2,
            eto_mm,
            TEW_MM,
            REW_MM,
            mulch_factor,
            late,
        )
    )


@given(
    st.floats(0.0, TEW_MM),
    depths_mm,
    depths_mm,
    shares,
    shares,
    st.floats(0.0, 1.15),
    st.floats(0.0, 12.0),
    st.floats(0.5, 1.0),
    st.booleans(),
)
def test_water_is_conserved_and_depletion_stays_within_its_limits(
    opening_mm: float,
    rain_mm: float,
    irrigation_mm: float,
    fw: float,
    few: float,
    kcb: float,
    eto_mm: float,
    mulch_factor: float,
    late: bool,
) -> None:
    day = a_day(opening_mm, rain_mm, irrigation_mm, fw, few, kcb, eto_mm, mulch_factor, late)
    # Equation 77, term by term.
    assert day.closing_mm == pytest.approx(
        opening_mm - rain_mm - irrigation_mm / fw + day.evaporation_mm / few + day.percolation_mm, abs=1e-9
    )
    assert -1e-9 <= day.closing_mm <= TEW_MM + 1e-9
    assert day.percolation_mm == pytest.approx(
        # Equation 79 (page 156).
        max(0.0, rain_mm + irrigation_mm / fw - opening_mm),
        abs=1e-9,
    )
    assert 0.0 <= day.ke <= few * 1.2 + 1e-12
    assert day.evaporation_mm == pytest.approx(day.ke * eto_mm, abs=1e-12)


@given(st.floats(0.0, TEW_MM - 0.01), shares, st.floats(0.0, 1.15))
def test_a_day_is_made_of_the_published_equations(opening_mm: float, few: float, kcb: float) -> None:
    kr = evaporation_reduction(opening_mm)
    # So little demand that the layer cannot run dry within the day.
    ke = a_day(opening_mm, few=few, kcb=kcb, eto_mm=1e-6).ke
    # Equation 71 (page 142).
    assert ke == pytest.approx(min(kr * (1.2 - kcb), few * 1.2))


def test_morning_water_evaporates_the_same_day_and_evening_water_does_not() -> None:
    early, late = a_day(TEW_MM, rain_mm=30.0), a_day(TEW_MM, rain_mm=30.0, late=True)
    assert (early.ke, late.ke) == (pytest.approx(0.9), 0.0)
    assert early.percolation_mm == late.percolation_mm == pytest.approx(12.0)
    assert late.closing_mm == 0.0


def test_a_layer_about_to_run_dry_loses_no_more_than_it_holds() -> None:
    # Sand on a hot day: 8.9 mm is less than REW, yet 12 mm x 0.9 would be asked of 9.1 mm.
    day = a_day(8.9, few=0.8, eto_mm=12.0)
    assert day.closing_mm == pytest.approx(TEW_MM)
    assert day.evaporation_mm == pytest.approx(0.8 * 9.1)
    assert day.ke == pytest.approx(0.8 * 9.1 / 12.0)


def test_light_watering_by_drip_wets_little_ground_deeply() -> None:
    everywhere = a_day(TEW_MM, irrigation_mm=5.0, fw=1.0, few=0.8)
    in_spots = a_day(TEW_MM, irrigation_mm=5.0, fw=0.3, few=0.3)
    assert in_spots.evaporation_mm < everywhere.evaporation_mm
    assert in_spots.percolation_mm == 0.0
    assert a_day(TEW_MM, irrigation_mm=6.0, fw=0.3, few=0.3).percolation_mm == pytest.approx(2.0)


def test_a_mulch_takes_its_share_off_what_evaporates() -> None:
    assert a_day(0.0, mulch_factor=under_organic_mulch(1.0)).ke == pytest.approx(0.45)
    assert (under_organic_mulch(0.0), under_organic_mulch(0.2)) == (1.0, pytest.approx(0.9))


def test_a_day_without_demand_evaporates_nothing() -> None:
    assert a_day(TEW_MM, eto_mm=0.0)[:2] == (0.0, 0.0)


def test_the_surface_dries_freely_up_to_rew_and_then_in_a_straight_line() -> None:
    freely = a_day(0.0, eto_mm=1e-9).ke
    dried = [a_day(depth, eto_mm=1e-9).ke / freely for depth in (0.0, 9.0, 13.5, 18.0)]
    assert dried == pytest.approx([1.0, 1.0, 0.5, 0.0])


def test_the_smaller_of_exposed_and_wetted_ground_evaporates() -> None:
    assert exposed_wetted_fraction(0.2, 1.0) == pytest.approx(0.8)
    assert exposed_wetted_fraction(0.2, 0.3) == pytest.approx(0.3)
    # Full canopy, and canopy over drip: never quite nothing.
    assert exposed_wetted_fraction(1.0, 1.0) == 0.01
    assert exposed_wetted_fraction(0.99, 0.01, under_canopy=True) == 0.01
    assert exposed_wetted_fraction(0.6, 0.4, under_canopy=True) == pytest.approx(0.24)


def test_what_wetted_the_ground_last_is_remembered() -> None:
    assert wetted_fraction_on_day(0.4, 0.0, 0.0, 0.4) == 0.4
    assert wetted_fraction_on_day(0.4, 3.0, 0.0, 0.4) == 0.4  # too little rain
    assert wetted_fraction_on_day(0.4, 3.1, 0.0, 0.4) == 1.0
    assert wetted_fraction_on_day(1.0, 0.0, 0.0, 0.4) == 1.0
    assert wetted_fraction_on_day(1.0, 20.0, 0.1, 0.4) == 0.4  # watering, with or without rain


# Table 19 (page 144): range of TEW for its extreme water contents, Ze 0.10 m.
@pytest.mark.parametrize(
    ("field_capacity", "wilting_point", "tew_mm"),
    [(0.07, 0.02, 6.0), (0.28, 0.16, 20.0), (0.20, 0.07, 16.5), (0.40, 0.24, 28.0)],
)
def test_evaporable_water_reaches_half_way_below_the_wilting_point(
    field_capacity: float, wilting_point: float, tew_mm: float
) -> None:
    assert total_evaporable_water(field_capacity, wilting_point) == pytest.approx(tew_mm)
    assert total_evaporable_water(field_capacity, wilting_point, 0.15) == pytest.approx(1.5 * tew_mm)


def test_a_soil_that_holds_less_than_it_wilts_at_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match=r"field_capacity is 0.1, below wilting_point, 0.2"):
        total_evaporable_water(0.1, 0.2)
