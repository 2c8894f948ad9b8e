"""Deliveries over HTTP: announced, completed, read, listed and taken back."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest

from tests.api.stored_garden import Clock, House, Steady

BASE = "/v1/gardens/orchard/deliveries"
NEW = {"If-None-Match": "*"}
AT = "2026-07-14T18:40:00+02:00"
DONE = {"started_at": AT, "outcome": "done", "volume_l": 5}


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def house(tmp_path, clock) -> Iterator[House]:
    """A garden with the final plan of 15 July, at 21:00 the evening before."""
    house = House(f"sqlite:///{tmp_path}/rootledger.db", clock, Steady(clock))
    clock.to(12, day=12)
    house.put()
    clock.to(21)
    house.plan()
    yield house
    house.close()


@pytest.fixture
def client(house):
    return house.client()


@pytest.fixture
def run(house, clock) -> dict[str, Any]:
    """The lawn's run, at the time at which it begins."""
    (run,) = house.lawn()["runs"]
    clock.now = dt.datetime.fromisoformat(run["start"])
    return dict(run)


def test_a_run_is_announced_once(client, run):
    address = f"{BASE}/lawn/{run['id']}"
    running = {"started_at": run["start"], "outcome": "running"}
    announced = client.put(address, json=running, headers=NEW)

    assert (announced.status_code, announced.headers["Location"]) == (201, address)
    assert announced.json["run"] == {limit: run[limit] for limit in ("volume_l", "run_time_s", "max_open_s")}
    again = client.put(address, json=running, headers=NEW)
    assert (again.status_code, again.json["type"]) == (412, "/problems/already-begun")


def test_a_report_without_precondition_may_be_repeated(client):
    first, second = client.put(f"{BASE}/lawn/can", json=DONE), client.put(f"{BASE}/lawn/can", json=DONE)

    assert (first.status_code, second.status_code) == (201, 200)
    assert "Location" not in second.headers
    assert first.json == second.json


@pytest.mark.parametrize(
    ("address", "body", "status", "problem"),
    [
        ("lawn/2026-07-15-lawn-9", {"started_at": AT, "outcome": "running"}, 409, "run-not-open"),
        ("lawn/can", {**DONE, "volume_l": 6}, 409, "delivery-conflict"),
        ("pond/can", DONE, 404, "zone-not-found"),
        ("lawn/ahead", {**DONE, "started_at": "2026-07-14T21:06:00+02:00"}, 422, "invalid-request"),
    ],
)
def test_what_may_not_be_reported_is_refused(client, address, body, status, problem):
    client.put(f"{BASE}/lawn/can", json=DONE)
    refused = client.put(f"{BASE}/{address}", json=body)

    assert (refused.status_code, refused.json["type"]) == (status, f"/problems/{problem}")


def test_a_report_that_cannot_be_is_refused_before_it_is_looked_at(client):
    refused = client.put(f"{BASE}/lawn/can", json={**DONE, "volume_l": "5"})

    assert refused.status_code == 422
    assert refused.json["errors"] == [
        {"pointer": "/volume_l", "detail": 'volume_l is "5"; it must be a number from 0 to 10000000.'}
    ]
    assert client.get(f"{BASE}/lawn/can").status_code == 404


def test_another_if_none_match_than_any_is_refused(client):
    assert client.put(f"{BASE}/lawn/can", json=DONE, headers={"If-None-Match": '"x"'}).status_code == 422


def test_a_report_is_read_and_taken_back(client):
    kept = client.put(f"{BASE}/lawn/can", json=DONE)

    assert client.get(f"{BASE}/lawn/can").json == kept.json
    deleted = client.delete(f"{BASE}/lawn/can")
    assert (deleted.status_code, deleted.data) == (204, b"")
    for gone in (client.get(f"{BASE}/lawn/can"), client.delete(f"{BASE}/lawn/can")):
        assert (gone.status_code, gone.json["type"]) == (404, "/problems/delivery-not-found")


def listed(client, query: str = "") -> tuple[list[str], str | None]:
    body = client.get(f"{BASE}?{query}").json
    return [delivery["id"] for delivery in body["deliveries"]], body["next"]


def test_reports_are_listed_by_date_page_by_page(client):
    for day in (14, 12, 13):
        started_at = f"2026-07-{day}T12:00:00+02:00"
        assert (
            client.put(f"{BASE}/lawn/can-{day}", json={**DONE, "started_at": started_at}).status_code == 201
        )
    dates = [delivery["date"] for delivery in client.get(BASE).json["deliveries"]]

    assert dates == sorted(dates)
    assert listed(client) == (["can-12", "can-13", "can-14"], None)
    assert listed(client, f"from={dates[1]}&to={dates[1]}") == (["can-13"], None)
    first, further = listed(client, "limit=2")
    assert (first, further) == (["can-12", "can-13"], f"{dates[1]}/lawn/can-13")
    assert listed(client, f"limit=500&after={further}") == (["can-14"], None)


def test_a_batch_is_answered_with_problems_that_point_into_it(client):
    client.put(f"{BASE}/lawn/hose", json=DONE)
    batch = [
        {"zone": "lawn", "id": "can", **DONE},
        {"zone": "lawn", "id": "tub", **DONE, "volume_l": -1},
        {"zone": "lawn", "id": "hose", **DONE, "volume_l": 6},
        {"zone": "no zone", "id": "can"},
    ]
    answered = client.post(BASE, json={"deliveries": batch})

    assert answered.status_code == 200
    kept, refused, conflict, unread = answered.json["deliveries"]
    assert kept == {
        "zone": "lawn",
        "id": "can",
        "result": "kept",
        "delivery": client.get(f"{BASE}/lawn/can").json,
        "problem": None,
    }
    assert refused["problem"]["errors"] == [
        {
            "pointer": "/deliveries/1/volume_l",
            "detail": "volume_l is -1; it must be a number from 0 to 10000000.",
        }
    ]
    assert (conflict["result"], conflict["problem"]["status"], conflict["delivery"]) == (
        "conflict",
        409,
        None,
    )
    assert (unread["zone"], unread["id"], unread["result"]) == (None, "can", "refused")


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        (
            "from=2026-07-31&to=2026-07-01",
            "to is 2026-07-01, which is before from, 2026-07-31; it must not be.",
        ),
        ("from=July", 'from is "July"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.'),
        (
            "after=lawn",
            'after is "lawn"; it must be next of another page, as '
            "2026-07-15/fescue-lawn/2026-07-15-fescue-lawn-1.",
        ),
        ("limit=501", 'limit is "501"; it must be a whole number from 1 to 500.'),
        ("since=2026-07-01", '"since" is not a query parameter here.'),
    ],
)
def test_a_span_that_cannot_be_is_refused(client, query, sentence):
    refused = client.get(f"{BASE}?{query}")

    assert (refused.status_code, refused.json["detail"]) == (422, sentence)


def test_the_run_of_a_zone_with_the_longest_id_has_an_address(client):
    zone = "z" * 64
    answer = client.put(f"{BASE}/{zone}/2026-07-15-{zone}-12", json=DONE)

    assert answer.json["type"] == "/problems/zone-not-found"
