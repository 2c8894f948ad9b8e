"""How much of a date's water a probe can have seen."""

import datetime as dt

import pytest

from api.reports.measurements import readings_beside_water
from api.schemas.moisture import Morning
from scheduling.garden.reports import MorningReading
from scheduling.plan.final_plan import FinalPlan, FinalRun, FinalZone, Report, WaterRecord

JULY_15 = dt.date(2026, 7, 15)
RUN = "2026-07-15-lawn-1"


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(f"2026-07-15T{text}:00+00:00")


def final(*, is_withdrawn: bool = False) -> FinalPlan:
    run = FinalRun(RUN, at("03:00"), 400.0, 3600, 4530, is_withdrawn)
    zone = FinalZone("lawn", "water", 400.0, 3600, 8.0, 8.0, (run,), ())
    return FinalPlan(JULY_15, at("00:00"), at("06:00"), 400.0, None, (zone,))


def report(volume_l: float | None = 400.0, *, report_id: str = RUN, **more) -> Report:
    told = {"started_at": at("03:00"), "outcome": "done", "volume_l": volume_l, **more}
    return Report("lawn", report_id, JULY_15, **told)


def share(read_at, finals=(), reports=(), counts_unreported=True, zone="lawn") -> float:
    morning = Morning(MorningReading(zone, "probe", JULY_15, store_share=0.5), read_at)
    rule = "as-planned" if counts_unreported else "none"
    record = WaterRecord({plan.date: plan for plan in finals}, reports, rule)
    (reading,) = readings_beside_water([morning], record)
    return reading.water_share


@pytest.mark.parametrize(("time", "come"), [("02:00", 0.0), ("03:15", 0.25), ("04:00", 1.0), ("05:00", 1.0)])
def test_a_run_comes_evenly_from_its_start_to_its_end(time, come):
    ended = report(ended_at=at("04:00"))
    assert share(at(time), [final()], [ended]) == pytest.approx(come)
    assert share(at(time), [final()], [report()]) == pytest.approx(come)  # its end follows from its plan
    assert share(at(time), [final()], []) == pytest.approx(come)  # nobody reported it


def test_several_count_by_their_litres():
    by_hand = report(1200.0, report_id="by-hand", started_at=at("01:00"))
    assert share(at("02:00"), [final()], [report(), by_hand]) == pytest.approx(0.75)


def test_without_water_nothing_is_still_to_come():
    assert share(at("02:00")) == 1.0
    assert share(at("02:00"), [final()], zone="beds") == 1.0
    assert share(at("02:00"), [final(is_withdrawn=True)]) == 1.0
    assert share(at("02:00"), [final()], counts_unreported=False) == 1.0
    assert share(at("02:00"), [final()], [report(0.0)]) == 1.0
    assert share(at("02:00"), [final()], [report(None, outcome="no-water")]) == 1.0


def test_a_morning_of_which_the_moment_was_not_kept_is_taken_as_after_the_water():
    assert share(None, [final()]) == 1.0
