"""Where water went: spans of dates, litres that are known or not, days of several plantings."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.soil_water import LedgerRow
from scheduling.review.usage import (
    BY,
    DateSpan,
    Depths,
    Flowed,
    Litres,
    depths_by_date,
    litres_of,
    span_of,
    spans_of,
)

JULY_15 = dt.date(2026, 7, 15)
"""A Wednesday."""


@pytest.mark.parametrize(
    ("by", "is_southern", "first", "last"),
    [
        ("day", False, "2026-07-15", "2026-07-15"),
        ("week", False, "2026-07-13", "2026-07-19"),
        ("month", False, "2026-07-01", "2026-07-31"),
        ("season", False, "2026-01-01", "2026-12-31"),
        ("season", True, "2026-07-01", "2027-06-30"),
    ],
)
def test_a_date_lies_in_its_day_week_month_and_season(by, is_southern, first, last):
    span = span_of(JULY_15, by, is_southern)
    assert (span.first.isoformat(), span.last.isoformat()) == (first, last)


def test_a_southern_summer_is_one_season():
    before, after = dt.date(2026, 12, 31), dt.date(2027, 1, 1)
    assert span_of(before, "season", True) == span_of(after, "season", True)
    assert span_of(before, "season") != span_of(after, "season")


def test_february_ends_by_itself():
    assert span_of(dt.date(2028, 2, 10), "month").last == dt.date(2028, 2, 29)


@given(
    st.dates(dt.date(1999, 1, 1), dt.date(2060, 1, 1)),
    st.integers(0, 500),
    st.sampled_from(BY),
    st.booleans(),
)
def test_spans_hold_every_date_once(first, days, by, is_southern):
    whole = DateSpan(first, first + dt.timedelta(days=days))
    dates = [date for span in spans_of(whole, by, is_southern) for date in span.dates]
    assert tuple(dates) == whole.dates


def flowed(measured_l, counted_l=None):
    return Flowed("lawn", JULY_15, measured_l, measured_l if counted_l is None else counted_l)


def test_where_nothing_flowed_it_is_0():
    assert litres_of([]) == Litres(0.0, 0.0, 0.0, 0)


def test_what_is_measured_is_known():
    assert litres_of([flowed(100.0), flowed(0.0)]) == Litres(100.0, 100.0, 0.0, 0)


def test_what_counts_as_planned_is_told_apart():
    assert litres_of([flowed(100.0), flowed(None, 80.0)]) == Litres(180.0, 100.0, 80.0, 1)


def test_what_nobody_measured_is_not_0():
    assert litres_of([flowed(None, 80.0)]) == Litres(80.0, None, 80.0, 1)
    assert litres_of([flowed(None, 0.0)]) == Litres(None, None, 0.0, 1)


def row(etc_mm, rain_mm):
    return LedgerRow(
        date=JULY_15, opening_depletion_mm=5.0, rain_mm=rain_mm, runoff_mm=0.0, infiltrated_rain_mm=rain_mm,
        irrigation_gross_mm=4.0, irrigation_mm=3.0, eto_mm=5.0, kc=1.0, ks=0.5, etc_mm=etc_mm,
        etc_adj_mm=0.5 * etc_mm, drainage_mm=1.0, adjustment_mm=0.0, closing_depletion_mm=5.0,
        taw_mm=20.0, raw_mm=10.0,
    )  # fmt: skip


def test_plantings_count_by_their_shares_of_the_ground():
    days = depths_by_date([(0.75, [row(4.0, 2.0)]), (0.25, [row(8.0, 2.0)])], [[False], [False]])
    assert days == {JULY_15: Depths(5.0, 2.5, 2.0, 2.0, 3.0, 1.0)}


def test_who_sleeps_wants_nothing():
    days = depths_by_date([(0.75, [row(4.0, 2.0)]), (0.25, [row(8.0, 2.0)])], [[True], [False]])
    assert days[JULY_15].etc_mm == 2.0
    assert days[JULY_15].rain_mm == 2.0
