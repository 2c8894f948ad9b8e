"""What a meter tells of a zone's flow, and what a plan makes of it."""

from dataclasses import replace

import pytest

from scheduling.garden.description import Valve, WaterSupply
from scheduling.garden.reports import Metered, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, make_plan
from scheduling.zone.metering import LearnedFlow, learned_flow, learned_flows
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    SHRUBS,
    a_garden,
    night_before,
    summer_days,
    with_valve,
    with_watering,
)

TWENTY_L_MIN = 20.0 / 60.0


def runs(*flows_l_min, open_s=600, until=JULY_1, zone="lawn"):
    """A run a day up to a date, one for each flow."""
    first = until - (len(flows_l_min) - 1) * ONE_DAY
    return [
        Metered(zone, first + day * ONE_DAY, flow * open_s / 60.0, open_s)
        for day, flow in enumerate(flows_l_min)
    ]


def flow_of(told, valve=None):
    learned = learned_flow(told, valve or Valve(), JULY_1)
    return None if learned is None else learned.flow_l_min


def test_the_flow_is_volume_over_time():
    # 300 l in ten minutes.
    assert flow_of([Metered("lawn", JULY_1, 300.0, 600)] * 3) == pytest.approx(30.0, abs=1e-9)


@pytest.mark.parametrize("odd", [0.5, 200.0])
def test_a_single_odd_run_of_three_changes_little(odd):
    assert flow_of(runs(19.8, odd, 20.2)) in (pytest.approx(19.8), pytest.approx(20.2))


def test_two_runs_teach_nothing():
    assert flow_of(runs(20.0, 20.0)) is None


def test_a_lasting_change_is_followed_after_four_runs_of_it():
    assert flow_of(runs(*[20.0] * 10, *[12.0] * 4)) == pytest.approx(12.0)
    assert flow_of(runs(*[20.0] * 10, *[12.0] * 3)) == pytest.approx(20.0)


def test_what_the_runs_before_told_is_kept_beside_it():
    assert learned_flow(runs(*[20.0] * 10, *[12.0] * 7), Valve(), JULY_1).before_l_min == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("told", "valve"),
    [
        pytest.param(runs(20.0, 20.0, 20.0, until=JULY_1 - 61 * ONE_DAY), Valve(), id="old"),
        pytest.param(runs(20.0, 20.0, 20.0, open_s=119), Valve(), id="too short"),
        pytest.param(runs(0.09, 0.09, 0.09), Valve(), id="less than a litre"),
        pytest.param(runs(1.9, 1.9, 1.9), Valve(min_flow_l_min=2.0), id="below the meter's smallest flow"),
        pytest.param(runs(20.0, 20.0, 20.0), Valve(meter=False), id="no meter"),
        pytest.param(runs(20.0, 20.0, 20.0, until=JULY_1 + 9 * ONE_DAY), Valve(), id="still to come"),
    ],
)
def test_such_runs_teach_nothing(told, valve):
    assert flow_of(told, valve) is None


def test_zones_that_are_watered_by_hand_or_are_no_more_teach_nothing():
    by_hand = replace(with_watering(SHRUBS, method="by-hand"), id="tubs")
    garden = a_garden(LAWN, by_hand)
    told = [run for zone in ("lawn", "tubs", "gone") for run in runs(20.0, 20.0, 20.0, zone=zone)]

    assert set(learned_flows(garden, told, JULY_1)) == {"lawn"}


def plan_for(zone=LAWN, flow_l_min=None, before_l_min=None, **fields) -> Plan:
    history = History(
        Opening(JULY_1, {zone.id: 18.0}, {}),
        flows={} if flow_l_min is None else {zone.id: LearnedFlow(flow_l_min, before_l_min)},
    )
    occasion = Occasion(JULY_1, (night_before(JULY_1),))
    return make_plan(a_garden(zone, **fields), summer_days(JULY_1 - 9 * ONE_DAY, 12), history, occasion)


def drift_of(plan):
    return [note.text for note in plan.zones[0].notes if note.code == "flow-has-drifted"]


def test_run_times_go_by_the_meter_and_litres_stay_as_they_are():
    declared, metered = plan_for().zones[0], plan_for(flow_l_min=25.0).zones[0]

    assert metered.volume_l == declared.volume_l
    # 20 l/min are declared; a run is rounded down to whole seconds.
    assert metered.run_time_s == pytest.approx(declared.run_time_s * 20.0 / 25.0, abs=1.0 + 20.0 / 25.0)


def test_rests_for_the_soil_go_by_the_meter_too():
    # 50 m2 of loam on which 20 l/min are 24 mm/h: four times the flow is four times the rate.
    loam = replace(LAWN, soil=replace(LAWN.soil, texture="loam"))

    assert len(plan_for(loam, flow_l_min=80.0).zones[0].runs) > len(plan_for(loam).zones[0].runs)


@pytest.mark.parametrize("flow_l_min", [16.1, 20.0, 23.9])
def test_a_fifth_more_or_less_is_no_drift(flow_l_min):
    assert drift_of(plan_for(flow_l_min=flow_l_min)) == []


@pytest.mark.parametrize(
    ("flow_l_min", "before_l_min", "told"),
    [
        (13.0, None, ("13 litres a minute, 35 % less than the 20 given", "blocked", "pressure", "is wrong")),
        (26.0, None, ("26 litres a minute, 30 % more than the 20 given", "burst", "is wrong")),
        (19.0, 25.0, ("19 litres a minute, 24 % less than the 25 before", "blocked")),
    ],
)
def test_a_drift_is_told_with_what_may_be_wrong(flow_l_min, before_l_min, told):
    (text,) = drift_of(plan_for(flow_l_min=flow_l_min, before_l_min=before_l_min))

    for words in told:
        assert words in text


def test_a_flow_that_was_never_declared_cannot_drift_from_it():
    unsaid = with_watering(LAWN, flow_l_min=None)
    codes = {note.code for note in plan_for(unsaid, flow_l_min=90.0).zones[0].notes}

    assert "flow-assumed" in {note.code for note in plan_for(unsaid).zones[0].notes}
    assert not codes & {"flow-assumed", "flow-has-drifted"}


def test_a_flow_by_which_no_zone_could_be_watered_is_told_and_not_planned_with():
    # 0.05 l/min over 50 m2 are 0.06 mm/h: a refill would take more than a day.
    plan = plan_for(flow_l_min=0.05)

    assert plan.zones[0].run_time_s == plan_for().zones[0].run_time_s
    assert "cannot be watered" in drift_of(plan)[0]


def test_a_meter_knows_better_than_the_supply():
    plan = plan_for(flow_l_min=22.0, water_supply=WaterSupply(flow_l_min=20.0))

    assert plan.zones[0].run_time_s < plan_for().zones[0].run_time_s
    assert plan.zones[0].decision == "water"


def test_a_limit_leaves_time_for_a_flow_that_falls():
    run = plan_for(with_valve(LAWN), flow_l_min=25.0).zones[0].runs[0]

    assert run.max_open_s * TWENTY_L_MIN >= run.volume_l
