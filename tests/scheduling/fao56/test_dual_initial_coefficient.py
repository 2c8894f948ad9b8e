"""Kc of bare ground by how often it is wetted; printed values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.initial_coefficient import (
    coarse_surface_after_heavy_wetting,
    coefficient_between_depths,
    fine_surface_after_heavy_wetting,
    initial_coefficient,
    mean_wetting_interval,
    surface_after_light_wetting,
)

SURFACES = (surface_after_light_wetting, coarse_surface_after_heavy_wetting, fine_surface_after_heavy_wetting)


@given(st.floats(0.1, 40.0), st.floats(0.5, 12.0), st.sampled_from(SURFACES))
def test_ground_wetted_less_often_evaporates_less(interval_d: float, eto_mm: float, surface_of) -> None:
    surface = surface_of(eto_mm)
    often = initial_coefficient(interval_d, eto_mm, surface)
    assert 0.0 < initial_coefficient(2.0 * interval_d, eto_mm, surface) <= often + 1e-12
    assert often <= 1.15


@given(st.floats(0.5, 12.0), st.sampled_from(SURFACES))
def test_the_curve_begins_where_the_first_stage_of_drying_ends(eto_mm: float, surface_of) -> None:
    surface = surface_of(eto_mm)
    t1_d = surface.rew_mm / (1.15 * eto_mm)
    assert initial_coefficient(t1_d, eto_mm, surface) == 1.15
    assert initial_coefficient(t1_d * (1.0 + 1e-9), eto_mm, surface) == pytest.approx(1.15, abs=1e-6)


@given(st.floats(1.0, 12.0))
def test_between_wettings_no_more_evaporates_than_the_surface_holds(eto_mm: float) -> None:
    for surface_of in SURFACES:
        surface = surface_of(eto_mm)
        assert initial_coefficient(60.0, eto_mm, surface) * 60.0 * eto_mm <= surface.tew_mm + 1e-9


def test_light_and_heavy_wettings_are_the_ends_of_the_scale() -> None:
    assert [coefficient_between_depths(depth, 0.5, 0.8) for depth in (3, 10, 25, 40, 90)] == [
        *(0.5, 0.5, pytest.approx(0.65), 0.8, 0.8)
    ]


def test_a_wetting_on_the_first_day_leaves_half_an_interval_open() -> None:
    assert mean_wetting_interval(25.0, 2.0) == pytest.approx(10.0)


@pytest.mark.parametrize(("interval_d", "eto_mm"), [(0.0, 5.0), (3.0, 0.0), (-1.0, 5.0)])
def test_no_time_and_no_demand_are_refused_in_words(interval_d: float, eto_mm: float) -> None:
    with pytest.raises(ValueError, match="both must be above 0"):
        initial_coefficient(interval_d, eto_mm, surface_after_light_wetting(5.0))
