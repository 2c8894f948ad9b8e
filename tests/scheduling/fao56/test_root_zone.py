"""What a root zone holds and how its plants fare; printed values are in tests/reference."""

import pytest

from scheduling.fao56.root_zone import (
    depletion_fraction_for_demand,
    root_depth_on_day,
    total_available_water,
)


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
