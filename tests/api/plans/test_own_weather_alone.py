"""Plans by nothing but what the owner measured."""

import datetime as dt

import pytest

from api.reports.observations import ObservationKind
from api.reports.records import Records
from api.schemas.observations import ObservationReport
from api.weather.errors import WeatherUnavailable
from tests.api.stored_garden import House, document

JULY_14 = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)


def tell(house: House, *, days: int, **values: float) -> None:
    """Tell of some days up to yesterday, and leave the rest to be as it is."""
    own = Records(house.store, house.clock, ObservationKind())
    for number in range(1, days + 1):
        told = {"t_min_c": 15.0, "t_max_c": 29.0, "rain_mm": 0.0, **values}
        own.put("orchard", JULY_14 - number * ONE_DAY, ObservationReport(told), must_be_new=False)


def test_a_station_alone_makes_plans_that_say_there_is_no_forecast(house, source):
    house.put(document(weather_sources=["own-weather"]))
    tell(house, days=14)
    plan = house.plan()
    weather = plan["weather"]
    assert (weather["source"], weather["basis"], weather["stale"]) == ("own-weather", "kept-days", False)
    assert plan["zones"][0]["decision"] == "water"
    (note,) = (note for note in plan["notes"] if note["code"] == "kept-days")
    assert note["text"].startswith("There is no forecast. The plan goes by the mean of the days")
    assert "up to 13 July" in note["text"]
    assert "15 °C" in note["text"]
    assert source.asked == 0


def test_an_answer_is_used_again_until_the_owner_reports_something(house):
    house.put(document(weather_sources=["own-weather"]))
    tell(house, days=14)
    first = house.life.plan("orchard", "next")
    kept = house.store.answer("orchard", "plan:next", house.clock())
    assert kept is not None
    assert kept.body == first.body
    tell(house, days=1, rain_mm=40.0)
    assert house.store.answer("orchard", "plan:next", house.clock()) is None


def test_a_gauge_alone_or_too_few_days_make_no_plan_and_say_what_is_missing(house):
    house.put(document(weather_sources=["own-weather"]))
    for days in (0, 6):
        tell(house, days=days)
        with pytest.raises(WeatherUnavailable, match="rain_mm were all observed: at least 7"):
            house.plan()
    tell(house, days=7)
    assert house.plan()["weather"]["basis"] == "kept-days"


def test_an_owner_who_wants_no_plan_without_a_forecast_gets_none(house):
    house.put(document(weather_sources=["own-weather"], plan_without_forecast=False))
    tell(house, days=14)
    with pytest.raises(WeatherUnavailable):
        house.plan()


def test_todays_rain_counts_though_the_rest_of_the_day_is_assumed(house):
    house.put(document(weather_sources=["own-weather"]))
    tell(house, days=14)
    assert house.lawn()["decision"] == "water"
    own = Records(house.store, house.clock, ObservationKind())
    own.put("orchard", JULY_14, ObservationReport({"rain_mm": 60.0}), must_be_new=False)
    assert house.lawn()["decision"] == "wait"


def test_the_weather_in_use_is_the_owner_s(house):
    house.put(document(weather_sources=["own-weather"]))
    tell(house, days=14)
    body = house.life.weather("orchard", None, None)
    assert (body["sources"], body["source"], body["attribution"]) == (
        ["own-weather"],
        "own-weather",
        ["Measured in the garden."],
    )
    assert {(day["origin"], day["source"]) for day in body["days"]} == {
        ("measured", "own-weather"),
        ("assumed", "none"),
    }


def test_beside_other_sources_it_steps_in_when_they_have_never_answered(house, source):
    source.fails = True
    house.put(document(weather_sources=["demo", "own-weather"]))
    tell(house, days=14)
    weather = house.plan()["weather"]
    assert (weather["source"], weather["basis"]) == ("own-weather", "kept-days")
