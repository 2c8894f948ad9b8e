"""The soil's surface over days: FAO-56 Example 35, and what soil, watering and plants make of it."""

from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import Location
from scheduling.balance.garden_series import GardenDays, garden_days
from scheduling.balance.zone_series import ZoneDays, with_water, zone_days
from scheduling.errors import InvalidGarden
from scheduling.fao56.dual_coefficient import largest_coefficient
from scheduling.garden.description import Soil, Zone
from scheduling.zone.from_catalogue import numbers_of
from scheduling.zone.surface_layer import WET, TopLayer, TopLayerDays, TopLayerState
from tests.reference.test_fao56_dual_examples import EXAMPLE_35, printed
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    POTS,
    SHRUBS,
    a_garden,
    summer_days,
    with_planting,
    with_watering,
)

BED = with_planting(LAWN, plant="tomato", kc=None, planted_on=JULY_1, kc_method="dual")
DUAL_LAWN = with_planting(LAWN, kc=None, kc_method="dual")
DUAL_SHRUBS = with_planting(SHRUBS, kc_method="dual")


def layer_of(zone: Zone) -> TopLayer:
    layer = numbers_of(zone, a_garden(zone)).top_layer
    assert layer is not None
    return layer


def columns(zone: Zone, rain_mm: float = 0.0, count: int = 10) -> tuple[ZoneDays, GardenDays]:
    weather = summer_days(JULY_1, count)
    weather[0] = replace(weather[0], rain_mm=rain_mm)
    days = garden_days(weather, Location(45.0, 0.0), weather[-1].date, weather[-1].date)
    return zone_days(numbers_of(zone, a_garden(zone)), days), days


def test_example_35_runs_through_the_columns_as_it_is_printed() -> None:
    # As in tests/reference/test_fao56_dual_examples.py: TEW 18 mm, REW 9 mm, fw 0.8, dry before.
    count = len(EXAMPLE_35)
    kcb = [0.30 + 0.10 * day / 9 for day in range(count)]
    days = TopLayerDays(
        layer=TopLayer(18.0, 9.0, 0.8, is_under_canopy=False, mulch_factor=1.0, covered_share=None),
        eto_mm=[row[0] for row in EXAMPLE_35],
        rain_mm=[row[1] for row in EXAMPLE_35],
        kcb=kcb,
        kc_max=[largest_coefficient(coefficient, 1.6, 35.0, 0.3) for coefficient in kcb],
        cover=[0.08 + 0.06 * day / 9 for day in range(count)],
        irrigation_mm=[0.0] * count,
        ke=[],
        evaporation_mm=[],
        mornings=[],
    ).ran(0, {day: row[2] for day, row in enumerate(EXAMPLE_35)}, TopLayerState(18.0, 0.8))
    for day, (eto_mm, _, _, _, ke_printed, _, _) in enumerate(EXAMPLE_35):
        assert days.ke[day] == printed(ke_printed), day
        assert days.evaporation_mm[day] == pytest.approx(days.ke[day] * eto_mm)


def test_days_before_the_first_stay_as_they_were() -> None:
    zone, _ = columns(BED)
    later = with_water(zone, {2: 99.0, 5: 20.0}, 4)
    assert later.etc_mm[:5] == zone.etc_mm[:5]
    assert later.etc_mm[5] > zone.etc_mm[5]
    assert later.top_layer is not None
    assert later.top_layer.irrigation_mm[2] == 0.0


def test_watering_anew_from_a_day_is_watering_all_along() -> None:
    zone, _ = columns(BED)
    at_once = with_water(zone, {1: 12.0, 6: 8.0}, 0, WET)
    step_by_step = with_water(with_water(zone, {1: 12.0}, 0, WET), {6: 8.0}, 6)
    assert step_by_step == at_once


def test_a_single_coefficient_knows_no_surface() -> None:
    zone, _ = columns(LAWN)
    assert with_water(zone, {0: 20.0}, 0) is zone
    assert zone.evaporation_mm is None


def test_a_dry_bare_bed_loses_what_the_seedlings_transpire_and_a_wet_one_the_most_there_is() -> None:
    dry, days = columns(BED)
    wet, _ = columns(BED, rain_mm=30.0)
    assert dry.kc[0] == pytest.approx(0.15)  # Kcb ini of tomatoes, FAO-56 table 17
    assert wet.kc[0] == pytest.approx(1.2, abs=0.02)  # Kc max, equation 72
    assert wet.kc[9] < 0.5
    assert wet.etc_mm == pytest.approx([kc * eto for kc, eto in zip(wet.kc, days.eto_mm, strict=True)])


def test_what_a_rain_evaporates_is_never_more_than_it_was() -> None:
    for zone in (BED, DUAL_LAWN, DUAL_SHRUBS):
        evaporation = columns(zone, rain_mm=6.0, count=40)[0].evaporation_mm
        assert evaporation is not None
        assert sum(evaporation) <= 6.0


def test_a_lawn_shades_its_ground_and_a_bed_of_seedlings_does_not() -> None:
    lawn, bed = columns(DUAL_LAWN, rain_mm=30.0)[0], columns(BED, rain_mm=30.0)[0]
    assert lawn.evaporation_mm is not None
    assert bed.evaporation_mm is not None
    # few = 1 - 0.95 of Kc max 1.2: less than a tenth of ETo.
    assert 0.0 < lawn.evaporation_mm[0] < 0.1 * 6.0
    assert bed.evaporation_mm[0] > 4.0


def test_a_share_of_covered_ground_that_was_given_comes_before_the_equation() -> None:
    covered = columns(with_planting(BED, covered_share=0.9), rain_mm=30.0)[0].evaporation_mm
    assert covered is not None
    assert covered[0] == pytest.approx(0.1 * 1.2 * 5.5, abs=0.1)


def test_drip_wets_little_of_the_ground_and_that_in_the_shade() -> None:
    drip = with_watering(BED, method="drip-line", flow_l_min=4.0)
    overhead = with_water(columns(BED)[0], {0: 30.0}, 0).evaporation_mm
    dripped = with_water(columns(drip)[0], {0: 30.0}, 0).evaporation_mm
    assert overhead is not None
    assert dripped is not None
    # At most few Kc max, of which few is 0.4.
    assert dripped[0] < 0.5 * overhead[0]
    assert layer_of(drip).is_under_canopy
    assert not layer_of(BED).is_under_canopy


def test_mulch_takes_half_of_the_evaporation_of_what_it_covers() -> None:
    bare = columns(BED, rain_mm=30.0)[0].evaporation_mm
    mulched = columns(with_planting(BED, mulched_share=1.0), rain_mm=30.0)[0].evaporation_mm
    assert bare is not None
    assert mulched is not None
    assert mulched[0] == pytest.approx(0.5 * bare[0])


@pytest.mark.parametrize(
    ("soil", "tew_mm", "rew_mm"),
    [
        # FAO-56 table 19 (page 144), the middle of its ranges.
        pytest.param(Soil(texture="loam"), 19.0, 9.0, id="texture"),
        # 1000 (0.30 - 0.5 x 0.10) 0.10, equation 73; REW of sand as that is what was named.
        pytest.param(
            Soil(field_capacity=0.30, wilting_point=0.10, texture="sand"), 25.0, 4.5, id="own points"
        ),
        pytest.param(Soil(field_capacity=0.30, wilting_point=0.10), 25.0, 0.43 * 25.0, id="no texture"),
        # A sand that holds less than the class: REW stays below TEW.
        pytest.param(
            Soil(field_capacity=0.05, wilting_point=0.02, texture="sand"), 4.0, 0.43 * 4.0, id="coarse sand"
        ),
    ],
)
def test_what_can_evaporate_follows_from_the_soil(soil: Soil, tew_mm: float, rew_mm: float) -> None:
    layer = layer_of(replace(BED, soil=soil))
    assert (layer.tew_mm, layer.rew_mm) == (pytest.approx(tew_mm), pytest.approx(rew_mm))


def test_light_rain_counts_since_its_evaporation_is_reckoned_apart() -> None:
    assert columns(with_planting(BED, kc_method="single"), rain_mm=0.9)[0].counted_rain_mm[0] == 0.0
    assert columns(BED, rain_mm=0.9)[0].counted_rain_mm[0] == 0.9


def test_wet_ground_makes_no_roots_thirsty() -> None:
    assert columns(BED, rain_mm=30.0)[0].raw_mm == columns(BED)[0].raw_mm


def test_a_container_has_no_such_surface_and_says_so() -> None:
    with pytest.raises(InvalidGarden, match="kc_method"):
        numbers_of(with_planting(POTS, kc_method="dual"), a_garden(POTS))
