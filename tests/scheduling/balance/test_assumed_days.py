"""Days of which nothing is known but what the days before them were like, and days known by a forecast."""

from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.garden_series import demands_of, garden_days
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.errors import WeatherIncomplete
from tests.scheduling.gardens import JULY_1, ONE_DAY, summer_day, summer_days

GREENWICH = Location(latitude_deg=45.0, elevation_m=0.0)


def assumed(number: int) -> WeatherDay:
    return WeatherDay(JULY_1 + number * ONE_DAY, origin=Origin.ASSUMED, source="none")


def test_an_assumed_day_asks_for_the_mean_of_the_last_week_and_brings_no_rain():
    hot = [summer_day(JULY_1 + n * ONE_DAY, t_max_c=24.0 + 2 * n) for n in range(10)]
    days = garden_days(
        [*hot, assumed(10), assumed(11)], GREENWICH, JULY_1 + 11 * ONE_DAY, JULY_1 + 13 * ONE_DAY
    )

    week = [daily_demand(day, GREENWICH).eto_mm for day in hot[-7:]]
    assert days.eto_mm[10:] == pytest.approx([sum(week) / 7] * 4)
    assert days.counted_rain_mm[10:] == [0.0] * 4
    assert days.lowest_c[10:12] == [None, None]
    assert days.estimated[10] == ("evapotranspiration", "rain")


def test_assumed_days_say_nothing_of_the_season_s_rain():
    wet = summer_days(JULY_1, 40, rain_mm=3.0)
    days = garden_days(
        [*wet, *(assumed(40 + n) for n in range(8))], GREENWICH, JULY_1 + 45 * ONE_DAY, JULY_1 + 47 * ONE_DAY
    )
    assert days.mean_rain_mm == 3.0


def test_a_ledger_cannot_begin_with_an_assumed_day():
    with pytest.raises(WeatherIncomplete):
        garden_days([assumed(0), summer_day(JULY_1 + ONE_DAY)], GREENWICH, JULY_1, JULY_1)


def test_demands_are_told_for_the_days_that_are_given():
    first, second = demands_of([summer_day(JULY_1), assumed(1)], GREENWICH)
    assert (second.eto_mm, second.wind_2m_m_s) == (first.eto_mm, first.wind_2m_m_s)


def past_forecast(number: int, **changes: float) -> WeatherDay:
    return summer_day(JULY_1 + number * ONE_DAY, origin=Origin.PAST_FORECAST, **changes)


def test_the_rain_of_a_day_known_by_its_forecast_counts_by_its_chance():
    weather = [
        past_forecast(0, rain_mm=10.0, rain_probability=0.6),
        past_forecast(1, rain_mm=10.0),
        *summer_days(JULY_1 + 2 * ONE_DAY, 30),
    ]
    last = weather[-1].date
    days = garden_days(weather, GREENWICH, last, last)

    assert days.certain_rain_mm[:2] == [0.0, 0.0]
    assert days.counted_rain_mm[:2] == pytest.approx([6.0, 7.0])
    assert days.mean_rain_mm == pytest.approx(13.0 / 32)  # what it is worth tells of the season, too


def test_a_past_forecast_without_rain_is_dry_and_says_so():
    weather = [
        *summer_days(JULY_1, 2),
        replace(past_forecast(2), rain_mm=None),
        summer_day(JULY_1 + 3 * ONE_DAY),
    ]
    days = garden_days(weather, GREENWICH, weather[-1].date, weather[-1].date)
    assert days.estimated[2] == ("rain",)


def test_promised_rain_counts_as_far_as_its_source_is_trusted_and_measured_rain_in_full():
    last = JULY_1 + ONE_DAY
    weather = [
        summer_day(JULY_1, rain_mm=8.0, rain_trust_share=0.5),
        summer_day(last, origin=Origin.FORECAST, rain_mm=10.0, rain_probability=0.8, rain_trust_share=0.5),
    ]
    days = garden_days(weather, GREENWICH, last, last)
    assert days.counted_rain_mm == pytest.approx([8.0, 4.0])
