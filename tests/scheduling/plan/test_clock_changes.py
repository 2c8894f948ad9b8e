"""The two nights of the year in which the clock in Paris jumps: water flows in elapsed time."""

import datetime as dt
import itertools
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from scheduling.balance.weather import Origin
from scheduling.garden.reports import Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan, Run
from scheduling.plan.planner import Occasion, make_plan
from scheduling.tap.windows import Span
from tests.scheduling.gardens import LAWN, ONE_DAY, a_garden, summer_days, with_rules, with_watering

PARIS = ZoneInfo("Europe/Paris")
SPRING, AUTUMN = dt.date(2026, 3, 29), dt.date(2026, 10, 25)
ZONES = [replace(with_rules(LAWN, exempt=("frost",)), id=f"lawn-{number}") for number in range(3)]


def plan_for(date: dt.date, closes: dt.time, fill_share: float = 1.0) -> Plan:
    """Three lawns that want 62.5 min each, or less, before a clock time of a night in Paris."""
    zones = [with_watering(zone, fill_share=fill_share) for zone in ZONES]
    weather = [replace(day, origin=Origin.FORECAST) for day in summer_days(date, 3)]
    hours = Span(
        dt.datetime.combine(date - ONE_DAY, dt.time(22), PARIS), dt.datetime.combine(date, closes, PARIS)
    )
    opening = Opening(date, {zone.id: 20.0 for zone in zones}, {})
    garden = a_garden(*zones, timezone="Europe/Paris")
    return make_plan(garden, weather, History(opening), Occasion(date, (hours,), PARIS))


def runs_in_time(plan: Plan) -> list[Run]:
    return sorted((run for zone in plan.zones for run in zone.runs), key=lambda run: run.start.timestamp())


@pytest.mark.parametrize(("date", "closes"), [(SPRING, dt.time(5, 30)), (AUTUMN, dt.time(4, 30))])
def test_runs_keep_their_seconds_and_gaps_across_the_change(date: dt.date, closes: dt.time) -> None:
    plan = plan_for(date, closes)
    runs = runs_in_time(plan)
    assert [run.run_time_s for run in runs] == [3750] * 3
    for one, following in itertools.pairwise(runs):
        between_s = following.start.timestamp() - one.start.timestamp()
        assert 3750 + 120 <= between_s < 3750 + 120 + 60
    ends_s = runs[-1].start.timestamp() + 3750
    assert 0 <= dt.datetime.combine(date, closes, PARIS).timestamp() - ends_s < 60


def test_the_night_of_spring_has_no_start_between_two_and_three() -> None:
    starts = [run.start for run in runs_in_time(plan_for(SPRING, dt.time(5, 30)))]
    assert [f"{start:%H:%M %z}" for start in starts] == ["01:17 +0100", "03:22 +0200", "04:27 +0200"]


def test_the_night_of_autumn_tells_its_two_hours_from_two_to_three_apart() -> None:
    starts = [run.start for run in runs_in_time(plan_for(AUTUMN, dt.time(4, 30)))]
    assert [f"{start:%H:%M %z}" for start in starts] == ["02:17 +0200", "02:22 +0100", "03:27 +0100"]


def test_the_main_valve_opens_with_the_first_run_in_time_though_its_clock_time_is_the_last() -> None:
    # 20 min each, before the second 02:45: at 02:41 of summer time, then 02:03 and 02:25.
    plan = plan_for(AUTUMN, dt.time(2, 45, fold=1), fill_share=0.32)
    runs = runs_in_time(plan)
    assert [f"{run.start:%H:%M}" for run in runs] == ["02:41", "02:03", "02:25"]
    assert plan.main_valve is not None
    assert plan.main_valve.opens_at.timestamp() == runs[0].start.timestamp()
    assert plan.main_valve.closes_at.timestamp() == runs[-1].start.timestamp() + 1200
    assert plan.main_valve.max_open_s == (
        runs[-1].start.timestamp() + runs[-1].max_open_s - runs[0].start.timestamp()
    )


def test_the_night_of_spring_is_an_hour_shorter_and_holds_an_hour_less() -> None:
    # From 22:00 to 01:00 and on to 05:30: 6.5 h, not 7.5. Six of 62.5 min and gaps want 6.4 h, seven 7.5.
    def served(date: dt.date) -> int:
        seven = [replace(ZONES[0], id=f"lawn-{number}") for number in range(7)]
        weather = [replace(day, origin=Origin.FORECAST) for day in summer_days(date, 3)]
        hours = Span(
            dt.datetime.combine(date - ONE_DAY, dt.time(22), PARIS),
            dt.datetime.combine(date, dt.time(5, 35), PARIS),
        )
        opening = Opening(date, {zone.id: 20.0 for zone in seven}, {})
        plan = make_plan(a_garden(*seven), weather, History(opening), Occasion(date, (hours,), PARIS))
        return sum(zone.volume_l == 1250.0 for zone in plan.zones)

    assert served(SPRING) == 6
    assert served(SPRING + ONE_DAY) == 7
