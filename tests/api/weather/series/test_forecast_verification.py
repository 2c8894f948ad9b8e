"""Promised rain beside the rain that came."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.series.forecast_verification import Promise, Trust, promises_of, trust_in_sources, with_trust
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from scheduling.balance.garden_series import GardenDays
from scheduling.balance.weather import Borrowed, Origin, WeatherDay
from scheduling.review.foresight import DayAhead
from scheduling.review.replay import replay
from scheduling.tap.permission import DateHours
from tests.api.stored_garden import Clock
from tests.api.weather.weather_service import NOON
from tests.reference.seattle import seattle_days
from tests.scheduling.gardens import LAWN, SHRUBS, a_garden, night_before

UTC = ZoneInfo("UTC")
JULY_1 = dt.date(2026, 7, 1)
ONE_DAY = dt.timedelta(days=1)


def came(*rain_mm: float | None, origin: Origin = Origin.ANALYSED) -> list[WeatherDay]:
    """One day after another, from 1 July on."""
    return [
        WeatherDay(JULY_1 + number * ONE_DAY, 15.0, 25.0, rain_mm=depth, origin=origin)
        for number, depth in enumerate(rain_mm)
    ]


def promised(*expected_mm: float, most_mm: float = 20.0, source: str = "open-meteo") -> list[Promise]:
    return [
        Promise(JULY_1 + number * ONE_DAY, source, depth, most_mm, NOON)
        for number, depth in enumerate(expected_mm)
    ]


# What is kept


def test_what_is_kept_is_what_was_expected_of_the_next_local_day():
    days = [
        WeatherDay(
            dt.date(2026, 7, 14) + number * ONE_DAY,
            15.0,
            25.0,
            rain_mm=10.0,
            rain_probability=0.4,
            source="dwd",
        )
        for number in range(3)
    ]
    asked = NOON
    assert promises_of(days, asked, UTC) == [Promise(dt.date(2026, 7, 15), "dwd", 4.0, 10.0, asked)]
    # 12:10 UTC on the 14th is the 15th in Chatham.
    (promise,) = promises_of(days, asked, ZoneInfo("Pacific/Chatham"))
    assert promise.date == dt.date(2026, 7, 16)


@pytest.mark.parametrize(
    ("values", "expected_mm", "most_mm"),
    [
        ({"rain_mm": 10.0}, 7.0, 10.0),  # x 0.7 without a chance
        ({"rain_mm": 3.0, "rain_is_expected_value": True, "rain_members_mm": (0.0, 9.0, 0.0)}, 3.0, 9.0),
        ({"rain_mm": 0.0, "rain_probability": 0.9}, 0.0, 0.0),
    ],
)
def test_an_expectation_is_what_a_plan_counts_and_the_most_is_the_wettest_that_was_told(
    values, expected_mm, most_mm
):
    day = WeatherDay(dt.date(2026, 7, 15), 15.0, 25.0, **values)
    (promise,) = promises_of([day], NOON, UTC)
    assert (promise.expected_mm, promise.most_mm) == (pytest.approx(expected_mm), most_mm)


def test_a_promise_is_that_of_the_source_of_the_rain():
    day = WeatherDay(
        dt.date(2026, 7, 15),
        15.0,
        25.0,
        rain_mm=3.0,
        source="us-nws",
        borrowed=(Borrowed("rain", "dwd", NOON),),
    )
    assert promises_of([day], NOON, UTC)[0].source == "dwd"


def test_unknown_rain_and_rain_that_is_no_forecast_are_no_promises():
    tomorrow = WeatherDay(dt.date(2026, 7, 15), 15.0, 25.0)
    assert promises_of([tomorrow, replace(tomorrow, rain_mm=1.0, origin=Origin.ANALYSED)], NOON, UTC) == []


# What is made of it


def test_rain_that_came_as_promised_is_believed():
    trust = trust_in_sources(promised(*[5.0] * 8), came(*[5.0] * 8), None)
    assert trust["open-meteo"] == Trust("open-meteo", 1.0, 40.0, 40.0, 8, JULY_1)


def test_rain_that_does_not_come_costs_belief_by_the_two_sums():
    # 60 mm promised, 20 came; 20 are granted on both sides: 40 of 80.
    trust = trust_in_sources(promised(*[6.0] * 10), came(*[2.0] * 10), None)
    assert trust["open-meteo"].share == 0.5
    # 30 promised, 12 came: 32 of 50.
    assert trust_in_sources(promised(*[5.0] * 6), came(*[2.0] * 6), None)["open-meteo"].share == 0.64


@pytest.mark.parametrize(("came_mm", "share"), [(0.0, 0.1), (20.0, 1.0)])
def test_belief_is_bounded_however_wrong_a_source_is(came_mm, share):
    trust = trust_in_sources(promised(*[10.0] * 60), came(*[came_mm] * 60), None)
    assert trust["open-meteo"].share == share


class PromisesRain:
    """A forecast that has 10 mm for every day on which none falls, and is believed as it deserves."""

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        fell = season.certain_rain_mm
        told = [
            Promise(season.dates[day], "demo", 10.0, 10.0, NOON) for day in range(index) if fell[day] == 0.0
        ]
        over = [
            WeatherDay(season.dates[day], 15.0, 25.0, rain_mm=fell[day], origin=Origin.MEASURED)
            for day in range(index)
        ]
        trust = trust_in_sources(told, over, None)
        share = trust["demo"].share if trust else 1.0
        return [
            DayAhead(season.eto_mm[day], share * (fell[day] or 10.0), 1.0, season.lowest_c[day])
            for day in range(index, min(index + 5, season.known))
        ]


@pytest.mark.parametrize("zone", [LAWN, SHRUBS], ids=lambda zone: zone.id)
def test_no_plants_suffer_through_a_dry_season_of_promised_rain(zone):
    days = [day for day in seattle_days() if (day.date.year, day.date.month // 10) == (2015, 0)]
    summer = [day for day in days if day.date.month >= 5]
    account = replay(
        a_garden(zone, latitude=47.6), summer, PromisesRain(), lambda date: DateHours((night_before(date),))
    ).zones[0]
    assert account.planned.etc_adj_mm / account.planned.etc_mm >= 0.99


def test_a_downpour_makes_up_for_no_more_than_was_promised_at_most():
    # Six days of 5 mm, at most 10; one brings 200 mm, of which 10 were promised: (10 + 20) / (30 + 20).
    trust = trust_in_sources(promised(*[5.0] * 6, most_mm=10.0), came(200.0, *[0.0] * 5), None)
    assert trust["open-meteo"].share == pytest.approx(0.6)
    assert trust["open-meteo"].came_mm == 10.0


def test_a_forecast_that_is_right_in_its_chances_keeps_its_belief():
    # 10 mm at 50 %, and every other day it comes.
    trust = trust_in_sources(promised(*[5.0] * 20, most_mm=10.0), came(*[10.0, 0.0] * 10), None)
    assert trust["open-meteo"].share == 1.0


def test_few_promises_and_hardly_any_rain_judge_nobody():
    assert trust_in_sources(promised(*[9.0] * 4), came(*[0.0] * 4), None)["open-meteo"].share == 1.0
    assert trust_in_sources(promised(*[0.9] * 40), came(*[0.0] * 40), None) == {}


@pytest.mark.parametrize("origin", [Origin.FORECAST, Origin.PAST_FORECAST, Origin.ASSUMED])
def test_only_days_that_were_measured_or_analysed_judge(origin):
    assert trust_in_sources(promised(*[9.0] * 9), came(*[0.0] * 9, origin=origin), None) == {}


def test_an_own_gauge_judges_too():
    days = came(*[0.0] * 9, origin=Origin.MEASURED)
    assert trust_in_sources(promised(*[9.0] * 9), days, None)["open-meteo"].share == pytest.approx(20 / 101)


def test_promises_before_a_date_that_the_owner_names_no_longer_count():
    promises, days = promised(*[9.0] * 9), came(*[0.0] * 9)
    assert trust_in_sources(promises, days, JULY_1 + 9 * ONE_DAY) == {}
    assert trust_in_sources(promises, days, JULY_1 + 3 * ONE_DAY)["open-meteo"].since == JULY_1 + 3 * ONE_DAY


def test_each_source_is_judged_by_its_own_promises():
    mixed = [*promised(*[9.0] * 9)[:5], *promised(*[9.0] * 10, source="dwd")[5:]]
    trust = trust_in_sources(mixed, came(*[0.0] * 5, *[9.0] * 5), None)
    assert trust["open-meteo"].share < 0.6
    assert trust["dwd"].share == 1.0


def test_only_promised_rain_of_that_source_counts_for_less():
    trust = trust_in_sources(promised(*[9.0] * 9), came(*[0.0] * 9), None)
    day = WeatherDay(JULY_1, 15.0, 25.0, rain_mm=5.0, source="open-meteo")
    over, other = replace(day, origin=Origin.ANALYSED), replace(day, source="dwd")
    lent = replace(other, borrowed=(Borrowed("rain", "open-meteo", NOON),))
    past = replace(day, origin=Origin.PAST_FORECAST)
    shares = [told.rain_trust_share for told in with_trust([day, over, other, lent, past], trust)]
    assert shares == pytest.approx([20 / 101, 1.0, 1.0, 20 / 101, 20 / 101])


# As days pass


class CryingWolf:
    """Promises 10 mm for every day to come, and says of every day that is over that it was dry."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        now = self.clock()
        start = now.replace(hour=0, minute=0) - ONE_DAY * (past_days + 1)
        count = 24 * (past_days + 10)
        hours = tuple(
            Hour(moment, 20.0, rain_mm=0.0 if moment < now else 10.0 / 24, rain_probability=0.6)
            for moment in (start + HOUR * number for number in range(count))
        )
        return HourlyWeather("open-meteo", Attribution("x"), now, 40.0, 10.0, hours)


def test_evening_by_evening_a_source_that_cries_wolf_is_believed_less(keep, clock):
    forecasts = Forecasts({"open-meteo": CryingWolf(clock)}, keep, clock)
    here = Place(43.61, 3.88, "UTC", ("open-meteo",))
    shares = []
    for _ in range(12):
        forecast = forecasts.at(here, past_days=60, newest_within_s=3600)
        trust = trust_in_sources(forecast.promises, forecast.days, None)
        shares.append(trust["open-meteo"].share if trust else None)
        clock.forward(days=1)
    forecasts.close()
    # From the second day on one promise of 6 mm a day is broken; five are enough to judge by.
    assert shares[:6] == [None, None, 1.0, 1.0, 1.0, 1.0]
    assert shares[6:] == pytest.approx([20 / (20 + 6 * count) for count in range(5, 11)])
