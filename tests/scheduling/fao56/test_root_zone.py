"""What a root zone holds and how its plants fare; printed values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.root_zone import (
    depletion_fraction_for_demand,
    readily_available_water,
    root_depth_on_day,
    stress_coefficient,
    total_available_water,
)

depths_mm = st.floats(0.0, 400.0)


@given(depths_mm, depths_mm, st.floats(0.1, 0.8))
def test_stress_stays_between_all_and_nothing(depletion_mm: float, taw_mm: float, p: float) -> None:
    assert 0.0 <= stress_coefficient(depletion_mm, taw_mm, p * taw_mm) <= 1.0


@given(depths_mm, depths_mm, st.floats(1.0, 400.0), st.floats(0.1, 0.8))
def test_a_drier_soil_never_eases_the_stress(one_mm: float, other_mm: float, taw_mm: float, p: float) -> None:
    wetter_mm, drier_mm = sorted((one_mm, other_mm))
    raw_mm = readily_available_water(p, taw_mm)
    assert stress_coefficient(drier_mm, taw_mm, raw_mm) <= stress_coefficient(wetter_mm, taw_mm, raw_mm)


def test_stress_begins_past_what_is_readily_available_and_is_complete_at_wilting() -> None:
    assert stress_coefficient(0.0, 100.0, 40.0) == 1.0
    assert stress_coefficient(40.0, 100.0, 40.0) == 1.0
    assert stress_coefficient(70.0, 100.0, 40.0) == pytest.approx(0.5)
    assert stress_coefficient(100.0, 100.0, 40.0) == 0.0


def test_a_store_that_holds_nothing_is_no_division_by_zero() -> None:
    assert stress_coefficient(0.0, 0.0, 0.0) == 1.0
    assert stress_coefficient(0.1, 0.0, 0.0) == 0.0


def test_a_soil_that_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match=r"field_capacity is 0\.1, below wilting_point, 0\.2"):
        total_available_water(0.1, 0.2, 0.3)


def test_plants_reach_less_of_the_water_on_a_day_of_great_demand() -> None:
    # FAO-56 page 162: tables hold for 5 mm/day; 0.04 for each mm, within 0.1 and 0.8.
    assert depletion_fraction_for_demand(0.5, 5.0) == 0.5
    assert depletion_fraction_for_demand(0.5, 8.0) == pytest.approx(0.38)
    assert depletion_fraction_for_demand(0.5, 2.0) == pytest.approx(0.62)
    assert depletion_fraction_for_demand(0.2, 12.0) == 0.1
    assert depletion_fraction_for_demand(0.7, 0.0) == 0.8


def test_roots_grow_to_their_full_depth_and_stay_there() -> None:
    assert root_depth_on_day(1, 51, 0.2, 0.7) == pytest.approx(0.2)
    assert root_depth_on_day(26, 51, 0.2, 0.7) == pytest.approx(0.45)
    assert root_depth_on_day(51, 51, 0.2, 0.7) == 0.7
    assert root_depth_on_day(200, 51, 0.2, 0.7) == 0.7


def test_roots_before_planting_are_as_on_the_day_of_planting() -> None:
    assert root_depth_on_day(-5, 51, 0.2, 0.7) == 0.2
    assert root_depth_on_day(0, 1, 0.2, 0.7) == 0.2


def test_plants_without_a_time_of_growth_are_fully_rooted_from_the_start() -> None:
    assert root_depth_on_day(1, 1, 0.2, 0.7) == 0.7
