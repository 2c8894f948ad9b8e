"""Vapour pressure: how the ways to it agree; printed values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.humidity import (
    dew_point,
    dew_point_from_minimum_temperature,
    mean_saturation_vapour_pressure,
    minimum_relative_humidity,
    saturation_vapour_pressure,
    slope_of_saturation_curve,
    vapour_pressure_from_dew_point,
    vapour_pressure_from_minimum_temperature,
    vapour_pressure_from_rh_max,
    vapour_pressure_from_rh_max_and_min,
    vapour_pressure_from_rh_mean,
)

temperatures_c = st.floats(-30.0, 50.0)


@given(temperatures_c)
def test_the_slope_is_that_of_the_curve(temperature_c: float) -> None:
    step_c = 0.001
    rise_kpa = saturation_vapour_pressure(temperature_c + step_c) - saturation_vapour_pressure(
        temperature_c - step_c
    )
    # 4098 stands for 17.27 x 237.3 = 4098.17 in the derivative.
    assert slope_of_saturation_curve(temperature_c) == pytest.approx(rise_kpa / (2 * step_c), rel=1e-4)


@given(temperatures_c, st.floats(0.01, 30.0))
def test_the_mean_over_pressures_is_above_that_at_the_mean_temperature(
    t_min_c: float, range_c: float
) -> None:
    t_max_c = t_min_c + range_c
    assert mean_saturation_vapour_pressure(t_min_c, t_max_c) > saturation_vapour_pressure(
        (t_min_c + t_max_c) / 2
    )


@given(temperatures_c, st.floats(0.0, 20.0))
def test_every_way_gives_saturated_air_for_saturated_air(t_min_c: float, range_c: float) -> None:
    t_max_c = t_min_c + range_c
    saturation = pytest.approx(mean_saturation_vapour_pressure(t_min_c, t_max_c))
    assert vapour_pressure_from_rh_max_and_min(t_min_c, t_max_c, 100.0, 100.0) == saturation
    assert vapour_pressure_from_rh_mean(t_min_c, t_max_c, 100.0) == saturation
    at_minimum = pytest.approx(vapour_pressure_from_dew_point(t_min_c))
    assert vapour_pressure_from_rh_max(t_min_c, 100.0) == at_minimum
    assert vapour_pressure_from_minimum_temperature(t_min_c) == at_minimum


def test_the_highest_humidity_goes_with_the_lowest_temperature() -> None:
    # Air whose vapour does not change over the day: 1.2 kPa at 10 °C and at 25 °C.
    rh_max_pct = 120.0 / saturation_vapour_pressure(10.0)
    rh_min_pct = 120.0 / saturation_vapour_pressure(25.0)
    assert vapour_pressure_from_rh_max_and_min(10.0, 25.0, rh_max_pct, rh_min_pct) == pytest.approx(1.2)
    assert vapour_pressure_from_rh_max(10.0, rh_max_pct) == pytest.approx(1.2)


@given(temperatures_c)
def test_the_dew_point_leads_back_to_its_vapour_pressure(t_dew_c: float) -> None:
    # Equation 3-11 carries five digits of equation 11's constants, turned around.
    assert dew_point(vapour_pressure_from_dew_point(t_dew_c)) == pytest.approx(t_dew_c, abs=0.02)


def test_air_without_any_vapour_has_no_dew_point() -> None:
    with pytest.raises(ValueError, match="actual_kpa is 0"):
        dew_point(0.0)


def test_dry_climates_have_their_dew_point_below_the_minimum_temperature() -> None:
    assert dew_point_from_minimum_temperature(14.0) == 14.0
    assert dew_point_from_minimum_temperature(14.0, arid=True) == 12.0
    assert vapour_pressure_from_minimum_temperature(14.0, arid=True) == saturation_vapour_pressure(12.0)


def test_least_humidity_is_that_of_the_afternoon() -> None:
    assert minimum_relative_humidity(saturation_vapour_pressure(10.0), 10.0) == 100.0
    # Air at 20 °C holds about twice what it holds at 9 °C: 2.338 and 1.148 kPa in table 2.3.
    assert minimum_relative_humidity(1.148, 20.0) == pytest.approx(49.1, abs=0.05)


def test_least_humidity_never_passes_saturation() -> None:
    assert minimum_relative_humidity(3.0, 10.0) == 100.0
