"""One day's demand: what stands in for what, in which order, under which name."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.weather import WeatherDay
from scheduling.errors import WeatherIncomplete
from scheduling.fao56.humidity import (
    minimum_relative_humidity,
    saturation_vapour_pressure,
    vapour_pressure_from_rh_max_and_min,
    vapour_pressure_from_rh_mean,
)
from scheduling.fao56.radiation import (
    KRS_COASTAL,
    KRS_INTERIOR,
    clear_sky_radiation,
    daylight_hours,
    extraterrestrial_radiation,
    solar_radiation_from_cloud,
    solar_radiation_from_sunshine,
    solar_radiation_from_temperature,
)

MONTPELLIER = Location(latitude_deg=43.61, elevation_m=48.0)
JULY_15 = dt.date(2026, 7, 15)
FULL = WeatherDay(
    JULY_15,
    t_min_c=18.0,
    t_max_c=31.0,
    t_dew_c=15.0,
    rh_min_pct=38.0,
    rh_max_pct=82.0,
    rh_mean_pct=60.0,
    wind_m_s=2.1,
    solar_mj_m2=26.0,
    sunshine_h=11.0,
    cloud_share=0.2,
)
RA = extraterrestrial_radiation(43.61, 196)
RSO = clear_sky_radiation(48.0, RA)


def eto(day: WeatherDay, site: Location = MONTPELLIER) -> float:
    return daily_demand(day, site).eto_mm


def estimated(day: WeatherDay) -> tuple[str, ...]:
    return daily_demand(day, MONTPELLIER).estimated


# --- radiation


def test_measured_radiation_is_used_before_anything_else() -> None:
    assert eto(FULL) == eto(replace(FULL, sunshine_h=None, cloud_share=None))
    assert estimated(FULL) == ()


def test_sunshine_comes_next() -> None:
    from_sunshine = solar_radiation_from_sunshine(11.0, daylight_hours(43.61, 196), RA)
    day = replace(FULL, solar_mj_m2=None)
    assert eto(day) == pytest.approx(eto(replace(FULL, solar_mj_m2=from_sunshine)))
    assert estimated(day) == ("solar_radiation",)


def test_then_cloud_together_with_temperature() -> None:
    from_cloud = solar_radiation_from_cloud(0.2, RSO)
    from_temperature = solar_radiation_from_temperature(18.0, 31.0, RA, RSO, KRS_INTERIOR)
    day = replace(FULL, solar_mj_m2=None, sunshine_h=None)
    assert eto(day) == pytest.approx(eto(replace(FULL, solar_mj_m2=(from_cloud + from_temperature) / 2)))
    assert estimated(day) == ("solar_radiation",)


@pytest.mark.parametrize(("coastal", "krs"), [(False, KRS_INTERIOR), (True, KRS_COASTAL)])
def test_then_temperature_alone_by_the_kind_of_place(coastal: bool, krs: float) -> None:
    site = replace(MONTPELLIER, coastal=coastal)
    from_temperature = solar_radiation_from_temperature(18.0, 31.0, RA, RSO, krs)
    day = replace(FULL, solar_mj_m2=None, sunshine_h=None, cloud_share=None)
    assert eto(day, site) == pytest.approx(eto(replace(FULL, solar_mj_m2=from_temperature), site))
    assert estimated(day) == ("solar_radiation",)


def test_no_radiation_at_all_is_a_measurement_and_not_a_gap() -> None:
    assert estimated(replace(FULL, solar_mj_m2=0.0)) == ()
    assert eto(replace(FULL, solar_mj_m2=0.0)) < eto(FULL)
    overcast = replace(FULL, solar_mj_m2=None, sunshine_h=0.0)
    assert eto(overcast) == pytest.approx(eto(replace(FULL, solar_mj_m2=0.25 * RA)))


# --- humidity


def with_vapour(actual_kpa: float) -> float:
    """Demand of the full day with a given vapour pressure, through the dew point that has it."""
    low, high = -60.0, 60.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if saturation_vapour_pressure(middle) < actual_kpa else (low, middle)
    return eto(replace(FULL, t_dew_c=low))


def test_the_dew_point_is_used_before_relative_humidity() -> None:
    assert eto(FULL) == eto(replace(FULL, rh_min_pct=None, rh_max_pct=None, rh_mean_pct=None))
    assert eto(FULL) == pytest.approx(with_vapour(saturation_vapour_pressure(15.0)))


def test_then_both_extremes_of_humidity_then_the_highest_then_the_mean() -> None:
    day = replace(FULL, t_dew_c=None)
    assert eto(day) == pytest.approx(with_vapour(vapour_pressure_from_rh_max_and_min(18.0, 31.0, 82.0, 38.0)))
    day = replace(day, rh_min_pct=None)
    assert eto(day) == pytest.approx(with_vapour(0.82 * saturation_vapour_pressure(18.0)))
    day = replace(day, rh_max_pct=None)
    assert eto(day) == pytest.approx(with_vapour(vapour_pressure_from_rh_mean(18.0, 31.0, 60.0)))
    assert estimated(day) == ()


def test_then_the_minimum_temperature_lowered_where_the_climate_is_arid() -> None:
    day = replace(FULL, t_dew_c=None, rh_min_pct=None, rh_max_pct=None, rh_mean_pct=None)
    assert eto(day) == eto(replace(FULL, t_dew_c=18.0))
    assert eto(day, replace(MONTPELLIER, arid=True)) == eto(replace(FULL, t_dew_c=16.0))
    assert estimated(day) == ("humidity",)


def test_the_lowest_humidity_alone_says_nothing_of_the_vapour_pressure() -> None:
    # FAO-56 has no equation for it; it still serves the crop coefficient.
    day = replace(FULL, t_dew_c=None, rh_max_pct=None, rh_mean_pct=None)
    assert estimated(day) == ("humidity",)
    assert daily_demand(day, MONTPELLIER).rh_min_pct == 38.0


def test_a_dew_point_above_saturation_is_no_negative_deficit() -> None:
    # Fog at 31 °C: the wind has nothing to carry away, however hard it blows.
    fog = replace(FULL, t_dew_c=31.0)
    assert eto(replace(fog, wind_m_s=9.0)) < eto(replace(fog, wind_m_s=1.0))
    assert eto(fog) > 0.0


def test_least_humidity_follows_from_the_vapour_pressure_where_it_is_not_given() -> None:
    day = replace(FULL, rh_min_pct=None)
    expected = minimum_relative_humidity(saturation_vapour_pressure(15.0), 31.0)
    assert daily_demand(day, MONTPELLIER).rh_min_pct == pytest.approx(expected)
    assert daily_demand(FULL, MONTPELLIER).rh_min_pct == 38.0


# --- wind


def test_missing_wind_is_two_metres_a_second() -> None:
    day = replace(FULL, wind_m_s=None)
    assert eto(day) == eto(replace(FULL, wind_m_s=2.0))
    assert estimated(day) == ("wind",)


def test_calm_air_still_moves_a_little() -> None:
    demand = daily_demand(replace(FULL, wind_m_s=0.0), MONTPELLIER)
    assert demand.wind_2m_m_s == 0.5
    assert demand.estimated == ()


def test_wind_is_brought_down_from_where_it_was_measured() -> None:
    # FAO-56 example 14 (page 56): 3.2 m/s at 10 m are 2.4 m/s at 2 m.
    demand = daily_demand(replace(FULL, wind_m_s=3.2, wind_height_m=10.0), MONTPELLIER)
    assert demand.wind_2m_m_s == pytest.approx(2.4, abs=0.05)
    assert daily_demand(FULL, MONTPELLIER).wind_2m_m_s == 2.1


# --- the day as a whole


def test_two_temperatures_are_enough_and_every_stand_in_is_named() -> None:
    demand = daily_demand(WeatherDay(JULY_15, t_min_c=18.0, t_max_c=31.0), MONTPELLIER)
    assert demand.estimated == ("solar_radiation", "humidity", "wind")
    assert demand.eto_mm > 3.0


@pytest.mark.parametrize(
    ("t_min_c", "t_max_c", "missing"),
    [(None, 30.0, ("t_min_c",)), (18.0, None, ("t_max_c",)), (None, None, ("t_min_c", "t_max_c"))],
)
def test_a_day_without_its_temperatures_is_refused_with_their_names(
    t_min_c: float | None, t_max_c: float | None, missing: tuple[str, ...]
) -> None:
    with pytest.raises(WeatherIncomplete) as raised:
        daily_demand(replace(FULL, t_min_c=t_min_c, t_max_c=t_max_c), MONTPELLIER)
    assert raised.value.missing == missing
    assert raised.value.date == JULY_15


def test_a_cold_dark_still_day_asks_for_nothing() -> None:
    day = WeatherDay(dt.date(2026, 12, 21), t_min_c=-8.0, t_max_c=-2.0, t_dew_c=-8.0, wind_m_s=0.5)
    assert eto(day, Location(60.0, 100.0)) == 0.0


def test_polar_night_is_defined_and_polar_day_asks_for_water() -> None:
    tromso = Location(latitude_deg=69.65, elevation_m=10.0, coastal=True)
    night = WeatherDay(dt.date(2026, 12, 21), t_min_c=-6.0, t_max_c=-1.0, sunshine_h=0.0)
    day = WeatherDay(dt.date(2026, 6, 21), t_min_c=8.0, t_max_c=15.0, sunshine_h=24.0)
    assert 0.0 <= eto(night, tromso) < 0.5
    assert 2.0 < eto(day, tromso) < 6.0


def test_a_garden_below_the_sea_differs_little_from_one_beside_it() -> None:
    below = eto(FULL, replace(MONTPELLIER, elevation_m=-60.0))
    assert below == pytest.approx(eto(FULL, replace(MONTPELLIER, elevation_m=0.0)), abs=0.03)


def test_equal_temperatures_are_a_day_like_any_other() -> None:
    day = replace(FULL, t_min_c=20.0, t_max_c=20.0)
    assert eto(day) > 0.0
    without_radiation = replace(day, solar_mj_m2=None, sunshine_h=None, cloud_share=None)
    assert 0.0 <= eto(without_radiation) < eto(day)


def test_demand_does_not_jump_at_new_year_nor_on_29_february() -> None:
    sunny = WeatherDay(JULY_15, t_min_c=15.0, t_max_c=27.0, t_dew_c=12.0, wind_m_s=2.0, sunshine_h=9.0)
    perth = Location(latitude_deg=-31.95, elevation_m=20.0)
    for first in (dt.date(2024, 12, 30), dt.date(2025, 12, 30), dt.date(2024, 2, 27), dt.date(2026, 2, 27)):
        days = [eto(replace(sunny, date=first + dt.timedelta(days=n)), perth) for n in range(4)]
        assert max(days) - min(days) < 0.1


def test_southern_summer_is_in_january() -> None:
    perth = Location(latitude_deg=-31.95, elevation_m=20.0)
    warm = WeatherDay(JULY_15, t_min_c=15.0, t_max_c=27.0)
    assert eto(replace(warm, date=dt.date(2026, 1, 15)), perth) > 1.5 * eto(warm, perth)


@given(
    t_min_c=st.floats(-5.0, 30.0),
    range_c=st.floats(0.0, 20.0),
    warmer_c=st.floats(0.1, 8.0),
    dew_below_c=st.floats(0.0, 20.0),
    wind_m_s=st.floats(1.0, 10.0),
    solar_mj_m2=st.floats(0.0, 35.0),
    latitude_deg=st.floats(-65.0, 70.0),
    elevation_m=st.floats(-50.0, 3500.0),
    date=st.dates(dt.date(2024, 1, 1), dt.date(2026, 12, 31)),
)
def test_a_warmer_afternoon_asks_for_more(
    t_min_c: float,
    range_c: float,
    warmer_c: float,
    dew_below_c: float,
    wind_m_s: float,
    solar_mj_m2: float,
    latitude_deg: float,
    elevation_m: float,
    date: dt.date,
) -> None:
    site = Location(latitude_deg, elevation_m)
    cool = WeatherDay(
        date,
        t_min_c=t_min_c,
        t_max_c=t_min_c + range_c,
        t_dew_c=t_min_c - dew_below_c,
        wind_m_s=wind_m_s,
        solar_mj_m2=solar_mj_m2,
    )
    warm = replace(cool, t_max_c=t_min_c + range_c + warmer_c)
    # Where both are clamped to 0 there is nothing to compare.
    assume(eto(warm, site) > 0.0)
    assert eto(warm, site) > eto(cool, site)


@given(
    t_min_c=st.floats(0.0, 25.0),
    range_c=st.floats(0.0, 15.0),
    dew_below_c=st.floats(0.0, 20.0),
    wind_m_s=st.floats(0.0, 10.0),
    solar_mj_m2=st.floats(0.0, 30.0),
    more_mj_m2=st.floats(0.1, 10.0),
)
def test_a_brighter_summer_day_asks_for_more(
    t_min_c: float,
    range_c: float,
    dew_below_c: float,
    wind_m_s: float,
    solar_mj_m2: float,
    more_mj_m2: float,
) -> None:
    # In summer only: under a low sun, clear air can lose more heat than the radiation brings.
    dull = WeatherDay(
        JULY_15,
        t_min_c=t_min_c,
        t_max_c=t_min_c + range_c,
        t_dew_c=t_min_c - dew_below_c,
        wind_m_s=wind_m_s,
        solar_mj_m2=solar_mj_m2,
    )
    bright = replace(dull, solar_mj_m2=solar_mj_m2 + more_mj_m2)
    assume(eto(bright) > 0.0)
    assert eto(bright) > eto(dull)
