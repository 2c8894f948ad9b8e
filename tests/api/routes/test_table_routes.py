"""Ledger, usage and reports of water as tables say what their JSON says."""

import csv
import io

import pytest

from tests.api.stored_garden import House

GARDEN = "/v1/gardens/orchard"


@pytest.fixture
def client(house: House):
    for number, outcome in enumerate(("done", "no-water")):
        house.report(f"by-hand-{number}", outcome, 120.0 if outcome == "done" else None, ended_at=None)
    return house.client()


def lines(client, what):
    answer = client.get(f"{GARDEN}/{what}")
    assert answer.status_code == 200, answer.text
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_the_ledger_by_path_is_the_ledger_by_format(client):
    by_path = client.get(f"{GARDEN}/ledger/lawn.csv?from=2026-07-08")

    assert by_path.data == client.get(f"{GARDEN}/ledger/lawn?format=csv&from=2026-07-08").data


def test_every_report_has_a_line(client):
    reports = client.get(f"{GARDEN}/deliveries").json["deliveries"]
    table = lines(client, "deliveries.csv")

    assert [(line["zone"], line["id"]) for line in table] == [(r["zone"], r["id"]) for r in reports]
    assert [float(line["counted_l"]) for line in table] == [r["counted_l"] for r in reports]
    assert [line["ended_at"] for line in table] == [r.get("ended_at") or "" for r in reports]


def test_every_period_and_zone_has_a_line(client):
    usage = client.get(f"{GARDEN}/usage?by=week&timer=2d:20min").json
    table = lines(client, "usage.csv?by=week&timer=2d:20min")

    told = [(period["from"], zone) for period in usage["periods"] for zone in period["zones"]]
    assert len(told) > 1
    for line, (first, zone) in zip(table, told, strict=True):
        assert (line["from"], line["zone"], line["name"]) == (first, zone["zone"], zone["name"])
        assert line["volume_l"] == ("" if zone["volume_l"] is None else str(zone["volume_l"]))
        assert float(line["timer_volume_l"]) == zone["timer"]["volume_l"]


@pytest.mark.parametrize("what", ["ledger/lawn.csv", "usage.csv", "deliveries.csv"])
def test_a_table_is_known_by_its_etag(client, what):
    etag = client.get(f"{GARDEN}/{what}").headers["ETag"]

    assert client.get(f"{GARDEN}/{what}", headers={"If-None-Match": etag}).status_code == 304


def test_a_parameter_that_only_passes_caches_is_ignored(client):
    plain = client.get(f"{GARDEN}/plan")

    assert client.get(f"{GARDEN}/plan?_=1784056800000").data == plain.data
    assert client.get(f"{GARDEN}/plan?_x=1").status_code == 422
