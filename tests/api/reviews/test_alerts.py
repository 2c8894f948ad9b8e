"""Alerts of a stored garden, over HTTP: there while their cause is, gone when it is gone."""

import datetime as dt
from typing import Any

import pytest
from flask.testing import FlaskClient

from api.weather.errors import Unreachable
from tests.api.stored_garden import EVENING, ONE_DAY, Clock, House, document, lawn

ALERTS = "/v1/gardens/orchard/alerts"
BED = lawn(area_m2=20, priority="low")


def alerts(client: FlaskClient) -> list[dict[str, Any]]:
    answer = client.get(ALERTS)
    assert answer.status_code == 200, answer.text
    assert answer.json["garden"] == "orchard"
    return list(answer.json["alerts"])


def codes(client: FlaskClient) -> list[str]:
    """Without the one that nobody asks in the nights before, which these tests leave out."""
    return [alert["code"] for alert in alerts(client) if alert["code"] != "nobody-asked"]


def the(client: FlaskClient, code: str) -> dict[str, Any]:
    (alert,) = (alert for alert in alerts(client) if alert["code"] == code)
    return alert


def valve(client: FlaskClient, **told: Any) -> None:
    answer = client.put("/v1/gardens/orchard/valves/lawn", json=told)
    assert answer.status_code in (200, 201), answer.text


def a_night(house: House, clock: Clock, day: int) -> list[dict[str, Any]]:
    """The runs of a night, by a plan that is final."""
    clock.to(21, 5, day=day)
    return list(house.lawn()["runs"])


def test_where_all_is_well_there_is_none(house, client, clock):
    for run in a_night(house, clock, 13):
        clock.now = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["run_time_s"])
        house.report(run["id"], "done", run["volume_l"])
    clock.now = EVENING
    assert alerts(client) == []


def test_a_garden_of_which_no_plan_is_read_until_one_is(house, client, clock):
    clock.now = EVENING
    alert = the(client, "nobody-asked")
    assert alert["zone"] is None
    assert "nobody has asked for water" in alert["text"]
    since = dt.datetime.fromisoformat(alert["since"])
    assert since < clock.now - ONE_DAY
    a_night(house, clock, 14)
    clock.to(8, day=15)
    assert "nobody-asked" not in [alert["code"] for alert in alerts(client)]


def test_the_first_night_without_a_question_in_a_garden_that_takes_turns(house, client, clock):
    clock.to(21, 5)
    assert client.post("/v1/gardens/orchard/turns", json={}).status_code == 200
    day = 15
    while not a_night(house, clock, day):
        clock.to(23, day=day)
        client.post("/v1/gardens/orchard/turns", json={})
        day += 1
    clock.to(12, day=day + 1)  # the plan was read, its runs had no turn
    alert = the(client, "nobody-asked")
    assert alert["text"].startswith("Last night nobody asked for water.")
    clock.to(21, 30, day=day + 1)
    client.post("/v1/gardens/orchard/turns", json={})
    clock.to(12, day=day + 2)
    assert "nobody-asked" not in [alert["code"] for alert in alerts(client)]


def test_a_turn_that_nobody_closes_until_its_own_report_comes(house, client, clock):
    (run,) = a_night(house, clock, 14)
    clock.now = dt.datetime.fromisoformat(run["start"])
    turn = client.post("/v1/gardens/orchard/turns", json={}).json
    assert turn["run"] == run["id"]
    clock.now = dt.datetime.fromisoformat(turn["shut_by"]) - dt.timedelta(seconds=1)
    assert codes(client) == []
    clock.now += dt.timedelta(seconds=1)
    alert = the(client, "turn-not-closed")
    assert (alert["zone"], dt.datetime.fromisoformat(alert["since"])) == ("lawn", clock.now)
    valve(client, state="shut")
    assert "turn-not-closed" in codes(client)
    told = {"outcome": "lost-contact", "volume_l": None}
    address = "/v1/gardens/orchard/deliveries/lawn/" + run["id"]
    assert client.put(address, json=told).status_code == 200
    assert "turn-not-closed" in codes(client)
    assert client.put(address, json={"outcome": "done", "volume_l": 100.0}).status_code == 200
    assert "turn-not-closed" not in codes(client)


def test_a_run_that_is_not_completed_by_its_limit_until_it_is(house, client, clock):
    (run,) = a_night(house, clock, 14)
    start = dt.datetime.fromisoformat(run["start"])
    clock.now = start
    house.report(run["id"], "running")
    assert codes(client) == []

    clock.now = start + dt.timedelta(seconds=run["max_open_s"])
    alert = the(client, "valve-not-shut")
    assert alert["zone"] == "lawn"
    assert dt.datetime.fromisoformat(alert["since"]) == clock.now
    assert alert["since"].endswith("+02:00")
    house.report(run["id"], "done", run["volume_l"])
    assert codes(client) == []


def test_a_valve_that_is_open_while_nothing_runs_until_it_is_shut(house, client, clock):
    valve(client, state="open")
    assert the(client, "valve-not-shut")["since"] == "2026-07-14T20:40:00+02:00"
    valve(client, state="shut")
    assert codes(client) == []


def test_a_battery_that_is_low_until_it_is_changed(house, client):
    valve(client, battery_share=0.08)
    alert = the(client, "battery-low")
    assert (alert["zone"], alert["since"]) == ("lawn", "2026-07-14T20:40:00+02:00")
    assert "8 %" in alert["text"]
    valve(client, battery_share=0.9)
    assert codes(client) == []


def test_runs_that_fall_short_in_a_row_until_one_does_not(house, client, clock):
    shares = (0.5, 0.4, 0.6)
    day = 8
    first = None
    for share in (*shares, 1.0):
        runs: list[dict[str, Any]] = []
        while not runs:
            runs = a_night(house, clock, day)
            day += 1
        assert "under-delivered" not in codes(client) or share == 1.0
        clock.to(8, day=day)
        for run in runs:
            first = first or run["id"][:10]
            house.report(run["id"], "done", share * run["volume_l"])
        if share == shares[-1]:
            alert = the(client, "under-delivered")
            assert (alert["zone"], alert["since"]) == ("lawn", first)
    assert "under-delivered" not in codes(client)


def test_a_controller_that_falls_silent_until_it_tells_of_a_run_again(house, client, clock):
    nights = [run for day in range(8, 14) for run in a_night(house, clock, day)]
    assert len(nights) > 2
    clock.to(12, day=14)
    alert = the(client, "no-reports")
    assert alert["zone"] is None
    limit = dt.datetime.fromisoformat(nights[0]["start"]) + dt.timedelta(seconds=nights[0]["max_open_s"])
    assert dt.datetime.fromisoformat(alert["since"]) == limit

    house.report(nights[-1]["id"], "done", nights[-1]["volume_l"])
    assert codes(client) == []


def test_a_flow_that_has_drifted_since_the_run_that_told_it(house, client, clock):
    first = None
    told = 0
    for day in range(6, 15):
        for run in a_night(house, clock, day):
            began = dt.datetime.fromisoformat(run["start"])
            clock.now = began + dt.timedelta(seconds=600)
            # 12 l/min, of a valve that is said to pass 20.
            house.report(run["id"], "stopped", 120.0, at=began, ended_at=clock.now)
            told += 1
            first = run["id"][:10] if told == 3 else first
    clock.to(12, day=15)
    alert = the(client, "flow-has-drifted")
    assert (alert["zone"], alert["since"]) == ("lawn", first)
    assert "12 litres a minute, 40 % less than the 20 given" in alert["text"]
    house.put(document(zones={"lawn": lawn(watering={**lawn()["watering"], "flow_l_min": 12})}))
    assert "flow-has-drifted" not in codes(client)


def test_a_forecast_that_grows_old_until_a_new_one_comes(house, client, clock, source):
    client.get(ALERTS)
    asked = clock.now

    source.fails = True
    clock.now = asked + dt.timedelta(hours=7)
    alert = the(client, "forecast-old")
    assert alert["zone"] is None
    assert dt.datetime.fromisoformat(alert["since"]) == asked + dt.timedelta(hours=6)
    house.settle()
    source.fails = False
    clock.now += dt.timedelta(hours=1)
    assert "forecast-old" not in codes(client)


def test_a_run_across_the_end_of_summer_time_has_its_limit_by_real_hours(house, client, clock, source):
    source.told = lambda start: {"solar_mj_m2": 1.6}
    house.put(document(rules={"watering_hours": [{"from": "22:00", "to": "02:30"}]}))
    clock.now = dt.datetime(2026, 10, 24, 19, 30, tzinfo=dt.UTC)
    (run,) = house.lawn()["runs"]
    limit = dt.timedelta(seconds=run["max_open_s"])
    # Begun as late as it may be, before the clock goes back from 3:00 to 2:00.
    begun = dt.datetime(2026, 10, 25, 0, 29, tzinfo=dt.UTC)
    assert begun < dt.datetime(2026, 10, 25, 1, tzinfo=dt.UTC) < begun + limit
    clock.now = begun
    house.report(run["id"], "running", at=begun)
    clock.now = begun + limit - dt.timedelta(seconds=1)
    assert "valve-not-shut" not in codes(client)
    clock.now = begun + limit
    alert = the(client, "valve-not-shut")
    assert dt.datetime.fromisoformat(alert["since"]) == begun + limit


def test_without_any_weather_what_needs_none_is_told_all_the_same(house, client, source, monkeypatch):
    monkeypatch.setattr(source, "hours", unreachable)
    valve(client, battery_share=0.08)
    assert client.get("/v1/gardens/orchard/plan").status_code == 503

    assert codes(client) == ["forecast-old", "battery-low"]
    old = the(client, "forecast-old")
    assert (old["since"], old["text"]) == (
        "2026-07-04T20:40:00+02:00",
        "No weather has come yet from demo. There are no plans.",
    )


def test_a_frost_that_comes_until_the_forecast_is_milder_or_the_garden_is_paused(
    house, client, clock, source
):
    cold = {"temperature_c": -2.5, "dew_point_c": -4.0}
    source.told = lambda start: cold if (start.day, start.hour) == (16, 3) else {}
    alert = the(client, "frost-ahead")
    assert (alert["zone"], alert["since"]) == (None, "2026-07-16")
    assert "as cold as -2.5 °C at 05:00 on Thursday" in alert["text"]

    pause = {"from": "2026-07-15", "to": "2026-07-20", "because": "Drained"}
    house.put(document(rules={"pauses": [pause]}))
    assert "frost-ahead" not in codes(client)
    house.put(document())
    assert "frost-ahead" in codes(client)
    source.told = lambda start: {}
    clock.now += dt.timedelta(hours=7)
    assert "frost-ahead" not in codes(client)


def test_an_allowance_that_is_nearly_spent_until_there_is_more(house, client):
    house.put(document(water_supply={"allowance_l": {"week": 3000}}))
    house.report("hose", "done", 2800.0, at=EVENING - ONE_DAY / 2)
    alert = the(client, "allowance-nearly-spent")
    assert (alert["zone"], alert["since"]) == (None, "2026-07-14")
    assert "The 200 litres left must last to the end of Sunday" in alert["text"]
    house.put(document(water_supply={"allowance_l": {"week": 3000}}, units="us"))
    assert "The 53 gallons left must last" in the(client, "allowance-nearly-spent")["text"]

    house.put(document(water_supply={"allowance_l": {"week": 9000}}))
    assert "allowance-nearly-spent" not in codes(client)


def test_a_zone_that_a_pause_starves_until_it_may_be_watered(house, client):
    pause = {"from": "2026-07-01", "to": "2026-08-30"}
    house.put(document(rules={"pauses": [pause]}, zones={"lawn": lawn(soil_full_on="2026-07-05")}))
    alert = the(client, "cannot-keep-alive")
    assert alert["zone"] == "lawn"
    rows = client.get("/v1/gardens/orchard/ledger/lawn").json["plantings"][0]["rows"]
    assert alert["since"] == next(row["date"] for row in rows if row["ks"] < 0.7)

    house.put(document(zones={"lawn": lawn(soil_full_on="2026-07-05")}))
    assert codes(client) == []


def test_a_probe_that_is_stuck_until_its_readings_are_taken_back(client):
    mornings = [f"2026-07-{day:02}" for day in range(7, 15)]
    for morning in mornings:
        reading = {"measured_at": f"{morning}T04:30:00+02:00", "store_share": 0.9}
        answer = client.put(f"/v1/gardens/orchard/moisture/lawn/{morning}", json=reading)
        assert answer.status_code == 201, answer.text

    alert = the(client, "probe-doubtful")
    (standing,) = client.get("/v1/gardens/orchard/plan").json["zones"][0]["probes"]
    assert (alert["zone"], alert["since"]) == ("lawn", standing["since"])
    for morning in mornings:
        client.delete(f"/v1/gardens/orchard/moisture/lawn/{morning}")
    assert "probe-doubtful" not in codes(client)


def test_alerts_stand_in_the_order_of_their_urgency_with_what_to_do(house, client):
    house.put(document(zones={"lawn": lawn(), "bed": BED}))
    valve(client, state="open", battery_share=0.1)

    told = alerts(client)
    assert [alert["code"] for alert in told] == ["valve-not-shut", "nobody-asked", "battery-low"]
    assert all(alert["what_to_do"].endswith(".") for alert in told)


def test_asked_again_the_bytes_are_the_same_until_something_changes(house, client, monkeypatch):
    first = client.get(ALERTS)
    with monkeypatch.context() as patch:
        patch.setattr(house.life, "explained", lambda garden_id: pytest.fail("reckoned again"))
        again = client.get(ALERTS, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    valve(client, battery_share=0.08)
    assert client.get(ALERTS).headers["ETag"] != first.headers["ETag"]


def test_what_cannot_be_asked_is_refused_and_what_is_not_there_is_404(client):
    assert client.get(f"{ALERTS}?zone=lawn").status_code == 422
    assert client.get("/v1/gardens/nowhere/alerts").status_code == 404


def unreachable(*_: Any, **__: Any) -> Any:
    """A source that does not answer."""
    raise Unreachable("demo", "no answer")
