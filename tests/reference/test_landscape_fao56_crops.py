"""The catalogue's crops against the printed rows of FAO-56.

`landscape_fao56_crops.csv` holds rows of tables 11, 12 and 22 as facts, under the name of the
plant that uses them; page numbers stand in its head.
"""

import csv
from pathlib import Path

import pytest

from scheduling.catalogue import plant, plants

FACTS = Path(__file__).with_name("landscape_fao56_crops.csv")
PRINTED = [
    pytest.param(row, id=row["plant"])
    for row in csv.DictReader(line for line in FACTS.read_text().splitlines() if not line.startswith("#"))
]
WITH_STAGES = [given for given in PRINTED if given.values[0]["stages"]]
WITHOUT_STAGES = [given for given in PRINTED if not given.values[0]["stages"]]


def test_every_vegetable_and_fruit_is_compared():
    compared = {given.id for given in PRINTED}

    assert {entry.id for entry in plants() if entry.kind in ("vegetable", "fruit")} <= compared
    assert len(compared) >= 40


@pytest.mark.parametrize("row", WITH_STAGES)
def test_kc_and_stages_are_the_printed_ones(row):
    stages = plant(row["plant"]).stages

    assert stages.kc_ini == float(row["kc_ini"])
    assert stages.kc_mid == float(row["kc_mid_staked"] or row["kc_mid"])
    assert stages.kc_end in {float(row[column]) for column in ("kc_end", "kc_end_2") if row[column]}
    lengths = [stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late]
    assert lengths == [int(days) for days in row["stages"].split()]
    assert row["region"] in plant(row["plant"]).note


@pytest.mark.parametrize("row", WITHOUT_STAGES)
def test_without_stages_kc_is_the_printed_mid_season_value(row):
    assert plant(row["plant"]).kc == float(row["kc_mid"])
    assert "Kc mid all year" in plant(row["plant"]).note


@pytest.mark.parametrize("row", PRINTED)
def test_height_is_the_printed_one_unless_staked(row):
    height_m = plant(row["plant"]).height_m

    if row["kc_mid_staked"]:
        assert height_m == 1.5  # the lower end of footnote 2's 1.5-2 m (from memory)
    else:
        assert height_m == float(row["height_m"])


@pytest.mark.parametrize("row", PRINTED)
def test_roots_and_depletion_fraction_follow_table_22(row):
    grown = plant(row["plant"])

    assert grown.depletion_fraction == float(row["p"])
    assert grown.root_depth_max_m == float(row["zr_max_m"])
    # The printed ranges are of maximum depths: a garden's are not deeper than the smaller value.
    assert 0.2 <= grown.root_depth_m <= float(row["zr_min_m"])
    assert f"{row['zr_min_m']}-{row['zr_max_m']} m" in grown.root_source


# Arizona Master Gardener Manual, table 10.7: depth of feeder roots, its smaller value in feet.
FEEDER_ROOTS_FT = {
    "lettuce": 1.0,
    "onion": 1.5,
    "cucumber": 1.5,
    "strawberry": 1.0,
    "carrot": 1.5,
    "bean": 2.0,
    "potato": 2.0,
    "cabbage": 1.5,
    "pea": 2.5,
    "sweet-corn": 2.5,
    "raspberry": 3.0,
    "melon": 2.5,
    "tomato": 3.0,
}


@pytest.mark.parametrize(("name", "feet"), FEEDER_ROOTS_FT.items())
def test_root_zones_are_not_deeper_than_garden_manuals_find_feeder_roots(name, feet):
    assert plant(name).root_depth_m <= feet * 0.3048
    assert "Arizona Master Gardener Manual table 10.7" in plant(name).root_source


@pytest.mark.parametrize(
    ("name", "p"),
    [("turf-cool-season", 0.40), ("turf-warm-season", 0.50)],  # FAO-56 table 22, p. 164
)
def test_turf_has_its_depletion_fraction_and_shallow_roots(name, p):
    assert plant(name).depletion_fraction == p
    assert plant(name).root_depth_max_m == 1.0
    assert plant(name).root_depth_m <= 0.1524  # 6 in, found in 16 % of audited Front Range lawns


# UCANR Center for Landscape and Urban Horticulture, after Meyer et al. 1985.
TURF_KC = {
    "turf-cool-season": [0.61, 0.64, 0.75, 1.04, 0.95, 0.88, 0.94, 0.86, 0.74, 0.75, 0.69, 0.60],
    "turf-warm-season": [0.61, 0.54, 0.76, 0.72, 0.79, 0.68, 0.71, 0.71, 0.62, 0.54, 0.58, 0.55],
}


@pytest.mark.parametrize(("name", "by_month"), TURF_KC.items())
def test_turf_has_californias_kc_by_month(name, by_month):
    assert list(plant(name).kc_by_month) == by_month


# ANSI/ASABE S623.1 (2017): woody plants seen in an ASHS abstract of 2014, the others from memory.
PLANT_FACTORS = {
    "woody-plants-dry-climate": 0.5,
    "woody-plants-humid-climate": 0.7,
    "annual-flowers": 0.8,
    "herbaceous-perennials": 0.5,
    "desert-plants": 0.3,
}


@pytest.mark.parametrize(("name", "factor"), PLANT_FACTORS.items())
def test_ornamental_classes_have_the_standards_plant_factors(name, factor):
    assert plant(name).kc == factor


@pytest.mark.parametrize(
    "name", ["shrubs", "ground-cover", "trees", "herbs-mediterranean", "container-foliage"]
)
def test_plants_of_moderate_need_lie_within_the_guides_range(name):
    assert 0.4 <= plant(name).kc <= 0.6  # UC/DWR 2000
