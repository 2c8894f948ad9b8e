"""Reports of water: announced, completed once, told again, taken back."""

import datetime as dt
from typing import Any

import pytest

from api.errors import (
    AlreadyBegun,
    DeliveryConflict,
    DeliveryNotFound,
    GardenNotFound,
    InvalidRequest,
    RunNotOpen,
    ZoneNotFound,
)
from api.reports.records import Outcome, Page, ReportName
from api.routes.reports import DELIVERIES
from scheduling.plan.final_plan import FinalRun, Report, run_date
from tests.api.stored_garden import EVENING, JULY_15, House, document, lawn
from tests.together import together

MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def house(house, clock) -> House:
    """That garden with the final plan of 15 July, at 21:00 the evening before."""
    clock.to(21)
    house.plan()
    return house


@pytest.fixture
def run(house, clock) -> dict[str, Any]:
    """The lawn's run, at the time at which it begins."""
    (run,) = house.lawn()["runs"]
    clock.now = dt.datetime.fromisoformat(run["start"])
    return dict(run)


def kept(house: House, report_id: str) -> dict[str, Any]:
    return dict(house.reports.get("orchard", ReportName("lawn", report_id)))


# Announcing


def test_an_announced_run_is_new_once(house, run):
    assert house.report(run["id"], "running", new=True)
    assert kept(house, run["id"])["counted_l"] == run["volume_l"]


def test_a_second_controller_is_told_that_it_has_begun(house, run):
    house.report(run["id"], "running", new=True)
    with pytest.raises(AlreadyBegun, match="do not open the valve"):
        house.report(run["id"], "running", new=True)


def test_a_run_that_is_done_has_begun_too(house, run):
    house.report(run["id"], "done", 100.0)
    with pytest.raises(AlreadyBegun):
        house.report(run["id"], "running", new=True)


def test_one_of_many_controllers_that_announce_at_once_may_open(house, run):
    def announce(_: int) -> bool:
        try:
            return house.report(run["id"], "running", new=True)
        except AlreadyBegun:
            return False

    assert sorted(together(6, announce)) == [False] * 5 + [True]


def test_announcing_again_without_asking_to_be_first_changes_nothing(house, run, clock):
    house.report(run["id"], "running")
    began_at = kept(house, run["id"])["started_at"]
    clock.now += MINUTE
    assert not house.report(run["id"], "running")
    assert kept(house, run["id"])["started_at"] == began_at


def test_a_draft_s_run_stays_shut(house, clock):
    clock.to(8, day=15)
    (drafted,) = house.lawn()["runs"]
    with pytest.raises(RunNotOpen, match="stays shut"):
        house.report(drafted["id"], "running", new=True)
    assert house.reported() == []


@pytest.mark.parametrize(
    "report_id", ["2026-07-15-lawn-2", "2026-07-15-pond-1", "2026-07-14-lawn-1", "by-hand"]
)
def test_what_is_no_run_of_a_final_plan_stays_shut(house, run, report_id):
    with pytest.raises(RunNotOpen):
        house.report(report_id, "running", new=True)


def test_a_run_stays_shut_before_its_start_except_for_what_clocks_may_differ(house, run, clock):
    clock.now = dt.datetime.fromisoformat(run["start"]) - 6 * MINUTE
    with pytest.raises(RunNotOpen, match="its start is 2026-07-15T0"):
        house.report(run["id"], "running", new=True)
    clock.now += 2 * MINUTE
    assert house.report(run["id"], "running", new=True)


def test_after_the_hours_a_run_stays_shut(house, run, clock):
    clock.to(6, 30, day=15)
    with pytest.raises(RunNotOpen, match="hours ended at 2026-07-15T06:"):
        house.report(run["id"], "running", new=True)


def test_a_run_whose_limit_has_passed_is_not_begun_though_the_hours_last(house, clock):
    hours = {"watering_hours": [{"from": "22:00", "to": "04:00"}, {"from": "12:00", "to": "13:00"}]}
    clock.to(12, day=12)
    place = document(rules=hours)
    with house.store.changing("orchard") as change:
        change.delete()
    house.put(place)
    clock.to(21)
    (run,) = house.lawn()["runs"]
    limit = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["max_open_s"])
    clock.now = limit
    assert house.lawn()["runs"][0]["state"] == "unreported"
    with pytest.raises(RunNotOpen, match="had to be over by"):
        house.report(run["id"], "running", new=True)
    clock.now = limit - MINUTE
    assert house.report(run["id"], "running", new=True)


# Completing


def test_the_same_id_completes_it_once(house, run, clock):
    house.report(run["id"], "running", new=True)
    began = clock()
    clock.now += 20 * MINUTE
    assert not house.report(run["id"], "done", 333.3, at=began, ended_at=clock())
    read = kept(house, run["id"])
    assert (read["outcome"], read["volume_l"], read["counted_l"], read["date"]) == (
        "done",
        333.3,
        333.3,
        "2026-07-15",
    )


def test_the_same_again_is_fine_and_changes_nothing(house, run, clock):
    began = clock()
    assert house.report(run["id"], "done", 333.3, at=began)
    version = house.store.garden("orchard").version
    clock.now += MINUTE
    assert not house.report(run["id"], "done", 333.3, at=began)
    assert house.store.garden("orchard").version == version


@pytest.mark.parametrize(
    ("outcome", "volume_l"), [("done", 333.4), ("stopped", 333.3), ("done", None), ("running", None)]
)
def test_other_content_after_that_is_a_conflict(house, run, clock, outcome, volume_l):
    began = clock()
    house.report(run["id"], "done", 333.3, at=began)
    with pytest.raises(DeliveryConflict, match="delete it first"):
        house.report(run["id"], outcome, volume_l, at=began)
    assert kept(house, run["id"])["volume_l"] == 333.3


def test_contact_that_was_lost_may_come_back(house, run, clock):
    house.report(run["id"], "running", new=True)
    house.report(run["id"], "lost-contact", None)
    assert kept(house, run["id"])["counted_l"] == run["volume_l"]
    house.report(run["id"], "done", 300.0)
    assert kept(house, run["id"])["counted_l"] == 300.0


def test_a_deleted_report_may_be_sent_anew(house, run):
    house.report(run["id"], "done", 100.0)
    house.report_again(run["id"], "stopped", 50.0)
    assert kept(house, run["id"])["outcome"] == "stopped"


def test_what_is_not_there_cannot_be_deleted(house):
    with pytest.raises(DeliveryNotFound):
        house.reports.delete("orchard", ReportName("lawn", "never"))
    with pytest.raises(GardenNotFound):
        house.reports.delete("nowhere", ReportName("lawn", "never"))
    with pytest.raises(DeliveryNotFound):
        house.reports.get("orchard", ReportName("lawn", "never"))


# What may be told


@pytest.mark.parametrize("report_id", ["2026-07-15-lawn-1", "by-hand"])
def test_the_future_is_refused_beyond_a_few_minutes_of_clock(house, run, clock, report_id):
    with pytest.raises(InvalidRequest, match="has not come yet") as refused:
        house.report(report_id, "done", 5.0, at=clock() + 6 * MINUTE)
    assert refused.value.problems[0].pointer == "/started_at"
    assert house.report(report_id, "done", 5.0, at=clock() + 4 * MINUTE)


def test_an_end_in_the_future_is_refused_too(house, run, clock):
    with pytest.raises(InvalidRequest, match="has not come yet") as refused:
        house.report(run["id"], "done", 5.0, ended_at=clock() + 10 * MINUTE)
    assert refused.value.problems[0].pointer == "/ended_at"


def test_water_that_no_run_planned_needs_litres(house, run):
    with pytest.raises(InvalidRequest, match="give litres") as refused:
        house.report("by-hand", "done", None)
    assert refused.value.problems[0].pointer == "/volume_l"
    assert house.report("by-hand-2", "no-water", None)
    assert kept(house, "by-hand-2")["counted_l"] == 0.0


def test_water_that_flowed_is_kept_though_its_plan_was_never_final(house, clock):
    clock.to(8, day=15)
    (drafted,) = house.lawn()["runs"]
    assert house.report(drafted["id"], "done", 80.0)
    assert kept(house, drafted["id"])["date"] == "2026-07-15"  # by its own time, before 15:00


def test_gardens_and_zones_that_are_not_there_take_no_reports(house):
    with pytest.raises(ZoneNotFound):
        house.report("by-hand", "done", 5.0, zone="pond")
    with house.store.changing("orchard") as change:
        change.delete()
    with pytest.raises(GardenNotFound):
        house.report("by-hand", "done", 5.0)


def test_water_of_a_zone_that_was_taken_out_is_not_lost(house, run, clock):
    house.put(document(zones={"hedge": lawn()}))
    assert house.report(run["id"], "done", 5.0)  # its final plan had it
    assert house.report("by-hand", "done", 5.0, at=clock() - dt.timedelta(days=1))  # it has reports
    assert [report["id"] for report in house.reported()] == ["by-hand", run["id"]]
    with pytest.raises(ZoneNotFound):
        house.report("by-hand", "done", 5.0, zone="pond")


def test_a_zone_that_was_never_planned_and_is_gone_takes_no_reports(house, clock):
    house.put(document(zones={"hedge": lawn()}))
    with pytest.raises(ZoneNotFound):
        house.report("by-hand", "done", 5.0, at=clock() - dt.timedelta(days=3))


def test_reports_are_listed_by_their_dates(house, run, clock):
    house.report(run["id"], "done", 100.0)
    house.report("can", "done", 5.0, at=clock() - dt.timedelta(days=3))
    everything = house.reported()
    assert [report["id"] for report in everything] == ["can", run["id"]]
    only = house.reported(dt.date(2026, 7, 15), dt.date(2026, 7, 15))
    assert [report["id"] for report in only] == [run["id"]]


# What can have flowed


def test_more_water_than_any_tap_gives_is_refused_in_words(house, clock):
    began = clock() - 30 * MINUTE
    with pytest.raises(InvalidRequest, match="at most 2475 l can have flowed") as refused:  # 11 min of 225 l
        house.report("by-hand", "done", 2476.0, at=began, ended_at=began + 10 * MINUTE)
    assert refused.value.problems[0].pointer == "/volume_l"
    assert house.report("by-hand", "done", 2474.0, at=began, ended_at=began + 10 * MINUTE)


def test_without_an_end_it_has_flowed_until_now_at_the_longest(house, clock):
    with pytest.raises(InvalidRequest, match=r"without ended_at, by now, at most 7875 l"):  # 35 min
        house.report("by-hand", "done", 7876.0, at=clock() - 30 * MINUTE)
    assert house.report("by-hand", "done", 7874.0, at=clock() - 30 * MINUTE)


def test_what_is_unlikely_is_kept_and_marked_and_counts(house, clock):
    """The lawn's sprinkler passes 20 l/min: 11 minutes at twice that are 440 l."""
    began = clock() - 30 * MINUTE
    house.report("likely", "done", 440.0, at=began, ended_at=began + 10 * MINUTE)
    house.report("unlikely", "done", 441.0, at=began, ended_at=began + 10 * MINUTE)
    assert "unlikely" not in kept(house, "likely")
    assert (kept(house, "unlikely")["unlikely"], kept(house, "unlikely")["counted_l"]) == (True, 441.0)


def test_an_unlikely_report_may_be_sent_again_even_when_it_has_become_likely(house, clock):
    began = clock() - 30 * MINUTE
    house.report("hose", "done", 441.0, at=began, ended_at=began + 10 * MINUTE)
    house.put(document(zones={"lawn": lawn(watering={"method": "overhead-spray", "flow_l_min": 40})}))
    assert not house.report("hose", "done", 441.0, at=began, ended_at=began + 10 * MINUTE)


def test_a_run_is_held_against_the_flow_that_it_was_planned_with(house, run, clock):
    house.put(document(zones={"lawn": lawn(watering={"method": "drip-line", "flow_l_min": 2})}))
    ended = clock() + dt.timedelta(seconds=run["run_time_s"])
    began, clock.now = clock(), ended
    house.report(run["id"], "done", run["volume_l"], at=began, ended_at=ended)
    assert "unlikely" not in kept(house, run["id"])


# Many at once


def named(report_id: str, at: dt.datetime, zone: str = "lawn", **told: Any) -> dict[str, Any]:
    outcome = {"outcome": "done", "volume_l": 5.0, **told}
    return {"zone": zone, "id": report_id, "started_at": at.isoformat(), **outcome}


def batch(house: House, *reports: Any) -> list[Outcome]:
    return house.report_all(reports)


def test_each_of_a_batch_is_answered_in_order_and_none_spoils_another(house, run, clock):
    at = clock()
    house.report("twice", "done", 5.0, at=at)
    house.report("other", "done", 6.0, at=at)
    answered = batch(
        house,
        named("new", at),
        named("twice", at),
        named("other", at),
        named("ahead", at + 6 * MINUTE),
        named("nowhere", at, zone="pond"),
        named("less", at, volume_l=-1),
        "no report",
        named(run["id"], at, outcome="lost-contact", volume_l=None),
        named("last", at),
    )
    assert [outcome.result for outcome in answered] == [
        "kept", "known", "conflict", "refused", "refused", "refused", "refused", "kept", "kept"
    ]  # fmt: skip
    assert [outcome.name["id"] for outcome in answered[-4:]] == ["less", None, run["id"], "last"]
    assert isinstance(answered[4].error, ZoneNotFound)
    assert answered[5].error.problems[0].pointer == "/volume_l"
    assert {report["id"] for report in house.reported()} == {"new", "twice", "other", run["id"], "last"}


def test_reports_of_one_id_in_a_batch_follow_each_other(house, run, clock):
    at = clock()
    answered = batch(
        house,
        named(run["id"], at, outcome="lost-contact", volume_l=None),
        named(run["id"], at, volume_l=300.0),
        named(run["id"], at, volume_l=300.0),
        named(run["id"], at, volume_l=301.0),
    )
    assert [outcome.result for outcome in answered] == ["kept", "kept", "known", "conflict"]
    assert kept(house, run["id"])["volume_l"] == 300.0


def test_a_batch_is_one_change(house, clock):
    before = house.store.garden("orchard").version
    batch(house, *(named(f"can-{number}", clock()) for number in range(500)))
    assert house.store.garden("orchard").version == before + 1
    assert len(house.reported()) == 500


def test_a_batch_sent_again_is_known_and_changes_nothing(house, clock):
    reports = [named(f"can-{number}", clock()) for number in range(3)]
    batch(house, *reports)
    version = house.store.garden("orchard").version
    assert [outcome.result for outcome in batch(house, *reports)] == ["known"] * 3
    assert house.store.garden("orchard").version == version


@pytest.mark.parametrize("listed", [[], [{}] * 501, None, "x", {}])
def test_a_batch_is_a_list_of_one_to_five_hundred(listed):
    with pytest.raises(InvalidRequest):
        DELIVERIES.read_batch({"deliveries": listed})


# Pages


def test_pages_hold_everything_once_whatever_comes_meanwhile(house, clock):
    for number in range(10):
        house.report(f"can-{number}", "done", 5.0, at=clock() - dt.timedelta(days=number % 3))
    whole = [report["id"] for report in house.reported()]
    read, after = [], None
    while True:
        page, after = house.reports.listed("orchard", Page(None, None, after, 3))
        read += [report["id"] for report in page]
        if after is None:
            break
        # Before and behind the place that has been reached.
        house.report(f"a-{len(read)}", "done", 5.0, at=clock() - dt.timedelta(days=5))
    assert read == whole


# Ids


@pytest.mark.parametrize(
    ("zone", "report_id", "date"),
    [
        ("lawn", "2026-07-15-lawn-1", dt.date(2026, 7, 15)),
        ("lawn-2", "2026-07-15-lawn-2-1", dt.date(2026, 7, 15)),
        ("lawn", "2026-07-15-lawn-2-1", None),
        ("lawn", "2026-02-30-lawn-1", None),
        ("lawn", "2026-07-15-lawn", None),
        ("lawn", "by-hand", None),
    ],
)
def test_a_run_s_id_tells_its_date(zone, report_id, date):
    assert run_date(zone, report_id) == date


@pytest.mark.parametrize(
    ("outcome", "volume_l", "planned_l", "litres"),
    [
        ("done", 12.5, 20.0, 12.5),
        ("done", 0.0, 20.0, 0.0),
        ("running", None, 20.0, 20.0),
        ("lost-contact", None, 20.0, 20.0),
        ("no-water", None, 20.0, 0.0),
        ("no-water", 3.0, 20.0, 3.0),
        ("done", None, None, 0.0),
    ],
)
def test_a_report_counts_by_its_litres_or_else_as_planned(outcome, volume_l, planned_l, litres):
    planned = None if planned_l is None else FinalRun("2026-07-15-lawn-1", EVENING, planned_l, 60, 105)
    assert Report("lawn", "1", JULY_15, EVENING, outcome, volume_l).counted_l(planned) == litres
