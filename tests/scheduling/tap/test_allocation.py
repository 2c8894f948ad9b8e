"""One tap among zones: who is served, in which order, and who goes without."""

import datetime as dt
import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.garden.description import Allowance, Priority, Rules, Soil, WaterSupply, Zone
from scheduling.reasons import ALLOWANCE_SPENT, HOURS_FULL
from scheduling.tap import allocation
from scheduling.tap.allocation import (
    AllowanceLeft,
    Share,
    Wish,
    allowance_left,
    paced_allowance,
    share_water,
)
from scheduling.tap.runs import openings_of
from scheduling.tap.windows import Span, Windows, windows_of
from scheduling.zone.from_catalogue import numbers_of
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import zone_rules
from tests.scheduling.gardens import JULY_1, LAWN, a_garden, with_valve

MIDNIGHT = dt.datetime(2026, 7, 1, tzinfo=dt.UTC)
GAP_S = 120


def hours(minutes: float, opens: dt.datetime = MIDNIGHT) -> Windows:
    return windows_of([Span(opens, opens + dt.timedelta(minutes=minutes))])


def a_zone(
    zone_id: str, priority: Priority = "normal", max_open_s: int | None = None, zone: Zone = LAWN
) -> ZoneNumbers:
    """A lawn of 50 m2 that gets 20 l a minute: 3 mm net, its smallest depth, are 187.5 l or 563 s."""
    zone = with_valve(replace(zone, id=zone_id, priority=priority), max_open_s=max_open_s)
    return numbers_of(zone, a_garden(zone))


def a_wish(
    zone_id: str,
    minutes: float = 20.0,
    *,
    second: float = 0.0,
    priority: Priority = "normal",
    thirst: float = 1.0,
    turns: int = 0,
    max_open_s: int | None = None,
    zone: Zone = LAWN,
) -> Wish:
    """What takes so many minutes; it may flow whenever `shared` says."""
    numbers = a_zone(zone_id, priority, max_open_s, zone)
    net_mm = [length * numbers.gross_rate_mm_h / 60.0 * numbers.efficiency for length in (minutes, second)]
    return Wish(numbers, net_mm[0], net_mm[1], thirst, turns, ())


def shared(
    wishes: Sequence[Wish],
    *spans: Windows,
    gap_s: int = GAP_S,
    left_l: float = math.inf,
    period_l: float | None = None,
    **supply: Any,
) -> dict[str, Share]:
    free = [replace(wish, windows=spans) for wish in wishes]
    return share_water(free, WaterSupply(gap_s=gap_s, **supply), left_l, period_l)


def start_minutes(shares: dict[str, Share], zone_id: str) -> list[float]:
    return [(run.start_s - MIDNIGHT.timestamp()) / 60.0 for run in shares[zone_id].placed]


def litres(shares: dict[str, Share], zone_id: str) -> float:
    return sum(run.opening.volume_l for run in shares[zone_id].placed)


def test_high_priority_comes_last_in_time_and_equals_go_by_id() -> None:
    wishes = [
        a_wish("a", priority="high"),
        a_wish("c"),
        a_wish("b"),
        a_wish("d", priority="low"),
    ]
    shares = shared(wishes, hours(240))
    assert {zone: start_minutes(shares, zone) for zone in "abcd"} == {
        "d": [154.0],
        "b": [176.0],
        "c": [198.0],
        "a": [220.0],
    }
    assert not any(share.short_of for share in shares.values())


def test_each_run_has_a_reserve_where_the_hours_have_room_for_all(monkeypatch) -> None:
    monkeypatch.setattr(allocation, "RESERVE_S", 420)
    wishes = [a_wish("a"), a_wish("b")]
    roomy = shared(wishes, hours(56))
    assert (start_minutes(roomy, "a"), start_minutes(roomy, "b")) == ([0.0], [29.0])
    # One minute less, and every run is as late as can be.
    tight = shared(wishes, hours(55))
    assert (start_minutes(tight, "a"), start_minutes(tight, "b")) == ([13.0], [35.0])
    assert litres(roomy, "a") == litres(tight, "a") == 400.0


def test_the_openings_of_a_split_dose_stay_together_with_gaps() -> None:
    shares = shared([a_wish("a", max_open_s=600)], hours(240))
    assert start_minutes(shares, "a") == [218.0, 230.0]


def test_high_priority_is_served_first() -> None:
    wishes = [a_wish("a", thirst=3.0), a_wish("b", priority="high", thirst=0.5)]
    shares = shared(wishes, hours(25))
    assert litres(shares, "b") == 400.0
    assert shares["a"] == Share((), HOURS_FULL)


def test_within_a_priority_the_thirstiest_is_served_first() -> None:
    shares = shared([a_wish("a", thirst=1.0), a_wish("b", thirst=1.1)], hours(25))
    assert (litres(shares, "a"), litres(shares, "b")) == (0.0, 400.0)


def test_who_went_without_is_first_within_its_priority() -> None:
    wishes = [a_wish("a", thirst=2.0), a_wish("b", turns=1), a_wish("c", priority="high", thirst=0.2)]
    shares = shared(wishes, hours(47))
    assert [litres(shares, zone) for zone in "abc"] == [0.0, 400.0, 400.0]


def test_who_went_without_three_times_is_first_of_all() -> None:
    wishes = [a_wish("a", priority="high"), a_wish("b", priority="low", turns=3)]
    shares = shared(wishes, hours(25))
    assert (litres(shares, "a"), litres(shares, "b")) == (0.0, 400.0)


def test_the_last_dose_to_fit_is_cut_and_says_so() -> None:
    # 20 min, 2 min of gap and 20 min want 42; of 35 min, 13 are left for the second: 260 l.
    shares = shared([a_wish("a", thirst=2.0), a_wish("b")], hours(35))
    assert shares["a"].short_of is None
    assert shares["b"].short_of == HOURS_FULL
    assert 240.0 <= litres(shares, "b") <= 260.0
    assert shares["b"].placed[0].start_s >= MIDNIGHT.timestamp()


def test_a_dose_is_not_cut_below_what_is_worth_a_run() -> None:
    # 9 min are 180 l; 187.5 l are the smallest depth.
    shares = shared([a_wish("a", thirst=2.0), a_wish("b")], hours(31))
    assert shares["b"] == Share((), HOURS_FULL)


def test_a_smaller_dose_still_fits_where_a_larger_one_does_not() -> None:
    wishes = [a_wish("a", thirst=3.0), a_wish("b", thirst=2.0), a_wish("c", 5.0, thirst=1.0)]
    shares = shared(wishes, hours(29))
    assert [litres(shares, zone) for zone in "abc"] == [400.0, 0.0, 100.0]


def test_only_one_dose_is_cut() -> None:
    wishes = [a_wish(zone, thirst=3.0 - place) for place, zone in enumerate("abc")]
    shares = shared(wishes, hours(50))
    assert [bool(shares[zone].short_of and shares[zone].placed) for zone in "abc"] == [False, False, False]
    shares = shared(wishes, hours(62))
    assert [bool(shares[zone].short_of and shares[zone].placed) for zone in "abc"] == [False, False, True]


def test_closed_hours_leave_everyone_without() -> None:
    nothing = Share((), HOURS_FULL, fits_alone=False)
    assert shared([a_wish("a"), a_wish("b")]) == {"a": nothing, "b": nothing}
    assert shared([a_wish("a")], ()) == {"a": nothing}


def test_nobody_wants_water() -> None:
    assert shared([], hours(60)) == {}


def test_no_start_is_before_hours_that_open_between_minutes() -> None:
    opens = MIDNIGHT + dt.timedelta(seconds=30)
    shares = shared([a_wish("a")], hours(20, opens))
    assert all(run.start_s >= opens.timestamp() for run in shares["a"].placed)
    assert shares["a"].short_of == HOURS_FULL


@given(
    st.lists(
        st.tuples(
            st.floats(1.0, 60.0),
            st.sampled_from(("high", "normal", "low")),
            st.floats(0.0, 3.0),
            st.integers(0, 4),
            st.none() | st.integers(300, 1200),
        ),
        max_size=8,
    ),
    st.integers(0, 300),
    st.integers(0, 600),
)
def test_runs_never_meet_nor_leave_the_hours(
    told: list[tuple[float, Priority, float, int, int | None]], minutes: int, gap_s: int
) -> None:
    wishes = [
        a_wish(f"zone-{place}", length, priority=priority, thirst=thirst, turns=turns, max_open_s=limit)
        for place, (length, priority, thirst, turns, limit) in enumerate(told)
    ]
    ((opens_s, closes_s),) = hours(minutes) or ((0, 0),)
    shares = shared(wishes, hours(minutes), gap_s=gap_s)
    runs = sorted(run for share in shares.values() for run in share.placed)
    for run in runs:
        assert opens_s <= run.start_s <= run.end_s <= closes_s
        assert run.start_s % 60 == 0
    for one, following in itertools.pairwise(runs):
        assert following.start_s >= one.end_s + gap_s
    for wish in wishes:
        share = shares[wish.numbers.zone.id]
        asked_l = sum(opening.volume_l for opening in openings_of(wish.numbers, wish.first_mm))
        got_l = sum(run.opening.volume_l for run in share.placed)
        assert got_l <= asked_l
        assert (share.short_of == HOURS_FULL) == (got_l < asked_l)


def test_a_dose_is_the_openings_of_its_depth() -> None:
    numbers = a_zone("a")
    # 10 mm net / 0.8 on 50 m2.
    assert sum(opening.volume_l for opening in openings_of(numbers, 10.0)) == 625.0


# Slow soil


ON_CLAY = replace(LAWN, soil=Soil(texture="clay"))
"""Its surface holds 5.08 mm and takes in 2.54 mm/h: of 24 mm/h, runs of 14.2 min with rests of 2 h."""


def test_the_rests_of_one_zone_serve_the_others() -> None:
    wishes = [a_wish("clay", 28.0, zone=ON_CLAY), a_wish("a", 50.0), a_wish("b", 50.0)]
    shares = shared(wishes, hours(240))
    assert not any(share.short_of for share in shares.values())
    first, last = shares["clay"].placed
    assert first.end_s < shares["a"].placed[0].start_s < shares["b"].placed[0].start_s < last.start_s


def test_a_dose_is_cut_where_its_rests_do_not_fit() -> None:
    shares = shared([a_wish("clay", 40.0, zone=ON_CLAY)], hours(200))
    # Three runs of 10 min and two rests of 10 x (24 / 2.54 - 1) min take 199 min.
    assert 590.0 <= litres(shares, "clay") <= 602.0
    assert (len(shares["clay"].placed), shares["clay"].short_of) == (3, HOURS_FULL)


# Several at once


def test_zones_that_fit_the_flow_together_run_together() -> None:
    wishes = [a_wish(zone) for zone in "abc"]
    together = shared(wishes, hours(240), zones_at_once=3, flow_l_min=60.0)
    assert [start_minutes(together, zone) for zone in "abc"] == [[220.0]] * 3
    two = shared(wishes, hours(240), zones_at_once=3, flow_l_min=59.0)
    assert [start_minutes(two, zone) for zone in "abc"] == [[198.0], [220.0], [220.0]]
    one = shared(wishes, hours(240), zones_at_once=1, flow_l_min=60.0)
    assert [start_minutes(one, zone) for zone in "abc"] == [[176.0], [198.0], [220.0]]


def test_several_at_once_make_room_for_more() -> None:
    wishes = [a_wish(zone) for zone in "abcd"]
    assert sum(bool(share.placed) for share in shared(wishes, hours(42)).values()) == 2
    assert sum(bool(share.placed) for share in shared(wishes, hours(42), zones_at_once=2).values()) == 4


# Two spans


LATER = hours(60, MIDNIGHT + dt.timedelta(hours=13))


def test_a_second_watering_lies_in_the_second_span() -> None:
    shares = shared([a_wish("a", second=5.0)], hours(60), LATER)
    assert start_minutes(shares, "a") == [40.0, 13 * 60 + 55.0]


def test_a_dose_that_the_first_span_has_no_room_for_gets_the_second_one() -> None:
    shares = shared([a_wish("a"), a_wish("b", thirst=2.0, second=5.0)], hours(25), LATER)
    assert start_minutes(shares, "b") == [5.0, 13 * 60 + 55.0]
    assert start_minutes(shares, "a") == [13 * 60 + 33.0]
    assert shares["a"].short_of is None


def test_where_the_first_span_is_over_its_doses_and_the_second_waterings_share_the_second() -> None:
    shares = shared([a_wish("a", second=5.0)], (), LATER)
    # Sand takes 20 x (24 / 15.24 - 1) = 11.5 min to take in what the first leaves standing.
    assert start_minutes(shares, "a") == [13 * 60 + 23.0, 13 * 60 + 55.0]
    assert shares["a"].short_of is None


def test_a_second_watering_that_does_not_fit_is_told() -> None:
    shares = shared([a_wish("a", second=20.0)], hours(60), hours(5, MIDNIGHT + dt.timedelta(hours=13)))
    assert (litres(shares, "a"), shares["a"].short_of) == (400.0, HOURS_FULL)


# Allowances


MONDAY = dt.date(2026, 6, 29)


def test_the_tightest_allowance_counts() -> None:
    allowance = Allowance(day=100.0, week=300.0, month=1000.0)
    used = {MONDAY - dt.timedelta(days=1): 900.0, MONDAY: 150.0, MONDAY + dt.timedelta(days=2): 30.0}

    def left(days: int) -> AllowanceLeft | None:
        return allowance_left(allowance, used, MONDAY + dt.timedelta(days=days))

    # Sunday belongs to the week before, and to the month; Wednesday is the first of July.
    assert left(-1) == AllowanceLeft(0.0, "day", 100.0)
    assert left(0) == AllowanceLeft(0.0, "day", 100.0)
    assert left(1) == AllowanceLeft(0.0, "month", 1000.0)
    assert left(2) == AllowanceLeft(70.0, "day", 100.0)
    assert left(6) == AllowanceLeft(100.0, "day", 100.0)
    assert allowance_left(Allowance(week=200.0), used, MONDAY + dt.timedelta(days=6)) == (20.0, "week", 200.0)


def test_no_allowance_is_no_limit() -> None:
    assert allowance_left(Allowance(), {MONDAY: 1e6}, MONDAY) is None
    assert paced_allowance(Allowance(), {MONDAY: 1e6}, MONDAY, EVERY_DAY) is None


EVERY_DAY = [zone_rules(a_garden(LAWN), Rules(), "lawn")]
ONE_DAY = dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("days", "date_l"),
    [(0, 200.0), (1, 140.0), (5, 420.0), (6, 420.0)],  # 2/7 of 700; 2/6 of 420; 2/2 and all of it
)
def test_a_date_gets_at_most_twice_what_is_left_by_the_days_left(days: int, date_l: float) -> None:
    used = {MONDAY: 280.0} if days else {}
    paced = paced_allowance(Allowance(week=700.0), used, MONDAY + days * ONE_DAY, EVERY_DAY)
    assert paced is not None
    assert paced.date_l == pytest.approx(date_l)


def test_what_has_flowed_on_the_date_itself_is_part_of_its_share() -> None:
    paced = paced_allowance(Allowance(month=3000.0), {JULY_1: 150.0}, JULY_1, EVERY_DAY)
    assert paced is not None
    assert paced.date_l == pytest.approx(2.0 / 31 * 3000.0 - 150.0)
    assert (paced.left_l, paced.period) == (2850.0, "month")


def test_who_waters_once_a_week_may_have_the_week_and_a_day_is_not_paced() -> None:
    seldom = zone_rules(a_garden(LAWN), Rules(watering_days=("mon",)), "lawn")
    paced = paced_allowance(Allowance(week=700.0), {}, MONDAY, [*EVERY_DAY, seldom])
    assert paced is not None
    assert paced.date_l == 700.0
    assert paced_allowance(Allowance(day=90.0), {}, MONDAY, EVERY_DAY) == (90.0, "day", 90.0, 90.0, False)


@given(
    st.floats(1.0, 5000.0),
    st.lists(st.floats(0.0, 1500.0), min_size=7, max_size=7),
    st.sampled_from(("week", "month")),
)
def test_a_paced_week_or_month_is_never_overdrawn_and_may_be_used_up(
    allowed_l: float, wanted_l: list[float], period: str
) -> None:
    allowance = Allowance(**{period: allowed_l})
    last = MONDAY + 6 * ONE_DAY if period == "week" else dt.date(2026, 7, 31)
    used: dict[dt.date, float] = {}
    for ahead, wants in enumerate(wanted_l):
        date = last - (6 - ahead) * ONE_DAY
        paced = paced_allowance(allowance, used, date, EVERY_DAY)
        assert paced is not None
        used[date] = min(wants, paced.date_l)
    assert sum(used.values()) <= allowed_l + 1e-9
    paced = paced_allowance(allowance, used, last, EVERY_DAY)
    assert paced is not None
    assert paced.date_l == pytest.approx(allowed_l - sum(used.values()), abs=1e-9)


def test_of_paced_litres_nobody_comes_before_a_higher_priority() -> None:
    wishes = [a_wish("a", priority="high"), a_wish("b", priority="low", turns=5)]
    assert litres(shared(wishes, hours(240), left_l=400.0), "b") == 400.0
    assert litres(shared(wishes, hours(240), left_l=400.0, period_l=900.0), "a") == 400.0


def test_the_first_in_turn_gets_its_smallest_dose_though_the_pace_is_below_it() -> None:
    wishes = [a_wish("a", priority="high"), a_wish("b")]
    assert (
        litres(shared(wishes, hours(240), left_l=50.0, period_l=900.0), "a") == 187.0
    )  # whole litres of 187.5
    assert litres(shared(wishes, hours(240), left_l=50.0, period_l=100.0), "a") == 0.0


def test_litres_go_in_whole_doses_by_priority_and_thirst_until_they_are_spent() -> None:
    wishes = [a_wish("a", thirst=3.0), a_wish("b", priority="high", thirst=0.5), a_wish("c", thirst=1.0)]
    shares = shared(wishes, hours(240), left_l=1000.0)
    assert [litres(shares, zone) for zone in "abc"] == [400.0, 400.0, 200.0]
    assert [shares[zone].short_of for zone in "abc"] == [None, None, ALLOWANCE_SPENT]


def test_a_dose_is_not_cut_below_its_smallest_depth_by_litres_either() -> None:
    wishes = [a_wish("a", thirst=3.0), a_wish("b", thirst=2.0), a_wish("c", 5.0, thirst=1.0)]
    shares = shared(wishes, hours(240), left_l=580.0)
    assert [litres(shares, zone) for zone in "abc"] == [400.0, 0.0, 100.0]
    assert shares["b"] == Share((), ALLOWANCE_SPENT)


def test_second_waterings_count_too() -> None:
    shares = shared([a_wish("a", second=20.0)], hours(60), LATER, left_l=600.0)
    assert [run.opening.volume_l for run in shares["a"].placed] == [400.0, 200.0]
    assert shares["a"].short_of == ALLOWANCE_SPENT


# Doses that never fit


def test_a_smallest_dose_that_does_not_fit_alone_is_told_apart() -> None:
    # 3 mm net are 187 l and 9.4 min.
    alone = shared([a_wish("a")], hours(9))["a"]
    assert (alone.short_of, alone.fits_alone) == (HOURS_FULL, False)
    crowded = shared([a_wish("a"), a_wish("b", 9.0, turns=1)], hours(11))["a"]
    assert (crowded.placed, crowded.short_of, crowded.fits_alone) == ((), HOURS_FULL, True)


def test_whoever_fits_alone_gets_water_when_it_is_its_turn() -> None:
    for minutes in range(1, 40):
        first = shared([a_wish("a", 60.0), a_wish("b", 60.0, turns=3)], hours(minutes))["b"]
        assert bool(first.placed) == first.fits_alone


@given(
    st.lists(
        st.tuples(
            st.floats(1.0, 60.0),
            st.floats(0.0, 20.0),
            st.sampled_from(("high", "normal", "low")),
            st.integers(0, 4),
            st.sampled_from(("sand", "loam", "clay")),
        ),
        max_size=6,
    ),
    st.integers(0, 300),
    st.integers(0, 60),
    st.integers(1, 3),
    st.floats(20.0, 50.0),
    st.floats(0.0, 3000.0),
)
def test_the_supply_is_never_asked_for_more_than_it_gives(
    told: list[tuple[float, float, Priority, int, str]],
    minutes: int,
    later: int,
    at_once: int,
    flow_l_min: float,
    left_l: float,
) -> None:
    wishes = [
        a_wish(
            f"zone-{place}",
            length,
            second=second,
            priority=priority,
            turns=turns,
            zone=replace(LAWN, soil=Soil(texture=texture)),
        )
        for place, (length, second, priority, turns, texture) in enumerate(told)
    ]
    spans = (hours(minutes), hours(later, MIDNIGHT + dt.timedelta(hours=13)))
    shares = shared(wishes, *spans, left_l=left_l, zones_at_once=at_once, flow_l_min=flow_l_min)
    runs = [run for share in shares.values() for run in share.placed]
    assert sum(run.opening.volume_l for run in runs) <= left_l + 1e-6
    for moment_s in (run.start_s for run in runs):
        meeting = sum(run.start_s <= moment_s < run.end_s + GAP_S for run in runs)
        assert meeting <= at_once
        assert 20.0 * meeting <= flow_l_min
    for run in runs:
        assert any(opens <= run.start_s and run.end_s <= closes for span in spans for opens, closes in span)
    for wish in wishes:
        share = shares[wish.numbers.zone.id]
        asked_l = sum(
            opening.volume_l
            for net_mm in (wish.first_mm, wish.second_mm)
            for opening in openings_of(wish.numbers, net_mm)
        )
        got_l = sum(run.opening.volume_l for run in share.placed)
        assert got_l <= asked_l + 1e-9
        assert (share.short_of is None) == (got_l > asked_l - 1e-9)
