"""Fetched weather: the newest answer of a place, and every day it ever had."""

import datetime as dt
from dataclasses import replace

import pytest
from sqlalchemy import text

from api.errors import StoreUnavailable
from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.fetch.repository import WeatherKeep
from api.weather.series.forecast_verification import Promise
from api.weather.series.hours import Attribution, Hour, HourlyWeather
from scheduling.balance.weather import Borrowed, Origin, WeatherDay

NOON = dt.datetime(2026, 7, 14, 12, tzinfo=dt.UTC)
EVENING = NOON + dt.timedelta(hours=6)
JULY_13, JULY_14, JULY_15 = (dt.date(2026, 7, day) for day in (13, 14, 15))
HOURS = (
    Hour(NOON, 24.5, 13.0, 49.0, 2.5, 2.9, 0.1, 0.0, 0.05),
    Hour(NOON + dt.timedelta(hours=3), temperature_c=26.1),
)
WEATHER = HourlyWeather(
    "demo", Attribution("Invented", "https://example.org/licence"), NOON, 48.0, 10.0, HOURS
)
DAY = WeatherDay(JULY_14, t_min_c=18.1, t_max_c=31.4, rain_mm=0.0, source="demo", retrieved_at=NOON)


@pytest.fixture
def rows(store: Store) -> WeatherRows:
    return WeatherRows(store)


def at(moment: dt.datetime) -> HourlyWeather:
    return replace(WEATHER, retrieved_at=moment)


def test_an_answer_and_its_days_read_back(rows):
    day = replace(
        DAY, origin=Origin.ANALYSED, wind_height_m=10.0, rain_is_expected_value=True, rain_probability=0.1
    )
    version = rows.keep("here", WEATHER, [replace(day, date=JULY_15), day])
    kept = rows.latest("here")
    assert (kept.version, kept.weather) == (version, WEATHER)
    assert rows.place_version("here") == version
    assert rows.days("here", JULY_13) == [day, replace(day, date=JULY_15)]
    assert rows.days("here", JULY_15) == [replace(day, date=JULY_15)]


def test_a_place_that_was_never_asked_for_has_nothing(rows):
    rows.keep("here", WEATHER, [DAY])
    assert rows.latest("there") is None
    assert rows.place_version("there") is None
    assert rows.days("there", JULY_13) == []


def test_every_answer_raises_the_version_of_its_place_alone(rows):
    there = rows.keep("there", WEATHER, [])
    versions = [rows.keep("here", WEATHER, [DAY]) for _ in range(3)]
    assert versions == sorted(set(versions))
    assert rows.place_version("there") == there


def test_a_newer_forecast_takes_the_place_of_the_older(rows):
    newer = replace(DAY, rain_mm=6.5, retrieved_at=EVENING)
    rows.keep("here", WEATHER, [DAY])
    rows.keep("here", at(EVENING), [newer])
    assert rows.days("here", JULY_13) == [newer]
    assert rows.latest("here").weather == at(EVENING)


def test_an_answer_that_arrives_late_does_not_displace_a_newer_one(rows):
    newer = replace(DAY, rain_mm=6.5, retrieved_at=EVENING)
    first = rows.keep("here", at(EVENING), [newer])
    assert rows.keep("here", WEATHER, [DAY, replace(DAY, date=JULY_13)]) > first
    assert rows.latest("here").weather == at(EVENING)
    assert rows.days("here", JULY_13) == [replace(DAY, date=JULY_13), newer]


def test_a_complete_day_is_never_displaced_by_an_incomplete_one(rows):
    rows.keep("here", WEATHER, [DAY])
    rows.keep("here", at(EVENING), [replace(DAY, rain_mm=None, retrieved_at=EVENING)])
    assert rows.days("here", JULY_13) == [DAY]


def test_an_incomplete_day_is_completed_later(rows):
    complete = replace(DAY, retrieved_at=EVENING)
    rows.keep("here", WEATHER, [replace(DAY, t_min_c=None, t_max_c=None)])
    rows.keep("here", at(EVENING), [complete])
    assert rows.days("here", JULY_13) == [complete]


def test_days_that_the_source_no_longer_gives_stay(rows):
    rows.keep("here", WEATHER, [replace(DAY, date=JULY_13), DAY])
    rows.keep("here", at(EVENING), [replace(DAY, retrieved_at=EVENING)])
    assert [day.date for day in rows.days("here", JULY_13)] == [JULY_13, JULY_14]


def test_a_day_without_a_moment_of_retrieval_is_kept(rows):
    rows.keep("here", WEATHER, [replace(DAY, retrieved_at=None)])
    assert rows.days("here", JULY_13) == [replace(DAY, retrieved_at=None)]


def test_hours_are_the_newest_there_are_when_they_are_looked_at(rows):
    rows.keep("here", WEATHER, [])
    kept = rows.latest("here")
    rows.keep("here", at(EVENING), [])
    assert kept.weather.retrieved_at == EVENING


def test_the_weather_of_a_place_without_a_garden_is_forgotten_after_a_fortnight(rows, store):
    with store.changing("quince-court") as change:
        change.put_document({}, "home", NOON)
    for place in ("home", "passing", "recent"):
        rows.keep(place, at(NOON + dt.timedelta(days=2)) if place == "recent" else WEATHER, [DAY])
    kept = rows.latest("passing")
    rows.keep("elsewhere", at(NOON + dt.timedelta(days=14, seconds=1)), [])
    assert {place: rows.place_version(place) is None for place in ("home", "passing", "recent")} == {
        "home": False,
        "passing": True,
        "recent": False,
    }
    assert rows.days("home", JULY_13) == [DAY]
    assert rows.days("passing", JULY_13) == []
    with pytest.raises(StoreUnavailable, match="passing"):
        _ = kept.weather


def test_it_is_what_the_weather_package_asks_of_a_store(rows):
    keep: WeatherKeep = rows
    assert keep.latest("here") is None


def test_a_day_reads_back_with_all_that_is_known_of_it(rows):
    day = replace(
        DAY,
        rain_members_mm=(0.0, 0.3, 1.5),
        source_eto_mm=5.4,
        borrowed=(Borrowed("solar_radiation", "open-meteo", NOON), Borrowed("rain", "dwd", None)),
    )
    rows.keep("here", WEATHER, [day])
    assert rows.days("here", JULY_13) == [day]


PROMISE = Promise(JULY_15, "demo", 4.0, 10.0, NOON)


def test_promises_stand_beside_the_days_of_their_place(rows):
    rows.keep("here", WEATHER, [DAY], [PROMISE])
    rows.keep("there", WEATHER, [DAY], [replace(PROMISE, expected_mm=1.0)])
    assert rows.promises("here", JULY_13) == [PROMISE]
    assert rows.promises("here", JULY_15 + dt.timedelta(days=1)) == []


def test_a_promise_gives_way_to_a_later_one_and_to_no_earlier_one(rows):
    later = replace(PROMISE, expected_mm=2.0, made_at=EVENING)
    rows.keep("here", WEATHER, [DAY], [PROMISE])
    rows.keep("here", WEATHER, [DAY], [later])
    rows.keep("here", WEATHER, [DAY], [PROMISE])
    assert rows.promises("here", JULY_13) == [later]


def test_promises_go_with_their_place(rows):
    rows.keep("here", WEATHER, [DAY], [PROMISE])
    rows.keep("elsewhere", at(NOON + dt.timedelta(days=15)), [])
    rows.keep("here", WEATHER, [])
    assert rows.promises("here", JULY_13) == []


IN_A_MINUTE = NOON + dt.timedelta(minutes=1)


def test_a_key_is_held_by_one_until_it_is_given_back_or_its_time_is_over(rows):
    assert rows.hold("fetch here", "one", NOON, IN_A_MINUTE)
    assert rows.hold("fetch here", "one", NOON, IN_A_MINUTE)
    assert not rows.hold("fetch here", "other", NOON, IN_A_MINUTE)
    assert rows.hold("fetch there", "other", NOON, IN_A_MINUTE)
    assert rows.held(NOON) == {"fetch here": IN_A_MINUTE, "fetch there": IN_A_MINUTE}

    rows.release("fetch here", "other")
    assert not rows.hold("fetch here", "other", NOON, IN_A_MINUTE)
    rows.release("fetch here", "one")
    assert rows.hold("fetch here", "other", NOON, IN_A_MINUTE)
    assert rows.held(IN_A_MINUTE) == {}
    assert rows.hold("fetch here", "one", IN_A_MINUTE, EVENING)


def test_what_is_forbidden_stays_so_until_the_latest_of_its_times(rows):
    rows.forbid("pause demo ", NOON, EVENING)
    rows.forbid("pause demo ", NOON, IN_A_MINUTE)
    assert rows.held(NOON) == {"pause demo ": EVENING}
    assert not rows.hold("pause demo ", "one", NOON, EVENING)
    later, until = NOON + dt.timedelta(days=40), NOON + dt.timedelta(days=41)
    rows.forbid("pause dwd ", later, until)
    assert rows.held(later) == {"pause dwd ": until}
    assert not rows.hold("pause dwd ", "one", later, until)
    with rows._store.writing() as connection:  # what is long over is not kept
        assert connection.execute(text("SELECT key FROM holds")).scalars().all() == ["pause dwd "]
