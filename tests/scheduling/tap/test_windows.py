"""Stretches of time in which water may flow: what bans, wind and cold leave of them."""

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import HourAhead
from scheduling.tap.windows import (
    HOUR_S,
    Span,
    Windows,
    calm,
    calmest,
    length_s,
    permitted,
    warm,
    windows_of,
    without,
)

MIDNIGHT = dt.datetime(2026, 4, 1, tzinfo=dt.UTC)
FIRST_S = int(MIDNIGHT.timestamp())


def span(opens_h: float, closes_h: float) -> Span:
    return Span(MIDNIGHT + dt.timedelta(hours=opens_h), MIDNIGHT + dt.timedelta(hours=closes_h))


def told(windows: Windows) -> list[tuple[float, float]]:
    """In hours after midnight."""
    return [((opens - FIRST_S) / HOUR_S, (closes - FIRST_S) / HOUR_S) for opens, closes in windows]


def hours(*winds_m_s: float | None, temperatures_c: tuple[float | None, ...] = ()) -> list[HourAhead]:
    lowest = temperatures_c or (15.0,) * len(winds_m_s)
    winds = winds_m_s or (1.0,) * len(temperatures_c)
    return [
        HourAhead(FIRST_S + HOUR_S * number, lowest_c, wind)
        for number, (lowest_c, wind) in enumerate(zip(lowest, winds, strict=True))
    ]


def test_spans_become_whole_seconds_inwards() -> None:
    ragged = Span(MIDNIGHT + dt.timedelta(milliseconds=1), MIDNIGHT + dt.timedelta(seconds=9, milliseconds=9))
    assert windows_of([ragged]) == ((FIRST_S + 1, FIRST_S + 9),)
    assert windows_of([Span(MIDNIGHT, MIDNIGHT + dt.timedelta(milliseconds=900))]) == ()


def test_a_ban_cuts_what_it_touches() -> None:
    assert told(permitted(span(0, 6), [span(2, 3)])) == [(0.0, 2.0), (3.0, 6.0)]
    assert told(permitted(span(0, 6), [span(-1, 1), span(5, 7)])) == [(1.0, 5.0)]
    assert told(permitted(span(0, 6), [span(6, 8), span(-2, 0)])) == [(0.0, 6.0)]
    assert permitted(span(0, 6), [span(-1, 4), span(3, 6)]) == ()


def test_a_span_that_is_over_permits_nothing() -> None:
    assert permitted(None, []) == ()


def test_windy_hours_are_left_out_and_unknown_ones_stay() -> None:
    windows = windows_of([span(0.5, 4.5)])
    assert told(calm(windows, hours(2.0, 5.0, None, 4.1, 4.0), 4.0)) == [(0.5, 1.0), (2.0, 3.0), (4.0, 4.5)]


def test_the_calmest_hours_are_as_many_as_are_needed() -> None:
    windows = windows_of([span(0, 4)])
    winds = hours(6.0, 5.0, 8.0, 7.0)
    assert (told(calmest(windows, winds, 3600)[0]), calmest(windows, winds, 3600)[1]) == ([(1.0, 2.0)], 5.0)
    assert (told(calmest(windows, winds, 3601)[0]), calmest(windows, winds, 3601)[1]) == ([(0.0, 2.0)], 6.0)
    assert told(calmest(windows, winds, 1e6)[0]) == [(0.0, 4.0)]


def test_only_hours_that_water_may_flow_in_count_as_calm() -> None:
    windows = windows_of([span(2, 4)])
    assert calmest(windows, hours(0.5, 0.5, 8.0, 7.0), 60)[1] == 7.0


def test_a_warm_hour_stays_warm_for_three_more() -> None:
    temperatures = (6.0, 6.0, 6.0, 6.0, 6.0, 4.9, 6.0, 6.0, 6.0, 6.0)
    chosen = warm(windows_of([span(0, 10)]), hours(temperatures_c=temperatures), 5.0)
    # 0 and 1 have three warm hours after them, 2 has not; nothing is known beyond 9.
    assert told(chosen) == [(0.0, 2.0), (6.0, 7.0)]


def test_an_hour_of_which_nothing_is_known_is_not_warm() -> None:
    unknown = hours(temperatures_c=(9.0, 9.0, None, 9.0, 9.0, 9.0, 9.0))
    assert told(warm(windows_of([span(0, 4)]), unknown, 5.0)) == [(3.0, 4.0)]
    assert warm(windows_of([span(0, 4)]), [], 5.0) == ()
    assert warm((), unknown, 5.0) == ()


BOUNDS = st.lists(st.integers(0, 1000), min_size=0, max_size=8, unique=True).map(sorted)
STRETCHES = st.lists(st.tuples(st.integers(0, 1000), st.integers(1, 300)), max_size=6)


@given(BOUNDS, STRETCHES)
def test_what_is_left_is_what_no_stretch_covers(bounds: list[int], stretches: list[tuple[int, int]]) -> None:
    windows = tuple(zip(bounds[::2], bounds[1::2], strict=False))
    barred = [(begins, begins + length) for begins, length in stretches]
    left = without(windows, barred)
    seconds = {second for opens, closes in windows for second in range(opens, closes)}
    seconds -= {second for begins, ends in barred for second in range(begins, ends)}
    assert {second for opens, closes in left for second in range(opens, closes)} == seconds
    assert length_s(left) == len(seconds)
    assert list(left) == sorted(left)
