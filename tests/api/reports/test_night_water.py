"""How much of a date's water a probe can have seen."""

import datetime as dt

import pytest

from api.reports.measurements import Morning, readings_beside_water
from api.store.rows import StoredDelivery, StoredFinal
from scheduling.garden.reports import MorningReading

JULY_15 = dt.date(2026, 7, 15)
RUN = "2026-07-15-lawn-1"


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(f"2026-07-15T{text}:00+00:00")


def final(*, state: str = "to-do") -> StoredFinal:
    run = {"id": RUN, "start": at("03:00").isoformat(), "run_time_s": 3600, "volume_l": 400, "state": state}
    return StoredFinal(JULY_15, at("00:00"), {"zones": [{"zone": "lawn", "runs": [run]}]})


def report(volume_l: float | None = 400.0, *, report_id: str = RUN, **more) -> StoredDelivery:
    body = {"started_at": at("03:00").isoformat(), "outcome": "done", "volume_l": volume_l, **more}
    return StoredDelivery("lawn", report_id, JULY_15, body)


def share(read_at, finals=(), reports=(), counts_unreported=True, zone="lawn") -> float:
    morning = Morning(MorningReading(zone, "probe", JULY_15, store_share=0.5), read_at)
    (reading,) = readings_beside_water([morning], finals, reports, counts_unreported)
    return reading.water_share


@pytest.mark.parametrize(("time", "come"), [("02:00", 0.0), ("03:15", 0.25), ("04:00", 1.0), ("05:00", 1.0)])
def test_a_run_comes_evenly_from_its_start_to_its_end(time, come):
    ended = report(ended_at=at("04:00").isoformat())
    assert share(at(time), [final()], [ended]) == pytest.approx(come)
    assert share(at(time), [final()], [report()]) == pytest.approx(come)  # its end follows from its plan
    assert share(at(time), [final()], []) == pytest.approx(come)  # nobody reported it


def test_several_count_by_their_litres():
    by_hand = report(1200.0, report_id="by-hand", started_at=at("01:00").isoformat())
    assert share(at("02:00"), [final()], [report(), by_hand]) == pytest.approx(0.75)


def test_without_water_nothing_is_still_to_come():
    assert share(at("02:00")) == 1.0
    assert share(at("02:00"), [final()], zone="beds") == 1.0
    assert share(at("02:00"), [final(state="withdrawn")]) == 1.0
    assert share(at("02:00"), [final()], counts_unreported=False) == 1.0
    assert share(at("02:00"), [final()], [report(0.0)]) == 1.0
    assert share(at("02:00"), [final()], [report(None, outcome="no-water")]) == 1.0


def test_a_morning_of_which_the_moment_was_not_kept_is_taken_as_after_the_water():
    assert share(None, [final()]) == 1.0
