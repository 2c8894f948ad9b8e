"""What the dates after a plan would bring."""

from dataclasses import replace

import pytest

from scheduling.balance.weather import Origin
from scheduling.garden.description import Garden
from scheduling.garden.reports import Delivery, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, make_plan
from scheduling.tap.windows import Span
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    carried_out,
    night_before,
    summer_days,
)

PLANNED = JULY_1 + 20 * ONE_DAY
WEATHER = [
    replace(day, origin=Origin.FORECAST if day.date >= PLANNED else Origin.ANALYSED)
    for day in summer_days(JULY_1, 30)
]
OPENING = Opening(PLANNED, {"lawn": 20.0, "shrubs": 28.0, "troughs": 8.0, "pots": 3.0}, {})


def planned(
    garden: Garden, opening: Opening, deliveries: tuple[Delivery, ...] = (), ahead: int = 0, spans: int = 1
) -> Plan:
    date = PLANNED + ahead * ONE_DAY
    night = night_before(date)
    noon = Span(*(moment + (night.closes - night.opens) for moment in night))
    return make_plan(
        garden, WEATHER, History(opening, False, deliveries), Occasion(date, (night, noon)[:spans])
    )


def test_the_outlook_is_what_the_next_plans_say_once_this_one_is_carried_out() -> None:
    garden = a_garden(LAWN, SHRUBS, TROUGHS)
    plan = planned(garden, OPENING)
    outlook = plan.outlook
    assert [later.date for later in outlook] == [PLANNED + d * ONE_DAY for d in (1, 2, 3)]
    for ahead, later in enumerate(outlook, start=1):
        plan = planned(garden, plan.state, carried_out(plan), ahead)
        # What was rounded down the night before is asked for on top: less than a litre a night.
        for zone in plan.zones:
            assert later.zones[zone.zone] == pytest.approx(zone.volume_l, abs=1.0), (later.date, zone.zone)
        assert later.volume_l == pytest.approx(sum(later.zones.values()))


def test_the_outlook_of_pots_holds_both_runs_of_a_day() -> None:
    garden = a_garden(POTS)
    plan = planned(garden, OPENING, spans=2)
    tomorrow = planned(garden, plan.state, carried_out(plan), 1, spans=2)
    assert len(tomorrow.zones[0].runs) == 2
    # The outlook tells whole litres, the runs tenths.
    assert plan.outlook[0].zones["pots"] == pytest.approx(tomorrow.volume_l, abs=1.0)


def test_what_was_delivered_for_the_date_is_in_the_outlook() -> None:
    garden = a_garden(LAWN)
    asked = planned(garden, OPENING).outlook
    told = planned(garden, OPENING, (Delivery("lawn", PLANNED, 1250.0),)).outlook
    assert told == asked


def test_each_day_ahead_ends_where_the_plan_of_the_next_begins() -> None:
    garden = a_garden(LAWN, SHRUBS, TROUGHS)
    first = plan = planned(garden, OPENING)
    assert [day.date for day in first.zones[0].ahead] == [PLANNED + d * ONE_DAY for d in range(4)]
    for ahead in range(3):
        plan = planned(garden, plan.state, carried_out(plan), ahead + 1)
        for described, before, zone in zip(garden.zones, first.zones, plan.zones, strict=True):
            # What was rounded down the night before is asked for on top: less than a litre a night.
            rounded_mm = ahead * 1.0 / described.area_m2 + 1e-9
            closing_mm = before.ahead[ahead].closing_depletion_mm
            assert closing_mm == pytest.approx(zone.soil_water.depletion_mm, abs=rounded_mm)
            line_mm = before.ahead[ahead + 1].readily_available_mm
            assert line_mm == zone.soil_water.readily_available_mm


def test_the_water_of_the_plan_is_in_the_account_of_its_date() -> None:
    plan = planned(a_garden(LAWN), OPENING)
    assert plan.zones[0].net_mm > 0.0
    assert plan.zones[0].ahead[0].irrigation_mm == plan.zones[0].net_mm


def test_without_water_the_easily_available_part_is_used_up_on_the_date_that_is_told() -> None:
    garden, opening = a_garden(LAWN, SHRUBS), Opening(PLANNED, {"lawn": 2.0, "shrubs": 20.0}, {})
    for place, told in enumerate(planned(garden, opening).zones):
        assert told.dry_on is not None
        # Nothing is delivered: each later plan goes on from the same morning.
        waters = [planned(garden, opening, ahead=ahead).zones[place].soil_water for ahead in range(9)]
        dry = [
            PLANNED + ahead * ONE_DAY
            for ahead, water in enumerate(waters)
            if water.depletion_mm >= water.readily_available_mm
        ]
        assert told.dry_on == dry[0]
