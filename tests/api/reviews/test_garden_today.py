"""One flat answer says what plan, zones, usage and alerts say, and changes with each of them."""

import datetime as dt

import pytest

from api.schemas.garden_now import GardenNowSchema
from tests.api.stored_garden import document

NOW = "/v1/gardens/orchard/now"


def test_it_says_what_the_plan_the_zones_the_usage_and_the_alerts_say(client, house):
    now, plan = client.get(NOW).json, client.get("/v1/gardens/orchard/plan").json

    assert list(now) == list(GardenNowSchema().fields)
    assert [now[name] for name in ("date", "phase", "volume_l", "valid_until")] == [
        plan[name] for name in ("date", "phase", "volume_l", "valid_until")
    ]
    assert now["zones"] == {"lawn": client.get("/v1/gardens/orchard/plan/lawn").json}
    assert now["alerts"] == client.get("/v1/gardens/orchard/alerts").json["alerts"]
    assert now["alert_count"] == len(now["alerts"])
    month = client.get("/v1/gardens/orchard/usage?from=2026-07-01").json["total"]
    assert now["month_l"] == month["volume_l"]
    assert now["main_valve_max_volume_l"] == plan["main_valve"]["max_volume_l"]
    assert now["text"].startswith(f"{plan['volume_l']:,.0f} litres for one zone from")


def test_it_is_kept_and_known_by_one_etag(client, house):
    first = client.get(NOW)

    assert client.get(NOW, headers={"If-None-Match": first.headers["ETag"]}).status_code == 304
    assert house.answers.read("orchard", "now", house.clock()).body == first.data


def test_a_run_under_way_is_in_it_at_once(client, house, clock):
    (run,) = house.lawn()["runs"]
    clock.to(21, 30)
    house.plan()
    clock.now = dt.datetime.fromisoformat(run["start"])
    before = client.get(NOW).json
    house.report(run["id"], "running", new=True)
    after = client.get(NOW).json

    assert (before["zones"]["lawn"]["running"], before["delivered_l"]) == (False, 0)
    assert (after["zones"]["lawn"]["running"], after["zones"]["lawn"]["running_run"]) == (True, run["id"])
    assert (after["delivered_l"], after["remaining_l"]) == (run["volume_l"], 0)


def test_the_state_of_a_valve_is_in_it_at_once(client):
    assert client.get(NOW).json["zones"]["lawn"]["valve_state"] is None
    client.put("/v1/gardens/orchard/valves/lawn", json={"state": "shut", "battery_share": 0.64})
    zone = client.get(NOW).json["zones"]["lawn"]

    assert (zone["valve_state"], zone["battery_share"]) == ("shut", 0.64)


def test_the_allowance_that_leaves_least_is_told(client, house):
    assert client.get(NOW).json["allowance_left_l"] is None
    house.put(document(water_supply={"allowance_l": {"week": 500, "month": 90_000}}))
    house.report("by-hand", "done", 120.0)

    assert client.get(NOW).json["allowance_left_l"] == pytest.approx(380.0)


def test_a_garden_in_which_nothing_runs_has_zeros_and_no_moments(client, house):
    house.put(document(rules={"pauses": [{"from": "2026-07-15", "to": "2026-07-15"}]}))
    now = client.get(NOW).json

    assert (now["volume_l"], now["main_valve_max_open_s"], now["main_valve_max_volume_l"]) == (0, 0, 0)
    assert now["main_valve_opens_at"] is None
    assert now["zones"]["lawn"]["next_volume_l"] == 0


def test_without_weather_it_is_the_problem_of_the_plan(client, source, clock):
    source.fails = True
    clock.forward(days=20)

    assert client.get(NOW).json["type"] == "/problems/no-forecast"
