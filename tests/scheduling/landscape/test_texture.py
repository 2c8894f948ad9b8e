"""Texture classes by the USDA triangle, and by what a soil holds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling import catalogue
from scheduling.landscape.texture import nearest_texture, texture_of_fractions

CLASSES = {soil.id: (soil.field_capacity, soil.wilting_point) for soil in catalogue.soils()}


@pytest.mark.parametrize("soil", catalogue.soils(), ids=lambda soil: soil.id)
def test_the_point_that_stands_for_a_class_lies_in_it(soil: catalogue.SoilTexture) -> None:
    # The points are those of Saxton and Rawls 2006, table 3.
    assert texture_of_fractions(100.0 * soil.sand_share, 100.0 * soil.clay_share) == soil.id


@pytest.mark.parametrize(
    ("sand_pct", "clay_pct", "texture"),
    [
        # Corners and edges of the triangle, Soil Survey Manual chapter 3 (from memory).
        (100.0, 0.0, "sand"),
        (0.0, 0.0, "silt"),
        (0.0, 100.0, "clay"),
        (52.0, 7.0, "loam"),
        (53.0, 7.0, "sandy-loam"),
        (20.0, 27.0, "silty-clay-loam"),
        (20.1, 27.0, "clay-loam"),
        (45.1, 35.0, "sandy-clay"),
        (45.0, 35.0, "clay-loam"),
        (46.0, 27.0, "sandy-clay-loam"),
        (45.0, 40.0, "clay"),
        (20.0, 40.0, "silty-clay"),
        (8.0, 12.0, "silt-loam"),
        (8.0, 11.9, "silt"),
    ],
)
def test_edges_of_the_triangle(sand_pct: float, clay_pct: float, texture: str) -> None:
    assert texture_of_fractions(sand_pct, clay_pct) == texture


@given(st.floats(0.0, 100.0), st.floats(0.0, 1.0))
def test_every_soil_has_a_class_of_the_catalogue(sand_pct: float, rest: float) -> None:
    assert texture_of_fractions(sand_pct, rest * (100.0 - sand_pct)) in CLASSES


@pytest.mark.parametrize(
    ("sand_pct", "clay_pct", "words"),
    [
        (101.0, 0.0, "Sand in % is 101"),
        (20.0, -1.0, "Clay in % is -1"),
        (60.0, 50.0, "Sand and clay together in % is 110"),
    ],
)
def test_fractions_that_no_soil_has_are_refused(sand_pct: float, clay_pct: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        texture_of_fractions(sand_pct, clay_pct)


def test_the_nearest_class_by_water_points_is_the_class_itself_and_its_neighbour() -> None:
    assert [nearest_texture(*points, CLASSES) for points in CLASSES.values()] == list(CLASSES)
    assert nearest_texture(0.285, 0.135, CLASSES) == "loam"
