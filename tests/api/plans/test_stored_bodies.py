"""What is stored is read in every format that was ever written, and in no other."""

import datetime as dt
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest
from sqlalchemy import insert

from api.http import problems
from api.schemas.stored_bodies import (
    delivery_body,
    final_body,
    opening_body,
    read_delivery,
    read_final,
    read_opening,
)
from api.store.outages import OutageLog
from api.store.rows import StoredDelivery
from api.store.tables import OPENINGS
from tests.api.stored_garden import Clock, House, Steady, document

WITHOUT_FORMAT = orjson.loads(Path(__file__).with_name("stored_without_format.json").read_bytes())
"""A garden of three zones as the release before there were formats stored it, with the plans that it answered
at some moments. In it are runs that were reported in every way, cut, withdrawn or never reported."""


@pytest.fixture
def house(database_url: str) -> Iterator[House]:
    """A house of this release on what that release stored."""
    clock = Clock(dt.datetime.fromisoformat(WITHOUT_FORMAT["created_at"]))
    house = House(database_url, clock, Steady(clock))
    stored = house.put(WITHOUT_FORMAT["document"])
    with house.store.changing("orchard") as change:
        for row in WITHOUT_FORMAT["finals"]:
            date, made_at = dt.date.fromisoformat(row["date"]), dt.datetime.fromisoformat(row["made_at"])
            change.keep_final(date, made_at, row["body"])
        for row in WITHOUT_FORMAT["deliveries"]:
            date = dt.date.fromisoformat(row["date"])
            change.put_report(StoredDelivery(row["zone"], row["id"], date, row["body"]))
    values = {"garden_id": "orchard", "document_version": stored.document_version}
    with house.store.writing() as connection:
        connection.execute(insert(OPENINGS).values(**values, body=WITHOUT_FORMAT["opening"]))
    yield house
    house.close()


def test_bodies_without_a_format_give_the_answers_that_they_gave(house: House) -> None:
    states = set()
    for asked, expected in WITHOUT_FORMAT["answers"].items():
        moment, date = asked.split()
        house.clock.now = dt.datetime.fromisoformat(moment)
        assert _written(house.plan(date)) == _written(_renamed(expected)), asked
        house.settle()
        states |= {run["state"] for zone in expected["zones"] for run in zone["runs"]}
    assert states == {"done", "running", "no-water", "lost-contact", "withdrawn", "to-do", "unreported"}


def _renamed(plan: dict[str, Any]) -> dict[str, Any]:
    """With the names that this release has."""
    names = {"status": "phase", "state": "carry_over"}
    return {names.get(name, name): value for name, value in plan.items()}


def _written(plan: dict[str, Any]) -> bytes:
    """In what order the members come is part of an answer."""
    return orjson.dumps(plan)


def test_bodies_without_a_format_are_written_again_as_they_were_with_number_and_new_names() -> None:
    for row in WITHOUT_FORMAT["finals"]:
        kept = read_final(dt.date.fromisoformat(row["date"]), row["body"], "orchard")
        assert orjson.dumps(final_body(kept)) == orjson.dumps({"format": 2, **_renamed(row["body"])})
    for row in WITHOUT_FORMAT["deliveries"]:
        date = dt.date.fromisoformat(row["date"])
        report = read_delivery(row["zone"], row["id"], date, row["body"], "orchard")
        assert orjson.dumps(delivery_body(report)) == orjson.dumps({"format": 2, **row["body"]})
    opening = read_opening(WITHOUT_FORMAT["opening"], "orchard")
    assert opening_body(opening) == {"format": 2, **WITHOUT_FORMAT["opening"]}


def test_bodies_with_this_format_are_read_as_those_without() -> None:
    for row in WITHOUT_FORMAT["finals"]:
        date = dt.date.fromisoformat(row["date"])
        numbered = {"format": 1, **row["body"]}
        assert read_final(date, numbered, "orchard").plan == read_final(date, row["body"], "orchard").plan


def _final_of_tomorrow(house: House) -> None:
    with house.store.changing("orchard") as change:
        body = change.final(dt.date(2026, 7, 14))
        change.replace_final(dt.date(2026, 7, 14), {**body, "format": 3})


def _delivery_of_tomorrow(house: House) -> None:
    with house.store.changing("orchard") as change:
        report = house.store.deliveries("orchard", None, None)[0]
        change.put_report(
            StoredDelivery(report.zone, report.id, report.date, {**report.body, "format": "two"})
        )


def _opening_of_tomorrow(house: House) -> None:
    version = house.put(WITHOUT_FORMAT["document"]).document_version
    house.store.keep_opening("orchard", version, {**WITHOUT_FORMAT["opening"], "format": 3})


@pytest.mark.parametrize(
    ("spoil", "named"),
    [
        (_final_of_tomorrow, "the final plan of 2026-07-14"),
        (_delivery_of_tomorrow, 'the delivery "2026-07-11-beds-1"'),
        (_opening_of_tomorrow, "the first guess of its soil"),
    ],
)
def test_an_unknown_format_is_a_503_of_its_garden_alone_and_named_in_the_log(
    house: House, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch, spoil: Any, named: str
) -> None:
    monkeypatch.setattr(problems, "outage_log", OutageLog())
    house.put({**document(), "id": "neighbour"})
    spoil(house)
    client = house.client()
    house.clock.to(12, day=14)
    logged = []
    for path in ("plan", "plan/lawn", "usage", "alerts", "ledger/lawn"):
        caplog.clear()
        with caplog.at_level(logging.ERROR):
            answer = client.get(f"/v1/gardens/orchard/{path}")
        assert (answer.status_code, answer.json["type"]) == (503, "/problems/unknown-format"), path
        assert '"orchard"' in answer.json["detail"]
        assert named in answer.json["detail"]
        logged += [record.getMessage() for record in caplog.records]
        assert logged == [answer.json["detail"]]  # once, whoever asks again within a minute
        assert client.get(f"/v1/gardens/neighbour/{path}").status_code == 200, path
        house.settle()
