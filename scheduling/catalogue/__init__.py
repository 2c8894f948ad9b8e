"""Reference values: plants, soil textures, container substrates and ways of watering.

They are in CSV files beside this one, each row with its source; a value without one says
"from memory" or "common practice, no source". The files are read at the first use;
an impossible row raises an error with its file and line.

Kc of crops is that of FAO-56 table 12 (1998); of potato, onion, cabbage and pepper, on which two
readings agree, that of its revision of 2025 (Rev.1, second-hand), with the row of 1998 in the note.
Kcb is that of table 17 or, where that has no row, derived from Kc by table 18 (`kcb_source`).
Stages are rows of table 11, or from elsewhere where their source says so, which stand in
stage_lengths.csv by region and planting; a plant names the one that suits a garden of the
temperate north best, and `stages_of` finds another. Crops without such a row have Kc mid all
year. Kc of turf is California's by month. Ornamental plants have the plant factors of
ANSI/ASABE S623 or of the landscape coefficient method. How the roots of a new planting reach
the depth of an established one is in establishment.csv.

What keeps plants alive (`alive_share`) is a share of ETo over the planted area, rain counted, of plants
that have stood for two summers. Acceptable on 0.20 were tough ground covers (Pittenger et al. 2001,
J. Environ. Hort. 19(2):78-84), unharmed on 0.40 in summer and 0.20 in winter six of nine desert trees
(Schuch et al. 2016, Acta Hort. 1112.27), acceptable on 0.40 warm-season turf (Harivandi et al. 2009, UC ANR
8395); dormant cool-season lawns live on 0.04 to 0.45, by author. The values lie between these or are
from memory; cool-season turf has that of tall fescue and ryegrass, woody plants of humid climates that of
ash and birch.

Root depths. FAO-56 table 22 gives a range of the *maximum* depth in deep soil without
obstacles; its smaller values are meant for irrigation scheduling, its larger ones for dry
farming. Gardens are shallower still: beds are dug one or two spits deep, subsoil is compacted,
frequent watering keeps roots near the surface, and crops draw about 70 % of their water from
the upper half of their roots (Colorado State Extension 2019). So `root_depth_m`, the default,
is the smallest of table 22's smaller value, the feeder-root depth of the Arizona Master
Gardener Manual (table 10.7) where it lists the plant, and a bound from memory (0.5 m in a
vegetable bed, 0.45 m under shrubs and berry bushes, 0.6 m under trees and vines), rounded down to 0.05 m;
`root_source` shows each. Erring on this side means watering somewhat more often; erring on
the other lets plants go dry while the ledger still sees water below them. Table 22's larger
value is `root_depth_max_m`.
"""

import difflib
import functools
import re
from collections.abc import Iterable, Sequence
from importlib import resources

from scheduling.catalogue.entries import (
    CoverFactors,
    Establishment,
    Habit,
    Method,
    Plant,
    PlantKind,
    SoilTexture,
    StageLengths,
    Stages,
    Substrate,
)
from scheduling.catalogue.plant_rows import establishment_of, plant_of, stage_lengths_of
from scheduling.catalogue.rows import (
    BrokenRow,
    Entry,
    EntryT,
    entries_of,
    method_of,
    soil_of,
    substrate_of,
)
from scheduling.errors import UnknownName

__all__ = [
    "DEFAULT_SUBSTRATE",
    "BrokenRow",
    "CoverFactors",
    "Establishment",
    "Habit",
    "Method",
    "Plant",
    "PlantKind",
    "SoilTexture",
    "StageLengths",
    "Stages",
    "Substrate",
    "establishment",
    "establishments",
    "method",
    "methods",
    "plant",
    "plants",
    "plants_called",
    "soil",
    "soils",
    "stage_lengths",
    "stages_of",
    "substrate",
    "substrates",
]

DEFAULT_SUBSTRATE = "potting-mix"
"""What fills a container of which nothing is said."""

MOST_SUGGESTIONS = 3
SHORTEST_WORD_TO_SUGGEST = 4
LEAST_LIKENESS = 0.7


@functools.cache
def plants() -> tuple[Plant, ...]:
    """All plants, in the order of the file."""
    lengths, ways = stage_lengths(), tuple(way.id for way in establishments())
    return entries_of("plants.csv", _lines("plants.csv"), lambda row: plant_of(row, lengths, ways))


@functools.cache
def stage_lengths() -> tuple[StageLengths, ...]:
    """All rows of FAO-56 table 11 that are in use, by crop and region."""
    return stage_lengths_of("stage_lengths.csv", _lines("stage_lengths.csv"))


@functools.cache
def establishments() -> tuple[Establishment, ...]:
    """All ways in which new plantings take root."""
    return entries_of("establishment.csv", _lines("establishment.csv"), establishment_of)


@functools.cache
def soils() -> tuple[SoilTexture, ...]:
    """The twelve texture classes, from sand to clay."""
    return entries_of("soils.csv", _lines("soils.csv"), soil_of)


@functools.cache
def substrates() -> tuple[Substrate, ...]:
    """All container substrates."""
    return entries_of("substrates.csv", _lines("substrates.csv"), substrate_of)


@functools.cache
def methods() -> tuple[Method, ...]:
    """All ways of watering."""
    return entries_of("methods.csv", _lines("methods.csv"), method_of)


def plant(plant_id: str) -> Plant:
    """The plant of that id. Raises UnknownName."""
    return _named("plant", plant_id, plants())


def stages_of(plant: Plant, region: str | None = None, planted_month: int | None = None) -> Stages | None:
    """The stages of a plant in a region, else those that suit the month it was planted.

    Parameters
    ----------
    region : str, optional
        An id among the plant's `stage_lengths`.
    planted_month : int, optional
        Month of planting in the northern hemisphere. Of all rows the one whose planting is nearest;
        of several that are as near, one of the plant's usual region first.

    Raises
    ------
    UnknownName
        The plant has no such region.
    """
    if region is not None:
        return _in_region(plant, region)
    stages = plant.stages
    if stages is None or planted_month is None or not stages.months:
        return stages
    usual = plant.stage_lengths[0]
    dated = [lengths for lengths in plant.stage_lengths if lengths.months]

    def distance(lengths: StageLengths) -> tuple[int, bool]:
        return _months_apart(lengths, planted_month), lengths.region != usual.region

    return stages.with_lengths(min(dated, key=distance))


def _in_region(plant: Plant, region: str) -> Stages:
    for lengths in plant.stage_lengths:
        if lengths.id == region and plant.stages is not None:
            return plant.stages.with_lengths(lengths)
    known = tuple(lengths.id for lengths in plant.stage_lengths)
    raise UnknownName(f"stage region of {plant.name}", region, known)


def _months_apart(lengths: StageLengths, month: int) -> int:
    """How far a month lies from the nearest month of planting, around the year."""
    return min(min((month - planted) % 12, (planted - month) % 12) for planted in lengths.months)


def establishment(establishment_id: str) -> Establishment:
    """The way of taking root of that id. Raises UnknownName."""
    return _named("establishment", establishment_id, establishments())


def soil(soil_id: str) -> SoilTexture:
    """The texture class of that id. Raises UnknownName."""
    return _named("soil", soil_id, soils())


def substrate(substrate_id: str) -> Substrate:
    """The substrate of that id. Raises UnknownName."""
    return _named("substrate", substrate_id, substrates())


def method(method_id: str) -> Method:
    """The way of watering of that id. Raises UnknownName."""
    return _named("method", method_id, methods())


def _named(kind: str, name: str, entries: Sequence[EntryT]) -> EntryT:
    for entry in entries:
        if entry.id == name:
            return entry
    raise UnknownName(kind, name, _nearest(name, entries))


def plants_called(text: str) -> tuple[Plant, ...]:
    """Plants whose id, name or common names hold every word of a text, in the order of the file.

    Those that are called just so come first.
    """
    words = re.findall(r"[^\W_]+", text.lower())

    def is_called(entry: Plant) -> bool:
        known = " ".join((entry.id, entry.name, *entry.common_names)).lower()
        return all(word in known for word in words)

    found = [entry for entry in plants() if words and is_called(entry)]
    return tuple(sorted(found, key=lambda entry: _slug(text) not in _slugs(entry)))


def _slug(text: str) -> str:
    return text.strip().lower().replace("_", "-").replace(" ", "-")


def _slugs(entry: Entry) -> list[str]:
    """All that an entry is called, as ids would have it."""
    common = entry.common_names if isinstance(entry, Plant) else ()
    return [entry.id, *(_slug(name) for name in common)]


def _nearest(name: str, entries: Iterable[Entry]) -> tuple[str, ...]:
    """Ids that look like `name`, by themselves or by a word of what they are called in full."""
    written = _slug(name)
    ids_by_word: dict[str, list[str]] = {}
    called: dict[str, list[str]] = {}
    for entry in entries:
        called[entry.id] = _slugs(entry)
        for word in {*called[entry.id], *re.findall(r"[a-z]+", f"{entry.id} {entry.name.lower()}")}:
            if word in called[entry.id] or len(word) >= SHORTEST_WORD_TO_SUGGEST:
                ids_by_word.setdefault(word, []).append(entry.id)
    words_alike = difflib.get_close_matches(written, ids_by_word, n=MOST_SUGGESTIONS, cutoff=LEAST_LIKENESS)
    ids = dict.fromkeys(entry_id for word in words_alike for entry_id in ids_by_word[word])
    # What it is called tells more than a word of an id, that more than one of a description.
    alike = sorted(
        ids,
        key=lambda entry_id: (
            entry_id != written,
            written not in called[entry_id],
            written not in entry_id.split("-"),
        ),
    )
    return tuple(alike[:MOST_SUGGESTIONS])


def _lines(file: str) -> list[str]:
    return resources.files(__name__).joinpath(file).read_text(encoding="utf-8").splitlines(keepends=True)
