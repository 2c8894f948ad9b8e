"""A source's own evapotranspiration beside ours."""

import datetime as dt
from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import second_opinion
from scheduling.plan.initial_state import History
from scheduling.plan.planner import Occasion, make_plan
from tests.scheduling.gardens import JULY_1, LAWN, a_garden, night_before, summer_days

DATE = dt.date(2026, 7, 15)


# Noted above 1 mm and above a quarter of the source's.
@pytest.mark.parametrize(
    ("ours_mm", "theirs_mm", "is_noted"),
    [
        (5.0, None, False),
        (5.0, 5.0, False),
        (5.0, 4.05, False),  # 23 %
        (3.0, 2.1, False),  # 43 %, but 0.9 mm
        (8.0, 6.5, False),  # 1.5 mm, but 23 %
        (8.0, 6.3, True),
        (4.0, 6.0, True),
        (2.0, 0.0, True),
    ],
)
def test_only_a_large_difference_is_noted(ours_mm, theirs_mm, is_noted):
    note = second_opinion(DATE, ours_mm, theirs_mm)
    assert (note is not None) is is_noted
    if note is not None:
        assert note.code == "evapotranspiration-differs"
        assert (note.theirs_mm, note.ours_mm) == (theirs_mm, ours_mm)


def test_a_plan_notes_it_of_its_date_and_changes_nothing():
    weather = summer_days(JULY_1, 12)
    date = weather[-1].date
    occasion = Occasion(date, (night_before(date),))
    agrees = make_plan(a_garden(LAWN), weather, History(), occasion)
    weather[-1] = replace(weather[-1], source_eto_mm=2.0)
    differs = make_plan(a_garden(LAWN), weather, History(), occasion)

    assert agrees.notes == ()
    assert [note.code for note in differs.notes] == ["evapotranspiration-differs"]
    assert differs.zones == agrees.zones
    assert differs.weather.source_eto_mm == 2.0
