"""Sun and radiation at their edges; printed values are in tests/reference."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.radiation import (
    clear_sky_radiation,
    clearness,
    day_of_year,
    daylight_hours,
    extraterrestrial_radiation,
    net_longwave_radiation,
    solar_radiation_from_cloud,
    solar_radiation_from_sunshine,
    solar_radiation_from_temperature,
)

latitudes_deg = st.floats(-90.0, 90.0)
days_of_year = st.integers(1, 366)
MIDSUMMER, MIDWINTER = 172, 355


def test_days_are_counted_through_leap_years() -> None:
    assert day_of_year(dt.date(2026, 1, 1)) == 1
    assert day_of_year(dt.date(2024, 2, 29)) == 60
    assert day_of_year(dt.date(2026, 12, 31)) == 365
    assert day_of_year(dt.date(2024, 12, 31)) == 366


@pytest.mark.parametrize("latitude_deg", [-65.0, -23.0, 0.0, 43.6, 60.0])
def test_the_sun_does_not_jump_at_new_year(latitude_deg: float) -> None:
    december = extraterrestrial_radiation(latitude_deg, 366)
    january = extraterrestrial_radiation(latitude_deg, 1)
    assert january == pytest.approx(december, abs=0.1)


@given(latitudes_deg, days_of_year)
def test_radiation_and_daylight_are_defined_everywhere_on_earth(latitude_deg: float, day: int) -> None:
    assert 0.0 <= extraterrestrial_radiation(latitude_deg, day) < 50.0
    assert 0.0 <= daylight_hours(latitude_deg, day) <= 24.0


@pytest.mark.parametrize("latitude_deg", [70.0, 90.0])
def test_polar_night_has_no_sun_and_polar_day_no_end(latitude_deg: float) -> None:
    assert extraterrestrial_radiation(latitude_deg, MIDWINTER) == 0.0
    assert daylight_hours(latitude_deg, MIDWINTER) == 0.0
    assert extraterrestrial_radiation(latitude_deg, MIDSUMMER) > 35.0
    assert daylight_hours(latitude_deg, MIDSUMMER) == pytest.approx(24.0)


def test_the_seasons_of_the_two_hemispheres_are_opposite() -> None:
    assert daylight_hours(-45.0, MIDSUMMER) + daylight_hours(45.0, MIDSUMMER) == pytest.approx(24.0)
    assert extraterrestrial_radiation(-35.0, MIDWINTER) > 2 * extraterrestrial_radiation(-35.0, MIDSUMMER)


@pytest.mark.parametrize("latitude_deg", [-90.1, 91.0, float("nan")])
def test_a_latitude_beyond_the_poles_is_refused_in_words(latitude_deg: float) -> None:
    with pytest.raises(ValueError, match=r"latitude_deg is .*from -90"):
        extraterrestrial_radiation(latitude_deg, 1)


def test_sunshine_beyond_the_length_of_the_day_counts_as_a_clear_day() -> None:
    assert solar_radiation_from_sunshine(13.0, 12.0, 30.0) == solar_radiation_from_sunshine(12.0, 12.0, 30.0)
    assert solar_radiation_from_sunshine(12.0, 12.0, 30.0) == pytest.approx(22.5)


def test_sunshine_in_the_polar_night_is_no_division_by_zero() -> None:
    assert solar_radiation_from_sunshine(0.0, 0.0, 0.0) == 0.0


def test_radiation_from_temperature_stays_within_the_clear_sky() -> None:
    clear_sky = clear_sky_radiation(0.0, 40.0)
    assert solar_radiation_from_temperature(0.0, 40.0, 40.0, clear_sky, 0.19) == clear_sky
    assert solar_radiation_from_temperature(15.0, 15.0, 40.0, clear_sky, 0.16) == 0.0


def test_coasts_get_more_radiation_from_the_same_range_of_temperature() -> None:
    interior = solar_radiation_from_temperature(15.0, 24.0, 40.0, 30.0, 0.16)
    coastal = solar_radiation_from_temperature(15.0, 24.0, 40.0, 30.0, 0.19)
    assert interior == pytest.approx(0.16 * 3.0 * 40.0)
    assert coastal / interior == pytest.approx(19 / 16)


def test_a_minimum_above_the_maximum_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match=r"t_min_c is 20\.0, above t_max_c, 10\.0"):
        solar_radiation_from_temperature(20.0, 10.0, 40.0, 30.0, 0.16)


def test_cloud_takes_away_up_to_three_quarters_of_the_radiation() -> None:
    # Kasten and Czeplak (1980): a quarter is left under a closed cover.
    assert solar_radiation_from_cloud(0.0, 30.0) == 30.0
    assert solar_radiation_from_cloud(1.0, 30.0) == pytest.approx(7.5)
    # Half a cover takes 0.75 x 0.0947 of it (0.5 to the power of 3.4, by hand).
    assert solar_radiation_from_cloud(0.5, 30.0) == pytest.approx(30.0 * (1 - 0.75 * 0.0947), abs=0.005)


def test_clear_sky_is_brighter_in_the_mountains_and_darker_below_the_sea() -> None:
    assert clear_sky_radiation(3500.0, 40.0) == pytest.approx(0.82 * 40.0)
    assert clear_sky_radiation(-60.0, 40.0) < clear_sky_radiation(0.0, 40.0)


def test_clearness_stays_within_its_bounds() -> None:
    assert clearness(1.0, 30.0) == 0.3
    assert clearness(15.0, 30.0) == 0.5
    assert clearness(33.0, 30.0) == 1.0
    assert clearness(0.0, 0.0) == 1.0


@given(st.floats(-20.0, 35.0), st.floats(0.0, 20.0), st.floats(0.0, 4.0), st.floats(0.0, 45.0))
def test_the_ground_loses_heat_to_the_sky_and_never_gains_any(
    t_min_c: float, range_c: float, actual_kpa: float, solar_mj_m2: float
) -> None:
    assert net_longwave_radiation(t_min_c, t_min_c + range_c, actual_kpa, clearness(solar_mj_m2, 30.0)) > 0.0
