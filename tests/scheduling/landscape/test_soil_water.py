"""Saxton and Rawls 2006, Soil Science Society of America Journal 70:1569-1578."""

import pytest

from scheduling.landscape.soil_water import (
    field_capacity,
    saturated_conductivity_mm_h,
    saturation,
    water_points,
    wilting_point,
)

HALF_A_PERCENT_BY_VOLUME = 0.005
HALF_OF_0_1_MM_H = 0.05
HALF_OF_THE_SEVENTH_PLACE = 5e-8

# Table 3 of the paper, at 2.5 % organic matter: sand and clay in %, then wilting point, field
# capacity and saturation in % by volume and Ks in mm/h. The last two rows are from memory.
TEXTURE_CLASSES = [
    ("sand", 88, 5, 5, 10, 46, 108.1),
    ("loamy sand", 80, 5, 5, 12, 46, 96.7),
    ("sandy loam", 65, 10, 8, 18, 45, 50.3),
    ("loam", 40, 20, 14, 28, 46, 15.5),
    ("silt loam", 20, 15, 11, 31, 48, 16.1),
    ("silt", 10, 5, 6, 30, 48, 22.0),
    ("sandy clay loam", 60, 25, 17, 27, 43, 11.3),
    ("clay loam", 30, 35, 22, 36, 48, 4.3),
    ("silty clay loam", 10, 35, 22, 38, 51, 5.7),
    ("silty clay", 10, 45, 27, 41, 52, 3.7),
    ("sandy clay", 50, 40, 25, 36, 44, 1.4),
    ("clay", 25, 50, 30, 42, 50, 1.1),
]


def test_a_published_soil_has_its_published_water_points():
    # Sand and clay 20 %, organic matter 2.5 %: worked on the page of an R package for soils.
    assert wilting_point(0.20, 0.20, 2.5) == pytest.approx(0.1365448, abs=HALF_OF_THE_SEVENTH_PLACE)
    assert field_capacity(0.20, 0.20, 2.5) == pytest.approx(0.3208775, abs=HALF_OF_THE_SEVENTH_PLACE)
    assert saturation(0.20, 0.20, 2.5) == pytest.approx(0.482125, abs=5e-7)


@pytest.mark.parametrize(
    ("sand_pct", "clay_pct", "wilting_pct", "capacity_pct", "saturation_pct", "ksat_mm_h"),
    [pytest.param(*row[1:], id=row[0]) for row in TEXTURE_CLASSES],
)
def test_texture_classes_come_out_as_the_paper_prints_them(
    sand_pct, clay_pct, wilting_pct, capacity_pct, saturation_pct, ksat_mm_h
):
    points = water_points(sand_pct / 100, clay_pct / 100)

    assert points.wilting_point == pytest.approx(wilting_pct / 100, abs=HALF_A_PERCENT_BY_VOLUME)
    assert points.field_capacity == pytest.approx(capacity_pct / 100, abs=HALF_A_PERCENT_BY_VOLUME)
    assert points.saturation == pytest.approx(saturation_pct / 100, abs=HALF_A_PERCENT_BY_VOLUME)
    assert points.ksat_mm_h == pytest.approx(ksat_mm_h, abs=HALF_OF_0_1_MM_H + 1e-9)


@pytest.mark.parametrize("organic_matter_pct", [1.5, 2.5, 4.0])
def test_soils_with_usual_organic_matter_have_points_in_order(organic_matter_pct):
    for sand_pct in range(0, 101, 5):
        for clay_pct in range(0, min(60, 100 - sand_pct) + 1, 5):
            points = water_points(sand_pct / 100, clay_pct / 100, organic_matter_pct)
            assert 0 < points.wilting_point < points.field_capacity < points.saturation < 1
            assert points.ksat_mm_h > 0


def test_more_clay_wilts_plants_sooner_and_slows_the_water():
    lighter, heavier = water_points(0.3, 0.2), water_points(0.3, 0.4)

    assert heavier.wilting_point > lighter.wilting_point
    assert heavier.ksat_mm_h < lighter.ksat_mm_h


def test_conductivity_follows_from_the_points_alone():
    points = water_points(0.4, 0.2)

    assert saturated_conductivity_mm_h(*points[:3]) == points.ksat_mm_h


@pytest.mark.parametrize(
    ("sand_share", "clay_share", "organic_matter_pct", "words"),
    [
        (1.2, 0.0, 2.5, "Sand is 1.2"),
        (0.1, 0.7, 2.5, "Clay is 0.7; it must be 0 to 0.6"),
        (0.3, 0.2, 12.0, "Organic matter in % is 12.0; it must be 0 to 8"),
        (0.7, 0.5, 2.5, "their sum must be at most 1"),
        (float("nan"), 0.2, 2.5, "Sand is nan"),
        (1.0, 0.0, 0.0, "do not describe"),
        (0.4, 0.6, 8.0, "do not describe"),
    ],
)
def test_what_the_equations_cannot_describe_is_refused_in_words(
    sand_share, clay_share, organic_matter_pct, words
):
    with pytest.raises(ValueError, match=words):
        water_points(sand_share, clay_share, organic_matter_pct)
