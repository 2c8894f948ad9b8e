"""Reports that come late, and in any order, leave the ledgers as those that came in time."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.api.stored_garden import ONE_DAY, House, document, lawn
from tests.profile import examples

FIRST = dt.datetime(2026, 7, 1, 10, tzinfo=dt.UTC)
DAYS = 8
CLOSE_MM = 1e-9
ZONES = {"lawn": lawn(), "bed": lawn(planting={"plant": "turf-cool-season", "kc": 0.8, "root_depth_m": 0.4})}


@pytest.fixture
def new_house(another_house) -> Callable[[], House]:
    def opened() -> House:
        house = another_house(FIRST)
        house.put(document(zones=ZONES))
        return house

    return opened


def told(zone: str, report_id: str, at: dt.datetime, volume_l: float | None) -> dict[str, Any]:
    outcome = "done" if volume_l is not None else "lost-contact"
    began = at.isoformat(timespec="seconds")
    return {"zone": zone, "id": report_id, "started_at": began, "outcome": outcome, "volume_l": volume_l}


def ledgers(house: House) -> list[tuple[float, ...]]:
    """Every number of every day of every zone."""
    zones = house.life.explained(house.life.garden_now("orchard")).plan.zones
    house.settle()
    return [
        tuple(value for value in row if isinstance(value, float))
        for zone in zones
        for row in zone.ledger or ()
    ]


def put(house: House, reports: list[dict[str, Any]]) -> set[str]:
    outcomes = house.report_all(reports)
    return {outcome.result for outcome in outcomes}


by_hand = st.tuples(
    st.sampled_from(sorted(ZONES)),
    st.integers(0, DAYS * 24 * 60 - 1),
    st.floats(0.0, 400.0, allow_subnormal=False),
)


@examples(6, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    hands=st.lists(by_hand, max_size=12),
    answers=st.lists(st.sampled_from(["done", "less", "unknown", "silent"]), min_size=40, max_size=40),
    shuffled=st.randoms(use_true_random=False),
)
def test_the_ledgers_are_the_same_in_whatever_order_reports_come(new_house, hands, answers, shuffled):
    in_time, late = new_house(), new_house()
    happened: list[dict[str, Any]] = []
    to_answer = iter(answers)
    for day in range(DAYS):
        morning = FIRST + day * ONE_DAY
        for number, (zone, minute, volume_l) in enumerate(hands):
            if minute // (24 * 60) == day:
                at = morning + dt.timedelta(minutes=minute % (24 * 60))
                happened.append(told(zone, f"hand-{number}", at, round(volume_l, 1)))
        in_time.clock.now = morning + dt.timedelta(hours=9, minutes=30)
        plan = in_time.plan()
        in_time.settle()
        for zone in plan["zones"]:
            for run in zone["runs"]:
                answer = next(to_answer, "silent")
                litres = {"done": run["volume_l"], "less": run["volume_l"] / 2, "unknown": None}
                if answer in litres:
                    at = dt.datetime.fromisoformat(run["start"])
                    happened.append(told(zone["zone"], run["id"], at, litres[answer]))
        ended = morning + ONE_DAY
        for report in sorted(happened, key=lambda report: report["started_at"]):
            if morning <= dt.datetime.fromisoformat(report["started_at"]) < ended:
                in_time.clock.now = ended
                assert put(in_time, [report]) <= {"kept", "known"}
                in_time.plan("tomorrow")
    in_time.clock.now = late.clock.now = FIRST + (DAYS + 1) * ONE_DAY

    for final in in_time.store.finals("orchard", None, None):
        with late.store.changing("orchard") as change:
            change.keep_final(final.date, final.made_at, final.body)
    mixed = list(happened)
    shuffled.shuffle(mixed)
    while mixed:
        some, mixed = mixed[:5], mixed[5:]
        assert put(late, some) == {"kept"}
        if shuffled.random() < 0.5:
            late.plan("tomorrow")
    expected, found = ledgers(in_time), ledgers(late)
    assert len(expected) == len(found) > 2 * DAYS
    for row, other in zip(expected, found, strict=True):
        assert other == pytest.approx(row, abs=CLOSE_MM, rel=0.0)
