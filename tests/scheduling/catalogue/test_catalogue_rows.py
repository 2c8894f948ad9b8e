"""A broken row stops the reading, with its file and line."""

import csv
import io
from importlib import resources

import pytest

from scheduling.catalogue import stage_lengths
from scheduling.catalogue.plant_rows import establishment_of, plant_of, stage_lengths_of
from scheduling.catalogue.rows import BrokenRow, entries_of, method_of, soil_of, substrate_of

READERS = {
    "plants.csv": lambda row: plant_of(row, stage_lengths(), ("turf", "herbaceous", "shrub", "tree")),
    "establishment.csv": establishment_of,
    "soils.csv": soil_of,
    "substrates.csv": substrate_of,
    "methods.csv": method_of,
}


def rows_of(file):
    text = resources.files("scheduling.catalogue").joinpath(file).read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def read_back(file, rows):
    written = io.StringIO()
    writer = csv.DictWriter(written, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    lines = written.getvalue().splitlines(keepends=True)
    if file == "stage_lengths.csv":
        return stage_lengths_of(file, lines)
    return entries_of(file, lines, READERS[file])


def a_row(file, row_id, **changed):
    row = next(row for row in rows_of(file) if row["id"] == row_id)
    assert set(changed) <= set(row)
    return row | changed


@pytest.mark.parametrize(
    ("file", "row_id", "changed", "words"),
    [
        ("plants.csv", "shrubs", {"kc": "1.9"}, "kc is 1.9; it must be 0.05 to 1.4"),
        ("plants.csv", "shrubs", {"kc": "half"}, "kc is 'half'; it must be a number"),
        ("plants.csv", "shrubs", {"kc": "nan"}, "kc is nan; it must be 0.05 to 1.4"),
        ("plants.csv", "shrubs", {"kc": ""}, "exactly one of kc, kc_by_month and stages"),
        ("plants.csv", "tomato", {"kc": "0.8"}, "exactly one of kc, kc_by_month and stages"),
        ("plants.csv", "tomato", {"kc_end": ""}, "kc_end is empty"),
        ("plants.csv", "tomato", {"stage_crop": "potatoe"}, "stage_crop is 'potatoe'; stage_lengths.csv has"),
        ("plants.csv", "tomato", {"stage_region": "siberia"}, "stage_region is 'siberia'; it must be one of"),
        ("plants.csv", "tomato", {"stage_region": ""}, "stage_region is empty"),
        ("plants.csv", "tomato", {"kcb_mid": ""}, "kcb_mid is empty"),
        ("plants.csv", "tomato", {"kcb_mid": "1.2"}, "kcb_mid is 1.2; it must be 0 to 1.15"),
        ("plants.csv", "tomato", {"kcb": "0.5"}, "kcb is given without kc"),
        ("plants.csv", "tomato", {"kcb_source": ""}, "kcb_source must be given where Kcb is"),
        ("plants.csv", "shrubs", {"kcb_source": "FAO-56"}, "kcb_source must be given where Kcb is"),
        ("plants.csv", "citrus", {"kcb": "1.2"}, "kcb is 1.2; it must be 0 to 0.65"),
        ("plants.csv", "tomato", {"habit": "biennial"}, "habit is 'biennial'; it must be one of annual"),
        ("plants.csv", "shrubs", {"habit": "deciduous"}, "such a plant must have stages"),
        (
            "plants.csv",
            "shrubs",
            {"establishment": "bush"},
            "establishment is 'bush'; it must be one of turf",
        ),
        ("stage_lengths.csv", "italy-april", {"l_mid": "45.5"}, "l_mid is 45.5; it must be a whole number"),
        ("stage_lengths.csv", "italy-april", {"l_ini": "0"}, "l_ini is 0; it must be 1 to 730"),
        ("stage_lengths.csv", "italy-april", {"months": "4 13"}, "months is 13; it must be 1 to 12"),
        ("stage_lengths.csv", "italy-april", {"months": "April"}, "months is 'April'; it must be a number"),
        ("stage_lengths.csv", "italy-april", {"source": ""}, "source is empty"),
        ("establishment.csv", "turf", {"weeks": "0"}, "weeks is 0; it must be 1 to 260"),
        ("establishment.csv", "turf", {"planted_depth_m": "5"}, "planted_depth_m is 5; it must be 0.02 to 1"),
        ("soils.csv", "loam", {"rew_mm": "19"}, "rew_mm is 19; it must be 1 to 15"),
        ("soils.csv", "loam", {"tew_mm": "9"}, "tew_mm is 9; it must be 9.5 to 50"),
        ("plants.csv", "turf-cool-season", {"kc_by_month": "0.6 0.7"}, "has 2 values; it must have 12"),
        ("plants.csv", "turf-cool-season", {"kc_by_month": "0.6 " * 11 + "6"}, "kc_by_month is 6; it"),
        ("plants.csv", "shrubs", {"kind": "bush"}, "kind is 'bush'; it must be one of turf"),
        ("plants.csv", "shrubs", {"id": "Shrubs"}, "id is 'Shrubs'; it must be lower-case letters"),
        ("plants.csv", "shrubs", {"id": "a" * 65}, "at most 64"),
        ("plants.csv", "shrubs", {"name": " "}, "name is empty"),
        ("plants.csv", "shrubs", {"source": ""}, "source is empty"),
        ("plants.csv", "shrubs", {"root_source": ""}, "root_source is empty"),
        ("plants.csv", "shrubs", {"root_depth_m": "45"}, "root_depth_m is 45; it must be 0.05 to 2"),
        ("plants.csv", "tomato", {"root_depth_max_m": "0.4"}, "root_depth_max_m is 0.4; it must be 0.5 to 3"),
        (
            "plants.csv",
            "tomato",
            {"depletion_fraction": "40"},
            "depletion_fraction is 40; it must be 0.1 to 0.8",
        ),
        ("soils.csv", "loam", {"field_capacity": "0.12"}, "field_capacity is 0.12; it must be 0.15 to"),
        ("soils.csv", "loam", {"saturation": "0.28"}, "saturation is 0.28; it must be 0.29 to 0.7"),
        ("soils.csv", "loam", {"wilting_point": "14"}, "wilting_point is 14; it must be 0.01 to 0.4"),
        ("soils.csv", "loam", {"clay_share": "0.7"}, "clay_share is 0.7; it must be 0 to 0.6"),
        ("soils.csv", "loam", {"ponding_4_6_pct_mm": "9"}, "ponding rises with the slope"),
        ("soils.csv", "loam", {"intake_source": ""}, "intake_source is empty"),
        (
            "substrates.csv",
            "potting-mix",
            {"unavailable_share": "0.5"},
            "unavailable_share is 0.5; it must be",
        ),
        ("methods.csv", "drip-line", {"efficiency": "90"}, "efficiency is 90; it must be 0.3 to 1"),
        (
            "methods.csv",
            "drip-line",
            {"efficiency_best": "0.8"},
            "efficiency_best is 0.8; it must be 0.9 to 1",
        ),
        ("methods.csv", "drip-line", {"overhead": "maybe"}, "overhead is 'maybe'; it must be yes or no"),
        ("methods.csv", "overhead-spray", {"wetted_share": "0.5"}, "overhead watering must wet it all"),
    ],
)
def test_a_value_that_cannot_be_is_named_with_its_file_and_line(file, row_id, changed, words):
    sound = rows_of(file)[0]

    with pytest.raises(BrokenRow) as refusal:
        read_back(file, [sound | {"id": "sound"}, a_row(file, row_id, **changed)])

    assert str(refusal.value).startswith(f"{file} line 3: ")
    assert words in str(refusal.value)


def test_an_id_may_stand_in_a_file_once():
    row = a_row("soils.csv", "loam")

    with pytest.raises(BrokenRow, match=r"soils.csv line 3: id 'loam' stands in the file twice"):
        read_back("soils.csv", [row, row])


def test_the_lengths_of_a_region_may_stand_once_for_each_crop():
    row = a_row("stage_lengths.csv", "italy-april")

    assert len(read_back("stage_lengths.csv", [row, row | {"crop": "melon"}])) == 2
    with pytest.raises(BrokenRow, match=r"line 3: id 'watermelon italy-april' stands in the file twice"):
        read_back("stage_lengths.csv", [row, row])


def test_basal_coefficients_that_the_row_lacks_are_derived_and_it_says_so():
    # Table 18: 0.15 on bare ground, Kc - 0.05 under full cover.
    bare = a_row("plants.csv", "tomato", kcb_ini="", kcb_mid="", kcb_end="", kcb_source="")
    tomato = read_back("plants.csv", [bare])[0]

    assert (tomato.stages.kcb_ini, tomato.stages.kcb_mid, tomato.stages.kcb_end) == (
        *(0.15, pytest.approx(1.10), pytest.approx(0.85)),
    )
    assert "Derived from Kc by FAO-56 table 18" in tomato.kcb_source
    shrubs = read_back("plants.csv", [a_row("plants.csv", "shrubs")])[0]
    assert (shrubs.kcb, shrubs.kcb_source) == (pytest.approx(0.45), tomato.kcb_source)


def test_a_row_with_a_comma_too_many_is_refused():
    lines = ["id,name\n", "loam,Loam,0.4\n"]

    with pytest.raises(BrokenRow, match=r"soils.csv line 2: there are 3 cells; the header has 2"):
        entries_of("soils.csv", lines, soil_of)


def test_a_missing_column_is_named():
    with pytest.raises(BrokenRow, match=r"soils.csv line 2: there is no column sand_share"):
        entries_of("soils.csv", ["id,name\n", "loam,Loam\n"], soil_of)


def test_a_file_without_rows_is_refused():
    with pytest.raises(BrokenRow, match=r"soils.csv line 1: there are no rows"):
        entries_of("soils.csv", ["id,name\n"], soil_of)


def test_a_kind_of_watering_that_is_not_overhead_may_wet_a_part():
    changed = a_row("methods.csv", "by-hand", wetted_share="0.5")

    assert read_back("methods.csv", [changed])[0].wetted_share == 0.5
