"""Planning evening by evening in unchanging weather: what is watered is what the plants use.

Each plan starts from the state that the one before gave, and from what was delivered.
"""

import datetime as dt
import itertools
from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import Location
from scheduling.balance.garden_series import garden_days
from scheduling.balance.ledger import Start, depletion_on
from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.description import Garden, Rules, Zone
from scheduling.plan.initial_state import first_guess
from scheduling.plan.planner import guess_opening
from tests.scheduling.gardens import (
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    all_full_on,
    evening_by_evening,
    prepare_zone,
    rows_by_zone,
    summer_days,
    with_planting,
    with_rules,
    with_watering,
)

FIRST = dt.date(2026, 5, 1)
EVENINGS = 100
WEATHER = summer_days(FIRST, EVENINGS + 10)
"""The same day again and again; only the sun's height changes a little."""
LAST = FIRST + (EVENINGS - 1) * ONE_DAY
TOMATOES = replace(
    with_planting(LAWN, plant="tomato", kc=None, root_depth_m=None, planted_on=FIRST - 20 * ONE_DAY),
    id="tomatoes",
)
ROTOR = with_watering(LAWN, method="overhead-rotor", flow_l_min=12.0)


def ledger_of(garden: Garden, hours: int = 1) -> dict[str, list[LedgerRow]]:
    plans = list(evening_by_evening(garden, WEATHER, all_full_on(garden, FIRST), LAST, hours=hours))
    assert len(plans) == EVENINGS
    return dict(rows_by_zone(plans))


@pytest.mark.parametrize(
    "zone",
    [
        pytest.param(LAWN, id="lawn, any day"),
        pytest.param(with_rules(LAWN, watering_days=("mon", "thu")), id="lawn, Mondays and Thursdays"),
        pytest.param(with_rules(LAWN, odd_even="odd"), id="lawn, odd dates"),
        pytest.param(with_watering(LAWN, fill_share=0.4), id="lawn, filled by less than half"),
        pytest.param(with_watering(LAWN, smallest_depth_mm=12.0), id="lawn, deep or not at all"),
        pytest.param(ROTOR, id="lawn under rotors"),
        pytest.param(SHRUBS, id="shrubs on drip"),
        pytest.param(with_rules(SHRUBS, watering_days=("tue", "sat")), id="shrubs on drip, twice a week"),
        pytest.param(TOMATOES, id="tomatoes that grow"),
        pytest.param(TROUGHS, id="troughs"),
        pytest.param(with_planting(TOMATOES, kc_method="dual"), id="tomatoes, dual"),
        pytest.param(with_planting(LAWN, kc_method="dual"), id="lawn, dual"),
        pytest.param(
            with_planting(SHRUBS, kc_method="dual", mulched_share=0.5), id="mulched shrubs on drip, dual"
        ),
    ],
)
def test_what_is_watered_is_what_the_plants_use(zone: Zone) -> None:
    rows = ledger_of(a_garden(zone))[zone.id]
    assert len(rows) == EVENINGS - 1
    used = sum(row.etc_mm for row in rows)
    given = sum(row.irrigation_mm for row in rows)
    a_refill = max(row.raw_mm for row in rows)
    assert given == pytest.approx(used, abs=a_refill)
    assert sum(row.etc_adj_mm for row in rows) >= 0.999 * used
    assert sum(row.drainage_mm for row in rows) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    "zone",
    [
        # A weekend of three days takes 16 mm of the troughs' 9 mm.
        pytest.param(
            with_rules(TROUGHS, watering_days=("mon", "wed", "fri")), id="troughs, three days a week"
        ),
        # A week takes 19 mm; the 0.4 of the ground that drip wets take up 13 mm at RAW.
        pytest.param(with_rules(SHRUBS, watering_days=("sat",)), id="shrubs on drip, Saturdays"),
    ],
)
def test_a_zone_that_its_days_cannot_keep_gets_what_they_allow_and_is_told(zone: Zone) -> None:
    garden = a_garden(zone)
    plans = list(evening_by_evening(garden, WEATHER, all_full_on(garden, FIRST), LAST))[20:]
    for plan in plans:
        (only,) = plan.zones
        if only.decision == "water" and plan.date.weekday() in (4, 5):
            cap_mm = (0.4 if zone.id == "shrubs" else 1.0) * only.soil_water.depletion_mm
            assert only.net_mm <= cap_mm + 1e-9
            assert "cannot-last" in [note.code for note in only.notes]
    rows = rows_by_zone(plans)[zone.id]
    assert 0.7 < sum(row.etc_adj_mm for row in rows) / sum(row.etc_mm for row in rows) < 0.99


def test_no_morning_is_lost_between_two_evenings() -> None:
    rows = ledger_of(a_garden(LAWN))["lawn"]
    for one, following in itertools.pairwise(rows):
        assert following.date == one.date + ONE_DAY
        assert following.opening_depletion_mm == one.closing_depletion_mm


def test_pots_that_use_more_than_they_hold_get_by_with_two_runs_a_day() -> None:
    rows = ledger_of(a_garden(POTS), hours=2)["pots"]
    assert sum(row.etc_adj_mm for row in rows) >= 0.999 * sum(row.etc_mm for row in rows)
    assert sum(row.drainage_mm for row in rows) == pytest.approx(0.0, abs=1e-9)


def test_deep_watering_comes_seldom() -> None:
    # A full RAW of about 19 mm lasts three days of 5 to 6 mm: about every third day.
    rows = ledger_of(a_garden(LAWN))["lawn"]
    assert 25 <= sum(row.irrigation_mm > 0.0 for row in rows) <= 40


def test_zones_share_the_hours_and_none_is_left_behind() -> None:
    garden = a_garden(*(replace(LAWN, id=f"lawn-{number}") for number in range(12)))
    # 12 lawns every third day: four a night want 4 h of 8.
    for rows in ledger_of(garden).values():
        assert sum(row.etc_adj_mm for row in rows) >= 0.999 * sum(row.etc_mm for row in rows)


def test_hours_for_half_of_the_need_are_shared_so_that_nobody_dries_out() -> None:
    # 24 large lawns want about 16 h a night and get 8.
    garden = a_garden(*(replace(LAWN, id=f"lawn-{number}", area_m2=100.0) for number in range(24)))
    adequacy = [
        sum(row.etc_adj_mm for row in rows) / sum(row.etc_mm for row in rows)
        for rows in ledger_of(garden).values()
    ]
    assert min(adequacy) > 0.4
    assert max(adequacy) - min(adequacy) < 0.1


@pytest.mark.parametrize("zone", [LAWN, SHRUBS, TROUGHS, with_planting(TOMATOES, kc_method="dual")])
def test_a_first_guess_is_where_evenings_of_planning_would_have_led(zone: Zone) -> None:
    # On so much ground that litres rounded down do not matter.
    wide = replace(zone, area_m2=1000.0, rules=Rules(watering_days=("mon", "wed", "sat")))
    container = zone.soil.container
    if container is not None:
        wide = replace(wide, soil=replace(zone.soil, container=replace(container, volume_l=75000.0)))
    wide = with_watering(wide, flow_l_min=500.0, emitters=None)
    garden = a_garden(wide)
    anchor = guess_opening(garden, WEATHER[:10], FIRST)
    *_, last = evening_by_evening(garden, WEATHER, anchor, LAST, days_ahead=8)
    guess = guess_opening(garden, WEATHER, LAST)
    assert last.state.depletion_mm[zone.id] == pytest.approx(guess.depletion_mm[zone.id], abs=0.05)


def test_the_state_is_the_ledgers_own_depletion() -> None:
    garden = a_garden(LAWN)
    days = garden_days(WEATHER, Location(45.0, 0.0), LAST, LAST + 17 * ONE_DAY)
    prepared = prepare_zone(LAWN, garden, days, 0, {})
    until = days.index(LAST)
    irrigation = first_guess(until, [prepared], days).irrigation_mm
    start = Start(0, 0.5 * prepared.days.raw_mm[0])
    assert guess_opening(garden, WEATHER, LAST).depletion_mm["lawn"] == depletion_on(
        until, start, irrigation, prepared.days
    )
