"""Whatever becomes known after a plan is final, its water to come only becomes less."""

import datetime as dt
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.plan.final_plan import FinalPlan, FinalRun, FinalZone, Report, Why
from scheduling.plan.plan import SoilWater, ZonePlan
from scheduling.plan.revision import Known, apply, find, revise, runs_to_come
from scheduling.reasons import ALLOWANCE_SPENT, SOIL_DRYING_OUT
from scheduling.reasons.watering import Easily, NextChance, SoilDryingOut, SoilFull
from scheduling.tap.allocation import AllowanceLeft
from scheduling.tap.windows import Bans, Span
from tests.scheduling.gardens import LAWN, POTS, SHRUBS, a_garden

JULY_15 = dt.date(2026, 7, 15)
MIDNIGHT = dt.datetime(2026, 7, 15, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
GARDEN = a_garden(LAWN, SHRUBS, POTS)
HOURS = Span(MIDNIGHT - 120 * MINUTE, MIDNIGHT + 480 * MINUTE)


def a_run(zone: str, number: int, start: dt.datetime, volume_l: float, run_time_s: int) -> FinalRun:
    limit_s = round(1.25 * run_time_s + 30)
    return FinalRun(f"2026-07-15-{zone}-{number}", start, volume_l, run_time_s, limit_s)


def a_plan(*zones: tuple[str, tuple[FinalRun, ...]]) -> FinalPlan:
    made = []
    for zone_id, runs in zones:
        litres, seconds = round(sum(run.volume_l for run in runs), 3), sum(run.run_time_s for run in runs)
        why = (Why(SOIL_DRYING_OUT, "It is."),)
        made.append(FinalZone(zone_id, "water", litres, seconds, 5.0, 6.0, runs, why))
    whole = sum(zone.volume_l for zone in made)
    return FinalPlan(JULY_15, MIDNIGHT - 180 * MINUTE, MIDNIGHT + 480 * MINUTE, whole, None, tuple(made))


def known(now: dt.datetime, *reports: Report) -> Known:
    return Known(GARDEN, JULY_15, [HOURS], Bans(), dt.UTC, reports, now)


def would_get(zone: str, volume_l: float) -> ZonePlan:
    """What a zone would get by now."""
    used = Easily(5.0, 10.0, None)
    reason = SoilDryingOut(used, NextChance(JULY_15, 5.0)) if volume_l else SoilFull()
    window = (int(HOURS.opens.timestamp()), int(HOURS.closes.timestamp()))
    return ZonePlan(
        zone=zone,
        name=zone,
        decision="water" if volume_l else "wait",
        volume_l=volume_l,
        run_time_s=60,
        delivered_l=0.0,
        close_by="volume",
        runs=(),
        reasons=(reason,),
        soil_water=SoilWater(0.0, 10.0, 20.0),
        net_mm=1.0,
        gross_mm=1.0,
        room_mm=0.0,
        windows=(((window),),),
    )


minutes = st.integers(-120, 480)
litres = st.floats(0.0, 700.0).map(lambda volume_l: round(volume_l, 1))


@st.composite
def runs_of(draw: st.DrawFn, zone: str) -> tuple[FinalRun, ...]:
    return tuple(
        a_run(zone, number, MIDNIGHT + start * MINUTE, round(draw(st.floats(0.5, 400.0)), 1), seconds)
        for number, (start, seconds) in enumerate(
            draw(st.lists(st.tuples(minutes, st.integers(20, 3600)), min_size=1, max_size=4)), 1
        )
    )


@st.composite
def situations(draw: st.DrawFn) -> tuple[FinalPlan, Known]:
    """A plan, some of whose runs were reported, and something that has become known of it."""
    plan = a_plan(*((zone, draw(runs_of(zone))) for zone in ("lawn", "shrubs", "gone")))
    reports = []
    for zone_id, run in plan.runs:
        outcome = draw(st.sampled_from((None, None, "running", "done", "no-water", "lost-contact")))
        if outcome is not None:
            volume_l = draw(litres) if outcome == "done" else None
            reports.append(Report(zone_id, run.id, JULY_15, run.start, outcome, volume_l))
    if draw(st.booleans()):
        reports.append(Report("lawn", "by-hand", JULY_15, MIDNIGHT, "done", draw(litres)))
    what = known(MIDNIGHT + draw(minutes) * MINUTE, *reports)
    if draw(st.booleans()):
        wanted = {zone: would_get(zone, draw(litres)) for zone in ("lawn", "shrubs")}
        what = replace(what, wanted=wanted)
    if draw(st.booleans()):
        what = replace(what, allowance=AllowanceLeft(draw(st.floats(-100.0, 900.0)), "day", 1000.0))
    garden = replace(GARDEN, unreported_watering=draw(st.sampled_from(("as-planned", "none"))))
    return plan, replace(what, garden=garden, begins=draw(st.sampled_from((None, "lawn"))))


@settings(max_examples=60, deadline=None)
@given(situations())
def test_a_revision_only_takes_water_off_runs_that_have_not_begun(situation):
    plan, what = situation
    to_come = {run.id for zone in plan.zones for run in runs_to_come(zone, what.reports, what.moment)}
    assert {operation.run for operation in find(plan, what)} <= to_come
    less = revise(plan, what)
    if less is None:
        return
    assert less != plan
    assert less.is_at_most(plan)
    assert not plan.is_at_most(less)
    before = {run.id: run for _, run in plan.runs}
    assert all(run == before[run.id] for _, run in less.runs if run.id not in to_come)


@settings(max_examples=60, deadline=None)
@given(situations())
def test_sums_and_reasons_are_those_of_the_runs_that_are_left(situation):
    plan, what = situation
    less = revise(plan, what) or plan
    for zone in less.zones:
        left = [run for run in zone.runs if not run.is_withdrawn]
        assert zone.volume_l == round(sum(run.volume_l for run in left), 3)
        assert zone.run_time_s == sum(run.run_time_s for run in left)
        assert zone.decision == ("water" if left else "wait")
        assert {run.why for run in zone.runs if run.why} <= set(zone.reasons)
    assert abs(less.volume_l - sum(zone.volume_l for zone in less.zones)) < 0.002


@settings(max_examples=60, deadline=None)
@given(situations())
def test_a_second_look_that_knows_nothing_new_takes_nothing_more(situation):
    plan, what = situation
    less = revise(plan, what)
    if less is not None:
        assert revise(less, what) is None


@settings(max_examples=60, deadline=None)
@given(situations())
def test_no_zone_gets_more_than_it_was_to_get_or_than_an_allowance_leaves(situation):
    plan, what = situation
    less = revise(plan, what) or plan
    to_come = {zone.id: runs_to_come(zone, what.reports, what.moment) for zone in less.zones}
    for zone in less.zones:
        given_l = sum(
            report.counted_l(plan.run(zone.id, report.id))
            for report in what.reports
            if report.zone == zone.id and report.id != "by-hand"
        )
        left_l = sum(run.volume_l for run in to_come[zone.id])
        planned_l = sum(run.volume_l for _, run in plan.runs if run.id.startswith(f"2026-07-15-{zone.id}"))
        assert not left_l or given_l + left_l <= planned_l + 0.006
    if what.allowance is not None:
        coming_l = sum(run.volume_l for runs in to_come.values() for run in runs)
        assert coming_l <= max(0.0, what.allowance.left_l) + 0.006


def test_operations_are_applied_in_their_order_and_an_allowance_cuts_what_need_has_left():
    run = a_run("lawn", 1, MIDNIGHT + 60 * MINUTE, 400.0, 1200)
    plan = a_plan(("lawn", (run,)))
    what = replace(
        known(MIDNIGHT),
        wanted={"lawn": would_get("lawn", 300.0)},
        allowance=AllowanceLeft(150.0, "day", 150.0),
    )
    first, second = find(plan, what)
    assert (first.volume_l, second.volume_l) == (300.0, 150.0)
    (zone,) = apply(plan, (first, second), what).zones
    (left,) = zone.runs
    assert (left.volume_l, left.planned_l, left.run_time_s, left.max_open_s) == (150.0, 400.0, 450, 593)
    assert [why.code for why in zone.reasons] == [SOIL_DRYING_OUT, "less-needed", ALLOWANCE_SPENT]
    assert left.why == zone.reasons[-1]
