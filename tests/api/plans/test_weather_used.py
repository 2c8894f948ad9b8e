"""The days in use, and where each value comes from."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest

from api.errors import GardenNotFound
from api.plans.weather_series import dump_days, weather_in_use
from api.schemas.garden import load_garden
from api.schemas.weather_in_use import GardenWeatherSchema
from api.weather.fetch.forecasts import Forecasts
from api.weather.fetch.repository import KeptInMemory
from api.weather.place import Place
from scheduling.garden.description import Garden
from tests.api.stored_garden import EVENING, ONE_DAY, Clock, Steady, document, garden
from tests.api.weather.series.test_combining import Source

TODAY = dt.date(2026, 7, 14)


def used(garden: Garden, forecasts: Forecasts, since: dt.date, now: dt.datetime) -> dict[str, Any]:
    return dump_days(weather_in_use(forecasts, garden, since, now), garden)


def by_date(body: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {day["date"]: day for day in body["days"]}


def test_a_stored_garden_s_days_are_those_of_its_plan(house):
    house.put()
    plan = house.plan()
    body = house.life.weather("orchard", None, None)
    days = by_date(body)
    tomorrow = days["2026-07-15"]

    assert body["days"][0]["date"] == "2026-05-01"  # where the first guess of its ledger begins
    assert (body["garden"], body["source"], body["basis"], body["stale"]) == (
        "orchard",
        "demo",
        "forecast",
        False,
    )
    assert body["retrieved_at"] == plan["weather"]["retrieved_at"] == "2026-07-14T20:40:00+02:00"
    assert body["elevation_m"] == 48.0
    assert body["attribution"] == plan["weather"]["attribution"]
    assert (tomorrow["origin"], tomorrow["source"]) == ("forecast", "demo")
    assert days["2026-07-13"]["origin"] == "analysed"
    assert round(tomorrow["eto_mm"], 1) == plan["weather"]["eto_mm"]
    assert (tomorrow["t_min_c"], tomorrow["t_max_c"]) == (
        plan["weather"]["t_min_c"],
        plan["weather"]["t_max_c"],
    )
    assert GardenWeatherSchema().validate(body) == {}


def test_a_span_is_cut_out_and_what_is_judged_stays_judged_by_all(house):
    house.put()
    body = house.life.weather("orchard", TODAY, TODAY + ONE_DAY)
    assert list(by_date(body)) == ["2026-07-14", "2026-07-15"]
    assert house.life.weather("orchard", TODAY + 100 * ONE_DAY, None)["days"] == []


def test_a_garden_that_is_not_stored_has_no_weather(house):
    with pytest.raises(GardenNotFound):
        house.life.weather("orchard", None, None)


def test_assumed_days_are_marked_as_assumed(house, source, clock):
    house.put()
    house.plan()
    source.fails = True
    clock.now += dt.timedelta(hours=74)
    body = house.life.weather("orchard", dt.date(2026, 7, 15), None)
    days = by_date(body)

    assert body["basis"] == "kept-days"
    assert [day["origin"] for day in days.values()] == ["past-forecast"] * 2 + ["assumed"] * 3
    assumed = days["2026-07-18"]
    assert (assumed["source"], assumed["retrieved_at"], assumed["t_min_c"]) == ("none", None, None)
    assert assumed["estimated"] == ["evapotranspiration"]
    assert assumed["eto_mm"] == pytest.approx(days["2026-07-15"]["eto_mm"], abs=0.3)
    assert GardenWeatherSchema().validate(body) == {}


@pytest.mark.parametrize("age_h", [5, 7, 24, 48, 71])
def test_days_of_an_old_forecast_are_those_of_the_plan_and_the_ledger(house, source, clock, age_h):
    house.put()
    house.plan()
    source.fails = True
    clock.now += dt.timedelta(hours=age_h)
    plan = house.plan("tomorrow")
    days = by_date(house.life.weather("orchard", None, None))
    ledger = house.client().get("/v1/gardens/orchard/ledger/lawn").get_json()

    is_marked_up = any(note["code"] == "old-forecast" for note in plan["notes"])
    assert is_marked_up == (age_h > 6)
    assert round(days[plan["date"]]["eto_mm"], 1) == plan["weather"]["eto_mm"]
    rows = ledger["plantings"][0]["rows"]
    assert [days[row["date"]]["eto_mm"] for row in rows] == [round(row["eto_mm"], 2) for row in rows]


# What is borrowed


@pytest.fixture
def two(clock: Clock) -> Iterator[Forecasts]:
    sources = {
        "met-norway": Source(clock, "met-norway", knows_past=False),
        "open-meteo": Source(clock, "open-meteo", knows_past=True, solar=True),
    }
    forecasts = Forecasts(sources, KeptInMemory(), clock)
    yield forecasts
    forecasts.close()


def of_two(**fields: Any) -> Garden:
    return garden(weather_sources=["met-norway", "open-meteo"], timezone="UTC", **fields)


def test_what_is_borrowed_is_named_with_its_source_and_its_moment(two):
    body = used(of_two(), two, TODAY - 5 * ONE_DAY, EVENING)
    tomorrow = by_date(body)["2026-07-15"]

    assert body["sources"] == ["met-norway", "open-meteo"]
    assert tomorrow["source"] == "met-norway"
    assert tomorrow["borrowed"] == [
        {"quantity": "solar_radiation", "source": "open-meteo", "retrieved_at": "2026-07-14T18:40:00+00:00"}
    ]
    assert tomorrow["estimated"] == []
    assert by_date(body)["2026-07-12"]["source"] == "open-meteo"
    assert len(body["attribution"]) == 3  # of both, and one address of a licence
    assert GardenWeatherSchema().validate(body) == {}


def test_an_elevation_that_the_garden_does_not_give_is_the_source_s(two):
    described = document(weather_sources=["met-norway", "open-meteo"], timezone="UTC")
    del described["elevation_m"]
    assert used(load_garden(described), two, TODAY, EVENING)["elevation_m"] == 40.0


def test_holes_between_kept_days_are_left_out():
    clock = Clock()
    source = Steady(clock)
    forecasts = Forecasts({"demo": source}, KeptInMemory(), clock)
    here = Place(43.61, 3.88, "Europe/Paris", ("demo",))
    forecasts.at(here, past_days=2)
    clock.now += dt.timedelta(days=30)
    forecasts.at(here, past_days=2)
    body = used(garden(), forecasts, TODAY - 2 * ONE_DAY, clock())
    forecasts.close()
    dates = [dt.date.fromisoformat(day["date"]) for day in body["days"]]
    assert dates == sorted(set(dates))
    assert all(day["source"] == "demo" for day in body["days"])


def test_days_that_a_source_lacks_are_its_own_fault_and_not_the_gardens(house, source):
    source.days_ahead = 0
    house.put()
    refused = house.client().get("/v1/gardens/orchard/plan")

    assert (refused.status_code, refused.json["type"]) == (503, "/problems/no-forecast")
    assert str(TODAY + ONE_DAY) in refused.json["detail"]
    assert int(refused.headers["Retry-After"]) >= 1
