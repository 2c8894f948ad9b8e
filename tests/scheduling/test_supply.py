"""Hours of one tap among zones: who is served, in which order, and who goes without."""

import datetime as dt
import itertools
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from scheduling.garden import Priority
from scheduling.planting import Climate
from scheduling.runs import Span, openings_of, openings_of_volume
from scheduling.supply import Dose, Share, share_hours
from scheduling.zone import ZoneNumbers, numbers_of
from tests.scheduling.making import LAWN, a_garden, with_valve

MIDNIGHT = dt.datetime(2026, 7, 1, tzinfo=dt.UTC)
GAP_S = 120


def hours(minutes: float, opens: dt.datetime = MIDNIGHT) -> Span:
    return Span(opens, opens + dt.timedelta(minutes=minutes))


def a_zone(zone_id: str, priority: Priority = "normal", max_open_s: int | None = None) -> ZoneNumbers:
    """A lawn of 50 m2 that gets 20 l a minute: 3 mm net, its smallest depth, are 187.5 l or 563 s."""
    zone = with_valve(replace(LAWN, id=zone_id, priority=priority), max_open_s=max_open_s)
    return numbers_of(zone, a_garden(zone), Climate())


def a_dose(
    zone_id: str,
    minutes: float = 20.0,
    *,
    priority: Priority = "normal",
    thirst: float = 1.0,
    turns: int = 0,
    max_open_s: int | None = None,
) -> Dose:
    numbers = a_zone(zone_id, priority, max_open_s)
    return Dose(numbers, openings_of_volume(numbers, 20.0 * minutes), thirst, turns)


def start_minutes(shares: dict[str, Share], zone_id: str) -> list[float]:
    return [(run.start_s - MIDNIGHT.timestamp()) / 60.0 for run in shares[zone_id].placed]


def litres(shares: dict[str, Share], zone_id: str) -> float:
    return sum(run.opening.volume_l for run in shares[zone_id].placed)


def test_high_priority_comes_last_in_time_and_equals_go_by_id() -> None:
    doses = [
        a_dose("a", priority="high"),
        a_dose("c"),
        a_dose("b"),
        a_dose("d", priority="low"),
    ]
    shares = share_hours(doses, hours(240), GAP_S)
    assert {zone: start_minutes(shares, zone) for zone in "abcd"} == {
        "d": [154.0],
        "b": [176.0],
        "c": [198.0],
        "a": [220.0],
    }
    assert not any(share.cut for share in shares.values())


def test_the_openings_of_a_split_dose_stay_together_with_gaps() -> None:
    shares = share_hours([a_dose("a", max_open_s=600)], hours(240), GAP_S)
    assert start_minutes(shares, "a") == [218.0, 230.0]


def test_high_priority_is_served_first() -> None:
    doses = [a_dose("a", thirst=3.0), a_dose("b", priority="high", thirst=0.5)]
    shares = share_hours(doses, hours(25), GAP_S)
    assert litres(shares, "b") == 400.0
    assert shares["a"] == Share((), True)


def test_within_a_priority_the_thirstiest_is_served_first() -> None:
    shares = share_hours([a_dose("a", thirst=1.0), a_dose("b", thirst=1.1)], hours(25), GAP_S)
    assert (litres(shares, "a"), litres(shares, "b")) == (0.0, 400.0)


def test_who_went_without_is_first_within_its_priority() -> None:
    doses = [a_dose("a", thirst=2.0), a_dose("b", turns=1), a_dose("c", priority="high", thirst=0.2)]
    shares = share_hours(doses, hours(47), GAP_S)
    assert [litres(shares, zone) for zone in "abc"] == [0.0, 400.0, 400.0]


def test_who_went_without_three_times_is_first_of_all() -> None:
    doses = [a_dose("a", priority="high"), a_dose("b", priority="low", turns=3)]
    shares = share_hours(doses, hours(25), GAP_S)
    assert (litres(shares, "a"), litres(shares, "b")) == (0.0, 400.0)


def test_the_last_dose_to_fit_is_cut_and_says_so() -> None:
    # 20 min, 2 min of gap and 20 min want 42; of 35 min, 13 are left for the second: 260 l.
    shares = share_hours([a_dose("a", thirst=2.0), a_dose("b")], hours(35), GAP_S)
    assert not shares["a"].cut
    assert shares["b"].cut
    assert 240.0 <= litres(shares, "b") <= 260.0
    assert shares["b"].placed[0].start_s >= MIDNIGHT.timestamp()


def test_a_dose_is_not_cut_below_what_is_worth_a_run() -> None:
    # 9 min are 180 l; 187.5 l are the smallest depth.
    shares = share_hours([a_dose("a", thirst=2.0), a_dose("b")], hours(31), GAP_S)
    assert shares["b"] == Share((), True)


def test_a_smaller_dose_still_fits_where_a_larger_one_does_not() -> None:
    doses = [a_dose("a", thirst=3.0), a_dose("b", thirst=2.0), a_dose("c", 5.0, thirst=1.0)]
    shares = share_hours(doses, hours(29), GAP_S)
    assert [litres(shares, zone) for zone in "abc"] == [400.0, 0.0, 100.0]


def test_only_one_dose_is_cut() -> None:
    doses = [a_dose(zone, thirst=3.0 - place) for place, zone in enumerate("abc")]
    shares = share_hours(doses, hours(50), GAP_S)
    assert [shares[zone].cut and bool(shares[zone].placed) for zone in "abc"] == [False, False, False]
    shares = share_hours(doses, hours(62), GAP_S)
    assert [shares[zone].cut and bool(shares[zone].placed) for zone in "abc"] == [False, False, True]


def test_closed_hours_leave_everyone_without() -> None:
    assert share_hours([a_dose("a"), a_dose("b")], None, GAP_S) == {
        "a": Share((), True),
        "b": Share((), True),
    }


def test_nobody_wants_water() -> None:
    assert share_hours([], hours(60), GAP_S) == {}


def test_no_start_is_before_hours_that_open_between_minutes() -> None:
    opens = MIDNIGHT + dt.timedelta(seconds=30)
    shares = share_hours([a_dose("a")], hours(20, opens), GAP_S)
    assert all(run.start_s >= opens.timestamp() for run in shares["a"].placed)
    assert shares["a"].cut


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
    wishes: list[tuple[float, Priority, float, int, int | None]], minutes: int, gap_s: int
) -> None:
    doses = [
        a_dose(f"zone-{place}", length, priority=priority, thirst=thirst, turns=turns, max_open_s=limit)
        for place, (length, priority, thirst, turns, limit) in enumerate(wishes)
    ]
    span = hours(minutes)
    shares = share_hours(doses, span, gap_s)
    runs = sorted(run for share in shares.values() for run in share.placed)
    for run in runs:
        assert run.start_s >= span.opens.timestamp()
        assert run.start_s + run.opening.run_time_s <= span.closes.timestamp()
        assert run.start_s % 60 == 0
    for one, following in itertools.pairwise(runs):
        assert following.start_s >= one.start_s + one.opening.run_time_s + gap_s
    for dose in doses:
        share = shares[dose.numbers.zone.id]
        asked_l = sum(opening.volume_l for opening in dose.openings)
        got_l = sum(run.opening.volume_l for run in share.placed)
        assert got_l <= asked_l
        assert share.cut == (got_l < asked_l)


def test_a_dose_is_the_openings_of_its_depth() -> None:
    numbers = a_zone("a")
    # 10 mm net / 0.8 on 50 m2.
    assert sum(opening.volume_l for opening in openings_of(numbers, 10.0)) == 625.0
