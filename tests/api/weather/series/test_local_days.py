"""Local days of hours in UTC: zones with all kinds of offsets, clock changes, gaps."""

import datetime as dt
import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.series.local_days import local_days, lowest_temperature_c
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.fao56.humidity import saturation_vapour_pressure
from tests.profile import examples

LATER = dt.datetime(2040, 1, 1, tzinfo=dt.UTC)


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)  # type: ignore[misc, arg-type]


def weather(hours: list[Hour], retrieved_at: dt.datetime = LATER) -> HourlyWeather:
    return HourlyWeather("test", Attribution("test"), retrieved_at, None, 10.0, tuple(hours))


def full_hours(start: dt.datetime, count: int) -> list[Hour]:
    return [
        Hour(start + HOUR * number, 10.0 + number, 5.0, 50.0, 2.0, 0.5, 0.5, 1.0, 0.3)
        for number in range(count)
    ]


def day_of(days: tuple[WeatherDay, ...], *date: int) -> WeatherDay:
    return next(day for day in days if day.date == dt.date(*date))


# Lengths of days, from the tz database: the hours between one midnight and the next.
@pytest.mark.parametrize(
    ("zone", "date", "length_h"),
    [
        ("Europe/Paris", (2026, 3, 29), 23),
        ("Europe/Paris", (2026, 10, 25), 25),
        ("Europe/Paris", (2026, 7, 14), 24),
        ("America/New_York", (2026, 3, 8), 23),
        ("America/New_York", (2026, 11, 1), 25),
        ("Asia/Kolkata", (2026, 3, 29), 24),
        ("Australia/Lord_Howe", (2026, 4, 5), 24.5),
        ("Australia/Lord_Howe", (2026, 10, 4), 23.5),
        ("Pacific/Chatham", (2026, 4, 5), 25),
        ("Pacific/Chatham", (2026, 9, 27), 23),
        ("America/St_Johns", (2026, 3, 8), 23),
        ("America/St_Johns", (2026, 11, 1), 25),
        ("America/Havana", (2026, 3, 8), 23),  # clocks skip midnight
        ("America/Havana", (2026, 11, 1), 25),
    ],
)
def test_rain_of_one_mm_an_hour_sums_to_the_length_of_the_day(zone, date, length_h):
    noon = utc(*date, 12)
    days = local_days(weather(full_hours(noon - 48 * HOUR, 96)), ZoneInfo(zone))

    day = day_of(days, *date)
    assert day.rain_mm == pytest.approx(length_h, abs=1e-9)
    assert day.solar_mj_m2 == pytest.approx(length_h / 2, abs=1e-9)


def test_an_hour_that_midnight_cuts_is_split_by_overlap():
    # Midnight in India is 18:30 UTC.
    hours = full_hours(utc(2026, 7, 13, 12), 48)
    wet = [
        Hour(hour.start, hour.temperature_c, rain_mm=3.0 if hour.start == utc(2026, 7, 13, 18) else 0.0)
        for hour in hours
    ]
    days = local_days(weather(wet), ZoneInfo("Asia/Kolkata"))

    assert day_of(days, 2026, 7, 14).rain_mm == pytest.approx(1.5)


def test_a_reading_at_midnight_belongs_to_the_day_that_begins():
    hours = full_hours(utc(2026, 7, 13), 72)
    days = local_days(weather(hours), ZoneInfo("UTC"))

    day = day_of(days, 2026, 7, 14)
    assert (day.t_min_c, day.t_max_c) == (34.0, 57.0)
    assert day.wind_m_s == 2.0
    assert day.wind_height_m == 10.0
    assert (day.rh_min_pct, day.rh_mean_pct, day.rh_max_pct) == (50.0, 50.0, 50.0)
    assert day.cloud_share == 0.5


def test_a_date_that_a_zone_left_out_has_no_day():
    # Samoa went from the 29th to the 31st of December 2011.
    days = local_days(weather(full_hours(utc(2011, 12, 28), 120)), ZoneInfo("Pacific/Apia"))

    assert dt.date(2011, 12, 30) not in {day.date for day in days}
    assert day_of(days, 2011, 12, 29).rain_mm == pytest.approx(24)
    assert day_of(days, 2011, 12, 31).rain_mm == pytest.approx(24)


def test_a_missing_hour_makes_the_quantity_unknown_not_smaller():
    hours = [hour for hour in full_hours(utc(2026, 7, 13), 72) if hour.start != utc(2026, 7, 14, 9)]
    day = day_of(local_days(weather(hours), ZoneInfo("UTC")), 2026, 7, 14)

    assert day.rain_mm is None
    assert day.solar_mj_m2 is None
    assert day.t_min_c is None
    assert day.t_max_c is None
    assert day.wind_m_s is None
    assert day.t_dew_c is None


def test_an_unknown_value_touches_its_own_quantity_only():
    hours = full_hours(utc(2026, 7, 13), 72)
    hours[30] = Hour(hours[30].start, 20.0, 5.0, 50.0, 2.0, None, 0.5, 1.0, 0.3)
    day = day_of(local_days(weather(hours), ZoneInfo("UTC")), 2026, 7, 14)

    assert day.solar_mj_m2 is None
    assert day.rain_mm == pytest.approx(24)
    assert day.t_max_c == 57.0


def test_a_day_without_any_hour_between_others_is_there_and_knows_nothing():
    hours = full_hours(utc(2026, 7, 13), 24) + full_hours(utc(2026, 7, 15), 24)
    days = local_days(weather(hours), ZoneInfo("UTC"))

    assert [day.date.day for day in days] == [13, 14, 15]
    assert days[1].rain_mm is None
    assert days[1].t_min_c is None
    assert days[2].rain_mm == pytest.approx(24)


def test_the_dew_point_of_a_day_stands_for_its_mean_vapour_pressure():
    hours = [
        Hour(utc(2026, 7, 14) + HOUR * number, dew_point_c=10.0 if number < 12 else 20.0)
        for number in range(24)
    ]
    day = day_of(local_days(weather(hours), ZoneInfo("UTC")), 2026, 7, 14)

    # FAO-56 table 2.3 prints e° as 1.228 kPa at 10 °C and 2.338 kPa at 20 °C, to half a unit of the
    # last digit; another half for the rounded constants of equation 3-11.
    assert day.t_dew_c is not None
    assert saturation_vapour_pressure(day.t_dew_c) == pytest.approx((1.228 + 2.338) / 2, abs=0.001)
    assert day.t_dew_c > 15.0


def test_days_wholly_before_the_answer_are_analysed_and_later_ones_forecast():
    days = local_days(weather(full_hours(utc(2026, 7, 12), 96), utc(2026, 7, 14)), ZoneInfo("UTC"))

    assert [day.origin for day in days] == [
        Origin.ANALYSED, Origin.ANALYSED, Origin.FORECAST, Origin.FORECAST,
    ]  # fmt: skip
    assert {day.retrieved_at for day in days} == {utc(2026, 7, 14)}


def test_the_rain_that_has_fallen_is_that_of_the_hours_that_are_over():
    asked = utc(2026, 7, 14, 12, 10)
    days = local_days(weather(full_hours(utc(2026, 7, 13), 72), asked), ZoneInfo("Europe/Paris"))

    assert day_of(days, 2026, 7, 14).rain_fallen_mm == pytest.approx(14)  # 22:00 to 12:00 UTC
    assert day_of(days, 2026, 7, 14).rain_mm == pytest.approx(24)
    assert day_of(days, 2026, 7, 15).rain_fallen_mm is None
    assert day_of(days, 2026, 7, 13).rain_fallen_mm is None


def test_the_chance_of_a_day_is_that_of_its_likeliest_hour_still_to_come():
    asked = utc(2026, 7, 14, 12, 10)
    chances = {utc(2026, 7, 14, 9): 0.9, utc(2026, 7, 14, 12): 0.4, utc(2026, 7, 14, 20): 0.6}
    hours = [
        Hour(hour.start, rain_mm=0.0, rain_probability=chances.get(hour.start, 0.1))
        for hour in full_hours(utc(2026, 7, 13), 72)
    ]
    days = local_days(weather(hours, asked), ZoneInfo("UTC"))

    assert day_of(days, 2026, 7, 14).rain_probability == 0.6
    assert day_of(days, 2026, 7, 13).rain_probability is None
    assert day_of(days, 2026, 7, 15).rain_probability == 0.1


def test_no_hours_make_no_days():
    assert local_days(weather([]), ZoneInfo("UTC")) == ()


ZONES = (
    "Europe/Paris",
    "America/New_York",
    "Asia/Kolkata",
    "Australia/Lord_Howe",
    "Pacific/Chatham",
    "America/St_Johns",
    "Asia/Kathmandu",
)


@examples(40)
@given(
    zone=st.sampled_from(ZONES),
    start=st.integers(0, 16_800).map(lambda number: utc(2026, 1, 1) + number * HOUR),
    depths=st.lists(st.floats(0, 50), min_size=24 * 4, max_size=24 * 6),
)
def test_no_rain_is_lost_or_made_between_the_first_and_the_last_midnight(zone, start, depths):
    hours = [Hour(start + HOUR * number, rain_mm=depth) for number, depth in enumerate(depths)]
    days = [day for day in local_days(weather(hours), ZoneInfo(zone)) if day.rain_mm is not None]
    assert len(days) >= 2

    # Counted minute by minute, by the clock on the wall.
    dates = {day.date for day in days}
    expected = math.fsum(
        hour.rain_mm / 4
        for hour in hours
        for minute in (0, 15, 30, 45)
        if (hour.start + dt.timedelta(minutes=minute)).astimezone(ZoneInfo(zone)).date() in dates
    )
    assert math.fsum(day.rain_mm for day in days) == pytest.approx(expected, abs=1e-9)


def test_the_lowest_temperature_is_that_of_every_hour_that_the_span_touches():
    hours = full_hours(utc(2026, 7, 14), 24)

    assert lowest_temperature_c(hours, utc(2026, 7, 14, 5, 30), utc(2026, 7, 14, 9)) == 15.0
    assert lowest_temperature_c(hours, utc(2026, 7, 14, 23), utc(2026, 7, 15)) == 33.0
    paris = ZoneInfo("Europe/Paris")
    start = dt.datetime(2026, 7, 14, 6, tzinfo=paris)
    assert lowest_temperature_c(hours, start, start + 2 * HOUR) == 14.0


def test_the_lowest_temperature_is_unknown_where_an_hour_is():
    hours = full_hours(utc(2026, 7, 14), 24)

    assert lowest_temperature_c(hours, utc(2026, 7, 14, 20), utc(2026, 7, 15, 1)) is None
    assert lowest_temperature_c(hours, utc(2026, 7, 13, 20), utc(2026, 7, 14, 2)) is None
    assert lowest_temperature_c(hours[:5] + hours[6:], utc(2026, 7, 14, 4), utc(2026, 7, 14, 8)) is None
    unknown = [*hours[:5], Hour(hours[5].start), *hours[6:]]
    assert lowest_temperature_c(unknown, utc(2026, 7, 14, 4), utc(2026, 7, 14, 8)) is None
    assert lowest_temperature_c(hours, utc(2026, 7, 14, 4), utc(2026, 7, 14, 4)) is None


def test_extremes_beside_the_readings_are_those_of_their_day():
    hours = [replace(hour, temperature_c=20.0) for hour in full_hours(utc(2026, 7, 13), 72)]
    hours[30] = replace(hours[30], low_c=11.0)
    hours[40] = replace(hours[40], high_c=29.0)
    days = local_days(weather(hours), ZoneInfo("UTC"))

    assert (day_of(days, 2026, 7, 14).t_min_c, day_of(days, 2026, 7, 14).t_max_c) == (11.0, 29.0)
    assert (day_of(days, 2026, 7, 13).t_min_c, day_of(days, 2026, 7, 15).t_max_c) == (20.0, 20.0)
    assert lowest_temperature_c(hours, hours[28].start, hours[32].start) == 11.0


def test_extremes_do_not_stand_in_for_readings_that_are_missing():
    hours = [replace(hour, low_c=5.0, high_c=30.0) for hour in full_hours(utc(2026, 7, 13), 72)]
    hours[30] = replace(hours[30], temperature_c=None)
    day = day_of(local_days(weather(hours), ZoneInfo("UTC")), 2026, 7, 14)

    assert (day.t_min_c, day.t_max_c) == (None, None)


def test_sunshine_is_summed_over_the_day():
    hours = [replace(hour, sunshine_h=0.5) for hour in full_hours(utc(2026, 3, 28), 72)]
    days = local_days(weather(hours), ZoneInfo("Europe/Paris"))

    assert day_of(days, 2026, 3, 29).sunshine_h == pytest.approx(11.5)  # a day of 23 hours


def with_members(hours, first):
    return [
        replace(hour, rain_mm=2.0, rain_members_mm=(0.0, 1.0, 5.0)) if number >= first else hour
        for number, hour in enumerate(hours)
    ]


def test_rain_of_an_ensemble_is_an_expected_value_where_all_that_is_to_come_is():
    asked = utc(2026, 7, 14, 6)
    hours = with_members(full_hours(utc(2026, 7, 13), 72), 30)
    days = local_days(weather(hours, asked), ZoneInfo("UTC"))
    today = day_of(days, 2026, 7, 14)

    assert today.rain_is_expected_value
    assert today.rain_mm == pytest.approx(6 * 1.0 + 18 * 2.0)
    assert today.rain_fallen_mm == pytest.approx(6.0)
    assert not day_of(days, 2026, 7, 13).rain_is_expected_value

    hours = with_members(full_hours(utc(2026, 7, 13), 72), 31)
    today = day_of(local_days(weather(hours, asked), ZoneInfo("UTC")), 2026, 7, 14)
    assert not today.rain_is_expected_value


def members_on_the_14th(of: HourlyWeather, zone: ZoneInfo) -> tuple[float, ...] | None:
    return day_of(local_days(of, zone), 2026, 7, 14).rain_members_mm


def test_members_keep_their_own_sums_over_a_local_day():
    # Midnight in India is 18:30 UTC, so two hours count by half.
    hours = with_members(full_hours(utc(2026, 7, 13), 72), 0)
    asked = utc(2026, 7, 13)
    members_mm = members_on_the_14th(weather(hours, asked), ZoneInfo("Asia/Kolkata"))

    assert members_mm == pytest.approx((0.0, 24.0, 120.0))


def test_what_has_fallen_is_the_same_for_every_member():
    hours = with_members(full_hours(utc(2026, 7, 13), 72), 30)
    members_mm = members_on_the_14th(weather(hours, utc(2026, 7, 14, 6)), ZoneInfo("UTC"))

    assert members_mm == pytest.approx((6.0, 6.0 + 18.0, 6.0 + 90.0))


def test_without_members_there_are_none():
    hours = full_hours(utc(2026, 7, 13), 72)

    assert members_on_the_14th(weather(hours, utc(2026, 7, 14, 6)), ZoneInfo("UTC")) is None
