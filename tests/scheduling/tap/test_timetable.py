"""Openings of valves in time: as late as can be, whole minutes, and never too many at once."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.tap.runs import Rests, ValveOpening
from scheduling.tap.timetable import Placed, Timetable

TEN_MINUTES = ValveOpening(100.0, 600, 780)
ODD_SECONDS = ValveOpening(100.0, 595, 774)
TWO_HOURS = ((0, 7200),)


def starts(placed: list[Placed] | None) -> list[int]:
    assert placed is not None
    return [run.start_s for run in placed]


def test_the_last_opening_ends_with_the_hours() -> None:
    assert starts(Timetable(120).book("a", 10.0, [TEN_MINUTES], TWO_HOURS)) == [6600]


def test_openings_follow_each_other_with_a_gap() -> None:
    assert starts(Timetable(120).book("a", 10.0, [TEN_MINUTES] * 3, TWO_HOURS)) == [5160, 5880, 6600]


def test_starts_are_rounded_down_to_whole_minutes() -> None:
    # 7200 - 595 = 6605 -> 6600; 6600 - 90 - 595 = 5915 -> 5880.
    assert starts(Timetable(90).book("a", 10.0, [ODD_SECONDS] * 2, TWO_HOURS)) == [5880, 6600]


def test_openings_may_fill_the_hours_to_the_second() -> None:
    assert starts(Timetable(120).book("a", 10.0, [TEN_MINUTES], ((6600, 7200),))) == [6600]
    assert Timetable(120).book("a", 10.0, [TEN_MINUTES], ((6660, 7200),)) is None
    assert Timetable(120).book("a", 10.0, [TEN_MINUTES], ((6601, 7201),)) is None


def test_nothing_fits_everywhere() -> None:
    assert Timetable(120).book("a", 10.0, [], ()) == []
    assert Timetable(120).book("a", 10.0, [TEN_MINUTES], ()) is None


def test_a_dose_that_does_not_fit_whole_leaves_no_booking() -> None:
    timetable = Timetable(120)
    assert timetable.book("a", 10.0, [TEN_MINUTES] * 11, TWO_HOURS) is None
    assert starts(timetable.book("b", 10.0, [TEN_MINUTES], TWO_HOURS)) == [6600]


def test_a_rest_is_used_by_others() -> None:
    timetable = Timetable(120)
    assert starts(timetable.book("a", 10.0, [TEN_MINUTES] * 2, TWO_HOURS, Rests(1800, 1800))) == [4200, 6600]
    # Between 4800 and 6600, less a gap at both ends: up to 6480.
    assert starts(timetable.book("b", 10.0, [TEN_MINUTES] * 2, TWO_HOURS)) == [5160, 5880]
    assert starts(timetable.book("c", 10.0, [TEN_MINUTES], TWO_HOURS)) == [3480]


def test_an_opening_lies_within_one_window() -> None:
    windows = ((0, 3000), (3300, 3900), (4000, 4500))
    assert starts(Timetable(0).book("a", 10.0, [TEN_MINUTES] * 2, windows)) == [2400, 3300]


def test_two_valves_may_be_open_where_two_are_allowed() -> None:
    timetable = Timetable(120, zones_at_once=2)
    booked = [timetable.book(zone, 10.0, [TEN_MINUTES], TWO_HOURS) for zone in "abc"]
    assert [starts(placed) for placed in booked] == [[6600], [6600], [5880]]


def test_two_valves_are_not_open_where_the_supply_has_no_flow_for_both() -> None:
    timetable = Timetable(120, zones_at_once=3, flow_l_min=24.0)
    booked = [
        timetable.book(zone, flow, [TEN_MINUTES], TWO_HOURS)
        for zone, flow in (("a", 14.0), ("b", 14.0), ("c", 10.0))
    ]
    assert [starts(placed) for placed in booked] == [[6600], [5880], [6600]]


def test_flows_that_add_up_to_the_supplys_fit() -> None:
    timetable = Timetable(0, zones_at_once=3, flow_l_min=0.3)
    booked = [timetable.book(zone, 0.1, [TEN_MINUTES], TWO_HOURS) for zone in "abc"]
    assert [starts(placed) for placed in booked] == [[6600], [6600], [6600]]


def test_a_zone_is_not_opened_beside_itself() -> None:
    timetable = Timetable(60, zones_at_once=2)
    assert starts(timetable.book("a", 10.0, [TEN_MINUTES], TWO_HOURS, Rests(600, 600))) == [6600]
    assert starts(timetable.book("a", 10.0, [TEN_MINUTES], TWO_HOURS, Rests(600, 600))) == [5400]


def test_what_is_tried_on_a_copy_is_not_booked() -> None:
    timetable = Timetable(120)
    timetable.copy().book("a", 10.0, [TEN_MINUTES], TWO_HOURS)
    assert starts(timetable.book("b", 10.0, [TEN_MINUTES], TWO_HOURS)) == [6600]


DOSES = st.lists(
    st.tuples(
        st.floats(1.0, 30.0),
        st.lists(st.integers(30, 2400), min_size=1, max_size=4),
        st.integers(0, 3600),
    ),
    max_size=8,
)
WINDOWS = st.lists(st.integers(0, 40_000), min_size=2, max_size=6, unique=True).map(
    lambda bounds: tuple(zip(sorted(bounds)[::2], sorted(bounds)[1::2], strict=False))
)


@given(DOSES, WINDOWS, st.integers(0, 900), st.integers(1, 4), st.none() | st.floats(30.0, 60.0))
def test_bookings_keep_windows_gaps_rests_and_the_supply(
    doses: list[tuple[float, list[int], int]],
    windows: tuple[tuple[int, int], ...],
    gap_s: int,
    at_once: int,
    supply_l_min: float | None,
) -> None:
    timetable = Timetable(gap_s, at_once, supply_l_min)
    runs = []
    for number, (flow_l_min, seconds, rest_s) in enumerate(doses):
        openings = [ValveOpening(1.0, length, length + 60) for length in seconds]
        placed = timetable.book(f"zone-{number}", flow_l_min, openings, windows, Rests(rest_s, rest_s))
        if placed is None:
            continue
        assert [run.opening for run in placed] == openings
        for one, following in itertools.pairwise(placed):
            assert following.start_s >= one.end_s + max(gap_s, rest_s)
        runs.extend((run.start_s, run.end_s, flow_l_min) for run in placed)
    for start_s, end_s, _ in runs:
        assert start_s % 60 == 0
        assert any(opens <= start_s and end_s <= closes for opens, closes in windows)
    for moment_s, _, _ in runs:
        # Whoever has closed keeps its place for the gap.
        meeting = [flow for start_s, end_s, flow in runs if start_s <= moment_s < end_s + gap_s]
        assert len(meeting) <= at_once
        if supply_l_min is not None:
            assert sum(meeting) <= supply_l_min + 1e-6


@given(st.integers(1, 3), st.lists(st.integers(60, 3000), min_size=1, max_size=6), st.integers(60, 3000))
def test_no_later_start_was_possible(at_once: int, booked: list[int], wanted: int) -> None:
    timetable = Timetable(120, at_once)
    runs = []
    for number, length in enumerate(booked):
        placed = timetable.book(f"zone-{number}", 1.0, [ValveOpening(1.0, length, length)], ((0, 9000),))
        runs.extend((run.start_s, run.end_s) for run in placed or ())
    placed = timetable.book("late", 1.0, [ValveOpening(1.0, wanted, wanted)], ((0, 9000),))
    first = -60 if placed is None else placed[0].start_s
    for start_s in range(first + 60, 9000 - wanted + 1, 60):
        moments = {start_s, *(start for start, _ in runs if start_s <= start < start_s + wanted + 120)}
        most = max(sum(start <= moment < end + 120 for start, end in runs) for moment in moments)
        assert most >= at_once


@pytest.mark.parametrize("gap_s", [0, 120])
def test_gaps_hold_on_both_sides(gap_s: int) -> None:
    timetable = Timetable(gap_s)
    assert starts(timetable.book("a", 1.0, [TEN_MINUTES], ((3000, 3600),))) == [3000]
    assert starts(timetable.book("b", 1.0, [TEN_MINUTES], ((0, 4200),))) == ([3600] if gap_s == 0 else [2280])
