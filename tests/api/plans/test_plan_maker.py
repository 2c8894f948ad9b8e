"""Garden, weather and what has flowed become a plan."""

import datetime as dt
from typing import Any

import pytest

from api.errors import DateBeyondPlans, InvalidRequest
from api.plans.plan_maker import plan_for_request
from api.plans.weather_series import anchor_before, at_height_of, fetched_weather, given_weather
from api.schemas.plan_request import load_plan_request
from api.watering_hours import garden_date, hours_of
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.fetch.repository import KeptInMemory
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.errors import WeatherGap
from tests.api.stored_garden import (
    JULY_15,
    ONE_DAY,
    Clock,
    House,
    Steady,
    Told,
    document,
    garden,
    lawn,
    weather_days,
)


@pytest.fixture
def forecasts(source: Steady, clock: Clock) -> Forecasts:
    return Forecasts({"demo": source}, KeptInMemory(), clock)


def planned(forecasts: Forecasts, clock: Clock, **request: Any) -> dict[str, Any]:
    request.setdefault("garden", document())
    return plan_for_request(load_plan_request(request), forecasts, clock(), explain=False)


# Weather that comes with a request


def test_given_days_before_the_date_without_a_chance_of_rain_count_as_measured():
    days = [
        WeatherDay(JULY_15 - 2 * ONE_DAY, 15.0, 30.0, rain_mm=3.0),
        WeatherDay(JULY_15 - ONE_DAY, 15.0, 30.0, rain_mm=3.0, rain_probability=0.5),
        WeatherDay(JULY_15, 15.0, 30.0, rain_mm=3.0),
        WeatherDay(JULY_15 + ONE_DAY, 15.0, 30.0, rain_mm=3.0),
    ]
    assert [day.origin for day in given_weather(days, JULY_15).days] == [
        Origin.MEASURED,
        Origin.FORECAST,
        Origin.FORECAST,
        Origin.FORECAST,
    ]


def test_a_request_with_weather_asks_no_source(forecasts, source, clock):
    body = planned(forecasts, clock, weather=weather_days(JULY_15 - 30 * ONE_DAY, 34))
    assert source.asked == 0
    assert (body["weather"]["source"], body["weather"]["basis"]) == ("given", "given")
    assert body["weather"]["retrieved_at"] is None


def test_given_days_may_come_in_any_order(forecasts, clock):
    days = weather_days(JULY_15 - 30 * ONE_DAY, 34)
    assert planned(forecasts, clock, weather=days[::-1]) == planned(forecasts, clock, weather=days)


def test_given_weather_with_a_hole_is_refused_with_the_missing_days(forecasts, clock):
    days = weather_days(JULY_15 - 5 * ONE_DAY, 9)
    del days[2]
    with pytest.raises(WeatherGap, match="2026-07-12"):
        planned(forecasts, clock, weather=days)


def test_given_weather_that_ends_before_the_date_is_refused(forecasts, clock):
    with pytest.raises(WeatherGap, match="2026-07-15"):
        planned(forecasts, clock, weather=weather_days(JULY_15 - 5 * ONE_DAY, 5))


# Weather of a source


def at_noon_of(date: dt.date, **values: float | None) -> Told:
    """What is different in one hour of a day."""
    return lambda start: values if (start.date(), start.hour) == (date, 12) else {}


def whole_days(source: Steady, clock: Clock, since: dt.date = dt.date(2026, 7, 1)) -> tuple[WeatherDay, ...]:
    forecasts = Forecasts({"demo": source}, KeptInMemory(), clock)
    return fetched_weather(forecasts, garden(), since, JULY_15, clock()).days


def test_a_past_day_with_an_unknown_hour_cuts_off_what_lies_before_it(source, clock):
    source.told = at_noon_of(dt.date(2026, 7, 5), rain_mm=None)
    days = whole_days(source, clock)
    assert days[0].date == dt.date(2026, 7, 6)
    assert days[-1].date > JULY_15


def test_a_coming_day_without_rain_is_used_and_counts_none(source, forecasts, clock):
    source.told = at_noon_of(JULY_15, rain_mm=None)
    assert JULY_15 in [day.date for day in whole_days(source, clock)]
    weather = planned(forecasts, clock)["weather"]
    assert (weather["rain_mm"], weather["counted_rain_mm"]) == (None, 0.0)
    assert "rain" in weather["estimated"]


def test_a_coming_day_without_temperature_ends_the_forecast(source, clock):
    source.told = at_noon_of(dt.date(2026, 7, 17), temperature_c=None)
    assert whole_days(source, clock)[-1].date == dt.date(2026, 7, 16)


def test_a_forecast_that_lacks_the_date_is_no_forecast(source, forecasts, clock):
    source.told = at_noon_of(JULY_15, temperature_c=None)
    with pytest.raises(WeatherUnavailable, match="2026-07-15") as unavailable:
        planned(forecasts, clock)
    assert unavailable.value.retry_after_s >= 1


def test_a_date_beyond_the_forecast_says_how_far_plans_reach(forecasts, clock):
    with pytest.raises(DateBeyondPlans, match=r"2026-08-15; plans reach to 2026-07-2\d"):
        planned(forecasts, clock, date="2026-08-15")


@pytest.mark.parametrize("state", [None, {"date": "2026-07-13", "zones": {"lawn": {"depletion_mm": 3}}}])
def test_sixty_days_and_more_tell_the_season_whether_there_is_a_state_or_not(source, clock, state):
    seen = []
    whole = source.hours
    source.hours = lambda place, past_days: seen.append(past_days) or whole(place, past_days=past_days)
    forecasts = Forecasts({"demo": source}, KeptInMemory(), clock)
    planned(forecasts, clock, **({} if state is None else {"carry_over": state}))
    assert min(seen) >= 60


@pytest.mark.parametrize(
    ("date", "anchor"),
    [
        ("2026-07-15", "2026-05-01"),
        ("2026-07-30", "2026-05-01"),
        ("2026-08-01", "2026-06-01"),
        ("2026-03-02", "2026-01-01"),
    ],
)
def test_a_guess_begins_on_the_first_of_a_month_at_least_60_days_back(date: str, anchor: str):
    assert anchor_before(dt.date.fromisoformat(date)) == dt.date.fromisoformat(anchor)


@pytest.mark.parametrize(("pointer", "request_part"), [
    ("/carry_over/date", {"carry_over": {"date": "1990-01-01", "zones": {}}}),
    ("/date", {"date": "1990-01-01"}),
])  # fmt: skip
def test_no_source_is_asked_for_decades(forecasts, source, clock, pointer, request_part):
    with pytest.raises(InvalidRequest, match="1990-01-01") as refused:
        planned(forecasts, clock, **request_part)
    assert refused.value.problems[0].pointer == pointer
    assert source.asked == 0


# The place


def test_a_garden_without_elevation_has_that_of_its_weather(source, forecasts, clock):
    low = document()
    del low["elevation_m"]
    source.elevation_m = 2500.0
    high = planned(forecasts, clock, garden=document(elevation_m=2500))
    assert planned(forecasts, clock, garden=low)["weather"] == high["weather"]
    assert planned(forecasts, clock)["weather"]["eto_mm"] < high["weather"]["eto_mm"]


def test_without_any_elevation_it_is_left_open(source, clock):
    source.elevation_m = None
    forecasts = Forecasts({"demo": source}, KeptInMemory(), clock)
    weather = fetched_weather(forecasts, garden(), JULY_15 - ONE_DAY, JULY_15, clock())
    nameless = document()
    del nameless["elevation_m"]
    assert at_height_of(load_plan_request({"garden": nameless}).garden, weather).elevation_m is None


# Frost, by the hour from the opening of the hours


def cold_at(*local: str) -> Any:
    moments = {dt.datetime.fromisoformat(f"2026-{moment}:00+02:00") for moment in local}
    return lambda start: {"temperature_c": 1.0} if start in moments else {}


@pytest.mark.parametrize(
    ("moment", "reason"),
    [
        ("07-14T21:00", None),  # the hours open at 22:00
        ("07-14T22:00", "frost-risk"),
        ("07-14T23:00", "frost-risk"),
        ("07-15T04:00", "frost-risk"),
        ("07-15T23:00", "frost-risk"),
        ("07-16T00:00", None),
    ],
)
def test_frost_counts_from_the_opening_of_the_hours_to_the_end_of_the_date(
    source, forecasts, clock, moment, reason
):
    source.told = cold_at(moment)
    body = planned(
        forecasts, clock, carry_over={"date": "2026-07-15", "zones": {"lawn": {"depletion_mm": 18}}}
    )
    (zone,) = body["zones"]
    assert (zone["reasons"][0]["code"] == "frost-risk") == (reason is not None)
    assert zone["decision"] == ("water" if reason is None else "wait")
    assert (body["weather"]["lowest_c"] == 1.0) == (reason is not None)


def test_given_days_have_no_hours_so_the_date_s_minimum_decides(forecasts, clock):
    days = weather_days(JULY_15 - 30 * ONE_DAY, 34)
    days[29]["t_min_c"] = 1.0  # 14 July
    assert planned(forecasts, clock, weather=days)["zones"][0]["reasons"][0]["code"] != "frost-risk"
    days[30]["t_min_c"] = 1.0
    assert planned(forecasts, clock, weather=days)["zones"][0]["reasons"][0]["code"] == "frost-risk"


# State


def test_a_state_after_the_date_is_refused(forecasts, clock):
    with pytest.raises(InvalidRequest, match="2026-07-16, which is after the plan's date, 2026-07-15"):
        planned(forecasts, clock, carry_over={"date": "2026-07-16", "zones": {"lawn": {"depletion_mm": 3}}})


def test_the_date_asked_for_is_the_one_planned(forecasts, clock):
    body = planned(forecasts, clock, date="2026-07-17")
    assert body["date"] == body["carry_over"]["date"] == "2026-07-17"
    assert body["valid_until"].startswith("2026-07-17T06:")


def test_an_answer_without_a_store_may_be_acted_on_until_its_hours_end(forecasts, clock):
    body = planned(forecasts, clock)
    assert body["phase"] == "draft"
    assert dt.datetime.fromisoformat(body["valid_until"]) == hours_of(garden(), JULY_15).ends


def test_asked_inside_the_hours_runs_take_what_is_left_of_them(forecasts, clock):
    clock.to(5, 50, day=15)
    body = planned(
        forecasts, clock, carry_over={"date": "2026-07-15", "zones": {"lawn": {"depletion_mm": 18}}}
    )
    (zone,) = body["zones"]
    assert zone["runs"]
    assert all(dt.datetime.fromisoformat(run["start"]) >= clock() for run in zone["runs"])
    assert zone["reasons"][-1]["code"] == "hours-full"


def test_deliveries_since_the_soil_was_full_count_without_a_state(forecasts, clock):
    deep = lawn(
        soil_full_on="2026-07-12", planting={"plant": "turf-cool-season", "kc": 1.0, "root_depth_m": 0.5}
    )
    full = document(zones={"lawn": deep})
    dry = planned(forecasts, clock, garden=full)
    told = [{"zone": "lawn", "date": "2026-07-13", "volume_l": 250}]
    wet = planned(forecasts, clock, garden=full, deliveries=told)
    assert dry["history"] == "known"
    before, after = (body["zones"][0]["soil_water"]["depletion_mm"] for body in (dry, wet))
    assert after == pytest.approx(before - 5.0, abs=0.1)  # 250 l on 50 m²


def test_deliveries_before_the_state_are_in_it_already(forecasts, clock):
    state = {"date": "2026-07-14", "zones": {"lawn": {"depletion_mm": 6}}}
    told = [{"zone": "lawn", "date": "2026-07-13", "volume_l": 250}]
    assert planned(forecasts, clock, carry_over=state, deliveries=told) == planned(
        forecasts, clock, carry_over=state
    )


# Evening by evening


def codes(body: dict[str, Any]) -> list[str]:
    return [reason["code"] for zone in body["zones"] for reason in zone["reasons"]]


@pytest.mark.parametrize("wet", [False, True])
def test_state_sent_back_each_evening_plans_like_a_stored_garden_with_the_same_reports(tmp_path, wet):
    """Eighteen evenings; the stored garden was known an evening earlier, and hears what flowed."""
    clock = Clock()

    def told(start: dt.datetime) -> dict[str, float]:
        shower = wet and start.day % 6 == 0 and start.hour == 15
        return {"rain_mm": 7.0, "rain_probability": 0.8} if shower else {}

    house = House(f"sqlite:///{tmp_path}/rootledger.db", clock, Steady(clock, told))
    house.put()
    forecasts = Forecasts({"demo": Steady(clock, told)}, KeptInMemory(), clock)
    state, deliveries, watered = None, [], 0.0
    for evening in range(18):
        clock.now = dt.datetime(2026, 7, 14, 19, 10, tzinfo=dt.UTC) + evening * ONE_DAY
        stored = house.plan()
        asked = planned(
            forecasts, clock, deliveries=deliveries, **({} if state is None else {"carry_over": state})
        )
        assert stored["phase"] == "final"
        assert codes(stored) == codes(asked)
        # The state is told to 0.01 mm: half a litre on 50 m², evening after evening.
        assert stored["volume_l"] == pytest.approx(asked["volume_l"], abs=3)
        assert stored["zones"][0]["soil_water"] == pytest.approx(asked["zones"][0]["soil_water"], abs=0.11)
        state, deliveries = asked["carry_over"], []
        clock.now += dt.timedelta(hours=11)
        for number, run in enumerate(stored["zones"][0]["runs"]):
            flowed_l = round(run["volume_l"] * (0.9 if evening % 3 else 1.05), 1)
            house.report(run["id"], "done", flowed_l)
            deliveries.append({"zone": "lawn", "started_at": run["start"], "volume_l": flowed_l})
            assert number == 0
            assert (
                garden_date(dt.datetime.fromisoformat(run["start"]), "Europe/Paris").isoformat()
                == stored["date"]
            )
            watered += flowed_l
    house.close()
    assert watered > 0


def test_a_forecast_that_does_not_reach_to_tomorrow_is_no_forecast(clock):
    forecasts = Forecasts({"demo": Steady(clock, days_ahead=0)}, KeptInMemory(), clock)
    with pytest.raises(WeatherUnavailable, match="2026-07-15"):
        planned(forecasts, clock)


# Hour by hour


def cold_nights(start: dt.datetime) -> dict[str, float]:
    return {"temperature_c": 3.0 if start.hour < 7 or start.hour >= 19 else 16.0}


def first_reason(body: dict[str, Any]) -> str:
    return str(body["zones"][0]["reasons"][0]["code"])


def in_state(lacks_mm: float = 10.0) -> dict[str, Any]:
    return {"date": "2026-07-15", "zones": {"lawn": {"depletion_mm": lacks_mm}}}


def test_wind_by_the_hour_moves_runs_and_is_that_at_two_metres(clock, source, forecasts):
    # In Paris the hours are those from 20:00 to 04:00 UTC. 4.5 m/s at 2 m from 02:00 UTC on.
    source.told = lambda start: {"wind_m_s": 4.5 if start.hour in (2, 3, 4) else 2.0}
    (run,) = planned(forecasts, clock, carry_over=in_state())["zones"][0]["runs"]
    assert dt.datetime.fromisoformat(run["start"]) < dt.datetime(2026, 7, 15, 2, tzinfo=dt.UTC)
    source.wind_height_m = 10.0
    # FAO-56 table 2.9: 10 m to 2 m is x 0.748, so 4.5 m/s are 3.4 at 2 m, and 5.5 are 4.1.
    fresh = Forecasts({"demo": source}, KeptInMemory(), clock)
    (run,) = planned(fresh, clock, carry_over=in_state())["zones"][0]["runs"]
    assert dt.datetime.fromisoformat(run["start"]) > dt.datetime(2026, 7, 15, 2, tzinfo=dt.UTC)
    source.told = lambda start: {"wind_m_s": 5.5}
    fresh = Forecasts({"demo": source}, KeptInMemory(), clock)
    assert first_reason(planned(fresh, clock, carry_over=in_state())) == "too-windy"


def test_weather_that_comes_with_a_request_has_no_hours_and_no_wind_rule(forecasts, clock):
    weather = weather_days(JULY_15 - ONE_DAY, 4, wind_m_s=9.0)
    body = planned(forecasts, clock, weather=weather, carry_over=in_state())
    assert first_reason(body) == "soil-drying-out"


def test_warm_hours_make_a_plan_hold_longer(clock, source, forecasts):
    source.told = cold_nights
    cold = planned(forecasts, clock, carry_over=in_state())
    assert first_reason(cold) == "frost-risk"
    warm = planned(forecasts, clock, garden=document(rules={"frost_warm_hours": True}), carry_over=in_state())
    (run,) = warm["zones"][0]["runs"]
    start = dt.datetime.fromisoformat(run["start"])
    assert dt.time(9) <= start.time() < dt.time(15)
    assert warm["valid_until"] >= (start + dt.timedelta(seconds=run["run_time_s"])).isoformat()
    assert "warm-hours" in [note["code"] for note in warm["zones"][0]["notes"]]


def test_forbidden_hours_are_kept(forecasts, clock):
    rules = {"forbidden_hours": [{"from": "02:00", "to": "22:00"}]}
    (run,) = planned(forecasts, clock, garden=document(rules=rules), carry_over=in_state())["zones"][0][
        "runs"
    ]
    ends = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["run_time_s"])
    assert dt.time(1, 51) <= ends.time() <= dt.time(2)  # 7 minutes are kept in reserve


def test_deliveries_since_monday_count_for_a_weeks_allowance(forecasts, clock):
    # 15 July 2026 is a Wednesday; Monday's garden day began on Sunday at 15:00.
    garden = document(water_supply={"allowance_l": {"week": 600}})
    given = [
        {"zone": "lawn", "date": "2026-07-12", "volume_l": 500},
        {"zone": "lawn", "date": "2026-07-13", "volume_l": 250},
    ]
    body = planned(forecasts, clock, garden=garden, carry_over=in_state(), deliveries=given)
    # 350 litres are left for 5 dates. Twice an even share is 140, less than the smallest dose: 3 mm on 50 m².
    assert body["volume_l"] == 150
    assert [reason["code"] for reason in body["zones"][0]["reasons"]] == [
        "soil-drying-out",
        "allowance-spent",
    ]


def test_an_impossible_garden_is_told_with_its_place_in_the_request(forecasts, clock):
    with pytest.raises(InvalidRequest) as refused:
        planned(forecasts, clock, garden=document(water_supply={"allowance_l": {"day": 5}}))
    (problem,) = refused.value.problems
    assert problem.pointer == "/garden/water_supply/allowance_l/day"
