"""The invented weather: always the same, plausible, and honest about itself."""

import datetime as dt
import functools
from zoneinfo import ZoneInfo

import pytest

from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.series.local_days import local_days
from api.weather.sources.demo import Demo
from scheduling.fao56.radiation import clear_sky_radiation, extraterrestrial_radiation
from tests.api.stored_garden import Clock

NORTH = Place(43.61, 3.88, "Europe/Paris", ("demo",))
SOUTH = Place(-37.81, 144.96, "Australia/Melbourne", ("demo",))


@functools.cache
def year_at(place):
    clock = Clock(dt.datetime(2026, 12, 31, 12, tzinfo=dt.UTC))
    days = local_days(Demo(clock).hours(place, past_days=364), place.zone)
    return [day for day in days if day.rain_mm is not None and day.t_min_c is not None]


def of_months(days, *months):
    return [day for day in days if day.date.month in months]


def test_the_same_date_has_the_same_weather_whenever_it_is_asked():
    clock = Clock()
    today = {hour.start: hour for hour in Demo(clock).hours(NORTH, past_days=10).hours}
    clock.forward(days=3, hours=5)
    later = {hour.start: hour for hour in Demo(clock).hours(NORTH, past_days=10).hours}

    shared = today.keys() & later.keys()
    assert len(shared) > 300
    assert all(today[start] == later[start] for start in shared)


def test_another_place_has_other_weather():
    hours = Demo(Clock()).hours
    assert hours(NORTH, past_days=3).hours != hours(SOUTH, past_days=3).hours


def test_it_says_that_it_is_invented():
    weather = Demo(Clock()).hours(NORTH, past_days=0)

    assert weather.source == "demo"
    assert "nvented" in weather.attribution.text
    assert weather.attribution.licence_url is None


@pytest.mark.parametrize(
    ("place", "summer", "winter"), [(NORTH, (6, 7, 8), (12, 1, 2)), (SOUTH, (12, 1, 2), (6, 7, 8))]
)
def test_summers_are_warm_and_dry_with_a_few_showers(place, summer, winter):
    days = year_at(place)
    warm, cold = of_months(days, *summer), of_months(days, *winter)

    assert sum(day.t_max_c for day in warm) / len(warm) > sum(day.t_max_c for day in cold) / len(cold) + 10
    assert 1 <= sum(day.rain_mm > 0 for day in warm) < sum(day.rain_mm > 0 for day in cold)
    assert min(day.t_min_c for day in warm) > 5


def test_northern_winters_have_frosts():
    frosts = [day for day in of_months(year_at(NORTH), 12, 1, 2) if day.t_min_c < 0]
    assert len(frosts) >= 5


@pytest.mark.parametrize("latitude", [-55.0, 0.0, 35.0, 69.0])
def test_every_day_could_be(latitude):
    place = Place(latitude, 20.0, "Etc/UTC", ("demo",))
    for day in year_at(place):
        assert -60 < day.t_min_c < day.t_max_c < 50
        assert 0 < day.rh_min_pct <= day.rh_mean_pct <= day.rh_max_pct <= 100
        assert 0.5 < day.wind_m_s < 6
        assert 0 <= day.rain_mm < 20
        assert day.rain_probability is None or 0 <= day.rain_probability <= 0.9
        # FAO-56 equations 21 and 37, at sea level; the sums over hours take each hour's middle.
        outside = extraterrestrial_radiation(latitude, day.date.timetuple().tm_yday)
        assert 0 <= day.solar_mj_m2 <= clear_sky_radiation(0.0, outside) + 0.5


def test_no_air_holds_more_vapour_than_it_can():
    for hour in Demo(Clock()).hours(NORTH, past_days=90).hours:
        assert hour.dew_point_c <= hour.temperature_c + 0.1  # both are rounded


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Etc/GMT+12"])
def test_it_reaches_as_far_back_as_asked_and_five_days_ahead(zone, keep):
    clock = Clock(dt.datetime(2026, 7, 14, 23, 30, tzinfo=dt.UTC))
    forecasts = Forecasts({"demo": Demo(clock)}, keep, clock)
    forecast = forecasts.at(Place(1.0, -157.0, zone, ("demo",)), past_days=40)
    forecasts.close()

    today = clock().astimezone(ZoneInfo(zone)).date()
    complete = {day.date for day in forecast.days if day.rain_mm is not None and day.t_max_c is not None}
    assert {today + dt.timedelta(days=offset) for offset in range(-40, 6)} <= complete
