"""What a plan says of its weather, where that is not simply a forecast."""

import datetime as dt
from typing import Any

import pytest

from api.store.weather import WeatherRows
from tests.api.stored_garden import ONE_DAY, Clock, House, Steady, document, lawn

JULY_1 = dt.datetime(2026, 7, 1, 18, 40, tzinfo=dt.UTC)


@pytest.fixture
def clock() -> Clock:
    return Clock(JULY_1)


def notes(plan: dict[str, Any], code: str) -> list[str]:
    return [note["text"] for note in plan["notes"] if note["code"] == code]


def cry_wolf(source: Steady, clock: Clock) -> None:
    """Promise 5 mm at 80 % for every day to come, of which none comes."""
    source.told = lambda start: (
        {"rain_mm": 5.0 / 24, "rain_probability": 0.8} if start >= clock() else {"rain_mm": 0.0}
    )


def ten_evenings(house: House, clock: Clock) -> dict[str, Any]:
    for _ in range(10):
        house.plan("tomorrow")
        clock.now += ONE_DAY
    return house.plan("tomorrow")


def test_a_source_that_cries_wolf_is_believed_less_and_the_plan_says_why(house, source, clock):
    cry_wolf(source, clock)
    house.put()
    first = house.plan("tomorrow")["weather"]
    plan = ten_evenings(house, clock)
    weather = plan["weather"]

    assert (first["rain_trust_share"], first["counted_rain_mm"]) == (1.0, 4.0)
    # Nine evenings promised 4 mm each, of days that are over; none came: 20 of 56 are granted.
    assert (weather["rain_trust_share"], weather["counted_rain_mm"]) == (0.36, 1.4)
    (text,) = notes(plan, "rain-distrusted")
    assert text.startswith("Since 2 July the forecast of demo promised 36.0 mm of rain, and 0 mm came")


def test_the_owner_can_have_it_begin_anew(house, source, clock):
    cry_wolf(source, clock)
    house.put()
    ten_evenings(house, clock)
    house.put(document(trust_since=clock().date().isoformat()))
    plan = house.plan("tomorrow")
    assert (plan["weather"]["rain_trust_share"], plan["weather"]["counted_rain_mm"]) == (1.0, 4.0)
    assert notes(plan, "rain-distrusted") == []


def test_without_promised_rain_the_plan_says_nothing_about_rain(house, source, clock):
    cry_wolf(source, clock)
    house.put()
    ten_evenings(house, clock)
    source.told = lambda start: {}
    clock.now += dt.timedelta(hours=2)
    assert notes(house.plan("tomorrow"), "rain-distrusted") == []


def test_a_garden_whose_source_has_no_past_keeps_its_ledger_and_says_what_it_rests_on(house, source, clock):
    source.knows_past = False
    rain_on = {dt.date(2026, 7, 5)}
    source.told = lambda start: (
        {"rain_mm": 12.0 / 24, "rain_probability": 0.5} if start.date() in rain_on else {}
    )
    house.put()
    plan = ten_evenings(house, clock)

    (text,) = notes(plan, "past-from-forecasts")
    # From the 2nd, the first whole day, to the 10th; the plan is made on the 11th.
    assert text.startswith("9 of the last 9 days are known from forecasts only")
    assert plan["history"] == "assumed"


def test_rain_of_such_days_counts_by_its_chance_in_the_ledger(another_house):
    """12 mm at 50 %, beside a garden to which nothing was promised: 6 mm less are lacking the day after."""
    lacking = []
    for rain_mm in (0.0, 12.0):
        house = another_house(JULY_1)
        house.source.knows_past = False
        wet = dt.datetime(2026, 7, 3, tzinfo=dt.UTC)
        house.source.told = lambda start, depth=rain_mm, wet=wet: (
            {"rain_mm": depth / 12, "rain_probability": 0.5}
            if wet <= start < wet + dt.timedelta(hours=12)
            else {}
        )
        # Nothing is watered, and deep roots lack nothing yet.
        deep = lawn(planting={"plant": "turf-cool-season", "kc": 1.0, "root_depth_m": 1.0})
        pause = {"from": "2026-06-01", "to": "2026-07-20"}
        house.put(document(zones={"lawn": deep}, rules={"pauses": [pause]}))
        for _ in range(4):
            house.plan("tomorrow")
            house.clock.now += ONE_DAY
        (zone,) = house.plan("tomorrow")["zones"]
        lacking.append(zone["soil_water"]["depletion_mm"])
    assert lacking[0] - lacking[1] == pytest.approx(6.0, abs=0.1)


def test_a_plan_names_the_source_of_each_quantity_that_it_did_not_estimate(house, source, clock):
    source.told = lambda start: {"wind_m_s": None}
    house.put()
    weather = house.plan("tomorrow")["weather"]
    assert weather["sources"] == {
        "temperature": "demo",
        "humidity": "demo",
        "solar_radiation": "demo",
        "rain": "demo",
    }
    assert weather["estimated"] == ["wind"]


def test_a_store_is_asked_for_promises_once_a_version(house, monkeypatch):
    asked = []
    promises = WeatherRows.promises
    monkeypatch.setattr(
        WeatherRows, "promises", lambda self, *question: asked.append(question) or promises(self, *question)
    )
    house.put()
    for _ in range(5):
        house.plan("tomorrow")
    assert len(asked) == 1


@pytest.mark.parametrize(
    ("hours", "date", "share"), [(5, "2026-07-03", 0.0), (24, "2026-07-03", 0.1), (48, "2026-07-04", 0.2)]
)
def test_an_old_forecast_counts_what_plants_use_by_a_tenth_more_for_each_day_that_it_is_late(
    house, source, clock, hours, date, share
):
    house.put()
    fresh = house.plan("tomorrow")["weather"]["eto_mm"]

    source.fails = True
    clock.now += dt.timedelta(hours=hours)
    plan = house.plan("tomorrow")

    assert plan["date"] == date
    assert plan["weather"]["eto_mm"] == pytest.approx(
        fresh * (1 + share), abs=0.12
    )  # both are rounded to 0.1 mm
    assert len(notes(plan, "old-forecast")) == (share > 0)
    if share:
        assert f"use {round(100 * share)} % more" in notes(plan, "old-forecast")[0]
