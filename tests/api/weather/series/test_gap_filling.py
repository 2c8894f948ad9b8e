"""A shower near midnight is counted once, whichever sources the days on either side of it are from."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.weather.series.gap_filling import combined, counted_once, expected_rain_mm
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.series.local_days import local_days
from scheduling.balance.weather import Borrowed, Origin, WeatherDay

MONDAY = dt.date(2026, 7, 13)
ONE_DAY = dt.timedelta(days=1)
MIDNIGHT = dt.datetime(2026, 7, 13, tzinfo=dt.UTC)
ZONES = ("UTC", "Europe/Paris", "Asia/Kolkata", "America/St_Johns", "Pacific/Chatham")


def weather(
    source: str, rain: dict[dt.datetime, float], zone: str, asked: dt.datetime, days: int = 5
) -> tuple[WeatherDay, ...]:
    """Whole local days of hours that are dry but for some."""
    begins = dt.datetime.combine(MONDAY - ONE_DAY, dt.time(), ZoneInfo(zone)).astimezone(dt.UTC)
    first = begins.replace(minute=0)
    hours = [Hour(first + HOUR * number, 15.0, rain_mm=0.0) for number in range(24 * (days + 1))]
    told = tuple(replace(hour, rain_mm=rain.get(hour.start, 0.0)) for hour in hours)
    answer = HourlyWeather(source, Attribution(source), asked, None, 2.0, told)
    return tuple(day for day in local_days(answer, ZoneInfo(zone)) if day.rain_mm is not None)


def day(number: int, source: str, rain_mm: float | None, **values: object) -> WeatherDay:
    told = {"t_min_c": 12.0, "t_max_c": 24.0, "origin": Origin.ANALYSED, **values}
    return WeatherDay(MONDAY + number * ONE_DAY, rain_mm=rain_mm, source=source, **told)  # type: ignore[arg-type]


def total_mm(days: tuple[WeatherDay, ...]) -> float:
    return sum(expected_rain_mm(day) or 0.0 for day in days)


@given(
    zone=st.sampled_from(ZONES),
    begins_h=st.integers(24, 72),
    depths_mm=st.lists(st.floats(0.1, 30.0), min_size=1, max_size=3),
    later_h=st.integers(-9, 9),
    from_second=st.lists(st.booleans(), min_size=6, max_size=6),
    is_past=st.booleans(),
)
def test_a_shower_that_two_sources_put_hours_apart_is_never_two(
    zone, begins_h, depths_mm, later_h, from_second, is_past
):
    asked = MIDNIGHT + (20 if is_past else -2) * ONE_DAY
    shower = {MIDNIGHT + (begins_h + number) * HOUR: depth for number, depth in enumerate(depths_mm)}
    moved = {moment + later_h * HOUR: depth for moment, depth in shower.items()}
    first, second = weather("first", shower, zone, asked), weather("second", moved, zone, asked)
    mixed = tuple(two if takes else one for one, two, takes in zip(first, second, from_second, strict=False))
    assert total_mm(counted_once(mixed)) <= max(total_mm(first), total_mm(second)) + 1e-6


@given(
    earlier_mm=st.floats(0.0, 40.0),
    told_before_mm=st.none() | st.floats(0.0, 40.0),
    until_noon_mm=st.floats(0.0, 40.0),
    after_noon_mm=st.floats(0.0, 40.0),
)
def test_two_days_hold_no_more_than_the_later_source_has_for_both_and_falls_after_noon(
    earlier_mm, told_before_mm, until_noon_mm, after_noon_mm
):
    later_mm = until_noon_mm + after_noon_mm
    days = counted_once(
        [
            day(0, "first", earlier_mm),
            day(1, "second", later_mm, rain_until_noon_mm=until_noon_mm, rain_day_before_mm=told_before_mm),
        ]
    )
    assert days[0].rain_mm == earlier_mm
    assert total_mm(days) <= max(earlier_mm + after_noon_mm, (told_before_mm or 0.0) + later_mm) + 1e-6
    assert days[1].rain_mm + days[1].rain_left_out_mm == pytest.approx(later_mm, abs=1e-6)
    assert 0.0 <= days[1].rain_mm <= later_mm


def test_a_shower_that_the_later_source_has_on_both_days_stays_whole():
    days = (day(0, "first", 6.0), day(1, "second", 5.0, rain_until_noon_mm=5.0, rain_day_before_mm=6.0))
    assert counted_once(days) == days


def test_days_of_one_source_stay_as_they_are():
    days = (day(0, "first", 6.0), day(1, "first", 5.0, rain_until_noon_mm=5.0), day(2, "first", 1.0))
    assert counted_once(days) == days


def test_what_fell_after_noon_is_no_shower_of_the_day_before():
    days = (day(0, "first", 6.0), day(1, "second", 5.0, rain_until_noon_mm=0.0, rain_day_before_mm=0.0))
    assert counted_once(days) == days


def test_promises_are_compared_by_what_is_relied_on_of_them():
    promise = {"origin": Origin.FORECAST, "rain_probability": 0.5}
    earlier = day(0, "first", 10.0, **promise)  # relied on: 5 mm
    later = day(1, "second", 10.0, rain_until_noon_mm=10.0, rain_day_before_mm=2.0, **promise)
    left = counted_once([earlier, later])[1]
    assert expected_rain_mm(left) == pytest.approx(5.0 - (5.0 - 2.0))
    assert left.rain_probability == 0.5


def test_rain_that_has_fallen_before_noon_weighs_more_than_a_small_chance_after_it():
    # 10 mm fell by night, as the day before has them too; 10 more may come in the afternoon, by 10 %.
    today = {"origin": Origin.FORECAST, "rain_fallen_mm": 10.0, "rain_probability": 0.1}
    later = day(1, "second", 20.0, rain_until_noon_mm=10.0, rain_day_before_mm=0.0, **today)
    days = counted_once([day(0, "first", 10.0), later])
    assert total_mm(days) == pytest.approx(10.0 + 0.1 * 10.0)


@given(
    earlier_mm=st.floats(0.0, 40.0),
    told_before_mm=st.floats(0.0, 40.0),
    until_noon_mm=st.floats(0.0, 40.0),
    after_noon_mm=st.floats(0.0, 40.0),
    fallen_share=st.floats(0.0, 1.0),
    chance=st.none() | st.floats(0.0, 1.0),
)
def test_the_same_bound_holds_of_promises_of_which_a_part_has_fallen(
    earlier_mm, told_before_mm, until_noon_mm, after_noon_mm, fallen_share, chance
):
    later_mm = until_noon_mm + after_noon_mm
    fallen_mm = fallen_share * later_mm
    share = 0.7 if chance is None else chance  # README: without a probability rain counts by 0.7
    late_mm = max(0.0, fallen_mm - until_noon_mm) + share * min(after_noon_mm, later_mm - fallen_mm)
    told = day(
        1,
        "second",
        later_mm,
        origin=Origin.FORECAST,
        rain_fallen_mm=fallen_mm,
        rain_probability=chance,
        rain_until_noon_mm=until_noon_mm,
        rain_day_before_mm=told_before_mm,
    )
    days = counted_once([day(0, "first", earlier_mm), told])
    own_mm = told_before_mm + (expected_rain_mm(told) or 0.0)
    assert total_mm(days) <= max(earlier_mm + late_mm, own_mm) + 1e-6


def test_what_the_owner_s_gauge_shows_of_today_is_never_taken_off():
    gauge = day(0, "second", 9.0, borrowed=(Borrowed("rain", "own-weather", None),), observed=("rain_mm",))
    today = day(
        1,
        "second",
        5.0,
        origin=Origin.FORECAST,
        rain_fallen_mm=5.0,
        rain_until_noon_mm=5.0,
        rain_day_before_mm=0.0,
        observed=("rain_fallen_mm",),
    )
    assert counted_once([gauge, today]) == (gauge, today)


def test_members_of_an_ensemble_lose_rain_alike():
    later = day(
        1,
        "second",
        4.0,
        origin=Origin.FORECAST,
        rain_is_expected_value=True,
        rain_members_mm=(0.0, 8.0),
        rain_until_noon_mm=4.0,
        rain_day_before_mm=0.0,
    )
    left = counted_once([day(0, "first", 1.0), later])[1]
    assert left.rain_mm == pytest.approx(3.0)
    assert left.rain_members_mm == pytest.approx((0.0, 6.0))


def test_what_the_owner_measured_is_never_taken_off():
    gauge = day(1, "second", 9.0, borrowed=(Borrowed("rain", "own-weather", None),), observed=("rain_mm",))
    days = (day(0, "first", 9.0), gauge)
    assert counted_once(days) == days


def test_a_gauge_that_is_read_in_the_morning_has_the_rain_of_the_night():
    gauge = day(0, "second", 7.0, borrowed=(Borrowed("rain", "own-weather", None),), observed=("rain_mm",))
    night = day(1, "second", 8.0, rain_until_noon_mm=7.0, rain_day_before_mm=0.0)
    assert [one.rain_mm for one in counted_once([gauge, night])] == pytest.approx([7.0, 1.0])


def test_rain_that_is_lent_is_held_against_the_lender_s_day_before():
    zone, asked = "Europe/Paris", MIDNIGHT - ONE_DAY
    evening = {MIDNIGHT + 20 * HOUR: 6.0}
    first = weather("first", evening, zone, asked)
    second = weather("second", {moment + 5 * HOUR: depth for moment, depth in evening.items()}, zone, asked)
    tuesday = MONDAY + ONE_DAY
    without = [replace(one, rain_mm=None) if one.date == tuesday else one for one in first]
    days = combined(without, second, MONDAY)
    (lent,) = (one for one in days if one.date == tuesday)
    assert (lent.source_of("rain"), lent.rain_mm) == ("second", 6.0)
    (left,) = (one for one in counted_once(days) if one.date == tuesday)
    assert (left.rain_mm, left.rain_left_out_mm) == pytest.approx((0.0, 6.0))


def test_where_nothing_is_known_of_either_day_nothing_is_taken_off():
    unknown = (day(0, "first", None), day(1, "second", 5.0))
    assert counted_once(unknown) == unknown
    assert counted_once([]) == ()
