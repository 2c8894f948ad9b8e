"""Deliveries: announced, completed, read and taken back."""

import datetime as dt

import pytest

from api.errors import AlreadyBegun, DeliveryConflict, InvalidRequest, RunNotOpen, ZoneNotFound
from api.reports.delivery_reports import Outcome
from api.store.rows import DeliveryKey
from scheduling.errors import Problem

RUN = "/v1/gardens/home/deliveries/lawn/2026-07-15-lawn-1"
RUNNING = {"started_at": "2026-07-15T05:15:00+02:00", "outcome": "running"}
DONE = {"started_at": "2026-07-15T05:15:00+02:00", "outcome": "done", "volume_l": 1214}


def test_a_run_is_announced_once(client, plans):
    announced = client.put(RUN, json=RUNNING, headers={"If-None-Match": "*"})
    ((_, garden, zone, delivery, report, must_be_new),) = plans.asked

    assert (announced.status_code, announced.headers["Location"]) == (201, RUN)
    assert (garden, zone, delivery) == ("home", "lawn", "2026-07-15-lawn-1")
    assert report.started_at == dt.datetime(2026, 7, 15, 3, 15, tzinfo=dt.UTC)
    assert must_be_new


def test_a_report_without_precondition_may_be_repeated(client, plans):
    first, second = client.put(RUN, json=DONE), client.put(RUN, json=DONE)

    assert (first.status_code, second.status_code) == (201, 200)
    assert "Location" not in second.headers
    assert not plans.asked[0][-1]


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (AlreadyBegun("2026-07-15-lawn-1"), 412),
        (RunNotOpen("2026-07-15-lawn-1"), 409),
        (DeliveryConflict("2026-07-15-lawn-1"), 409),
        (ZoneNotFound("lawn"), 404),
    ],
)
def test_what_may_not_be_reported_is_refused(client, plans, error, status):
    plans.error = error
    refused = client.put(RUN, json=DONE)

    assert refused.status_code == status
    assert refused.json["detail"] == str(error)


def test_a_report_that_cannot_be_is_refused_before_it_is_looked_at(client, plans):
    refused = client.put(RUN, json={**DONE, "volume_l": "1214"})

    assert refused.status_code == 422
    assert refused.json["errors"] == [
        {"pointer": "/volume_l", "detail": 'volume_l is "1214"; it must be a number from 0 to 10000000.'}
    ]
    assert plans.asked == []


def test_another_if_none_match_than_any_is_refused(client):
    assert client.put(RUN, json=DONE, headers={"If-None-Match": '"x"'}).status_code == 422


def test_a_report_is_read_and_taken_back(client):
    client.put(RUN, json=DONE)

    assert client.get(RUN).json["outcome"] == "done"
    deleted = client.delete(RUN)
    assert (deleted.status_code, deleted.data) == (204, b"")
    assert client.get(RUN).status_code == 404
    assert client.delete(RUN).status_code == 404


def test_reports_are_listed_between_two_dates(client, plans):
    client.put(RUN, json=DONE)
    listed = client.get("/v1/gardens/home/deliveries?from=2026-07-01&to=2026-07-31")

    assert [delivery["id"] for delivery in listed.json["deliveries"]] == ["2026-07-15-lawn-1"]
    span = dt.date(2026, 7, 1), dt.date(2026, 7, 31)
    assert plans.asked[-1] == ("deliveries", "home", *span, None, 100)
    client.get("/v1/gardens/home/deliveries")
    assert plans.asked[-1] == ("deliveries", "home", None, None, None, 100)


def test_a_page_says_where_the_next_one_begins(client, plans):
    client.put(RUN, json=DONE)
    plans.further = DeliveryKey(dt.date(2026, 7, 15), "lawn", "2026-07-15-lawn-1")
    following = client.get("/v1/gardens/home/deliveries?limit=1").json["next"]
    client.get(f"/v1/gardens/home/deliveries?limit=500&after={following}")

    assert plans.asked[-1] == ("deliveries", "home", None, None, plans.further, 500)


def test_a_batch_is_answered_with_problems_that_point_into_it(client, plans):
    problem = Problem("/volume_l", "volume_l is -1; it must be a number from 0 to 10000000.")
    plans.outcomes = [
        Outcome("lawn", "can", "kept", {"zone": "lawn", "id": "can"}),
        Outcome("lawn", "tub", "refused", error=InvalidRequest(problem)),
        Outcome("lawn", "hose", "conflict", error=DeliveryConflict("hose")),
    ]
    answered = client.post(
        "/v1/gardens/home/deliveries",
        json={"deliveries": [{"zone": "lawn", "id": "can", **DONE}, {"zone": "lawn", "id": "tub"}]},
    )
    ((_, garden, (read, unread)),) = plans.asked

    assert (answered.status_code, garden) == (200, "home")
    assert (read.zone, read.id, read.report.volume_l, unread.id) == ("lawn", "can", 1214, "tub")
    kept, refused, conflict = answered.json["deliveries"]
    can = {"zone": "lawn", "id": "can"}
    assert kept == {**can, "result": "kept", "delivery": can, "problem": None}
    (error,) = refused["problem"]["errors"]
    assert error == {"pointer": "/deliveries/1/volume_l", "detail": problem.detail}
    assert (conflict["problem"]["status"], conflict["delivery"]) == (409, None)


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
    refused = client.get(f"/v1/gardens/home/deliveries?{query}")

    assert (refused.status_code, refused.json["detail"]) == (422, sentence)


def test_the_run_of_a_zone_with_the_longest_id_has_an_address(client):
    zone = "z" * 64

    assert (
        client.put(f"/v1/gardens/home/deliveries/{zone}/2026-07-15-{zone}-12", json=DONE).status_code == 201
    )
