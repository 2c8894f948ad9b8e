"""What days alone can stand for where no source answers."""

import datetime as dt
from dataclasses import replace

import pytest

from api.weather.errors import Unreachable, WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.series.persistence import kept_days
from scheduling.balance.weather import Origin, WeatherDay
from tests.api.weather.weather_service import MONTPELLIER, NOON, open_meteo_at, send

TODAY = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)


def days(count: int, newest_days_ago: int = 1) -> list[WeatherDay]:
    """So many whole days in a row; the coldest is the 12th before the newest."""
    newest = TODAY - newest_days_ago * ONE_DAY
    return [
        WeatherDay(
            newest - (count - 1 - number) * ONE_DAY,
            t_min_c=8.0 if count - 1 - number == 12 else 15.0,
            t_max_c=25.0,
            rain_mm=1.0,
            origin=Origin.ANALYSED,
        )
        for number in range(count)
    ]


@pytest.mark.parametrize(
    ("count", "newest_days_ago", "suffices"),
    [(7, 1, True), (6, 1, False), (7, 10, True), (60, 10, True), (60, 11, False), (0, 1, False)],
)
def test_it_takes_a_week_of_days_and_none_older_than_ten_days(count, newest_days_ago, suffices):
    assert (kept_days(days(count, newest_days_ago), TODAY) is not None) is suffices


def test_assumed_days_go_on_from_the_newest_to_the_day_after_tomorrow():
    left = kept_days(days(20, newest_days_ago=4), TODAY)
    assert left.newest == TODAY - 4 * ONE_DAY
    assumed = [day for day in left.days if day.origin is Origin.ASSUMED]
    assert [day.date for day in assumed] == [TODAY + number * ONE_DAY for number in range(-3, 3)]
    assert all(day.t_min_c is None and day.rain_mm is None for day in assumed)


def test_frost_is_feared_as_in_the_last_fortnight():
    assert kept_days(days(20), TODAY).lowest_c == 8.0
    assert kept_days(days(12), TODAY).lowest_c == 15.0


def test_only_the_last_unbroken_stretch_counts():
    broken = days(30)
    del broken[24]  # five days are left behind the hole
    assert kept_days(broken, TODAY) is None
    broken = days(30)
    broken[24] = replace(broken[24], t_min_c=None)
    assert kept_days(broken, TODAY) is None


def test_a_forecast_counts_for_three_days_after_it_was_made():
    made = dt.datetime(2026, 7, 9, 12, tzinfo=dt.UTC)
    known = days(20, newest_days_ago=6)  # up to 8 July
    ahead = [
        replace(known[-1], date=dt.date(2026, 7, number), origin=Origin.PAST_FORECAST, retrieved_at=made)
        for number in range(9, 14)
    ]
    assert kept_days([*known, *ahead], TODAY).newest == dt.date(2026, 7, 12)


# Through a fetch that fails


@pytest.fixture
def forecasts(service, keep, clock):
    session, source = open_meteo_at(service)
    forecasts = Forecasts({"open-meteo": source}, keep, clock)
    forecasts.at(MONTPELLIER, past_days=30)
    service.reply = send("", 503)
    session.cache.clear()
    yield forecasts
    forecasts.close()
    session.close()


def test_up_to_72_hours_an_old_forecast_is_better_than_none(forecasts, clock):
    clock.forward(hours=72)
    forecast = forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True)
    assert (forecast.basis, forecast.stale) == ("forecast", True)


def test_then_the_kept_days_stand_in_where_that_is_wanted(forecasts, clock):
    clock.forward(hours=73)
    with pytest.raises(WeatherUnavailable, match="72 hours"):
        forecasts.at(MONTPELLIER, past_days=30)

    forecast = forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True)
    assert (forecast.basis, forecast.stale, forecast.retrieved_at) == ("kept-days", True, NOON)
    assert forecast.hours == ()
    assert forecast.coldest_c == 15.0
    by_origin = {origin: [day.date for day in forecast.days if day.origin is origin] for origin in Origin}
    # Asked on the 14th: its forecasts count up to the 16th, yesterday of the 17th.
    assert by_origin[Origin.PAST_FORECAST] == [dt.date(2026, 7, day) for day in (14, 15, 16)]
    assert by_origin[Origin.ASSUMED] == [dt.date(2026, 7, day) for day in (17, 18, 19)]


def test_after_two_weeks_there_is_no_plan_and_a_time_to_ask_again(forecasts, clock):
    clock.forward(days=12)  # the last known day is the 17th
    assert forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True).basis == "kept-days"
    clock.forward(days=2)
    with pytest.raises(WeatherUnavailable, match="72 hours") as caught:
        forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True)
    assert caught.value.retry_after_s >= 1


def test_a_source_that_answers_again_ends_it(forecasts, service, clock):
    clock.forward(hours=80)
    assert forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True).basis == "kept-days"
    service.reply = None
    clock.forward(minutes=6)
    forecast = forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True)
    assert (forecast.basis, forecast.stale) == ("forecast", False)
    assert Origin.ASSUMED not in {day.origin for day in forecast.days}
    assert all(day.origin is Origin.ANALYSED for day in forecast.days if day.date < clock().date())


def test_a_place_that_was_never_known_has_nothing_to_fall_back_on(keep, clock):
    class Silent:
        def hours(self, place, *, past_days):
            raise Unreachable("open-meteo", "did not answer.")

    forecasts = Forecasts({"open-meteo": Silent()}, keep, clock)
    with pytest.raises(WeatherUnavailable, match="no forecast"):
        forecasts.at(MONTPELLIER, past_days=30, or_kept_days=True)
    forecasts.close()
