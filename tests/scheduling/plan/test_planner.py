"""A garden, its weather and its reports become a plan."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import Origin, WeatherDay
from scheduling.errors import InvalidGarden, OpeningAfterPlan, UnknownName, WeatherGap
from scheduling.garden.description import Container, Garden, Pause, Rules, Soil, WaterSupply, Zone
from scheduling.garden.reports import Delivery, Opening, StandState
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan, ZonePlan
from scheduling.plan.planner import Occasion, guess_opening, make_plan
from scheduling.tap.windows import Span
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    night_before,
    summer_day,
    summer_days,
    with_planting,
    with_rules,
    with_site,
    with_valve,
    with_watering,
)

PAST = 30
PLANNED = JULY_1 + PAST * ONE_DAY
"""A Friday."""


DUAL_BED = with_planting(
    LAWN, plant="tomato", kc=None, planted_on=PLANNED - 30 * ONE_DAY, kc_method="dual", mulched_share=0.2
)
MIXED_BED = replace(
    with_planting(LAWN, plant="shrubs", kc=None, share=0.7),
    others=(replace(LAWN.planting, kc=0.4, root_depth_m=0.5, share=0.3),),
)


def weather(*forecast: WeatherDay, **date_itself: Any) -> list[WeatherDay]:
    """A dry July, then the planned date and three days more."""
    told = forecast or (summer_day(PLANNED, origin=Origin.FORECAST, **date_itself),)
    later = [summer_day(PLANNED + d * ONE_DAY, origin=Origin.FORECAST) for d in range(len(told), 4)]
    return [*summer_days(JULY_1, PAST), *told, *later]


def lacking(**depletion_mm: float) -> Opening:
    return Opening(PLANNED, depletion_mm, {})


def planned(
    garden: Garden,
    opening: Opening | None,
    days: list[WeatherDay] | None = None,
    deliveries: tuple[Delivery, ...] = (),
    **occasion: Any,
) -> Plan:
    asked = Occasion(**{"date": PLANNED, "hours": (night_before(PLANNED),), **occasion})
    return make_plan(garden, days or weather(), History(opening, False, deliveries), asked)


def the_lawn(opening_mm: float, zone: Zone = LAWN, **how: Any) -> ZonePlan:
    (only,) = planned(a_garden(zone), lacking(lawn=opening_mm), **how).zones
    return only


def notes(zone: ZonePlan) -> list[str]:
    return [note.code for note in zone.notes]


def codes(zone: ZonePlan) -> list[str]:
    return [reason.code for reason in zone.reasons]


def test_a_dry_lawn_gets_its_depth_in_litres_and_seconds_before_the_hours_end() -> None:
    # 20 mm / 0.8 on 50 m2 at 20 l/min.
    lawn = the_lawn(20.0)
    assert (lawn.decision, lawn.volume_l, lawn.run_time_s) == ("water", 1250.0, 3750)
    assert codes(lawn) == ["soil-drying-out"]
    assert lawn.net_mm == pytest.approx(20.0)
    assert lawn.gross_mm == pytest.approx(25.0)
    (run,) = lawn.runs
    assert run.id == f"{PLANNED}-lawn-1"
    assert run.start == dt.datetime(2026, 7, 31, 4, 57, tzinfo=dt.UTC)
    assert (run.volume_l, run.run_time_s, run.max_open_s) == (1250.0, 3750, 4718)


def test_a_moist_lawn_is_listed_with_nothing() -> None:
    lawn = the_lawn(5.0)
    assert (lawn.decision, lawn.volume_l, lawn.runs, codes(lawn)) == ("wait", 0.0, (), ["soil-moist"])


def test_the_plan_adds_up() -> None:
    plan = planned(a_garden(LAWN, SHRUBS), lacking(lawn=20.0, shrubs=40.0))
    assert plan.volume_l == sum(zone.volume_l for zone in plan.zones) > 1250.0
    assert [zone.zone for zone in plan.zones] == ["lawn", "shrubs"]
    assert (plan.garden, plan.date, plan.history) == ("test-garden", PLANNED, "known")


def test_the_state_is_the_depletion_before_any_water_of_the_date() -> None:
    plan = planned(a_garden(LAWN), lacking(lawn=20.0), deliveries=(Delivery("lawn", PLANNED, 500.0),))
    assert plan.state == lacking(lawn=20.0)


def test_what_was_delivered_for_the_date_is_taken_off() -> None:
    # 500 l on 50 m2 at 0.8 are 8 mm.
    lawn = the_lawn(30.0, deliveries=(Delivery("lawn", PLANNED, 500.0),))
    assert lawn.net_mm == pytest.approx(22.0)
    assert "already-delivered" in [note.code for note in lawn.notes]


def test_what_was_delivered_in_full_is_not_asked_for_again() -> None:
    assert the_lawn(20.0, deliveries=(Delivery("lawn", PLANNED, 1250.0),)).volume_l == 0.0


def test_water_of_an_earlier_date_enters_the_ledger() -> None:
    opening = Opening(PLANNED - ONE_DAY, {"lawn": 15.0}, {})
    dry = planned(a_garden(LAWN), opening).zones[0].soil_water.depletion_mm
    watered = planned(a_garden(LAWN), opening, deliveries=(Delivery("lawn", PLANNED - ONE_DAY, 500.0),))
    assert watered.zones[0].soil_water.depletion_mm == pytest.approx(dry - 8.0, abs=0.2)


def test_water_of_another_zone_is_not_counted() -> None:
    assert the_lawn(20.0, deliveries=(Delivery("meadow", PLANNED, 1250.0),)).volume_l == 1250.0


def test_each_rule_speaks_for_itself() -> None:
    def reason(zone: Zone = LAWN, **rules: Any) -> list[str]:
        garden = a_garden(zone, rules=Rules(**rules))
        return codes(planned(garden, lacking(lawn=20.0), weather(t_min_c=4.9)).zones[0])

    assert reason() == ["frost-risk"]
    assert reason(watering_days=("mon",)) == ["not-a-watering-day"]
    assert reason(pauses=(Pause(PLANNED, PLANNED),)) == ["paused"]
    assert reason(frost_limit_c=4.0) == ["soil-drying-out"]
    assert reason(with_rules(LAWN, exempt=("frost",))) == ["soil-drying-out"]
    fallow = with_planting(LAWN, plant="lettuce", kc=None, planted_on=PLANNED + ONE_DAY)
    assert reason(fallow) == ["dormant"]


def test_the_answer_and_the_sentence_have_the_same_lowest_temperature() -> None:
    # 4.76 is neither 4.8 in the one nor above the limit in the other.
    plan = planned(a_garden(LAWN), lacking(lawn=20.0), lowest_c=4.76)
    assert plan.weather.lowest_c == 4.7
    assert "4.7 °C" in plan.zones[0].reasons[0].text


def test_frost_is_that_of_the_hours_and_the_date_where_it_is_known() -> None:
    assert codes(the_lawn(20.0, lowest_c=4.9)) == ["frost-risk"]
    mild_hours = the_lawn(20.0, days=weather(t_min_c=3.0), lowest_c=6.0)
    assert codes(mild_hours) == ["soil-drying-out"]


def test_rain_makes_a_zone_wait_or_get_the_least() -> None:
    rain = weather(rain_mm=12.0, rain_probability=1.0)
    assert codes(the_lawn(20.0, days=rain)) == ["rain-expected"]
    assert codes(the_lawn(32.0, days=rain)) == ["rain-not-enough"]


def test_hours_too_short_for_all_leave_the_less_thirsty_without() -> None:
    back = replace(LAWN, id="back-lawn")
    span = night_before(PLANNED)
    short = (Span(span.closes - dt.timedelta(minutes=64), span.closes),)
    plan = planned(a_garden(LAWN, back), Opening(PLANNED, {"lawn": 20.0, "back-lawn": 19.0}, {}), hours=short)
    lawn, other = plan.zones
    assert codes(lawn) == ["soil-drying-out"]
    assert (other.decision, codes(other)) == ("wait", ["hours-full"])
    assert (plan.state.turns_without, plan.state.turns_after) == ({}, {"back-lawn": 1})


def test_a_cut_dose_says_so_beside_its_reason() -> None:
    span = night_before(PLANNED)
    short = (Span(span.closes - dt.timedelta(minutes=30), span.closes),)
    lawn = the_lawn(20.0, hours=short)
    assert codes(lawn) == ["soil-drying-out", "hours-full"]
    assert 590.0 <= lawn.volume_l <= 600.0


def test_turns_without_are_counted_until_there_is_water() -> None:
    def turns(opening_mm: float, hours: tuple[Span, ...], before: int) -> dict[str, int]:
        opening = Opening(PLANNED, {"lawn": opening_mm}, {"lawn": before})
        return planned(a_garden(LAWN), opening, hours=hours).state.turns_after

    night = (night_before(PLANNED),)
    assert turns(20.0, (), 2) == {"lawn": 3}
    assert turns(20.0, night, 2) == {}
    assert turns(5.0, night, 2) == {"lawn": 2}
    assert turns(5.0, night, 0) == {}


def test_the_same_evening_asked_twice_counts_one_turn() -> None:
    asked = planned(a_garden(LAWN), Opening(PLANNED, {"lawn": 20.0}, {"lawn": 1}), hours=())
    again = planned(a_garden(LAWN), asked.state, hours=())
    assert again.state == asked.state
    assert (again.state.turns_without, again.state.turns_after) == ({"lawn": 1}, {"lawn": 2})


def test_a_later_date_goes_by_the_turns_after_the_plan_before_it() -> None:
    earlier = Opening(PLANNED - ONE_DAY, {"lawn": 20.0}, {"lawn": 1}, {"lawn": 2})
    state = planned(a_garden(LAWN), earlier, hours=()).state
    assert (state.turns_without, state.turns_after) == ({"lawn": 2}, {"lawn": 3})


def test_closed_hours_are_told_by_the_garden() -> None:
    plan = planned(a_garden(LAWN), lacking(lawn=20.0), hours=())
    assert [note.code for note in plan.notes] == ["hours-closed"]
    assert codes(plan.zones[0]) == ["hours-full"]
    assert plan.main_valve is None


def test_the_main_valve_frames_all_runs() -> None:
    plan = planned(a_garden(LAWN, SHRUBS), lacking(lawn=20.0, shrubs=40.0))
    assert plan.main_valve is not None
    runs = sorted((run for zone in plan.zones for run in zone.runs), key=lambda run: run.start)
    assert plan.main_valve.opens_at == runs[0].start
    last = runs[-1]
    assert plan.main_valve.closes_at == last.start + dt.timedelta(seconds=last.run_time_s)
    span_s = (last.start - runs[0].start).total_seconds()
    assert plan.main_valve.max_open_s == span_s + last.max_open_s
    assert plan.main_valve.max_volume_l == pytest.approx(1.25 * plan.volume_l, abs=1.0)


def test_a_valve_without_meter_closes_by_time() -> None:
    assert the_lawn(20.0, with_valve(LAWN, meter=False)).close_by == "time"


def test_runs_of_a_split_dose_are_numbered() -> None:
    lawn = the_lawn(20.0, with_valve(LAWN, max_open_s=1300))
    assert [run.id[-6:] for run in lawn.runs] == ["lawn-1", "lawn-2", "lawn-3"]


def test_a_zone_that_even_its_cap_cannot_keep_is_told_the_day() -> None:
    # Friday's dose of 4 mm, then 5.5 mm a day until Tuesday.
    zone = with_watering(with_rules(LAWN, watering_days=("fri", "tue")), wetted_share=0.2)
    note = next(note for note in the_lawn(20.0, zone).notes if note.code == "cannot-last")
    assert note.short_on.strftime("%A") == "Friday"


def test_the_weather_it_stands_on_is_told() -> None:
    plan = planned(
        a_garden(LAWN), lacking(lawn=5.0), weather(rain_mm=8.0, rain_probability=0.5, wind_m_s=None)
    )
    told = plan.weather
    assert (told.t_min_c, told.t_max_c, told.lowest_c) == (15.0, 28.0, 15.0)
    assert (told.rain_mm, told.rain_probability, told.counted_rain_mm) == (8.0, 0.5, 4.0)
    assert told.estimated == ("wind",)


def test_rows_are_there_when_they_are_asked_for() -> None:
    opening = Opening(PLANNED - 3 * ONE_DAY, {"lawn": 5.0}, {})
    (explained,) = planned(a_garden(LAWN), opening, explain=True).zones
    assert explained.ledger is not None
    assert [row.date for row in explained.ledger] == [PLANNED - d * ONE_DAY for d in (3, 2, 1)]
    assert planned(a_garden(LAWN), opening).zones[0].ledger is None


def test_a_dose_too_small_for_any_valve_is_left_out_in_true_words() -> None:
    # 0.5 mm / 0.9 on 100 cm2 are 5.6 ml; a valve is told hundredths of a litre.
    cup = replace(
        with_watering(POTS, emitters=None, flow_l_min=0.02),
        area_m2=0.01,
        soil=Soil(container=Container(0.1, capacity_share=0.5, unavailable_share=0.3)),
    )
    (only,) = planned(a_garden(cup), lacking(pots=0.5)).zones
    assert (only.decision, only.volume_l, codes(only)) == ("wait", 0.0, ["soil-moist"])
    assert "the valve cannot give it" in only.reasons[0].text


def test_a_zone_that_lasts_if_the_forecast_holds_is_not_told_that_it_cannot() -> None:
    # Should tomorrow's rain fail, Friday's cap of 6 mm does not keep Ks 0.7 until Monday; it is counted on.
    zone = with_watering(with_rules(LAWN, watering_days=("mon", "fri")), wetted_share=0.2)
    plan = the_lawn(30.0, zone, days=weather(rain_mm=40.0, rain_probability=0.8))
    assert codes(plan) == ["rain-not-enough"]
    assert plan.net_mm == pytest.approx(6.0)
    assert "cannot-last" not in [note.code for note in plan.notes]


# Where a ledger begins


def test_without_a_past_the_plan_says_that_it_is_assumed() -> None:
    plan = planned(a_garden(LAWN), None)
    assert plan.history == "assumed"
    assert 0.0 < plan.state.depletion_mm["lawn"] <= plan.zones[0].soil_water.readily_available_mm


def test_a_guess_stays_one_through_the_states_that_follow_it() -> None:
    first = planned(a_garden(LAWN), None)
    assert first.state.assumed == {"lawn"}
    later = planned(a_garden(LAWN), first.state)
    assert (later.history, later.state.assumed) == ("assumed", {"lawn"})
    told = planned(a_garden(LAWN), lacking(lawn=5.0))
    assert (told.history, told.state.assumed) == ("known", frozenset())


def test_a_first_guess_kept_since_the_date_gives_the_same_plan() -> None:
    garden = a_garden(LAWN, SHRUBS, TROUGHS, POTS)
    fresh = planned(garden, None)
    guess = guess_opening(garden, weather(), PLANNED)
    asked = Occasion(PLANNED, (night_before(PLANNED),))
    assert make_plan(garden, weather(), History(guess, True), asked) == fresh


def test_water_of_the_date_itself_counts_beside_a_first_guess() -> None:
    fresh = planned(a_garden(LAWN), None).state
    watered = planned(a_garden(LAWN), None, deliveries=(Delivery("lawn", PLANNED, 100.0),))
    assert watered.state == fresh


def test_a_morning_at_field_capacity_begins_the_ledger() -> None:
    full = replace(LAWN, soil_full_on=PLANNED - 2 * ONE_DAY)
    plan = planned(a_garden(full), None)
    assert plan.history == "known"
    assert plan.state.depletion_mm["lawn"] == pytest.approx(11.0, abs=1.0)  # two days of 5.5 mm
    assert planned(a_garden(replace(LAWN, soil_full_on=PLANNED)), None).state.depletion_mm["lawn"] == 0.0


def test_the_later_of_state_and_field_capacity_begins_the_ledger() -> None:
    opening = Opening(PLANNED - 3 * ONE_DAY, {"lawn": 18.0}, {})
    after = replace(LAWN, soil_full_on=PLANNED - ONE_DAY)
    before = replace(LAWN, soil_full_on=PLANNED - 5 * ONE_DAY)
    assert planned(a_garden(after), opening).state.depletion_mm["lawn"] < 7.0
    the_same_morning = replace(LAWN, soil_full_on=opening.date)
    assert planned(a_garden(the_same_morning), opening).state.depletion_mm["lawn"] < 18.0
    assert planned(a_garden(before), opening).state.depletion_mm["lawn"] > 20.0


@pytest.mark.parametrize("full_on", [JULY_1 - ONE_DAY, PLANNED + ONE_DAY])
def test_a_morning_that_no_weather_leads_on_from_is_told_and_not_used(full_on: dt.date) -> None:
    plan = planned(a_garden(replace(LAWN, soil_full_on=full_on)), None)
    assert plan.history == "assumed"
    assert [note.code for note in plan.zones[0].notes] == ["soil-full-on-unused"]


def test_a_zone_that_the_state_does_not_know_opens_half_way_to_raw() -> None:
    plan = planned(a_garden(LAWN, SHRUBS), lacking(lawn=5.0))
    shrubs = plan.zones[1]
    assert shrubs.soil_water.depletion_mm == pytest.approx(0.5 * shrubs.soil_water.readily_available_mm)
    assert "opening-assumed" in [note.code for note in shrubs.notes]
    assert plan.history == "assumed"


def test_a_state_drier_than_the_store_is_the_empty_store() -> None:
    assert the_lawn(500.0).soil_water.depletion_mm == pytest.approx(40.0)


def test_a_state_before_the_weather_is_a_gap() -> None:
    with pytest.raises(WeatherGap, match="2026-06-29 to 2026-06-30"):
        planned(a_garden(LAWN), Opening(JULY_1 - 2 * ONE_DAY, {"lawn": 5.0}, {}))


@pytest.mark.parametrize("days_late", [1, 60])
def test_a_state_after_the_date_is_refused(days_late: int) -> None:
    with pytest.raises(OpeningAfterPlan, match="2026-07-31, or earlier"):
        planned(a_garden(LAWN), Opening(PLANNED + days_late * ONE_DAY, {"lawn": 5.0}, {}))


def test_a_garden_that_cannot_be_is_refused() -> None:
    with pytest.raises(InvalidGarden):
        planned(a_garden(with_watering(LAWN, flow_l_min=0.1)), lacking(lawn=5.0))
    with pytest.raises(UnknownName):
        planned(a_garden(with_planting(LAWN, plant="triffid")), lacking(lawn=5.0))


# A second run


def noon(date: dt.date) -> Span:
    start = dt.datetime.combine(date, dt.time(12), dt.UTC)
    return Span(start, start + dt.timedelta(hours=2))


TWICE = (night_before(PLANNED), noon(PLANNED))


def the_pots(opening_mm: float, **how: Any) -> ZonePlan:
    (only,) = planned(a_garden(POTS), lacking(pots=opening_mm), **{"hours": TWICE, **how}).zones
    return only


def test_pots_that_a_day_empties_are_watered_at_night_and_at_noon() -> None:
    pots = the_pots(3.0)
    assert [run.start.hour for run in pots.runs] == [5, 13]
    assert [run.id[-6:] for run in pots.runs] == ["pots-1", "pots-2"]
    night, midday = (run.volume_l for run in pots.runs)
    # 3 mm, and half of about 5.5 mm, on 2 m2 at 0.9.
    assert night == pytest.approx(6.6, abs=0.1)
    assert midday == pytest.approx(6.1, abs=0.6)


def test_pots_that_are_full_at_night_still_get_their_noon() -> None:
    pots = the_pots(0.0)
    assert [run.start.hour for run in pots.runs] == [13]
    assert codes(pots) == ["soil-drying-out"]


def test_without_second_hours_there_is_one_run() -> None:
    assert len(the_pots(3.0, hours=TWICE[:1]).runs) == 1


def test_a_paused_garden_has_no_second_run() -> None:
    garden = a_garden(POTS, rules=Rules(pauses=(Pause(PLANNED, PLANNED),)))
    assert planned(garden, lacking(pots=3.0), hours=TWICE).zones[0].runs == ()


def test_after_the_first_run_only_the_second_is_left() -> None:
    night = the_pots(3.0).runs[0]
    pots = the_pots(3.0, deliveries=(Delivery("pots", PLANNED, night.volume_l),))
    assert sum(run.volume_l for run in pots.runs if run.start.hour == 13) == pytest.approx(6.1, abs=0.6)
    assert sum(run.volume_l for run in pots.runs if run.start.hour < 13) <= 0.1


def test_after_both_runs_nothing_is_left() -> None:
    both = tuple(Delivery("pots", PLANNED, run.volume_l) for run in the_pots(3.0).runs)
    assert the_pots(3.0, deliveries=both).volume_l <= 0.3  # what rounding down had left over


# Saturated ground


def fell(rain_mm: float, **date_itself: Any) -> list[WeatherDay]:
    """The day before the date brought so much."""
    days = weather(**date_itself)
    return [*days[: PAST - 1], replace(days[PAST - 1], rain_mm=rain_mm), *days[PAST:]]


def test_a_zone_that_rain_has_filled_waits_and_says_so() -> None:
    opening = Opening(PLANNED - ONE_DAY, {"lawn": 5.0}, {})
    full = planned(a_garden(LAWN), opening, fell(30.0)).zones[0]
    assert (full.decision, full.soil_water.depletion_mm) == ("wait", 0.0)
    assert "ground-saturated" in notes(full)
    assert "ground-saturated" not in notes(planned(a_garden(LAWN), opening, fell(0.0)).zones[0])
    watered = planned(a_garden(LAWN), Opening(PLANNED, {"lawn": 0.0}, {})).zones[0]
    assert "ground-saturated" not in notes(watered)


@pytest.mark.parametrize("zone", [with_watering(LAWN, fill_share=1.0), MIXED_BED])
def test_what_has_fallen_for_the_date_leaves_less_to_fill_and_that_is_said(zone: Zone) -> None:
    begun = weather(rain_mm=3.0, rain_fallen_mm=3.0, rain_probability=0.0)
    plan = planned(a_garden(zone), lacking(lawn=30.0), begun).zones[0]
    assert 0.0 < plan.net_mm <= 27.0 + 1e-9
    if zone.watering.fill_share is not None:
        assert plan.net_mm == pytest.approx(27.0, abs=0.02)
        assert "ground-saturated" in notes(plan)


# What never happens


@given(
    st.sampled_from(
        (LAWN, SHRUBS, TROUGHS, POTS, with_watering(LAWN, smallest_depth_mm=15.0), DUAL_BED, MIXED_BED)
    ),
    st.floats(0.0, 1.0),
    st.floats(0.0, 30.0),
    st.floats(0.0, 1.0),
    st.booleans(),
)
def test_no_run_fills_a_zone_past_field_capacity_nor_goes_without_its_limit(
    zone: Zone, empty: float, rain_mm: float, probability: float, twice: bool
) -> None:
    store = planned(a_garden(zone), lacking()).zones[0].soil_water.total_available_mm
    opening = Opening(PLANNED, {zone.id: empty * store}, {})
    days = weather(rain_mm=rain_mm, rain_probability=probability)
    (plan,) = planned(a_garden(zone), opening, days, hours=TWICE if twice else TWICE[:1]).zones
    at_night = sum(run.volume_l for run in plan.runs if run.start.hour < 12)
    efficiency = plan.net_mm / plan.gross_mm if plan.gross_mm else 1.0
    waters = [plan.soil_water, *(plant.soil_water for plant in plan.plants)]
    driest_mm = max(water.depletion_mm for water in waters)
    assert at_night / zone.area_m2 * efficiency <= driest_mm + 1e-9
    for run in plan.runs:
        assert run.max_open_s >= run.run_time_s > 0
        assert run.volume_l > 0.0


def test_drip_on_ground_that_rain_wetted_all_over_is_no_reason_to_give_none() -> None:
    # 20 m2 of bare ground under low shrubs, wet from end to end: the day takes more than 4 mm if
    # nothing is given. With drip on 0.1 of it, FAO-56's fw falls from 1 to 0.1, and most of that goes.
    zone = with_watering(with_planting(SHRUBS, kc=0.3, kc_method="dual"), wetted_share=0.1)

    def litres(depletion_mm: float) -> float:
        state = {"shrubs": (StandState(depletion_mm, 0.0, 1.0),)}
        opening = Opening(PLANNED, {"shrubs": depletion_mm}, {}, {}, state)
        return planned(a_garden(zone), opening).volume_l

    water = planned(a_garden(zone), Opening(PLANNED, {"shrubs": 0.0}, {})).zones[0].soil_water
    assert litres(water.readily_available_mm - 3.0) > 0.0


@given(
    st.sampled_from((LAWN, SHRUBS, with_site(TROUGHS, rain_share=1.0), DUAL_BED, MIXED_BED)),
    st.floats(0.0, 1.0),
    st.tuples(st.floats(0.0, 20.0), st.floats(0.0, 20.0)),
    st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
    st.integers(0, 3),
)
def test_more_forecast_rain_never_means_more_water(
    zone: Zone, empty: float, depths: tuple[float, float], chances: tuple[float, float], day: int
) -> None:
    store = planned(a_garden(zone), lacking()).zones[0].soil_water.total_available_mm

    def litres(rain_mm: float, probability: float) -> float:
        told = [
            summer_day(
                PLANNED + ahead * ONE_DAY,
                origin=Origin.FORECAST,
                rain_mm=rain_mm if ahead == day else 0.0,
                rain_probability=probability,
            )
            for ahead in range(4)
        ]
        return planned(
            a_garden(zone), Opening(PLANNED, {zone.id: empty * store}, {}), weather(*told)
        ).volume_l

    assert litres(max(depths), max(chances)) <= litres(min(depths), min(chances))


def test_the_gap_between_runs_is_the_supplys() -> None:
    def gap(seconds: int) -> float:
        garden = a_garden(LAWN, replace(LAWN, id="back-lawn"), water_supply=WaterSupply(gap_s=seconds))
        opening = Opening(PLANNED, {"lawn": 20.0, "back-lawn": 20.0}, {})
        first, second = sorted(
            (run for zone in planned(garden, opening).zones for run in zone.runs),
            key=lambda run: run.start,
        )
        return (second.start - first.start).total_seconds() - first.run_time_s

    assert 0.0 <= gap(0) < 60.0
    assert 600.0 <= gap(600) < 660.0
