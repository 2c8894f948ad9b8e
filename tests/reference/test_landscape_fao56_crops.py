"""The catalogue's crops against the printed rows of FAO-56.

`landscape_fao56_crops.csv` holds rows of tables 11, 12, 17 and 22 as facts, under the name of the
plant that uses them, `fao56_table_11_stage_lengths.csv` all rows of table 11 of these crops; page
numbers stand in their heads. Slips of table 11: the totals of green gram and of sweet maize in
Idaho are not the sums of their stages; one planting is printed "Mat/Aug".
"""

import csv
from pathlib import Path

import pytest

from scheduling.catalogue import plant, plants, soil, soils, stage_lengths
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.fao56.soil_evaporation import total_evaporable_water

FACTS = Path(__file__).with_name("landscape_fao56_crops.csv")
PRINTED = [
    pytest.param(row, id=row["plant"])
    for row in csv.DictReader(line for line in FACTS.read_text().splitlines() if not line.startswith("#"))
]
WITH_STAGES = [given for given in PRINTED if given.values[0]["stages"]]
WITHOUT_STAGES = [given for given in PRINTED if not given.values[0]["stages"]]


def test_every_vegetable_and_fruit_is_compared():
    compared = {given.id for given in PRINTED}

    crops = {
        entry.id
        for entry in plants()
        if entry.kind in ("vegetable", "fruit") and not entry.source.startswith("As ")
    }
    # Rhubarb has no row of its own: it has the Kc of the group of perennial vegetables.
    assert crops - {"rhubarb"} <= compared
    assert len(compared) >= 90


TABLE_11 = list(
    csv.DictReader(
        line
        for line in Path(__file__).with_name("fao56_table_11_stage_lengths.csv").read_text().splitlines()
        if not line.startswith("#")
    )
)


@pytest.mark.parametrize(
    "entry", [entry for entry in plants() if entry.source.startswith("As ")], ids=lambda entry: entry.id
)
def test_what_is_reckoned_as_another_plant_has_its_numbers(entry):
    other = plant(entry.source.removeprefix("As ").partition(" ")[0])

    assert (entry.kc, entry.stages, entry.kcb) == (other.kc, other.stages, other.kcb)
    assert (entry.root_depth_m, entry.depletion_fraction) == (other.root_depth_m, other.depletion_fraction)
    assert "from memory" in entry.source


FROM_TABLE_11 = [row for row in stage_lengths() if row.source.startswith("FAO-56 table 11")]


def test_the_only_stages_from_elsewhere_are_those_of_garlic_planted_in_autumn():
    assert [row.id for row in stage_lengths() if row not in FROM_TABLE_11] == ["temperate-october"]


@pytest.mark.parametrize("row", FROM_TABLE_11, ids=lambda row: f"{row.crop} {row.id}")
def test_lengths_of_stages_are_a_row_of_table_11(row):
    given = [row.l_ini, row.l_dev, row.l_mid, row.l_late]
    printed = [
        candidate
        for candidate in TABLE_11
        if row.source.endswith(f", {candidate['crop']}")
        and candidate["region"] == row.region
        and all(
            str(days) in candidate[column].split("/")
            for days, column in zip(given, ("l_ini", "l_dev", "l_mid", "l_late"), strict=True)
        )
    ]
    assert printed
    # The planting as printed, or one of its alternatives where these have lengths of their own.
    assert any(row.planted in candidate["planted"] for candidate in printed)
    fits = any(str(sum(given)) in candidate["total"].split("/") for candidate in printed)
    assert fits or "is not the sum" in row.note


def test_every_row_of_table_11_of_these_crops_may_be_chosen():
    chosen = {(row.source.rpartition("), ")[2], row.region, row.l_ini, row.l_late) for row in stage_lengths()}
    missing = [
        row
        for row in TABLE_11
        if not any(
            (row["crop"], row["region"], int(l_ini), int(row["l_late"])) in chosen
            for l_ini in row["l_ini"].split("/")
        )
    ]
    assert missing == []


MONTH_NAMES = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]


@pytest.mark.parametrize("row", stage_lengths(), ids=lambda row: f"{row.crop} {row.id}")
def test_months_are_those_of_the_printed_planting(row):
    legible = row.planted.replace("Winter", "Dec Jan Feb").replace("Mat/", "").lower()
    named = [number for number, name in enumerate(MONTH_NAMES, start=1) if name in legible]

    assert sorted(row.months) == named


def _either(row, column):
    """What a plant may have of a column: for staked plants footnote 2, else an end of the range."""
    if row.get(f"{column}_staked"):
        return {float(row[f"{column}_staked"])}
    return {float(row[end]) for end in (column, f"{column}_2") if row[end]}


# FAO-56 Rev.1 (2025), tables 6.1 and 6.2, second-hand: the crops on which two readings agree. Long-season
# potato, dry onion, cabbage, sweet pepper.
REVISED_KC = {
    "potato": (0.50, 1.10, 0.40),
    "onion": (0.70, 1.05, 0.70),
    "cabbage": (0.70, 1.05, 1.00),
    "pepper": (0.60, 1.10, 1.00),
}


@pytest.mark.parametrize("row", [given for given in WITH_STAGES if given.id in REVISED_KC])
def test_where_two_readings_of_the_revision_agree_kc_is_the_revised_one(row):
    entry = plant(row["plant"])
    stages = entry.stages

    assert (stages.kc_ini, stages.kc_mid, stages.kc_end) == REVISED_KC[entry.id]
    assert entry.source.startswith("FAO-56 Rev.1, second-hand")
    printed_1998 = f"{float(row['kc_ini']):g}/{float(row['kc_mid']):.2f}/"
    assert f"Kc of 1998, table 12: {printed_1998}" in entry.note
    lengths = [stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late]
    assert lengths == [int(days) for days in row["stages"].split()]


@pytest.mark.parametrize("row", [given for given in WITH_STAGES if given.id not in REVISED_KC])
def test_kc_and_stages_are_the_printed_ones(row):
    stages = plant(row["plant"]).stages

    assert stages.kc_ini == float(row["kc_ini"])
    assert stages.kc_mid in _either(row, "kc_mid")
    assert stages.kc_end in _either(row, "kc_end")
    assert (stages.kcb_ini, stages.kcb_mid in _either(row, "kcb_mid")) == (float(row["kcb_ini"]), True)
    assert stages.kcb_end in _either(row, "kcb_end")
    lengths = [stages.l_ini, stages.l_dev, stages.l_mid, stages.l_late]
    assert lengths == [int(days) for days in row["stages"].split()]
    assert row["region"] in plant(row["plant"]).note


RESTING_IN_WINTER = {"mint", "strawberry", "avocado"}


@pytest.mark.parametrize("row", [given for given in WITHOUT_STAGES if given.id in RESTING_IN_WINTER])
def test_what_rests_in_winter_has_the_initial_value_then_and_the_mid_season_one_in_summer(row):
    months = plant(row["plant"]).kc_by_month

    assert months[0] == months[11] == min(months) == float(row["kc_ini"])
    assert months[5] == months[6] == max(months) == float(row["kc_mid"])
    assert float(row["kc_end"]) in months[8:]


@pytest.mark.parametrize("row", [given for given in WITHOUT_STAGES if given.id not in RESTING_IN_WINTER])
def test_without_stages_kc_is_the_printed_mid_season_value(row):
    assert plant(row["plant"]).kc == float(row["kc_mid"])
    assert plant(row["plant"]).kcb == float(row["kcb_mid"])
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


def test_a_cool_season_lawn_lasts_for_two_days_of_heat():
    # Extension services: every other or every third day in heat (Colorado State, July 2014). Loam of
    # 130 mm/m, Kc 0.94 at 7 mm/day: one day's use is easily available with the p of that demand.
    lawn = plant("turf-cool-season")
    etc_mm = 0.94 * 7.0
    raw_mm = depletion_fraction_for_demand(lawn.depletion_fraction, etc_mm) * 130.0 * lawn.root_depth_m
    assert raw_mm > etc_mm
    assert 0.5 * 130.0 * lawn.root_depth_m == pytest.approx(2.0 * etc_mm, rel=0.02)  # half of what is held


@pytest.mark.parametrize(
    ("name", "p"),
    [("turf-cool-season", 0.40), ("turf-warm-season", 0.50)],  # FAO-56 table 22, p. 164
)
def test_turf_has_its_depletion_fraction_and_shallow_roots(name, p):
    assert plant(name).depletion_fraction == p
    assert plant(name).root_depth_max_m == 1.0
    # Bluegrass roots 6-8 in (Colorado State extension, July 2014); warm-season grass as it was.
    assert plant(name).root_depth_m <= 0.2032


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


# FAO-56 table 19 (p. 144): REW and TEW in mm for a surface layer of 0.10 m.
TABLE_19 = {
    "sand": (2, 7, 6, 12),
    "loamy-sand": (4, 8, 9, 14),
    "sandy-loam": (6, 10, 15, 20),
    "loam": (8, 10, 16, 22),
    "silt-loam": (8, 11, 18, 25),
    "silt": (8, 11, 22, 26),
    "silty-clay-loam": (8, 11, 22, 27),
    "silty-clay": (8, 12, 22, 28),
    "clay": (8, 12, 22, 29),
}


@pytest.mark.parametrize(("name", "ranges"), TABLE_19.items())
def test_evaporable_water_is_the_middle_of_table_19(name, ranges):
    rew_low, rew_high, tew_low, tew_high = ranges

    assert soil(name).rew_mm == (rew_low + rew_high) / 2
    assert soil(name).tew_mm == (tew_low + tew_high) / 2


@pytest.mark.parametrize("entry", [e for e in soils() if e.id not in TABLE_19], ids=lambda e: e.id)
def test_textures_that_table_19_lacks_have_equation_73_and_say_so(entry):
    # sandy clay loam, clay loam, sandy clay
    assert entry.tew_mm == pytest.approx(total_evaporable_water(entry.field_capacity, entry.wilting_point))
    assert "No row in FAO-56 table 19" in entry.evaporation_source


@pytest.mark.parametrize("entry", soils(), ids=lambda entry: entry.id)
def test_equation_73_with_saxton_and_rawls_water_points_comes_near_table_19(entry):
    # Their water points and FAO-56's ranges are of different soils under one name: within a quarter.
    reckoned = total_evaporable_water(entry.field_capacity, entry.wilting_point)
    assert reckoned == pytest.approx(entry.tew_mm, rel=0.25)
