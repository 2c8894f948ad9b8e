"""Several plantings on one valve: each with its account, watered together."""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling import reasons
from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.stand import PreparedZone
from scheduling.decision.decision import decide, decide_mix
from scheduling.decision.need import need_on
from scheduling.garden.description import Garden, Pause, Planting, Zone
from scheduling.garden.reports import Opening, StandState
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, guess_opening, make_plan
from scheduling.review.foresight import Perfect
from scheduling.review.replay import replay
from scheduling.tap.permission import DateHours
from tests.profile import examples
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    SHRUBS,
    a_case,
    a_garden,
    all_full_on,
    closing_mm,
    evening_by_evening,
    night_before,
    summer_day,
    summer_days,
    with_planting,
    with_rules,
)

EVENINGS = 40
LAST = JULY_1 + (EVENINGS - 1) * ONE_DAY
WEATHER = [
    summer_day(JULY_1 + day * ONE_DAY, rain_mm=12.0 if day % 11 == 5 else 0.0) for day in range(EVENINGS + 8)
]
THIRSTY = replace(LAWN.planting, share=0.25, kc=1.1, root_depth_m=0.15)
THRIFTY = replace(LAWN.planting, share=0.75, kc=0.4, root_depth_m=0.5)
BORDER = replace(LAWN, id="border", planting=THIRSTY, others=(THRIFTY,))


def shared(zone: Zone, *shares: float) -> Zone:
    """The same plants again and again on a zone's ground."""
    first, *others = (replace(zone.planting, share=share) for share in shares)
    return replace(zone, planting=first, others=tuple(others))


def evenings(garden: Garden) -> list[Plan]:
    return list(evening_by_evening(garden, WEATHER, all_full_on(garden, JULY_1), LAST))


def plan_for(zone: Zone, *lacking_mm: float, days: int = 1) -> Plan:
    """A plan on a dry day in July, for a zone whose plantings lack so much."""
    opening = Opening(JULY_1, {zone.id: 99.0}, {}, {}, {zone.id: tuple(map(StandState, lacking_mm))})
    weather = summer_days(JULY_1, days)
    return make_plan(a_garden(zone), weather, History(opening), Occasion(JULY_1, (night_before(JULY_1),)))


@pytest.mark.parametrize(
    "zone",
    [
        pytest.param(LAWN, id="lawn"),
        pytest.param(with_rules(SHRUBS, watering_days=("tue", "sat")), id="shrubs on drip"),
        pytest.param(
            with_planting(LAWN, plant="tomato", kc=None, planted_on=JULY_1, kc_method="dual"),
            id="tomatoes, dual",
        ),
    ],
)
def test_where_all_plants_are_alike_it_is_as_if_they_were_one(zone: Zone) -> None:
    alone, together = evenings(a_garden(zone)), evenings(a_garden(shared(zone, 0.5, 0.2, 0.3)))
    for one, mix in zip(alone, together, strict=True):
        assert mix.zones[0].volume_l == pytest.approx(one.zones[0].volume_l, abs=1.001)  # litres are whole
        assert mix.zones[0].reasons[0].code == one.zones[0].reasons[0].code
        assert mix.state.depletion_mm[zone.id] == pytest.approx(one.state.depletion_mm[zone.id], abs=0.05)
    assert sum(plan.volume_l for plan in alone) > 0.0


@given(st.lists(st.floats(0.0, 40.0), min_size=2, max_size=2), st.floats(0.0, 12.0), st.integers(1, 4))
def test_a_mix_of_equals_is_decided_like_one_of_them(
    depletions: list[float], counted_mm: float, next_chance: int
) -> None:
    prepared, days = a_case(counted_mm=[counted_mm], next_chance=next_chance)
    half = replace(prepared, numbers=replace(prepared.numbers, share=0.5))
    for depletion in depletions:
        alone = decide(0, depletion, prepared, days)
        mix = decide_mix(0, [depletion, depletion], [half, half], days)
        assert mix._replace(room_mm=0.0, net_mm=0.0) == alone._replace(room_mm=0.0, net_mm=0.0)
        assert (mix.net_mm, mix.room_mm) == (pytest.approx(alone.net_mm), pytest.approx(alone.room_mm))


def stands(share: float, **case: Any) -> tuple[list[PreparedZone], GardenDays]:
    """A thirsty planting that has so much of the ground, and a thrifty one."""
    thirsty, days = a_case(etc_mm=[6.0] * 20, taw_mm=30.0, raw_mm=15.0, **case)
    thrifty, _ = a_case(etc_mm=[2.0] * 20, taw_mm=100.0, raw_mm=50.0, **case)
    parts = ((thirsty, share), (thrifty, 1.0 - share))
    return [replace(stand, numbers=replace(stand.numbers, share=part)) for stand, part in parts], days


@given(
    st.floats(0.05, 0.95),
    st.floats(0.0, 30.0),
    st.floats(0.0, 100.0),
    st.integers(1, 5),
    st.lists(st.floats(0.0, 10.0), max_size=3),
)
def test_the_thirstiest_lasts_and_nothing_is_filled_past_what_the_driest_lacks(
    share: float, thirsty_mm: float, thrifty_mm: float, next_chance: int, rain: list[float]
) -> None:
    both, days = stands(share, next_chance=next_chance, counted_mm=rain)
    lacking = [thirsty_mm, thrifty_mm]
    verdict = decide_mix(0, lacking, both, days)
    each = list(zip(lacking, both, strict=True))
    wants = [decide(0, depletion, stand, days).net_mm > 0.0 for depletion, stand in each]
    needs = [need_on(0, next_chance, depletion, stand, days) for depletion, stand in each]

    assert (verdict.net_mm > 0.0) is any(wants)
    assert verdict.net_mm <= max(lacking) + 1e-9
    if any(wants):
        lasting = [
            min(need.least_mm, need.cap_mm) for need, wanted in zip(needs, wants, strict=True) if wanted
        ]
        mean_mm = share * thirsty_mm + (1.0 - share) * thrifty_mm
        assert max(lasting) - 1e-9 <= verdict.net_mm <= max(mean_mm, *lasting, 0.0) + 1e-9


def test_a_mix_gets_what_its_plants_lack_by_their_shares() -> None:
    # Dry, the next chance tomorrow: the thirsty would pass 15 mm. Nothing is left for rain.
    both, days = stands(0.25)
    verdict = decide_mix(0, [12.0, 8.0], both, days)
    assert (verdict.reason, verdict.stand) == (reasons.SOIL_DRYING_OUT, 0)
    assert verdict.net_mm == pytest.approx(0.25 * 12.0 + 0.75 * 8.0)


def test_a_mix_gets_at_least_what_lasts_the_thirstiest() -> None:
    # 12 and 2 x 6 mm pass 15 by 9; the mean over the ground lacks 3 only.
    both, days = stands(0.25, next_chance=2)
    assert decide_mix(0, [12.0, 0.0], both, days).net_mm == pytest.approx(9.0)


def test_what_a_planting_cannot_take_up_is_not_given_for_its_sake() -> None:
    # In five days the thirsty would use more than its store holds, but it lacks 1 mm only; both
    # want water, and the mean over the ground lacks 0.875 x 1 + 0.125 x 41 = 6 mm.
    both, days = stands(0.875, next_chance=5)
    assert decide_mix(0, [1.0, 41.0], both, days).net_mm == pytest.approx(6.0)


def test_what_sleeps_neither_asks_nor_counts() -> None:
    both, days = stands(0.25)
    asleep = replace(both[1], days=replace(both[1].days, dormant=[True] * 20))
    verdict = decide_mix(0, [12.0, 90.0], [both[0], asleep], days)
    assert verdict.net_mm == pytest.approx(12.0)


@given(
    st.floats(0.05, 0.95),
    st.floats(0.0, 30.0),
    st.floats(0.0, 100.0),
    st.integers(1, 5),
    st.lists(st.floats(0.0, 10.0), min_size=4, max_size=4),
    st.lists(st.floats(0.0, 10.0), min_size=4, max_size=4),
)
def test_more_counted_rain_never_means_more_water_for_a_mix(
    share: float, thirsty_mm: float, thrifty_mm: float, next_chance: int, rain: list[float], more: list[float]
) -> None:
    def water(counted: list[float]) -> float:
        both, days = stands(share, next_chance=next_chance, counted_mm=counted, mean_rain_mm=1.0)
        return decide_mix(0, [thirsty_mm, thrifty_mm], both, days).net_mm

    wetter = [one + other for one, other in zip(rain, more, strict=True)]
    assert water(wetter) <= water(rain) + 1e-9


def test_whoever_dries_out_under_a_ban_is_told_of_though_another_one_is_moist() -> None:
    banned = with_rules(BORDER, pauses=(Pause(JULY_1, JULY_1 + 30 * ONE_DAY),))
    moist_first = plan_for(banned, 0.0, 99.0).zones[0]
    dry_first = plan_for(banned, 29.0, 0.0).zones[0]
    for zone in (moist_first, dry_first):
        assert {"left-dry", "no-chance-ahead"} <= {note.code for note in zone.notes}


def test_a_zone_sleeps_when_all_its_plants_do() -> None:
    spring, autumn = (Planting("tomato", planted_on=JULY_1 + days * ONE_DAY, share=0.5) for days in (5, 40))
    bed = replace(LAWN, id="bed", planting=spring, others=(autumn,))
    asleep = plan_for(bed, 20.0, 20.0).zones[0]
    assert asleep.reasons[0].code == "dormant"
    assert asleep.reasons[0].text.count("tomato") == 2


def test_the_reason_names_the_plant_and_the_note_how_unlike_they_are() -> None:
    zone = plan_for(BORDER, 14.0, 5.0).zones[0]
    assert zone.decision == "water"
    assert zone.reasons[0].text.startswith("The roots of the lawn of cool-season grass have used")
    assert "plants-differ" in [note.code for note in zone.notes]
    assert "plants-differ" not in [
        note.code for note in plan_for(shared(LAWN, 0.5, 0.5), 15.0, 15.0).zones[0].notes
    ]
    assert [plant.soil_water.depletion_mm for plant in zone.plants] == [14.0, 5.0]
    assert zone.soil_water == zone.plants[0].soil_water


def test_the_state_tells_of_each_planting_and_the_next_evening_begins_there() -> None:
    plans = evenings(a_garden(BORDER))
    for plan, following in itertools.pairwise(plans):
        for before, after in zip(plan.state.stands["border"], following.zones[0].plants, strict=True):
            (row,) = after.ledger or ()
            assert row.opening_depletion_mm == before.depletion_mm
    for plan in plans:
        told = plan.state.stands["border"]
        mean_mm = 0.25 * told[0].depletion_mm + 0.75 * told[1].depletion_mm
        assert plan.state.depletion_mm["border"] == pytest.approx(mean_mm)


def test_one_depletion_for_all_will_do_where_nothing_more_is_known() -> None:
    opening = Opening(JULY_1, {"border": 12.0}, {})
    weather = summer_days(JULY_1, 1)
    plan = make_plan(a_garden(BORDER), weather, History(opening), Occasion(JULY_1, (night_before(JULY_1),)))
    assert [plant.soil_water.depletion_mm for plant in plan.zones[0].plants] == [12.0, 12.0]


def test_a_first_guess_is_where_evenings_of_planning_would_have_led() -> None:
    wide = replace(BORDER, area_m2=1000.0, watering=replace(BORDER.watering, flow_l_min=500.0))
    garden = a_garden(wide)
    anchor = guess_opening(garden, WEATHER[:10], JULY_1)
    *_, last = evening_by_evening(garden, WEATHER, anchor, LAST, days_ahead=8)
    guess = guess_opening(garden, WEATHER, LAST)
    for told, guessed in zip(last.state.stands["border"], guess.stands["border"], strict=True):
        assert told.depletion_mm == pytest.approx(guessed.depletion_mm, abs=0.05)


@pytest.mark.parametrize("kc_method", ["single", "dual"])
def test_no_planting_goes_without_and_no_more_drains_than_the_thrifty_cannot_use(kc_method: str) -> None:
    # 80 dry days: all that is not transpired is what the thirsty one's need gave the other one.
    zone = replace(
        BORDER,
        planting=replace(THIRSTY, kc_method=kc_method),
        others=(replace(THRIFTY, kc_method=kc_method),),
    )
    days = [summer_day(JULY_1 + day * ONE_DAY) for day in range(90)]
    plans = list(
        evening_by_evening(a_garden(zone), days, all_full_on(a_garden(zone), JULY_1), JULY_1 + 80 * ONE_DAY)
    )
    ledgers = [
        [row for plan in plans for row in plan.zones[0].plants[place].ledger or ()] for place in (0, 1)
    ]
    for rows in ledgers:
        assert len(rows) == 80
        assert closes(rows)
        assert sum(row.etc_adj_mm for row in rows) >= 0.999 * sum(row.etc_mm for row in rows)
    thirsty, thrifty = ledgers
    given = sum(row.irrigation_mm for row in thirsty)
    assert given == pytest.approx(sum(row.irrigation_mm for row in thrifty))
    assert given == pytest.approx(sum(row.etc_mm for row in thirsty), abs=thirsty[0].taw_mm)
    assert sum(row.drainage_mm for row in thirsty) == pytest.approx(0.0, abs=1e-9)


def closes(rows: Sequence[LedgerRow]) -> bool:
    return all(
        row.closing_depletion_mm == pytest.approx(closing_mm(row), abs=1e-9)
        and 0.0 <= row.closing_depletion_mm <= row.taw_mm
        for row in rows
    )


RAINS = st.lists(st.sampled_from((0.0, 0.0, 0.0, 0.5, 6.0, 45.0)), min_size=30, max_size=30)


@examples(20)
@given(RAINS, st.floats(0.05, 0.95), st.sampled_from(("single", "dual")))
def test_no_plantings_water_is_lost_through_a_season(rain: list[float], share: float, method: str) -> None:
    thirsty = replace(THIRSTY, share=share, kc_method=method)
    thrifty = replace(THRIFTY, share=1.0 - share, kc_method=method)
    garden = a_garden(replace(BORDER, planting=thirsty, others=(thrifty,)))
    weather = [summer_day(JULY_1 + day * ONE_DAY, rain_mm=mm) for day, mm in enumerate(rain)]
    (zone,) = replay(
        garden, weather, Perfect(), lambda date: DateHours((night_before(date),)), explain=True
    ).zones
    for plant in zone.plants:
        assert closes(plant.ledger)
        assert plant.planned.irrigation_mm == pytest.approx(zone.planned.irrigation_mm)
    mean = sum(plant.share * plant.planned.etc_adj_mm for plant in zone.plants)
    assert zone.planned.etc_adj_mm == pytest.approx(mean)
    assert zone.planned.closing_depletion_mm == pytest.approx(
        zone.planned.opening_depletion_mm
        - zone.planned.infiltrated_rain_mm
        - zone.planned.irrigation_mm
        + zone.planned.etc_adj_mm
        + zone.planned.drainage_mm
        + zone.planned.adjustment_mm,
        abs=1e-9,
    )
    assert zone.planned.adequacy > 0.98
