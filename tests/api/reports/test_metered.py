"""Which reports teach a zone's flow, and that plans go by it."""

import datetime as dt

import pytest

from scheduling.plan.final_plan import Report, WaterRecord
from tests.api.stored_garden import JULY_15, ONE_DAY

BEGUN = dt.datetime(2026, 7, 15, 3, 0, tzinfo=dt.UTC)


def report(
    report_id="2026-07-15-lawn-1", outcome="done", volume_l: float | None = 120.0, minutes: float | None = 8.0
):
    ended_at = None if minutes is None else BEGUN + dt.timedelta(minutes=minutes)
    return Report("lawn", report_id, JULY_15, BEGUN, outcome, volume_l, ended_at)


def test_a_run_with_litres_begin_and_end_is_metered():
    (run,) = WaterRecord({}, [report()]).metered()

    assert (run.zone, run.date, run.volume_l, run.open_s) == ("lawn", JULY_15, 120.0, 480)


@pytest.mark.parametrize(
    "told",
    [
        pytest.param(report(outcome="running", volume_l=None, minutes=None), id="still running"),
        pytest.param(report(outcome="lost-contact"), id="contact lost: nobody saw its end"),
        pytest.param(report(outcome="no-water"), id="no water"),
        pytest.param(report(volume_l=None), id="litres unknown"),
        pytest.param(report(minutes=None), id="end unknown"),
        pytest.param(report("with-the-can"), id="by hand"),
        pytest.param(report("2026-07-15-bed-1"), id="a run of another zone"),
    ],
)
def test_such_a_report_tells_no_flow(told):
    assert WaterRecord({}, [told]).metered() == ()


def test_what_the_controller_reports_decides_the_next_run_times(house, clock):
    assert house.lawn()["run_time_s"] == house.lawn()["volume_l"] * 3
    for back in (2, 3, 4):
        begun = clock() - back * ONE_DAY
        run_id = f"{begun.date()}-lawn-1"
        house.report(run_id, "done", 100.0, at=begun, ended_at=begun + dt.timedelta(minutes=10))

    # 100 l in ten minutes are 10 l/min, half of what is declared.
    zone = house.lawn()
    assert zone["run_time_s"] == zone["volume_l"] * 6
    assert "flow-has-drifted" in [note["code"] for note in zone["notes"]]
