"""The state of each run of a final plan at a moment, what was delivered, and what remains."""

import datetime as dt

import pytest

from scheduling.plan.final_plan import FinalPlan, FinalRun, FinalZone, Report, WaterRecord, run_date, standing

JULY_15 = dt.date(2026, 7, 15)
MIDNIGHT = dt.datetime(2026, 7, 15, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
RUN = FinalRun("2026-07-15-lawn-1", MIDNIGHT + HOUR, 400.0, 1200, 1530)
LATER = FinalRun("2026-07-15-lawn-2", MIDNIGHT + 2 * HOUR, 100.0, 300, 405)


def plan(*runs: FinalRun) -> FinalPlan:
    litres, seconds = sum(run.volume_l for run in runs), sum(run.run_time_s for run in runs)
    zone = FinalZone("lawn", "water", litres, seconds, 10.0, 10.0, runs, ())
    return FinalPlan(JULY_15, MIDNIGHT - HOUR, MIDNIGHT + 6 * HOUR, litres, None, (zone,))


def report(outcome, volume_l=None, report_id=RUN.id, zone="lawn") -> Report:
    return Report(zone, report_id, JULY_15, RUN.start, outcome, volume_l)


@pytest.mark.parametrize(
    ("run", "told", "seconds", "state"),
    [
        (RUN, None, -1, "to-do"),
        (RUN, None, RUN.max_open_s - 1, "to-do"),
        (RUN, None, RUN.max_open_s, "unreported"),
        (RUN, report("running"), 10, "running"),
        (RUN, report("running"), RUN.max_open_s, "running"),
        (RUN, report("done", 390.0), RUN.max_open_s, "done"),
        (RUN, report("no-water"), 10, "no-water"),
        (RUN._replace(is_withdrawn=True), None, RUN.max_open_s, "withdrawn"),
        (RUN._replace(is_withdrawn=True), report("done", 5.0), 10, "done"),
    ],
)
def test_a_run_is_what_its_report_says_else_by_its_limit(run, told, seconds, state):
    assert run.state(told, RUN.start + dt.timedelta(seconds=seconds)) == state


def test_what_was_delivered_and_what_remains_follow_from_the_states():
    water = [report("running"), report("done", 30.0, "with-the-can"), report("done", 7.0, "1", zone="beds")]
    seen = standing(plan(RUN, LATER), water, RUN.start)
    (lawn,) = seen.zones
    assert (lawn.delivered_l, lawn.remaining_l) == (430.0, 100.0)
    # Next the announced run reaches its limit, then the other one, then the hours end.
    assert seen.changes_at == RUN.limit
    seen = standing(plan(RUN, LATER), water, RUN.limit)
    assert [run.is_overdue for run in seen.zones[0].runs] == [True, False]
    assert seen.changes_at == LATER.limit
    assert standing(plan(RUN, LATER), water, LATER.limit).changes_at == MIDNIGHT + 6 * HOUR
    seen = standing(plan(RUN, LATER), water, MIDNIGHT + 6 * HOUR)
    assert (seen.is_over, seen.zones[0].remaining_l, seen.changes_at) == (True, 0.0, None)


EARLIER = JULY_15 - dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("rule", "told_on", "counts_unreported"),
    [
        ("as-planned", EARLIER, True),
        ("none", None, False),
        ("auto", None, True),
        ("auto", EARLIER, False),
        ("auto", JULY_15 + dt.timedelta(days=1), True),
    ],
)
def test_a_run_that_nobody_reported_counts_from_its_limit_on_only_as_the_owner_says(
    rule, told_on, counts_unreported
):
    told = [] if told_on is None else [Report("lawn", f"{told_on}-lawn-1", told_on, RUN.start, "no-water")]
    record = WaterRecord({JULY_15: plan(RUN, LATER._replace(is_withdrawn=True))}, told, rule)
    tomorrow = JULY_15 + dt.timedelta(days=1)
    waiting, moments = record.deliveries(tomorrow, RUN.start)
    assert [delivery.volume_l for delivery in waiting if delivery.volume_l] == [400.0]
    assert moments == ([] if counts_unreported else [RUN.limit])
    over, _ = record.deliveries(tomorrow, RUN.limit)
    assert sum(delivery.volume_l for delivery in over) == (400.0 if counts_unreported else 0.0)
    assert sum(delivery.volume_l for delivery in record.deliveries(JULY_15, RUN.limit)[0]) == 0.0


def test_a_run_that_waits_for_a_turn_waits_as_long_as_the_hours_last():
    waits = RUN._replace(until=MIDNIGHT + 6 * HOUR)
    assert waits.state(None, RUN.limit) == "to-do"
    assert waits.state(None, MIDNIGHT + 6 * HOUR) == "unreported"


@pytest.mark.parametrize("no_run", ["with-the-can", "2026-07-15-beds-1", "2026-02-30-lawn-1"])
def test_other_ids_have_no_date_of_a_plan(no_run):
    assert run_date("lawn", RUN.id) == JULY_15
    assert run_date("lawn", no_run) is None
