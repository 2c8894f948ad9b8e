"""While nobody is there: filled up before, containers kept wetter, and who could run dry is told."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import Origin
from scheduling.decision.absence import absence_on
from scheduling.decision.endurance import LONGEST_LOOKED_AT_D, days_unwatered
from scheduling.garden.description import Absence, Garden, Watering, Zone
from scheduling.garden.reports import Opening, StandState
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan, ZonePlan
from scheduling.plan.planner import Occasion, make_plan
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    all_full_on,
    evening_by_evening,
    night_before,
    summer_day,
    summer_days,
    with_planting,
    with_rules,
    with_site,
    with_watering,
)

AWAY = Absence(JULY_1 + 10 * ONE_DAY, JULY_1 + 24 * ONE_DAY)
"""Two weeks: leaving on Saturday 11 July, home on Saturday 25 July."""
LEAVING = AWAY.leaves_on
CANNED = replace(LAWN, watering=Watering("by-hand", flow_l_min=10.0, efficiency=0.8, smallest_depth_mm=2.0))


def left_alone(*zones: Zone) -> Garden:
    return a_garden(*zones, absence=(AWAY,))


def planned(garden: Garden, date: dt.date, lacking_mm: float, rain_mm: float = 0.0, **how: Any) -> Plan:
    days = [
        *summer_days(date - 20 * ONE_DAY, 20),
        *(
            summer_day(date + ahead * ONE_DAY, origin=Origin.FORECAST, rain_mm=rain_mm, rain_probability=1.0)
            for ahead in range(4)
        ),
    ]
    opening = Opening(date, {zone.id: lacking_mm for zone in garden.zones}, {}, **how)
    return make_plan(garden, days, History(opening), Occasion(date, (night_before(date),)))


def only(plan: Plan) -> ZonePlan:
    (zone,) = plan.zones
    return zone


def codes(plan: ZonePlan | Plan) -> set[str]:
    return {note.code for note in plan.notes}


def test_nobody_sees_the_dates_after_that_of_leaving_up_to_that_of_coming_home() -> None:
    seen = [date for ahead in range(40) if not absence_on((AWAY,), date := JULY_1 + ahead * ONE_DAY)]
    assert seen[10] == LEAVING
    assert seen[11] == AWAY.returns_on + ONE_DAY


def test_a_moist_zone_is_filled_up_in_the_night_before_somebody_leaves() -> None:
    garden = left_alone(LAWN)
    assert only(planned(garden, LEAVING - ONE_DAY, 6.0)).decision == "wait"
    leaving = only(planned(garden, LEAVING, 6.0))
    assert leaving.reasons[0].code == "before-absence"
    assert "from 11 July 2026 to 25 July 2026" in leaving.reasons[0].text
    assert leaving.net_mm == pytest.approx(6.0, abs=0.02)  # litres are whole
    assert only(planned(garden, LEAVING + ONE_DAY, 6.0)).decision == "wait"


def test_no_room_is_left_for_promised_rain_nor_by_a_fill_share() -> None:
    zone = with_watering(LAWN, fill_share=0.4)
    assert only(planned(left_alone(zone), LEAVING, 15.0, rain_mm=6.0)).net_mm == pytest.approx(15.0, abs=0.02)


def test_what_lacks_less_than_is_worth_a_run_is_left() -> None:
    assert only(planned(left_alone(LAWN), LEAVING, 2.5)).decision == "wait"


def test_watering_days_make_an_earlier_date_the_last_chance() -> None:
    garden = left_alone(with_rules(LAWN, watering_days=("mon", "thu")))
    thursday = LEAVING - 2 * ONE_DAY
    assert only(planned(garden, thursday, 4.0)).reasons[0].code == "before-absence"
    assert only(planned(garden, LEAVING, 4.0)).reasons[0].code == "not-a-watering-day"
    monday = LEAVING - 5 * ONE_DAY
    assert only(planned(garden, monday, 4.0)).reasons[0].code != "before-absence"


def test_several_plantings_are_filled_until_the_driest_is_full() -> None:
    zone = replace(
        with_planting(LAWN, share=0.5), others=(replace(LAWN.planting, kc=0.4, root_depth_m=0.5, share=0.5),)
    )
    stands = {"lawn": (StandState(4.0), StandState(9.0))}
    plan = only(planned(left_alone(zone), LEAVING, 6.5, turns_after={}, stands=stands))
    assert plan.net_mm == pytest.approx(9.0, abs=0.02)


@given(
    st.sampled_from((LAWN, SHRUBS, TROUGHS, with_planting(SHRUBS, kc_method="dual"))),
    st.floats(0.0, 1.0),
    st.floats(0.0, 15.0),
    st.integers(-6, 16),
)
def test_an_absence_never_means_less_water_nor_fills_past_field_capacity(
    zone: Zone, empty: float, rain_mm: float, days_after: int
) -> None:
    date = LEAVING + days_after * ONE_DAY
    store_mm = only(planned(left_alone(zone), date, 0.0)).soil_water.total_available_mm
    away = only(planned(left_alone(zone), date, empty * store_mm, rain_mm))
    home = only(planned(a_garden(zone), date, empty * store_mm, rain_mm))
    assert away.volume_l >= home.volume_l
    assert away.net_mm <= empty * store_mm + 1e-9


def test_a_container_that_nobody_sees_is_watered_sooner_and_by_no_promise() -> None:
    garden = left_alone(with_site(TROUGHS, rain_share=1.0))
    away, home = LEAVING + 3 * ONE_DAY, AWAY.returns_on + ONE_DAY
    # Easily available are about 9 mm, of which a day takes 5.
    assert only(planned(garden, home, 1.0)).decision == "wait"
    kept = only(planned(garden, away, 1.0))
    assert kept.decision == "water"
    assert "While you are away" in kept.reasons[0].text
    assert only(planned(garden, home, 6.0, rain_mm=12.0)).decision == "wait"
    assert only(planned(garden, away, 6.0, rain_mm=12.0)).net_mm == pytest.approx(6.0, abs=0.1)


def test_the_ledger_of_a_container_stays_what_it_is() -> None:
    garden, home = left_alone(TROUGHS), a_garden(TROUGHS)
    weather = summer_days(JULY_1, 40)
    opening = all_full_on(home, JULY_1)
    for plan in evening_by_evening(garden, weather, opening, AWAY.returns_on):
        for row in only(plan).ledger or ():
            assert row.ks == 1.0
            assert row.raw_mm == pytest.approx(
                only(planned(home, row.date, 0.0)).soil_water.readily_available_mm, rel=0.05
            )


def test_what_is_watered_by_hand_waits_for_somebody_and_is_filled_before() -> None:
    garden = left_alone(CANNED)
    assert only(planned(garden, LEAVING, 6.0)).reasons[0].code == "before-absence"
    alone = only(planned(garden, LEAVING + 4 * ONE_DAY, 30.0))
    assert alone.reasons[0].code == "paused"
    assert "nobody is there" in alone.reasons[0].text
    assert "left-dry" in codes(alone)
    assert only(planned(garden, AWAY.returns_on + ONE_DAY, 30.0)).decision == "water"


def test_some_days_before_plans_say_how_long_each_zone_lasts() -> None:
    garden = left_alone(LAWN, SHRUBS, POTS)
    assert "absence-ahead" not in codes(planned(garden, LEAVING - 6 * ONE_DAY, 2.0))
    plan = planned(garden, LEAVING - 5 * ONE_DAY, 2.0)
    (told,) = [note.text for note in plan.notes if note.code == "absence-ahead"]
    assert told.index("pots 1 day") < told.index("lawn") < told.index("shrubs")
    assert "absence-ahead" in codes(planned(garden, LEAVING, 2.0))
    assert "absence-ahead" not in codes(planned(garden, LEAVING + ONE_DAY, 2.0))


def test_who_does_not_outlast_it_could_run_dry() -> None:
    plan = planned(left_alone(LAWN, CANNED_POTS, DEEP), LEAVING - ONE_DAY, 0.0)
    lawn, canned, deep = plan.zones
    assert "could-run-dry" in codes(lawn)
    assert "If its valve fails" in next(note.text for note in lawn.notes if note.code == "could-run-dry")
    assert "by hand" in next(note.text for note in canned.notes if note.code == "could-run-dry")
    assert "could-run-dry" not in codes(deep)


CANNED_POTS = replace(POTS, id="canned-pots", watering=CANNED.watering)
DEEP = replace(with_planting(LAWN, kc=0.2, root_depth_m=1.0), id="deep")


def test_unwatered_days_are_those_with_most_of_what_plants_want() -> None:
    # TAW 40, RAW 20: Ks is 0.7 at 26 mm. Mornings of 5 mm a day: 0, 5, 10, 15, 20, 25, then 28.75.
    assert days_unwatered(0.0, 5.0, 40.0, 20.0) == 6
    assert days_unwatered(10.0, 5.0, 40.0, 20.0) == 4
    assert days_unwatered(27.0, 5.0, 40.0, 20.0) == 0
    assert days_unwatered(0.0, 0.1, 40.0, 20.0) == LONGEST_LOOKED_AT_D
