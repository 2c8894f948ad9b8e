"""Hours, places, and which account of a day is kept."""

import datetime as dt
import json

import pytest

from api.weather.errors import BadAnswer
from api.weather.fetch.repository import KeptAnswer, replaces
from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather, continued, from_json, to_json
from api.weather.sources import decode as reading
from scheduling.balance.weather import Origin, WeatherDay

MORNING = dt.datetime(2026, 7, 14, 6, 20, 30, tzinfo=dt.UTC)


def test_hours_come_back_from_json_as_they_went(clock):
    start = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)
    weather = HourlyWeather(
        source="test",
        attribution=Attribution("Weather by the test", "https://licence.example/"),
        retrieved_at=clock(),
        elevation_m=None,
        wind_height_m=10.0,
        hours=(Hour(start, 20.1, 10.2, 50.0, 2.5, 0.72, 0.3, 0.0, 0.1), Hour(start + 5 * HOUR, -3.5)),
    )

    assert from_json(json.loads(json.dumps(to_json(weather)))) == weather
    assert "low_c" not in to_json(weather)["hours"]


def test_what_only_some_sources_give_comes_back_too(clock):
    start = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)
    hours = (
        Hour(start, 20.1, low_c=19.5, high_c=21.0, sunshine_h=0.5),
        Hour(start + HOUR, 20.1, rain_mm=1.0, rain_members_mm=(0.0, 2.0)),
    )
    weather = HourlyWeather("test", Attribution("x"), clock(), None, 10.0, hours, knows_past=False)

    assert from_json(json.loads(json.dumps(to_json(weather)))) == weather


def test_a_row_of_an_earlier_release_is_read(clock):
    hours = (Hour(dt.datetime(2026, 7, 14, tzinfo=dt.UTC), 20.1),)
    weather = HourlyWeather("test", Attribution("x"), clock(), None, 10.0, hours)
    row = to_json(weather)
    del row["knows_past"]

    assert from_json(row) == weather


def answer(source, first_hour, count, temperature_c, knows_past=False):
    start = dt.datetime(2026, 7, 14, first_hour, tzinfo=dt.UTC)
    hours = tuple(Hour(start + number * HOUR, temperature_c) for number in range(count))
    return HourlyWeather(source, Attribution("x"), start, None, 10.0, hours, knows_past)


def test_an_answer_without_past_goes_on_from_the_one_before():
    joined = continued(answer("a", 12, 6, 20.0), answer("a", 6, 12, 10.0))

    assert [hour.temperature_c for hour in joined.hours] == [10.0] * 6 + [20.0] * 6
    assert [hour.start.hour for hour in joined.hours] == list(range(6, 18))


@pytest.mark.parametrize(
    ("newer", "older"),
    [
        (answer("a", 12, 6, 20.0), answer("b", 6, 12, 10.0)),
        (answer("a", 12, 6, 20.0, knows_past=True), answer("a", 6, 12, 10.0)),
    ],
)
def test_no_other_answers_are_joined(newer, older):
    assert continued(newer, older) == newer


def test_a_kept_answer_is_not_read_before_it_is_looked_at():
    def read() -> HourlyWeather:
        raise AssertionError

    answer = KeptAnswer(7, read)

    assert answer.version == 7
    with pytest.raises(AssertionError):
        _ = answer.weather


@pytest.mark.parametrize(
    ("latitude", "longitude", "key"),
    [
        (43.61, 3.88, "43.61,3.88,Europe/Paris,open-meteo,demo"),
        (43.6146, 3.8751, "43.61,3.88,Europe/Paris,open-meteo,demo"),
        (-0.001, -0.004, "0.00,0.00,Europe/Paris,open-meteo,demo"),
        (-33.999, 151.2, "-34.00,151.20,Europe/Paris,open-meteo,demo"),
    ],
)
def test_places_within_about_a_kilometre_share_a_key(latitude, longitude, key):
    assert Place(latitude, longitude, "Europe/Paris", ("open-meteo", "demo")).key == key


def day(*, rain=1.0, origin=Origin.FORECAST, retrieved_at=MORNING, **values):
    return WeatherDay(
        dt.date(2026, 7, 14),
        t_min_c=15.0,
        t_max_c=25.0,
        rain_mm=rain,
        origin=origin,
        retrieved_at=retrieved_at,
        **values,
    )


LATER = MORNING + 3 * HOUR


@pytest.mark.parametrize(
    ("new", "kept", "wins"),
    [
        pytest.param(day(retrieved_at=LATER), day(), True, id="a newer forecast"),
        pytest.param(day(), day(retrieved_at=LATER), False, id="an older forecast"),
        pytest.param(day(rain=None, retrieved_at=LATER), day(), False, id="incomplete for complete"),
        pytest.param(day(), day(rain=None, retrieved_at=LATER), True, id="complete for incomplete"),
        pytest.param(
            day(origin=Origin.ANALYSED, retrieved_at=LATER), day(), True, id="what has been for a forecast"
        ),
        pytest.param(
            day(retrieved_at=LATER), day(origin=Origin.ANALYSED), False, id="a forecast for what has been"
        ),
        pytest.param(
            day(origin=Origin.ANALYSED, retrieved_at=LATER),
            day(origin=Origin.ANALYSED, solar_mj_m2=20.0),
            False,
            id="what has been, but knows less",
        ),
        pytest.param(
            day(origin=Origin.ANALYSED, solar_mj_m2=21.0, retrieved_at=LATER),
            day(origin=Origin.ANALYSED, solar_mj_m2=20.0),
            True,
            id="what has been, corrected",
        ),
        pytest.param(
            day(retrieved_at=LATER), day(solar_mj_m2=20.0), True, id="a newer forecast without radiation"
        ),
    ],
)
def test_a_day_gives_way_only_to_a_better_account(new, kept, wins):
    assert replaces(new, kept) is wins


def test_a_day_is_complete_with_both_temperatures_and_its_rain():
    assert day().is_complete
    assert not day(rain=None).is_complete
    assert not WeatherDay(dt.date(2026, 7, 14), t_max_c=20.0, rain_mm=0.0).is_complete


@pytest.mark.parametrize(
    ("quantity", "given", "taken"),
    [
        ("humidity_pct", 104.0, 100.0),
        ("solar_mj_m2", -0.01, 0.0),
        ("sunshine_h", 1.02, 1.0),
        ("solar_mj_m2", -0.1, None),
        ("sunshine_h", 1.2, None),
        ("cloud_share", 1.01, None),
        ("rain_mm", -0.001, None),
    ],
)
def test_what_is_slightly_beyond_a_limit_is_taken_as_the_limit_but_never_rain(quantity, given, taken):
    moment = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)
    if taken is None:
        with pytest.raises(BadAnswer, match=quantity):
            reading.known("dwd", quantity, given, reading.same, "x", moment)
    else:
        assert reading.known("dwd", quantity, given, reading.same, "x", moment) == taken
