"""A zone's account up to a date: every row closes, and all ways of reckoning it agree."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.evapotranspiration import Location
from scheduling.balance.garden_series import GardenDays, garden_days
from scheduling.balance.ledger import (
    Start,
    depletion_on,
    knowing_its_water,
    ledger_rows,
    opening_guess_mm,
)
from scheduling.balance.stand import PreparedZone
from scheduling.garden.description import Zone
from scheduling.plan.initial_state import first_guess
from scheduling.zone.surface_layer import TopLayerState
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    closing_mm,
    prepare_zone,
    summer_day,
    with_planting,
    with_watering,
)

DAYS = 40
TOMATOES = with_planting(LAWN, plant="tomato", kc=None, root_depth_m=None, planted_on=JULY_1 - 20 * ONE_DAY)
NEW_ROOTS = with_planting(LAWN, plant="lettuce", kc=None, planted_on=JULY_1 + 30 * ONE_DAY)


def known_days(zone: Zone, rain_mm: list[float]) -> tuple[PreparedZone, GardenDays]:
    weather = [summer_day(JULY_1 + day * ONE_DAY, rain_mm=rain) for day, rain in enumerate(rain_mm)]
    garden = a_garden(zone)
    days = garden_days(weather, Location(45.0, 0.0), weather[-1].date, weather[-1].date + 20 * ONE_DAY)
    return prepare_zone(zone, garden, days, 0, {}), days


RAINS = st.lists(st.sampled_from((0.0, 0.0, 0.0, 0.5, 6.0, 45.0)), min_size=DAYS, max_size=DAYS)
WATERINGS = st.dictionaries(st.integers(0, DAYS - 1), st.floats(0.0, 30.0), max_size=20)


@given(
    st.sampled_from((LAWN, SHRUBS, POTS, TOMATOES, NEW_ROOTS)),
    RAINS,
    WATERINGS,
    st.integers(0, DAYS - 2),
    st.floats(0.0, 1.0),
)
def test_every_row_closes_and_the_last_is_the_depletion_of_the_next_morning(
    zone: Zone, rain_mm: list[float], irrigation: dict[int, float], first: int, empty: float
) -> None:
    prepared, days = known_days(zone, rain_mm)
    start = Start(first, empty * prepared.days.taw_mm[first])
    rows = ledger_rows(DAYS - 1, start, irrigation, prepared, days)

    assert [row.date for row in rows] == days.dates[first : DAYS - 1]
    assert rows[0].opening_depletion_mm == start.depletion_mm
    for row in rows:
        assert row.closing_depletion_mm == pytest.approx(closing_mm(row), abs=1e-9)
        assert 0.0 <= row.closing_depletion_mm <= row.taw_mm
        assert row.etc_mm == pytest.approx(row.kc * row.eto_mm, abs=1e-12)
        assert row.etc_adj_mm <= row.etc_mm + 1e-12
    for one, following in itertools.pairwise(rows):
        assert following.opening_depletion_mm == one.closing_depletion_mm
    morning = depletion_on(DAYS - 1, start, irrigation, prepared.days)
    assert morning == min(rows[-1].closing_depletion_mm, prepared.days.taw_mm[DAYS - 1])


def test_on_the_day_it_begins_a_ledger_is_its_opening_and_no_row() -> None:
    prepared, days = known_days(LAWN, [0.0] * 5)
    assert depletion_on(2, Start(2, 7.0), {2: 99.0}, prepared.days) == 7.0
    assert ledger_rows(2, Start(2, 7.0), {}, prepared, days) == ()


def test_water_before_the_ledger_begins_and_on_the_date_itself_is_not_in_it() -> None:
    prepared, _ = known_days(LAWN, [0.0] * 6)
    without = depletion_on(4, Start(2, 5.0), {}, prepared.days)
    assert depletion_on(4, Start(2, 5.0), {1: 9.0, 4: 9.0, -3: 9.0}, prepared.days) == without
    assert depletion_on(4, Start(2, 5.0), {3: 9.0}, prepared.days) == pytest.approx(without - 9.0)


def test_a_row_tells_what_the_valve_passed_beside_what_reached_the_roots() -> None:
    prepared, days = known_days(LAWN, [0.0] * 3)
    row = ledger_rows(1, Start(0, 15.0), {0: 8.0}, prepared, days)[0]
    assert row.irrigation_mm == 8.0
    assert row.irrigation_gross_mm == pytest.approx(10.0)


def test_light_rain_stands_in_the_row_and_not_in_the_balance() -> None:
    # Below 0.2 of about 5.5 mm.
    prepared, days = known_days(LAWN, [0.5, 0.0, 0.0])
    row = ledger_rows(1, Start(0, 15.0), {}, prepared, days)[0]
    assert (row.rain_mm, row.infiltrated_rain_mm) == (0.5, 0.0)


def test_roots_that_begin_anew_cut_the_depletion_to_their_store_and_the_row_says_so() -> None:
    planted = with_planting(LAWN, plant="lettuce", kc=None, root_depth_m=0.3, planted_on=JULY_1 + 3 * ONE_DAY)
    prepared, days = known_days(planted, [0.0] * 5)
    taw_mm = prepared.days.taw_mm[0]
    row = ledger_rows(1, Start(0, taw_mm + 12.0), {}, prepared, days)[0]
    assert row.adjustment_mm == pytest.approx(-12.0)


def test_a_zone_of_which_nothing_is_known_opens_half_way_to_raw() -> None:
    prepared, _ = known_days(LAWN, [0.0] * 3)
    assert opening_guess_mm(prepared.days) == pytest.approx(0.5 * prepared.days.raw_mm[0])


@pytest.mark.parametrize("zone", [LAWN, SHRUBS, with_watering(LAWN, fill_share=0.5)])
def test_a_first_guess_waters_a_dry_summer_so_that_no_day_passes_raw(zone: Zone) -> None:
    prepared, days = known_days(zone, [0.0] * DAYS)
    irrigation = first_guess(DAYS - 1, [prepared], days).irrigation_mm
    rows = ledger_rows(DAYS - 1, Start(0, opening_guess_mm(prepared.days)), irrigation, prepared, days)
    assert sum(row.irrigation_mm for row in rows) == pytest.approx(
        sum(row.etc_mm for row in rows), abs=prepared.days.raw_mm[0]
    )
    assert all(row.closing_depletion_mm <= row.raw_mm + 1e-9 for row in rows)
    assert all(row.irrigation_mm <= row.opening_depletion_mm for row in rows)


def test_a_first_guess_gives_pots_what_they_hold_every_day() -> None:
    # 5.5 mm a day from a store of 5 mm: one run a day cannot do more than fill it.
    prepared, days = known_days(POTS, [0.0] * DAYS)
    irrigation = first_guess(DAYS - 1, [prepared], days).irrigation_mm
    assert [irrigation.get(day, 0.0) for day in range(2, DAYS - 1)] == pytest.approx([5.0] * (DAYS - 3))


def test_a_first_guess_of_a_wet_summer_waters_nothing() -> None:
    prepared, days = known_days(LAWN, [8.0] * DAYS)
    assert first_guess(DAYS - 1, [prepared], days).irrigation_mm == {}


def test_what_is_to_leach_a_container_drains_in_its_account() -> None:
    # UF/IFAS ENH1268: dose = use / (1 - LF), LF being drained over entering water.
    zone = with_watering(TROUGHS, leaching_share=0.15)
    prepared, days = known_days(zone, [0.0] * DAYS)
    opening_mm = 0.5 * prepared.days.taw_mm[0]
    rows = ledger_rows(DAYS - 1, Start(0, opening_mm), {1: 2.0}, prepared, days)
    assert rows[1].irrigation_mm == pytest.approx(2.0 / 0.85)
    assert rows[1].drainage_mm == pytest.approx(0.15 * rows[1].irrigation_mm)
    assert rows[1].closing_depletion_mm == pytest.approx(closing_mm(rows[1]), abs=1e-9)


DUAL_BED = with_planting(TOMATOES, kc_method="dual")
DUAL_DRIP = with_planting(SHRUBS, kc_method="dual", mulched_share=0.5)
DUAL_LAWN = with_planting(LAWN, kc_method="dual")


@given(
    st.sampled_from((DUAL_BED, DUAL_DRIP, DUAL_LAWN)),
    RAINS,
    WATERINGS,
    st.integers(0, DAYS - 2),
    st.floats(0.0, 1.0),
    st.none() | st.floats(0.0, 1.0),
)
def test_with_evaporation_apart_every_row_closes_and_the_surface_lacks_what_it_can(
    zone: Zone,
    rain_mm: list[float],
    irrigation: dict[int, float],
    first: int,
    empty: float,
    dry: float | None,
) -> None:
    prepared, days = known_days(zone, rain_mm)
    layer = prepared.numbers.top_layer
    assert layer is not None
    morning = None if dry is None else TopLayerState(dry * layer.tew_mm, layer.wetted_share)
    start = Start(first, empty * prepared.days.taw_mm[first], morning)
    knowing = knowing_its_water(prepared, start, irrigation)
    rows = ledger_rows(DAYS - 1, start, irrigation, knowing, days)

    for row in rows:
        assert row.closing_depletion_mm == pytest.approx(closing_mm(row), abs=1e-9)
        assert 0.0 <= row.closing_depletion_mm <= row.taw_mm
        assert row.kcb is not None
        # FAO-56 equation 69: Ke ETo is the evaporation, of an empty root zone too.
        assert row.ke is not None
        assert row.ke * row.eto_mm == pytest.approx(row.evaporation_mm, abs=1e-9)
        assert row.kc * row.eto_mm == pytest.approx(row.etc_mm, abs=1e-9)
        assert row.ke is not None
        assert row.evaporation_mm is not None
        assert row.surface_depletion_mm is not None
        assert row.kc == pytest.approx(row.kcb + row.ke)
        # Equation 80, unless there is not so much in the ground.
        wanted_mm = (row.ks * row.kcb + row.ke) * row.eto_mm
        is_empty = row.closing_depletion_mm == row.taw_mm
        assert row.etc_adj_mm == pytest.approx(wanted_mm, abs=1e-9) or (
            is_empty and row.etc_adj_mm < wanted_mm
        )
        assert 0.0 <= row.evaporation_mm <= row.etc_adj_mm + 1e-12
        assert 0.0 <= row.surface_depletion_mm <= layer.tew_mm
    morning_mm = depletion_on(DAYS - 1, start, irrigation, knowing.days)
    assert morning_mm == min(rows[-1].closing_depletion_mm, knowing.days.taw_mm[DAYS - 1])


@given(st.sampled_from((DUAL_BED, DUAL_LAWN)), RAINS, st.integers(0, DAYS - 2), st.floats(0.1, 40.0))
def test_more_rain_never_evaporates_more_than_it_brought(
    zone: Zone, rain_mm: list[float], day: int, more_mm: float
) -> None:
    wetter = [*rain_mm[:day], rain_mm[day] + more_mm, *rain_mm[day + 1 :]]
    evaporated = []
    for rains in (rain_mm, wetter):
        prepared, _ = known_days(zone, rains)
        start = Start(0, 10.0, TopLayerState(5.0, 1.0))
        evaporated.append(sum(knowing_its_water(prepared, start, {}).days.evaporation_mm or ()))
    assert evaporated[1] <= evaporated[0] + more_mm + 1e-9
