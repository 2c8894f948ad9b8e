"""FAO-56's worked examples: every printed number, to half a unit of its last printed digit.

`printed` takes the number as text, so that its last digit is the paper's: "0.70" is not "0.7".
"""

import datetime as dt
import math

import pytest

from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.soil_water import close_day
from scheduling.balance.weather import WeatherDay
from scheduling.fao56.crop_coefficient import (
    StageLengths,
    climate_adjustment,
    coefficient_on_day,
    end_of_season_coefficient,
    mid_season_coefficient,
)
from scheduling.fao56.humidity import (
    mean_saturation_vapour_pressure,
    saturation_vapour_pressure,
    slope_of_saturation_curve,
    vapour_pressure_from_minimum_temperature,
    vapour_pressure_from_rh_max_and_min,
    vapour_pressure_from_rh_mean,
)
from scheduling.fao56.radiation import (
    KRS_INTERIOR,
    black_body_radiation,
    clear_sky_radiation,
    clearness,
    day_of_year,
    daylight_hours,
    extraterrestrial_radiation,
    inverse_relative_distance,
    latitude_in_radians,
    net_longwave_radiation,
    net_radiation,
    net_shortwave_radiation,
    solar_declination,
    solar_radiation_from_sunshine,
    solar_radiation_from_temperature,
    sunset_hour_angle,
)
from scheduling.fao56.reference_et import (
    atmospheric_pressure,
    penman_monteith,
    psychrometric_constant,
    wind_at_2m,
)
from scheduling.fao56.root_zone import root_depth_on_day, total_available_water


def printed(number: str) -> object:
    # The small excess lets in what FAO-56 rounded up from exactly half a unit.
    return pytest.approx(float(number), abs=0.5 * 10.0 ** -len(number.partition(".")[2]) + 1e-9)


def equivalent_evaporation(radiation_mj_m2: float) -> float:
    """Equation 20 (page 44): the depth of water that a day's radiation could evaporate. [mm/day]"""
    return 0.408 * radiation_mj_m2


def test_example_2_pressure_and_psychrometric_constant_at_1800_m() -> None:  # page 32
    assert atmospheric_pressure(1800.0) == printed("81.8")
    assert psychrometric_constant(atmospheric_pressure(1800.0)) == printed("0.054")


def test_example_3_the_day_s_mean_is_taken_over_pressures() -> None:  # page 36
    assert saturation_vapour_pressure(24.5) == printed("3.075")
    assert saturation_vapour_pressure(15.0) == printed("1.705")
    assert mean_saturation_vapour_pressure(15.0, 24.5) == printed("2.39")
    # The wrong way, which the paper prints for comparison.
    assert saturation_vapour_pressure(19.75) == printed("2.30")


def test_example_4_pressure_and_saturation_at_the_wet_bulb() -> None:  # page 38
    assert atmospheric_pressure(1200.0) == printed("87.9")
    assert saturation_vapour_pressure(19.5) == printed("2.267")


def test_examples_5_and_6_vapour_pressure_from_relative_humidity() -> None:  # page 39
    assert saturation_vapour_pressure(18.0) == printed("2.064")
    assert saturation_vapour_pressure(25.0) == printed("3.168")
    # The printed line for equation 17 lacks the division by 2; its result has it.
    actual = vapour_pressure_from_rh_max_and_min(18.0, 25.0, 82.0, 54.0)
    assert actual == printed("1.70")
    assert vapour_pressure_from_rh_mean(18.0, 25.0, (82.0 + 54.0) / 2.0) == printed("1.78")
    assert mean_saturation_vapour_pressure(18.0, 25.0) - actual == printed("0.91")


def test_example_7_latitudes_in_radians() -> None:  # page 46
    assert latitude_in_radians(13.0 + 44.0 / 60.0) == printed("0.240")
    assert latitude_in_radians(-(22.0 + 54.0 / 60.0)) == printed("-0.400")


def test_examples_8_and_9_sun_at_20_south_on_3_september() -> None:  # pages 47 and 49
    day = day_of_year(dt.date(2026, 9, 3))
    latitude, declination = latitude_in_radians(-20.0), solar_declination(246)

    assert day == 246
    assert latitude == printed("-0.35")
    assert inverse_relative_distance(day) == printed("0.985")
    assert declination == printed("0.120")
    assert sunset_hour_angle(latitude, declination) == printed("1.527")
    assert math.sin(latitude) * math.sin(declination) == printed("-0.041")
    assert math.cos(latitude) * math.cos(declination) == printed("0.933")
    assert extraterrestrial_radiation(-20.0, day) == printed("32.2")
    assert equivalent_evaporation(extraterrestrial_radiation(-20.0, day)) == printed("13.1")
    assert daylight_hours(-20.0, day) == printed("11.7")


def test_examples_10_to_12_radiation_at_rio_de_janeiro_in_may() -> None:  # pages 50, 52, 53
    # The heading of example 11 has -22.70 degrees for 22°54' S; -22.90 is meant and used.
    extraterrestrial = extraterrestrial_radiation(-22.9, 135)
    assert extraterrestrial == printed("25.1")
    assert daylight_hours(-22.9, 135) == printed("10.9")
    solar = solar_radiation_from_sunshine(220.0 / 31.0, daylight_hours(-22.9, 135), extraterrestrial)
    assert solar == printed("14.5")
    assert equivalent_evaporation(solar) == printed("5.9")

    clear_sky = clear_sky_radiation(0.0, extraterrestrial)  # at sea level: equation 36
    assert clear_sky == printed("18.8")
    assert black_body_radiation(25.1) == printed("38.8")
    assert black_body_radiation(19.1) == printed("35.8")
    assert clearness(solar, clear_sky) == printed("0.77")
    # The last line of example 11 takes 38.7 and 35.7 where it has just found 38.8 and 35.8.
    net_longwave = net_longwave_radiation(19.1, 25.1, 2.1, clearness(solar, clear_sky))
    assert net_longwave == printed("3.5")
    assert equivalent_evaporation(net_longwave) == printed("1.4")

    assert net_shortwave_radiation(solar) == printed("11.1")
    net = net_radiation(net_shortwave_radiation(solar), net_longwave)
    assert net == printed("7.6")
    assert equivalent_evaporation(net) == printed("3.1")


def test_example_14_wind_from_10_m_to_2_m() -> None:  # page 56
    assert wind_at_2m(1.0, 10.0) == printed("0.75")
    assert wind_at_2m(3.2, 10.0) == printed("2.4")


def test_example_15_radiation_from_temperature_at_lyon_in_july() -> None:  # page 61
    latitude = 45.0 + 43.0 / 60.0
    extraterrestrial = extraterrestrial_radiation(latitude, 196)
    assert latitude_in_radians(latitude) == printed("0.80")
    assert extraterrestrial == printed("40.6")
    clear_sky = clear_sky_radiation(200.0, extraterrestrial)
    solar = solar_radiation_from_temperature(14.8, 26.6, extraterrestrial, clear_sky, KRS_INTERIOR)
    assert solar / extraterrestrial == printed("0.55")
    assert solar == printed("22.3")
    assert equivalent_evaporation(solar) == printed("9.1")


def test_example_17_monthly_means_at_bangkok_in_april() -> None:  # pages 70 and 71
    latitude = 13.0 + 44.0 / 60.0
    slope = slope_of_saturation_curve(30.2)
    assert slope == printed("0.246")
    assert atmospheric_pressure(2.0) == printed("101.3")
    # 0.0674 is what the rounded pressure gives; from 2 m above the sea it is 0.06735.
    assert psychrometric_constant(101.3) == printed("0.0674")
    psychrometric = psychrometric_constant(atmospheric_pressure(2.0))
    assert saturation_vapour_pressure(34.8) == printed("5.56")
    assert saturation_vapour_pressure(25.6) == printed("3.28")
    deficit = mean_saturation_vapour_pressure(25.6, 34.8) - 2.85
    assert deficit == printed("1.57")

    extraterrestrial = extraterrestrial_radiation(latitude, 105)
    assert extraterrestrial == printed("38.06")
    assert daylight_hours(latitude, 105) == printed("12.31")
    solar = solar_radiation_from_sunshine(8.5, daylight_hours(latitude, 105), extraterrestrial)
    assert solar == printed("22.65")
    clear_sky = clear_sky_radiation(2.0, extraterrestrial)
    assert clear_sky == printed("28.54")
    assert clearness(solar, clear_sky) == printed("0.79")
    assert net_shortwave_radiation(solar) == printed("17.44")
    assert black_body_radiation(34.8) == printed("44.10")
    assert black_body_radiation(25.6) == printed("39.06")
    net_longwave = net_longwave_radiation(25.6, 34.8, 2.85, clearness(solar, clear_sky))
    assert net_longwave == printed("3.11")
    net = net_radiation(net_shortwave_radiation(solar), net_longwave)
    assert net == printed("14.33")
    assert equivalent_evaporation(net - 0.14) == printed("5.79")

    # Each of the equation's two terms by itself, then both.
    assert penman_monteith(30.2, 2.0, slope, psychrometric, net, 0.0, 0.14) == printed("3.97")
    assert penman_monteith(30.2, 2.0, slope, psychrometric, 0.0, deficit) == printed("1.75")
    assert penman_monteith(30.2, 2.0, slope, psychrometric, net, deficit, 0.14) == printed("5.72")


UCCLE = Location(latitude_deg=50.8, elevation_m=100.0)
UCCLE_6_JULY = WeatherDay(
    dt.date(2026, 7, 6),
    t_min_c=12.3,
    t_max_c=21.5,
    rh_max_pct=84.0,
    rh_min_pct=63.0,
    wind_m_s=10.0 / 3.6,
    wind_height_m=10.0,
    sunshine_h=9.25,
)


def test_example_18_daily_data_at_uccle_step_by_step() -> None:  # pages 72 and 73
    wind = wind_at_2m(10.0 / 3.6, 10.0)
    assert wind == printed("2.078")
    assert atmospheric_pressure(100.0) == printed("100.1")
    slope = slope_of_saturation_curve(16.9)
    assert slope == printed("0.122")
    psychrometric = psychrometric_constant(atmospheric_pressure(100.0))
    assert psychrometric == printed("0.0666")
    assert saturation_vapour_pressure(21.5) == printed("2.564")
    assert saturation_vapour_pressure(12.3) == printed("1.431")
    # The printed line for es lacks the division by 2; its result has it.
    assert mean_saturation_vapour_pressure(12.3, 21.5) == printed("1.997")
    actual = vapour_pressure_from_rh_max_and_min(12.3, 21.5, 84.0, 63.0)
    assert actual == printed("1.409")
    deficit = mean_saturation_vapour_pressure(12.3, 21.5) - actual
    assert deficit == printed("0.589")

    day = day_of_year(dt.date(2026, 7, 6))
    assert day == 187
    extraterrestrial = extraterrestrial_radiation(50.8, day)
    assert extraterrestrial == printed("41.09")
    # The line for n/N shows 9.25/16.3; 16.1 is meant and its result has it.
    assert daylight_hours(50.8, day) == printed("16.1")
    solar = solar_radiation_from_sunshine(9.25, daylight_hours(50.8, day), extraterrestrial)
    assert solar == printed("22.07")
    clear_sky = clear_sky_radiation(100.0, extraterrestrial)
    assert clear_sky == printed("30.90")
    assert clearness(solar, clear_sky) == printed("0.71")
    assert net_shortwave_radiation(solar) == printed("17.00")
    assert black_body_radiation(21.5) == printed("36.96")
    assert black_body_radiation(12.3) == printed("32.56")
    net_longwave = net_longwave_radiation(12.3, 21.5, actual, clearness(solar, clear_sky))
    assert net_longwave == printed("3.71")
    net = net_radiation(net_shortwave_radiation(solar), net_longwave)
    assert net == printed("13.28")
    assert equivalent_evaporation(net) == printed("5.42")

    assert penman_monteith(16.9, wind, slope, psychrometric, net, 0.0) == printed("2.81")
    assert penman_monteith(16.9, wind, slope, psychrometric, 0.0, deficit) == printed("1.07")
    assert penman_monteith(16.9, wind, slope, psychrometric, net, deficit) == printed("3.88")


def test_example_18_from_the_weather_day() -> None:  # page 73
    demand = daily_demand(UCCLE_6_JULY, UCCLE)

    assert demand.eto_mm == printed("3.88")
    assert demand.wind_2m_m_s == printed("2.078")
    assert demand.rh_min_pct == 63.0


def test_example_20_from_temperatures_alone_at_lyon_in_july() -> None:  # pages 77 and 78
    # Station and temperatures are those of example 15. July's middle day stands for the month.
    lyon = Location(latitude_deg=45.0 + 43.0 / 60.0, elevation_m=200.0)
    july = WeatherDay(dt.date(2026, 7, 15), t_min_c=14.8, t_max_c=26.6)

    assert day_of_year(july.date) == 196
    assert daily_demand(july, lyon).eto_mm == printed("4.56")
    assert vapour_pressure_from_minimum_temperature(14.8) == saturation_vapour_pressure(14.8)
    extraterrestrial = extraterrestrial_radiation(lyon.latitude_deg, 196)
    # Equation 52 (page 64), a second opinion from the same radiation.
    by_temperature = (
        0.0023 * (20.7 + 17.8) * math.sqrt(26.6 - 14.8) * equivalent_evaporation(extraterrestrial)
    )
    assert by_temperature == printed("5.0")


def test_example_27_maize_in_a_humid_and_in_a_windy_place() -> None:  # page 125
    assert mid_season_coefficient(1.20, 1.3, 75.0, 2.0) == printed("1.07")  # Taipei
    assert mid_season_coefficient(1.20, 4.6, 44.0, 2.0) == printed("1.30")  # Mocha


BEANS = StageLengths(initial_d=25, development_d=25, mid_season_d=30, late_season_d=20)


def test_box_15_dry_beans_at_kimberly() -> None:  # pages 130 to 132
    kc_mid = mid_season_coefficient(1.15, 2.2, 30.0, 0.4)
    assert kc_mid == printed("1.19")
    assert end_of_season_coefficient(0.35, 2.2, 30.0, 0.4) == 0.35

    # Kc of a decade is that of its middle, i = 5, 15, ...; decade 3 is left out: the paper
    # averages its two halves by hand, 5/10 0.15 + 5/10 (0.15 + 0.36)/2 = 0.20.
    kc_by_decade = {
        1: ("0.15", 3.0, "0.5"),
        2: ("0.15", 3.4, "0.5"),
        4: ("0.57", 4.2, "2.4"),
        5: ("0.98", 4.5, "4.4"),
        6: ("1.19", 5.1, "6.1"),
        7: ("1.19", 5.6, "6.7"),
        8: ("1.19", 6.0, "7.1"),
        9: ("0.98", 5.5, "5.4"),
        10: ("0.56", 5.2, "2.9"),
    }
    for decade, (kc_printed, eto_mm, etc_printed) in kc_by_decade.items():
        kc = coefficient_on_day(10 * decade - 5, BEANS, 0.15, 1.19, 0.35)
        assert kc == printed(kc_printed), decade
        assert kc * eto_mm == printed(etc_printed), decade
    kc_day_30 = coefficient_on_day(30, BEANS, 0.15, 1.19, 0.35)
    assert kc_day_30 == printed("0.36")
    assert 0.5 * 0.15 + 0.5 * (0.15 + kc_day_30) / 2.0 == printed("0.20")


def test_example_28_coefficients_of_four_days() -> None:  # page 133
    expected = {20: "0.15", 40: "0.77", 70: "1.19", 95: "0.56"}
    for day, number in expected.items():
        assert coefficient_on_day(day, BEANS, 0.15, 1.19, 0.35) == printed(number), day


def test_equation_68_ratio_of_alfalfa_to_grass_at_kimberly() -> None:  # pages 133 and 134
    assert 1.2 + climate_adjustment(2.2, 30.0, 0.5) == printed("1.24")


def test_examples_29_and_30_basal_coefficients_follow_the_same_equations() -> None:  # pages 136, 141
    assert mid_season_coefficient(1.10, 2.2, 30.0, 0.4) == printed("1.14")
    assert end_of_season_coefficient(0.25, 2.2, 30.0, 0.4) == printed("0.25")
    expected = {12: "0.15", 37: "0.63", 65: "1.14", 90: "0.70"}
    for day, number in expected.items():
        assert coefficient_on_day(day, BEANS, 0.15, 1.14, 0.25) == printed(number), day


@pytest.mark.parametrize(
    ("crop", "root_depth_m", "depletion_fraction", "expected"),
    [
        ("onion", 0.4, 0.30, {"loamy sand": ("36", "11"), "silt": ("68", "20"), "silty clay": ("48", "14")}),
        (
            "tomato",
            0.8,
            0.40,
            {"loamy sand": ("72", "29"), "silt": ("136", "54"), "silty clay": ("96", "38")},
        ),
        (
            "maize",
            1.2,
            0.55,
            {"loamy sand": ("108", "59"), "silt": ("204", "112"), "silty clay": ("144", "79")},
        ),
    ],
)
def test_example_36_available_water_of_three_crops_on_three_soils(
    crop: str, root_depth_m: float, depletion_fraction: float, expected: dict[str, tuple[str, str]]
) -> None:  # page 166
    soils = {"loamy sand": (0.15, 0.06), "silt": (0.32, 0.15), "silty clay": (0.35, 0.23)}
    for soil, (taw, raw) in expected.items():
        taw_mm = total_available_water(*soils[soil], root_depth_m)
        assert taw_mm == printed(taw), soil
        assert depletion_fraction * taw_mm == printed(raw), soil


def test_example_37_ten_dry_days_of_a_tomato() -> None:  # page 168
    # Ks is that of the depletion with which the day begins; p is not adjusted.
    taw_mm = total_available_water(0.32, 0.12, 0.8)
    raw_mm = 0.40 * taw_mm
    assert taw_mm == printed("160")
    assert raw_mm == printed("64")

    days = [
        ("1.00", "6.0", "61.0"),
        ("1.00", "6.0", "67.0"),
        ("0.97", "5.8", "72.8"),
        ("0.91", "5.4", "78.3"),
        ("0.85", "5.1", "83.4"),
        ("0.80", "4.8", "88.2"),
        ("0.75", "4.5", "92.6"),
        ("0.70", "4.2", "96.9"),
        ("0.66", "3.9", "100.8"),
        ("0.62", "3.7", "104.5"),
    ]
    depletion_mm = 55.0
    for ks_printed, etc_printed, end_printed in days:
        ks, etc_adj_mm, _, depletion_mm = close_day(depletion_mm, 0.0, 0.0, 1.2 * 5.0, taw_mm, raw_mm)
        assert ks == printed(ks_printed)
        assert etc_adj_mm == printed(etc_printed)
        assert depletion_mm == printed(end_printed)


def test_example_38_roots_grow_evenly_from_day_to_day() -> None:  # pages 172 and 173
    # 130 mm of available water in a metre of soil, p = 0.6.
    expected = {
        1: ("0.30", "23"),
        2: ("0.31", "24"),
        3: ("0.31", "24"),
        4: ("0.32", "25"),
        5: ("0.32", "25"),
        6: ("0.33", "26"),
        7: ("0.33", "26"),
        8: ("0.34", "26"),
        9: ("0.34", "27"),
        10: ("0.35", "27"),
    }
    for day, (root_depth, raw) in expected.items():
        root_depth_m = root_depth_on_day(day, 10, 0.30, 0.35)
        assert root_depth_m == printed(root_depth), day
        raw_mm = 0.6 * total_available_water(0.23, 0.10, root_depth_m)
        assert raw_mm == printed(raw), day
