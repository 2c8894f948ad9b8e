"""What the catalogue promises to whoever names a plant, a soil or a way of watering."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from scheduling import catalogue
from scheduling.catalogue import (
    establishment,
    establishments,
    method,
    methods,
    plant,
    plants,
    soil,
    soils,
    stage_lengths,
    stages_of,
    substrate,
    substrates,
)
from scheduling.errors import UnknownName

EVERYTHING = [
    pytest.param(entry, id=f"{entry.id} in {kind}")
    for kind, entries in (
        ("plants", plants()),
        ("soils", soils()),
        ("substrates", substrates()),
        ("methods", methods()),
        ("stage lengths", stage_lengths()),
        ("establishments", establishments()),
    )
    for entry in entries
]

TEXTURE_CLASSES = {
    *("sand", "loamy-sand", "sandy-loam", "loam", "silt-loam", "silt"),
    *("sandy-clay-loam", "clay-loam", "silty-clay-loam", "sandy-clay", "silty-clay", "clay"),
}
WAYS_OF_WATERING = {
    *("overhead-spray", "overhead-rotor", "micro-spray"),
    *("drip-line", "drip-points", "soaker-hose", "by-hand"),
}
COMMON_IN_GARDENS = {
    *("turf-cool-season", "turf-warm-season", "woody-plants-dry-climate", "woody-plants-humid-climate"),
    *("herbaceous-perennials", "annual-flowers", "desert-plants", "herbs", "hedges", "shrubs"),
    *("ground-cover", "container-flowering", "container-foliage", "container-shrubs"),
    *("tomato", "pepper", "cucumber", "courgette", "lettuce", "spinach", "cabbage", "broccoli"),
    *("cauliflower", "carrot", "onion", "garlic", "bean", "pea", "potato", "beetroot", "radish"),
    *("melon", "pumpkin", "aubergine", "sweet-corn", "strawberry", "raspberry", "apple", "grape"),
    *("gherkin", "cantaloupe", "leek", "kale", "chard", "bean-dry", "pea-climbing", "soybean", "lentil"),
    *("artichoke", "asparagus", "sunflower", "hops", "grape-wine", "kiwi", "almond", "walnut", "avocado"),
    *("rose", "hydrangea", "rhododendron", "camellia", "fig", "pomegranate", "persimmon", "hazelnut"),
    *("rhubarb", "okra", "fennel", "celeriac", "rocket", "pak-choi", "swede", "physalis", "bulbs"),
    *("dahlia", "ornamental-grasses", "ferns", "meadow", "clover-lawn", "basil", "parsley"),
    *("apricot", "quince", "apple-in-grass", "stone-fruit-frost-free", "citrus-small", "banana", "pineapple"),
}


def test_importing_reads_no_file():
    # In a process of its own, because this one has read them already.
    script = (
        "import sys, scheduling.catalogue as c; "
        "sys.exit(sum(f.cache_info().currsize for f in "
        "(c.plants, c.soils, c.substrates, c.methods, c.stage_lengths, c.establishments)))"
    )
    root = Path(catalogue.__file__).parents[2]
    assert subprocess.run([sys.executable, "-c", script], cwd=root, check=False).returncode == 0


def test_files_are_read_once():
    assert plants() is plants()
    assert plant("tomato") is plant("tomato")


def test_it_holds_what_gardens_commonly_need():
    assert {entry.id for entry in plants()} >= COMMON_IN_GARDENS
    assert {entry.id for entry in soils()} == TEXTURE_CLASSES
    assert {entry.id for entry in methods()} == WAYS_OF_WATERING
    assert catalogue.DEFAULT_SUBSTRATE in {entry.id for entry in substrates()}


@pytest.mark.parametrize("entry", EVERYTHING)
def test_every_entry_has_a_source_and_an_id_for_documents(entry):
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", entry.id)
    assert len(entry.id) <= 64
    # A source names a year, a standard, an institution's table, or owns that there is none.
    assert re.search(r"\d{4}|FAO-56|S623|UCANR|BMP guide|from memory|no source", entry.source)


@pytest.mark.parametrize("entry", plants(), ids=lambda entry: entry.id)
def test_numbers_of_a_plant_are_plausible(entry):
    kcs = [
        *([entry.kc] if entry.kc is not None else []),
        *(entry.kc_by_month or ()),
        *((entry.stages.kc_ini, entry.stages.kc_mid, entry.stages.kc_end) if entry.stages else ()),
    ]
    assert len(kcs) in (1, 12, 3)
    assert all(0 < kc <= 1.4 for kc in kcs)
    assert 0.1 <= entry.depletion_fraction <= 0.8
    assert 0.1 <= entry.root_depth_m <= 0.6
    assert entry.root_depth_max_m is None or entry.root_depth_m <= entry.root_depth_max_m
    assert 0.05 <= entry.height_m <= 10.0
    assert entry.root_source


def length_d(stages):
    return stages.l_ini + stages.l_dev + stages.l_mid + stages.l_late


@pytest.mark.parametrize("entry", [entry for entry in plants() if entry.stages], ids=lambda entry: entry.id)
def test_a_season_is_between_a_month_and_a_year(entry):
    # Table 11 counts more than a year for the first banana and for pineapples.
    assert 30 <= length_d(entry.stages) <= (790 if entry.habit == "annual" else 365)
    assert re.search(r"Stages of table 11: .+", entry.note)


@pytest.mark.parametrize("entry", plants(), ids=lambda entry: entry.id)
def test_a_basal_coefficient_stands_beside_every_crop_coefficient_and_not_above_it(entry):
    pairs = [
        *([(entry.kcb, entry.kc)] if entry.kc is not None else []),
        *zip(entry.kcb_by_month or (), entry.kc_by_month or (), strict=True),
    ]
    if entry.stages is not None:
        stages = entry.stages
        pairs = [
            (stages.kcb_ini, stages.kc_ini),
            (stages.kcb_mid, stages.kc_mid),
            (stages.kcb_end, stages.kc_end),
        ]
    assert len(pairs) in (1, 12, 3)
    assert all(0.0 < kcb <= kc for kcb, kc in pairs)
    assert "table 17" in entry.kcb_source or "table 18" in entry.kcb_source


@pytest.mark.parametrize("entry", plants(), ids=lambda entry: entry.id)
def test_annuals_root_with_their_stages_and_everything_else_as_it_establishes(entry):
    if entry.establishment is None:
        assert entry.habit == "annual"
        assert entry.stages is not None
    else:
        assert establishment(entry.establishment).planted_depth_m <= entry.root_depth_m


@pytest.mark.parametrize("entry", [e for e in plants() if e.habit == "deciduous"], ids=lambda e: e.id)
def test_what_stands_bare_in_winter_has_a_month_in_which_its_leaves_open(entry):
    assert entry.stages.months
    assert length_d(entry.stages) < 330


def test_small_new_plantings_establish_within_what_towns_exempt():
    # 21 to 60 days: Fraser MI, Howey FL.
    assert all(21 <= 7 * establishment(small).weeks <= 60 for small in ("turf", "herbaceous"))
    assert establishment("shrub").weeks < establishment("tree").weeks


def test_the_usual_region_comes_first_among_all():
    lettuce = plant("lettuce")

    assert lettuce.stage_lengths[0].id == lettuce.stages.region == "mediterranean-april"
    assert len(lettuce.stage_lengths) == 4
    assert stages_of(lettuce) == lettuce.stages


@pytest.mark.parametrize(
    ("name", "month", "region"),
    [
        ("lettuce", 4, "mediterranean-april"),
        ("lettuce", 2, "mediterranean-february"),
        ("lettuce", 10, "arid-october"),
        ("lettuce", 12, "mediterranean-november"),
        ("spinach", 9, "mediterranean-september"),
        ("cabbage", 7, "california-desert-september"),
        ("cabbage", 6, "mediterranean-april"),
        ("tomato", 1, "arid-january"),
        ("tomato", 5, "mediterranean-april"),  # California's row has May too: the usual region first
        ("onion", 10, "arid-california-october"),
        ("garlic", 10, "temperate-october"),
        ("brussels-sprouts", 4, "mediterranean-october"),
        ("pineapple", 4, "hawaii"),
    ],
)
def test_the_month_of_planting_chooses_among_the_rows_of_all_regions(name, month, region):
    assert stages_of(plant(name), planted_month=month).region == region


def test_a_region_that_is_named_comes_before_the_month_of_planting():
    chosen = stages_of(plant("lettuce"), region="arid-october", planted_month=4)

    assert (chosen.l_ini, chosen.l_dev, chosen.l_mid, chosen.l_late) == (25, 35, 30, 10)
    assert (chosen.kc_ini, chosen.kcb_mid) == (plant("lettuce").stages.kc_ini, 0.90)


def test_a_region_that_a_plant_does_not_have_is_answered_with_those_it_has():
    with pytest.raises(UnknownName) as refusal:
        stages_of(plant("melon"), region="arid-october")

    assert refusal.value.nearest == (
        *("mediterranean-may", "california-march", "california-desert-august", "arid-december"),
    )
    with pytest.raises(UnknownName):
        stages_of(plant("shrubs"), region="arid-october")


def test_a_plant_without_stages_has_none_in_any_month():
    assert stages_of(plant("shrubs"), planted_month=4) is None


@pytest.mark.parametrize("entry", soils(), ids=lambda entry: entry.id)
def test_soils_lend_water_between_wilting_and_field_capacity(entry):
    assert 0.04 <= entry.field_capacity - entry.wilting_point <= 0.25
    assert entry.wilting_point < entry.field_capacity < entry.saturation
    assert entry.sand_share + entry.clay_share <= 1.0
    assert 1.0 <= entry.intake_mm_h <= 20.0
    assert 2.0 <= entry.rew_mm <= 12.0 < entry.tew_mm + entry.rew_mm <= 41.0  # FAO-56 table 19


def test_a_steeper_surface_holds_less_water_before_it_runs_off():
    loam = soil("loam")

    assert [loam.ponding_mm(slope) for slope in (0, 3, 3.1, 6, 7, 12, 12.5, 40)] == [
        *(7.62, 7.62, 6.35, 6.35, 5.334, 5.334, 4.318, 4.318)
    ]


def test_the_default_substrate_lends_three_tenths_of_its_volume():
    potting_mix = substrate(catalogue.DEFAULT_SUBSTRATE)

    assert potting_mix.capacity_share == 0.5
    assert potting_mix.unavailable_share == 0.2


@pytest.mark.parametrize("entry", substrates(), ids=lambda entry: entry.id)
def test_substrates_stay_within_what_nurseries_find(entry):
    # Nursery guide (from memory): available water 25-35 % of the volume.
    assert 0.25 - 1e-9 <= entry.capacity_share - entry.unavailable_share <= 0.35 + 1e-9


@pytest.mark.parametrize("entry", methods(), ids=lambda entry: entry.id)
def test_ways_of_watering_are_plausible(entry):
    assert 0.5 <= entry.efficiency <= entry.efficiency_best <= 0.95
    assert 5 <= entry.rate_mm_h <= 50
    assert 0.5 <= entry.smallest_depth_mm <= 5
    assert entry.wetted_share == 1.0 or not entry.overhead


def test_wind_matters_to_what_flies_through_the_air():
    assert {entry.id for entry in methods() if entry.overhead} == {
        *("overhead-spray", "overhead-rotor", "micro-spray")
    }


@pytest.mark.parametrize(
    ("look_up", "name", "kind", "nearest"),
    [
        (plant, "tomatoe", "plant", "tomato"),
        (plant, "zucchini", "plant", "courgette"),
        (plant, "grass", "plant", "turf-cool-season"),
        (plant, "azalea", "plant", "rhododendron"),
        (plant, "hortensia", "plant", "hydrangea"),
        (plant, "eggplant", "plant", "aubergine"),
        (plant, "arugula", "plant", "rocket"),
        (plant, "turf_cool_season", "plant", "turf-cool-season"),
        (plant, "Apple", "plant", "apple"),
        (soil, "silty clay", "soil", "silty-clay"),
        (soil, "Loam", "soil", "loam"),
        (substrate, "peat", "substrate", "peat-mix"),
        (method, "drip", "method", "drip-line"),
        (method, "overhead-sprey", "method", "overhead-spray"),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest_known_one(look_up, name, kind, nearest):
    with pytest.raises(UnknownName) as refusal:
        look_up(name)

    assert refusal.value.kind == kind
    assert refusal.value.name == name
    assert refusal.value.nearest[0] == nearest
    assert len(refusal.value.nearest) <= 3


@pytest.mark.parametrize("name", ["", "xyzzy", "?" * 500])
def test_a_name_like_no_other_gets_no_suggestion(name):
    with pytest.raises(UnknownName) as refusal:
        plant(name)

    assert refusal.value.nearest == ()


def test_plants_are_found_by_any_of_their_names():
    def ids(text):
        return [entry.id for entry in catalogue.plants_called(text)]

    assert ids("Azalea") == ["rhododendron"]
    assert ids("grass")[:2] == ["turf-cool-season", "turf-warm-season"]
    assert ids("swiss chard") == ["chard"]
    assert ids("tulip") == ["bulbs"]
    assert "rose" in ids("rose")[:1]
    assert ids("") == ids("xyzzy") == []
