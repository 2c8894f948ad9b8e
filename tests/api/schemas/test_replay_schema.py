"""A request for a replay is read strictly, and its answer holds what the contract says."""

import datetime as dt

import pytest

from api.errors import InvalidRequest
from api.schemas.plan import WeatherOrigin
from api.schemas.replay import ReplaySchema, dump_replay, load_replay_request
from scheduling.review.foresight import Perfect
from scheduling.review.replay import Timer, replay
from scheduling.tap.permission import DateHours
from tests.api.stored_garden import document, lawn
from tests.scheduling.gardens import night_before, summer_days

DAYS = [{"date": f"2025-06-{day:02}", "t_min_c": 11.4, "t_max_c": 24.0, "rain_mm": 0} for day in range(1, 21)]
TIMER = {"every_days": 2, "run_time_s": 1200}


def request(**changes):
    return {"garden": document(), "weather": DAYS, **changes}


def refusals(body):
    with pytest.raises(InvalidRequest) as refused:
        load_replay_request(body)
    return {problem.pointer: problem.detail for problem in refused.value.problems}


def test_a_garden_and_days_are_enough():
    asked = load_replay_request(request(weather=DAYS[::-1]))
    assert (asked.forecast, asked.timers, asked.first, asked.last) == ("perfect", None, None, None)
    assert asked.weather is not None
    assert asked.weather[0].date == dt.date(2025, 6, 1)


def test_dates_may_stand_in_place_of_days():
    asked = load_replay_request({"garden": document(), "from": "2025-06-01", "to": "2025-06-20"})
    assert (asked.weather, asked.first, asked.last) == (None, dt.date(2025, 6, 1), dt.date(2025, 6, 20))


def test_a_timer_is_for_all_zones_or_for_some():
    garden = document(zones={"lawn": lawn(), "back-lawn": lawn()})
    timer = {"all": TIMER, "zones": {"back-lawn": {"volume_l": 80}}}
    asked = load_replay_request(request(garden=garden, timer=timer))
    assert asked.timers == {"lawn": Timer(2, run_time_s=1200.0), "back-lawn": Timer(1, volume_l=80.0)}


@pytest.mark.parametrize(
    ("changes", "pointer", "told"),
    [
        (
            {"timer": {"all": {"every_days": 2}}},
            "/timer/all",
            "gives no water; give it volume_l or run_time_s",
        ),
        ({"timer": {"all": {**TIMER, "volume_l": 5}}}, "/timer/all/run_time_s", "says again what volume_l"),
        ({"timer": {"all": {**TIMER, "every_days": 0}}}, "/timer/all/every_days", "from 1 to 366"),
        ({"timer": {}}, "/timer", "There is no timer here"),
        ({"timer": {"zones": {"lawm": TIMER}}}, "/timer/zones/lawm", "Did you mean lawn?"),
        ({"forecast": "good"}, "/forecast", 'it must be "perfect" or "none"'),
        ({"weather": [DAYS[0], DAYS[0]]}, "/weather/1/date", "an earlier entry of the list has too"),
        ({"weather": []}, "/weather", "from 1 to 400"),
        ({"weather": [{**DAYS[0], "rain_probability": 0.3}]}, "/weather/0/rain_probability", "not a field"),
        ({"from": "2025-06-09", "to": "2025-06-02"}, "/to", "must not be before from, 2025-06-09"),
    ],
)
def test_what_cannot_be_is_told_with_its_pointer(changes, pointer, told):
    assert told in refusals(request(**changes))[pointer]


def test_without_days_and_dates_nothing_can_be_replayed():
    assert refusals({"garden": document()})[""] == "Which days? Give weather, or from and to."


def test_more_than_12_zones_are_for_the_command():
    zones = {f"lawn-{number}": lawn() for number in range(13)}
    told = refusals(request(garden=document(zones=zones)))
    assert "zones has 13 entries; a replay over HTTP takes at most 12" in told["/garden/zones"]


def test_more_than_400_days_are_refused():
    first = dt.date(2024, 1, 1)
    days = [{**DAYS[0], "date": str(first + dt.timedelta(days=day))} for day in range(401)]
    assert "401 entries" in refusals(request(weather=days))["/weather"]


ORIGIN = WeatherOrigin(source="given", retrieved_at=None, stale=False, basis="given", attribution=[])


def answer(explain=False, **supply):
    timer = {"all": TIMER}
    body = request(garden=document(water_supply=supply, zones={"lawn": lawn()}), timer=timer)
    asked = load_replay_request(body)
    season = replay(
        asked.garden,
        summer_days(dt.date(2025, 6, 1), 60),
        Perfect(),
        lambda date: DateHours((night_before(date),)),
        asked.timers,
        explain,
    )
    return dump_replay(season, asked, ORIGIN)


def test_an_answer_is_what_its_schema_says():
    body = answer(explain=True, price_per_m3=4.1, currency="EUR")
    assert ReplaySchema().validate(body) == {}
    assert set(body) == {field.data_key or name for name, field in ReplaySchema().fields.items()}
    assert len(body["zones"][0]["ledger"]) == 60


def test_an_account_in_json_closes_to_the_rounding():
    zone = answer()["zones"][0]
    for account in (zone, zone["timer"]):
        assert account["closing_depletion_mm"] == pytest.approx(
            account["opening_depletion_mm"]
            - account["infiltrated_rain_mm"]
            - account["irrigation_mm"]
            + account["etc_adj_mm"]
            + account["fallow_et_mm"]
            + account["drainage_mm"]
            + account["adjustment_mm"],
            abs=0.04,  # eight numbers, each to 0.01
        )
        assert account["stress_mm"] == pytest.approx(account["etc_mm"] - account["etc_adj_mm"], abs=0.02)


def test_money_follows_litres():
    # 20 l/min for 20 minutes on 30 of 60 days: 12 m3 at 4.10.
    zone = answer(price_per_m3=4.1, currency="EUR")["zones"][0]
    assert (zone["timer"]["runs"], zone["timer"]["volume_l"], zone["timer"]["cost"]) == (30, 12000.0, 49.2)
    assert zone["difference"]["volume_l"] == pytest.approx(zone["volume_l"] - 12000.0)
    assert zone["difference"]["cost"] == pytest.approx((zone["volume_l"] - 12000.0) * 0.0041, abs=0.005)


def test_prices_that_rise_within_a_month_and_the_sewer_count():
    # The timer takes 6 m3 in June and 6 in July: 5 at 4.00 and 1 at 8.00 each, and half of it for the sewer.
    steps = [{"above_m3": 5, "price_per_m3": 8}]
    zone = answer(price_per_m3=4, price_steps=steps, sewer_share=0.5)["zones"][0]
    assert zone["timer"]["cost"] == pytest.approx(2 * (5 * 4 + 1 * 8) * 1.5)


def test_without_a_price_there_is_no_money():
    body = answer()
    assert (body["cost"], body["currency"], body["difference"]["cost"]) == (None, None, None)


def test_totals_are_those_of_the_zones():
    body = answer()
    assert body["volume_l"] == body["zones"][0]["volume_l"]
    assert body["least_volume_l"] == body["zones"][0]["least_volume_l"]
    assert (body["from"], body["to"], body["days"]) == ("2025-06-01", "2025-07-30", 60)
