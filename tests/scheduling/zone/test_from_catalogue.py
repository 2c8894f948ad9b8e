"""A zone with every number in place, and the zones whose numbers cannot be."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from scheduling.errors import InvalidGarden, UnknownName
from scheduling.garden.description import (
    Container,
    Emitters,
    LandscapeCoefficient,
    Planting,
    Site,
    Soil,
    Watering,
    WaterSupply,
    Zone,
)
from scheduling.zone.from_catalogue import all_numbers, numbers_of
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.soil import canopy_m2
from tests.scheduling.gardens import (
    LAWN,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    with_planting,
    with_site,
    with_valve,
    with_watering,
)


def numbers(zone: Zone, **garden: Any) -> ZoneNumbers:
    return numbers_of(zone, a_garden(zone, **garden))


def notes(zone: Zone, **garden: Any) -> list[str]:
    return [note.code for note in numbers(zone, **garden).notes]


def on_soil(**fields: Any) -> Zone:
    return replace(LAWN, soil=Soil(**fields))


def available_mm(zone: Zone) -> float:
    return numbers(zone).total_available_mm(0.2)


def test_own_water_points_come_before_the_class() -> None:
    # 1000 (0.30 - 0.10) 0.2 m; the texture still serves for what the soil takes in.
    assert available_mm(on_soil(field_capacity=0.30, wilting_point=0.10, texture="clay")) == pytest.approx(
        40.0
    )


def test_a_texture_holds_what_saxton_and_rawls_print() -> None:
    # Loam: 28 % and 14 %, table 3.
    assert available_mm(on_soil(texture="loam")) == pytest.approx(28.0)


def test_own_fractions_come_before_the_class() -> None:
    # Saxton and Rawls 2006, S = C = 0.20, 2.5 % organic matter: 0.3208775 - 0.1365448, seen in print.
    zone = on_soil(sand_pct=20.0, clay_pct=20.0)
    assert available_mm(zone) == pytest.approx(200.0 * (0.3208775 - 0.1365448), abs=2e-4)
    richer = on_soil(sand_pct=20.0, clay_pct=20.0, organic_matter_pct=5.0)
    assert available_mm(richer) > available_mm(zone)


def test_a_container_holds_its_substrates_water_over_the_leaf_area() -> None:
    # 180 l x (0.5 - 0.2) over 2.4 m2 of leaves; the depth of roots has no say.
    assert numbers(TROUGHS).total_available_mm(0.1) == pytest.approx(22.5)
    assert numbers(TROUGHS).total_available_mm(9.0) == pytest.approx(22.5)


def test_a_container_of_an_unnamed_substrate_holds_potting_mix() -> None:
    container = replace(TROUGHS.soil.container, capacity_share=None, unavailable_share=None)  # type: ignore[type-var]
    assert numbers(replace(TROUGHS, soil=Soil(container=container))).container_mm == pytest.approx(22.5)


def test_what_leaches_a_container_is_given_on_top() -> None:
    # UF/IFAS ENH1268: dose = use / (1 - LF); 1.2 l at 0.15 are 1.412 l.
    plain, leached = numbers(TROUGHS), numbers(with_watering(TROUGHS, leaching_share=0.15))
    assert 1.2 * plain.efficiency / leached.efficiency == pytest.approx(1.412, abs=0.0005)
    assert leached.efficiency / (1.0 - 0.15) == pytest.approx(plain.efficiency)


def test_what_never_lands_is_given_on_top_where_a_uniformity_is_known() -> None:
    # Playan et al. 2005, solid sets by day (from memory): 20.3 + 0.214 U^2 - 0.00229 RH^2 per cent,
    # so 12.9 % at 2 m/s and 60 %; a DU of 0.75 serves 0.4 + 0.6 DU of what lands.
    lost = (20.3 + 0.214 * 2.0**2 - 0.00229 * 60.0**2) / 100.0
    assert lost == pytest.approx(0.129, abs=0.0005)
    sprayed = numbers(with_watering(LAWN, efficiency=None, distribution_uniformity=0.75, air_loss_share=lost))
    assert sprayed.efficiency == pytest.approx(0.85 * (1.0 - lost))


@pytest.mark.parametrize(
    ("zone", "sentence"),
    [
        (
            with_watering(SHRUBS, efficiency=None, distribution_uniformity=0.9, air_loss_share=0.1),
            "loses nothing",
        ),
        (with_watering(LAWN, efficiency=0.7, air_loss_share=0.1), "the efficiency that is given holds"),
        (with_watering(LAWN, efficiency=None, air_loss_share=0.1), "the method's efficiency holds"),
    ],
)
def test_losses_to_the_air_are_never_counted_twice(zone: Zone, sentence: str) -> None:
    with pytest.raises(InvalidGarden, match=sentence):
        numbers(zone)


def test_nothing_is_leached_in_the_ground() -> None:
    with pytest.raises(InvalidGarden, match="is for containers"):
        numbers(with_watering(SHRUBS, leaching_share=0.1))


def test_in_a_container_every_drip_point_reaches_all_roots() -> None:
    assert numbers(TROUGHS).wetted_share == 1.0
    assert numbers(SHRUBS).wetted_share == 0.4
    assert numbers(with_watering(TROUGHS, wetted_share=0.5)).wetted_share == 0.5


@pytest.mark.parametrize(
    ("watering", "flow_l_min"),
    [
        (Watering("overhead-spray", flow_l_min=20.0), 20.0),
        # 24 points of 2 l/h.
        (Watering("drip-points", emitters=Emitters(24, 2.0)), 0.8),
        # 12 mm/h on 50 m2.
        (Watering("overhead-rotor", rate_mm_h=12.0), 10.0),
    ],
)
def test_the_flow_is_what_was_given_in_whichever_way(watering: Watering, flow_l_min: float) -> None:
    assert numbers(replace(LAWN, watering=watering)).flow_l_min == pytest.approx(flow_l_min)


def test_a_flow_that_is_not_given_follows_from_the_methods_usual_rate_and_says_so() -> None:
    # Spray heads: 43.2 mm/h on 50 m2.
    zone = replace(LAWN, watering=Watering("overhead-spray"))
    assert numbers(zone).flow_l_min == pytest.approx(36.0)
    assert notes(zone) == ["flow-assumed"]


def test_a_zone_never_takes_more_than_the_supply_gives() -> None:
    supply = WaterSupply(flow_l_min=15.0)
    assert numbers(LAWN, water_supply=supply).flow_l_min == 15.0
    assert notes(LAWN, water_supply=supply) == ["flow-above-supply"]
    assert notes(LAWN, water_supply=WaterSupply(flow_l_min=20.0)) == []


def test_a_valve_closes_by_volume_only_where_its_meter_counts() -> None:
    assert numbers(LAWN).close_by == "volume"
    assert numbers(with_valve(LAWN, meter=False)).close_by == "time"
    assert numbers(with_valve(LAWN, min_flow_l_min=20.1)).close_by == "time"


def test_what_was_given_comes_before_the_methods_numbers() -> None:
    zone = with_watering(SHRUBS, efficiency=0.61, smallest_depth_mm=2.5)
    assert (numbers(zone).efficiency, numbers(zone).smallest_depth_mm) == (0.61, 2.5)
    assert numbers(with_watering(SHRUBS, efficiency=None)).efficiency == 0.9


def test_a_crop_without_planting_date_says_that_it_is_taken_in_its_mid_season() -> None:
    crop = replace(LAWN, planting=Planting("tomato"))
    assert notes(crop) == ["planting-date-unknown"]
    assert notes(with_planting(crop, kc=0.8)) == []


def test_a_rate_far_from_usual_is_planned_with_a_note() -> None:
    # 1 l/min on 50 m2 is 1.2 mm/h where spray heads give about 43 mm/h.
    assert notes(with_watering(LAWN, flow_l_min=1.0, wetted_share=0.5)) == ["rate-unusual"]
    assert notes(with_watering(LAWN, flow_l_min=20.0)) == []


def refusal(zone: Zone) -> tuple[str, str]:
    """Pointer and sentence of what is wrong with a zone."""
    with pytest.raises(InvalidGarden) as refused:
        numbers(zone)
    (problem,) = refused.value.problems
    return problem.pointer, problem.detail


def test_a_field_capacity_below_the_wilting_point_is_refused() -> None:
    pointer, sentence = refusal(on_soil(field_capacity=0.10, wilting_point=0.12))
    assert pointer == "/zones/lawn/soil"
    assert "0.100 at field capacity and 0.120 at the wilting point" in sentence


def test_a_rate_that_no_emitter_has_is_refused() -> None:
    pointer, sentence = refusal(with_watering(LAWN, flow_l_min=2600.0))
    assert pointer == "/zones/lawn/watering"
    assert "3120 mm/h" in sentence
    assert "3000" in sentence


def test_a_refill_of_more_than_a_day_is_refused() -> None:
    # RAW 20 mm / 0.8 on 50 m2 are 1250 l: at 0.5 l/min, 42 h.
    pointer, sentence = refusal(with_watering(LAWN, flow_l_min=0.5))
    assert pointer == "/zones/lawn/watering"
    assert "42 h" in sentence
    assert "24 h" in sentence


def test_a_zone_without_any_flow_is_refused() -> None:
    assert "above 0 l/min" in refusal(with_watering(LAWN, flow_l_min=0.0))[1]


def test_a_container_that_holds_only_what_roots_cannot_draw_is_refused() -> None:
    container = replace(TROUGHS.soil.container, capacity_share=0.2, unavailable_share=0.2)  # type: ignore[type-var]
    pointer, sentence = refusal(replace(TROUGHS, soil=Soil(container=container)))
    assert pointer == "/zones/troughs/soil/container"
    assert "capacity_share" in sentence


def test_fractions_that_no_soil_has_are_refused() -> None:
    pointer, sentence = refusal(on_soil(sand_pct=70.0, clay_pct=40.0))
    assert pointer == "/zones/lawn/soil"
    assert "sum must be at most 1" in sentence


def test_a_soil_of_which_nothing_is_said_is_refused() -> None:
    assert refusal(on_soil())[0] == "/zones/lawn/soil"


def test_a_landscape_coefficient_beyond_its_guide_is_refused() -> None:
    # UC/DWR 2000: species factors reach 0.9.
    zone = with_planting(LAWN, kc=None, landscape_coefficient=LandscapeCoefficient(1.1))
    pointer, sentence = refusal(zone)
    assert pointer == "/zones/lawn/planting/landscape_coefficient"
    assert "1.1" in sentence
    assert "0.9" in sentence


def test_every_zone_that_cannot_be_is_told_at_once() -> None:
    garden = a_garden(on_soil(), SHRUBS, replace(with_watering(LAWN, flow_l_min=0.5), id="back-lawn"))
    with pytest.raises(InvalidGarden) as refused:
        all_numbers(garden)
    assert [problem.pointer for problem in refused.value.problems] == [
        "/zones/lawn/soil",
        "/zones/back-lawn/watering",
    ]


def test_a_garden_that_can_be_is_told_what_is_odd_about_it() -> None:
    numbers = all_numbers(a_garden(replace(LAWN, watering=Watering("overhead-spray")), SHRUBS))
    assert {one.zone.id: [note.code for note in one.notes] for (one,) in numbers} == {
        "lawn": ["flow-assumed"],
        "shrubs": [],
    }


@pytest.mark.parametrize(
    ("zone", "kind", "nearest"),
    [
        (with_planting(LAWN, plant="tomatoe"), "plant", "tomato"),
        (with_watering(LAWN, method="overhead-sprays"), "method", "overhead-spray"),
        (on_soil(texture="silty-loam"), "soil", "silt-loam"),
        (
            replace(TROUGHS, soil=Soil(container=replace(TROUGHS.soil.container, substrate="peatmix"))),  # type: ignore[type-var]
            "substrate",
            "peat-mix",
        ),
    ],
)
def test_a_name_that_the_catalogue_lacks_is_refused_with_the_nearest(
    zone: Zone, kind: str, nearest: str
) -> None:
    with pytest.raises(UnknownName) as refused:
        numbers(with_site(zone, slope_pct=0.0))
    assert refused.value.kind == kind
    assert nearest in refused.value.nearest
    assert nearest in str(refused.value)


SIX_POTS = Container(volume_l=20.0, count=6, diameter_m=0.30)


def test_rain_falls_on_the_tops_of_pots_and_plants_use_water_over_their_spread() -> None:
    # Six tops of 0.0707 m2; a plant that fills its pot is 1.5 times as wide (2.25 times the area).
    zone = replace(POTS, area_m2=canopy_m2(SIX_POTS), soil=Soil(container=SIX_POTS), site=Site())
    numbers = numbers_of(zone, a_garden(zone))
    assert zone.area_m2 == pytest.approx(6 * 0.0707 * 2.25, abs=0.001)
    assert numbers.rain_share == pytest.approx(1 / 2.25)
    assert numbers.container_mm is not None
    held_l = numbers.container_mm * zone.area_m2
    assert held_l == pytest.approx(6 * 20.0 * (numbers.capacity_share - numbers.unavailable_share))


def test_a_pot_of_which_only_the_volume_is_known_does_not_catch_rain_on_its_leaves() -> None:
    # Rain on six tops of 20 litres: 0.068 m2 each, by volume; leaves of 2 m2.
    pots = Container(volume_l=20.0, count=6)
    zone = replace(POTS, area_m2=2.0, soil=Soil(container=pots), site=Site())
    assert numbers_of(zone, a_garden(zone)).rain_share == pytest.approx(6 * 0.068 / 2.0, rel=0.01)


def test_a_surface_that_nobody_gave_is_no_larger_than_the_leaves() -> None:
    zone = replace(POTS, area_m2=0.1, soil=Soil(container=Container(volume_l=500.0)), site=Site())
    assert numbers_of(zone, a_garden(zone)).rain_share == 1.0


def test_two_plantings_at_once_on_the_same_ground_are_refused() -> None:
    # FAO-56 table 11: lettuce planted in April takes 75 days.
    spring, too_soon = dt.date(2026, 4, 1), dt.date(2026, 5, 20)
    zone = with_planting(LAWN, plant="lettuce", kc=None, planted_on=spring, planted_again=(too_soon,))
    with pytest.raises(InvalidGarden) as refused:
        numbers_of(zone, a_garden(zone))
    [problem] = refused.value.problems
    assert problem.pointer == "/zones/lawn/planting/planted_on"
    assert "2026-06-14" in problem.detail
    cleared = with_planting(zone, season_ends=(dt.date(2026, 5, 15),))
    assert numbers_of(cleared, a_garden(cleared)).growth.later


@pytest.mark.parametrize(
    ("zone", "says"),
    [
        (with_planting(POTS, aim="alive"), "for plants in the ground"),
        (with_planting(SHRUBS, plant="apple", kc=None, aim="alive"), "no published rate for apple"),
        (with_planting(SHRUBS, aim="alive", kc_method="dual"), "give kc_method single"),
        (with_planting(SHRUBS, aim="alive", planted_on=dt.date(2026, 3, 1)), "two summers"),
        (with_planting(LAWN, aim="alive", root_depth_m=0.10), "a lawn on 10 cm of soil"),
    ],
)
def test_nothing_is_only_kept_alive_that_would_die_of_it(zone: Zone, says: str) -> None:
    with pytest.raises(InvalidGarden) as refused:
        numbers_of(zone, a_garden(zone))
    [problem] = refused.value.problems
    assert problem.pointer.endswith("/planting/aim")
    assert says in problem.detail


def test_an_aim_of_staying_alive_is_told() -> None:
    zone = with_planting(SHRUBS, aim="alive")
    assert "kept-alive" in [note.code for note in numbers_of(zone, a_garden(zone)).notes]
