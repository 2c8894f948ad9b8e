"""A turn is given only where its water stays within the hours, the tap and the plan."""

import datetime as dt
import itertools
from dataclasses import dataclass, field, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.plan.final_plan import FinalPlan, FinalRun, FinalZone, Report, Why
from scheduling.plan.turns import OPEN_WITHIN_S, Asked, Refused, Tap, Turn, ZoneAtTap, grant
from scheduling.reasons import SOIL_DRYING_OUT
from scheduling.tap.windows import Windows

DATE = dt.date(2026, 7, 15)
OPENS = dt.datetime(2026, 7, 14, 22, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
HOURS_S = 8 * 3600
OPENS_S = int(OPENS.timestamp())
ALL_NIGHT: Windows = ((OPENS_S, OPENS_S + HOURS_S),)
ONE_AT_ONCE = Tap(20.0, 1, 120)


def a_run(zone: str, number: int, minute: int, run_time_s: int, flow_l_min: float = 10.0) -> FinalRun:
    volume_l = round(flow_l_min * run_time_s / 60.0, 1)
    limit_s = round(1.25 * run_time_s + 30)
    return FinalRun(f"2026-07-15-{zone}-{number}", OPENS + minute * MINUTE, volume_l, run_time_s, limit_s)


def a_plan(**runs: tuple[FinalRun, ...]) -> FinalPlan:
    zones = []
    for zone, own in runs.items():
        litres, seconds = sum(run.volume_l for run in own), sum(run.run_time_s for run in own)
        why = (Why(SOIL_DRYING_OUT, "It is."),)
        zones.append(FinalZone(zone, "water", litres, seconds, 5.0, 6.0, own, why))
    ends = OPENS + dt.timedelta(seconds=HOURS_S)
    return FinalPlan(
        DATE, OPENS - 60 * MINUTE, ends, sum(zone.volume_l for zone in zones), None, tuple(zones)
    )


def asked(plan: FinalPlan, minute: float, *turns: Turn, tap: Tap = ONE_AT_ONCE, **zones: ZoneAtTap) -> Asked:
    at_tap = {zone.id: zones.get(zone.id, ZoneAtTap(ALL_NIGHT, 10.0, 0)) for zone in plan.zones}
    return Asked(plan, (), turns, at_tap, set(at_tap), tap, OPENS + minute * MINUTE)


def granted(what: Asked) -> Turn:
    turn = grant(what)
    assert isinstance(turn, Turn), turn
    return turn


def refused(what: Asked) -> Refused:
    answer = grant(what)
    assert isinstance(answer, Refused), answer
    return answer


LAWN_AT_TWO = a_plan(lawn=(a_run("lawn", 1, 120, 1800),))


def test_a_run_may_begin_fifteen_minutes_before_its_start_and_no_sooner():
    early = refused(asked(LAWN_AT_TWO, 104))
    assert early.why == "not-yet"
    assert early.next_at == OPENS + 105 * MINUTE
    turn = granted(asked(LAWN_AT_TWO, 105))
    assert (turn.volume_l, turn.run_time_s, turn.max_open_s) == (300.0, 1800, 2280)
    assert turn.open_by - turn.granted_at == dt.timedelta(seconds=OPEN_WITHIN_S)
    assert turn.shut_by == turn.open_by + dt.timedelta(seconds=2280)


def test_a_run_that_was_missed_is_given_later_in_the_same_hours():
    assert granted(asked(LAWN_AT_TWO, 300)).volume_l == 300.0


def test_a_run_gets_one_turn_ever():
    turn = granted(asked(LAWN_AT_TWO, 120))
    assert refused(asked(LAWN_AT_TWO, 200, turn)).why == "nothing-to-do"
    closed = replace(turn, closed_at=turn.open_by)
    assert refused(asked(LAWN_AT_TWO, 200, closed)).why == "nothing-to-do"


def test_a_run_that_was_reported_gets_no_turn():
    (_, run) = next(LAWN_AT_TWO.runs)
    told = Report("lawn", run.id, DATE, run.start, "done", 300.0)
    assert refused(replace(asked(LAWN_AT_TWO, 200), reports=(told,))).why == "nothing-to-do"


def test_a_late_run_ends_with_the_hours_and_its_litres_shrink_with_its_time():
    turn = granted(asked(LAWN_AT_TWO, 480 - 17))  # 17 minutes left, 15 of them after open_by
    assert (turn.run_time_s, turn.max_open_s, turn.volume_l) == (900, 900, 150.0)
    assert turn.shut_by == OPENS + 480 * MINUTE


def test_less_than_a_tenth_of_a_run_is_no_turn():
    assert granted(asked(LAWN_AT_TWO, 480 - 5)).run_time_s == 180
    assert refused(asked(LAWN_AT_TWO, 480 - 4.9)).why == "hours-over"


def test_a_limit_ends_before_a_ban_where_the_run_itself_fits():
    before_a_ban = ((OPENS_S, OPENS_S + 152 * 60), (OPENS_S + 300 * 60, OPENS_S + 305 * 60))
    zone = ZoneAtTap(before_a_ban, 10.0, 0)
    turn = granted(asked(LAWN_AT_TWO, 120, lawn=zone))
    assert (turn.run_time_s, turn.max_open_s) == (1800, 1800)
    assert turn.shut_by == OPENS + 152 * MINUTE


def test_a_run_waits_for_a_later_window_with_room_for_all_of_it():
    cut_in_two = ((OPENS_S, OPENS_S + 130 * 60), (OPENS_S + 300 * 60, OPENS_S + 400 * 60))
    zone = ZoneAtTap(cut_in_two, 10.0, 0)
    waits = refused(asked(LAWN_AT_TWO, 120, lawn=zone))
    assert (waits.why, waits.next_at) == ("not-yet", OPENS + 300 * MINUTE)
    assert granted(asked(LAWN_AT_TWO, 300, lawn=zone)).volume_l == 300.0


TWO = a_plan(lawn=(a_run("lawn", 1, 60, 1800),), bed=(a_run("bed", 1, 100, 600),))


def test_the_tap_is_busy_until_the_report_and_the_gap_after_it():
    lawn = granted(asked(TWO, 60))
    busy = refused(asked(TWO, 90, lawn))
    assert (busy.why, busy.next_at) == ("tap-busy", lawn.shut_by + 2 * MINUTE)
    closed = replace(lawn, closed_at=OPENS + 91 * MINUTE)
    gap = refused(asked(TWO, 92, closed))
    assert (gap.why, gap.next_at) == ("gap", OPENS + 93 * MINUTE)
    assert granted(asked(TWO, 93, closed)).zone == "bed"


def test_without_a_report_the_tap_is_free_after_shut_by_and_the_gap():
    lawn = granted(asked(TWO, 60))
    free_at = lawn.shut_by + 2 * MINUTE
    minute = (free_at - OPENS) / MINUTE
    assert refused(asked(TWO, minute - 0.1, lawn)).why == "gap"
    assert granted(asked(TWO, minute, lawn)).zone == "bed"


def test_a_valve_that_says_it_is_open_keeps_its_flow():
    lawn = granted(asked(TWO, 60))
    stuck = ZoneAtTap(ALL_NIGHT, 10.0, 0, says_open_until=OPENS + 1500 * MINUTE)
    assert refused(asked(TWO, 200, lawn, lawn=stuck)).why in ("tap-busy", "hours-over")
    both = Tap(20.0, 2, 120)
    assert granted(asked(TWO, 200, lawn, tap=both, lawn=stuck)).zone == "bed"
    assert isinstance(grant(asked(TWO, 200, lawn, tap=replace(both, flow_l_min=19.0), lawn=stuck)), Refused)


def test_a_zone_soaks_after_the_real_end_of_its_last_run():
    plan = a_plan(lawn=(a_run("lawn", 1, 60, 600), a_run("lawn", 2, 90, 600)))
    zone = ZoneAtTap(ALL_NIGHT, 10.0, 1800)
    first = replace(granted(asked(plan, 60, lawn=zone)), closed_at=OPENS + 72 * MINUTE)
    soaks = refused(asked(plan, 95, first, lawn=zone))
    assert (soaks.why, soaks.next_at) == ("soaking", OPENS + 102 * MINUTE)
    assert granted(asked(plan, 102, first, lawn=zone)).run.endswith("-2")


def test_a_later_run_goes_first_only_if_it_is_shut_before_the_first_could_begin():
    first = a_run("lawn", 1, 60, 600)
    plan = a_plan(lawn=(first, a_run("lawn", 2, 90, 600)), bed=(a_run("bed", 1, 95, 600),))
    soaks_long = ZoneAtTap(ALL_NIGHT, 10.0, 7200)
    turn = replace(granted(asked(plan, 60, lawn=soaks_long)), closed_at=OPENS + 72 * MINUTE)
    assert granted(asked(plan, 90, turn, lawn=soaks_long)).zone == "bed"
    soaks_briefly = ZoneAtTap(ALL_NIGHT, 10.0, 1200)
    waits = refused(asked(plan, 90, turn, lawn=soaks_briefly))
    assert (waits.why, waits.next_at) == ("soaking", OPENS + 92 * MINUTE)


def test_a_controller_gets_turns_of_the_zones_alone_that_it_can_open():
    assert granted(replace(asked(TWO, 95), may_open={"bed"})).zone == "bed"


def test_eight_runs_to_the_end_of_the_hours_lose_nothing_by_asking_every_five_minutes():
    """Half an hour each, 7 minutes apart: the reserve that a timetable keeps for slow controllers."""
    plan = a_plan(
        **{f"zone-{place}": (a_run(f"zone-{place}", 1, 480 - (8 - place) * 37, 1800),) for place in range(8)}
    )
    night = Night(plan, ONE_AT_ONCE, {zone.id: ZoneAtTap(ALL_NIGHT, 10.0, 0) for zone in plan.zones})
    for minute in range(0, 480, 5):
        night.asks(minute * 60, opens_after_s=0, takes_share=1.0, is_reported=True)
    assert night.granted_l == pytest.approx(8 * 300.0)


# Whatever a controller does


@dataclass
class Night:
    """A night of turns, and the water that flows by them at worst."""

    plan: FinalPlan
    tap: Tap
    zones: dict[str, ZoneAtTap]
    turns: list[Turn] = field(default_factory=list)
    flows: list[tuple[str, float, float]] = field(default_factory=list)
    """Zone, and from when to when its valve was open."""

    @property
    def granted_l(self) -> float:
        return sum(turn.volume_l for turn in self.turns)

    def asks(self, second: int, opens_after_s: int, takes_share: float, is_reported: bool) -> None:
        """Ask; open late or at once, for a part of the limit; and perhaps report the end."""
        now = OPENS + dt.timedelta(seconds=second)
        turns = [
            turn if turn.closed_at is None or turn.closed_at <= now else replace(turn, closed_at=None)
            for turn in self.turns
        ]
        what = Asked(self.plan, (), turns, self.zones, set(self.zones), self.tap, now)
        turn = grant(what)
        if isinstance(turn, Refused):
            assert turn.next_at is None or turn.next_at > now
            return
        opened_s = second + opens_after_s
        ended_s = opened_s + takes_share * (turn.run_time_s if is_reported else turn.max_open_s)
        self.flows.append((turn.zone, opened_s, ended_s))
        closed_at = OPENS + dt.timedelta(seconds=ended_s) if is_reported else None
        self.turns.append(replace(turn, closed_at=closed_at))


minutes = st.integers(0, 470)


@st.composite
def nights(draw: st.DrawFn) -> Night:
    """Zones of other flows, hours with a ban, and a tap for one, two or three of them."""
    flows = {zone: draw(st.sampled_from((4.0, 10.0, 20.0))) for zone in ("lawn", "bed", "pots")}
    plan = a_plan(
        **{
            zone: tuple(
                a_run(zone, number, minute, seconds, flow)
                for number, (minute, seconds) in enumerate(
                    draw(st.lists(st.tuples(minutes, st.integers(60, 5400)), max_size=3)), 1
                )
            )
            for zone, flow in flows.items()
        }
    )
    zones = {}
    for zone, flow in flows.items():
        ban_s, length_s = draw(st.integers(0, HOURS_S)), draw(st.integers(0, 7200))
        parts = ((OPENS_S, OPENS_S + ban_s), (OPENS_S + ban_s + length_s, OPENS_S + HOURS_S))
        windows = tuple((opens, closes) for opens, closes in parts if opens < closes)
        zones[zone] = ZoneAtTap(windows, flow, draw(st.sampled_from((0, 1800))))
    return Night(plan, Tap(draw(st.sampled_from((None, 20.0, 24.0))), draw(st.integers(1, 3)), 120), zones)


asks = st.lists(
    st.tuples(
        st.integers(-1800, HOURS_S + 600),
        st.integers(0, OPEN_WITHIN_S),
        st.sampled_from((1.0, 1.0, 0.4, 0.0)),
        st.booleans(),
    ),
    max_size=30,
)


@given(nights(), asks)
def test_the_supply_the_hours_and_the_plan_hold_whoever_asks_when(night, asked_at):
    for ask in sorted(asked_at):
        night.asks(*ask)
    for zone, opened_s, ended_s in night.flows:
        assert any(
            opens <= OPENS_S + opened_s and OPENS_S + ended_s <= closes
            for opens, closes in night.zones[zone].windows
        )
    for _, moment_s, _ in night.flows:
        open_now = [zone for zone, opened_s, ended_s in night.flows if opened_s <= moment_s < ended_s]
        assert len(open_now) == len(set(open_now)) <= night.tap.zones_at_once
        if night.tap.flow_l_min is not None and len(open_now) > 1:
            assert sum(night.zones[zone].flow_l_min for zone in open_now) <= night.tap.flow_l_min + 1e-6
    runs = {(zone, run.id): run for zone, run in night.plan.runs}
    keys = [(turn.zone, turn.run) for turn in night.turns]
    assert len(keys) == len(set(keys))
    for turn in night.turns:
        run = runs[turn.zone, turn.run]
        assert turn.volume_l <= run.volume_l
        assert turn.run_time_s <= run.run_time_s
        assert turn.run_time_s <= turn.max_open_s <= run.max_open_s


@given(nights(), asks)
def test_runs_of_a_zone_follow_each_other_after_its_soak(night, asked_at):
    for ask in sorted(asked_at):
        night.asks(*ask)
    for zone, at_tap in night.zones.items():
        flows = sorted((opened_s, ended_s) for name, opened_s, ended_s in night.flows if name == zone)
        for (_, ended_s), (opened_s, _) in itertools.pairwise(flows):
            assert opened_s >= ended_s + max(at_tap.rest_s, night.tap.gap_s)
