"""From rows of text to plants, the lengths of their seasons, and how they take root."""

from collections.abc import Iterable, Sequence
from typing import get_args

from scheduling.catalogue.entries import (
    CoverFactors,
    Establishment,
    Habit,
    Picking,
    Plant,
    PlantKind,
    StageLengths,
    Stages,
)
from scheduling.catalogue.rows import Row, rows_of
from scheduling.fao56.dual_coefficient import basal_from_single_coefficient

MONTHS = 12

SMALLEST_KC, LARGEST_KC = 0.05, 1.4
LONGEST_STAGE_D = 730
STAGE_COLUMNS = ("kc_ini", "kc_mid", "kc_end", "stage_crop", "stage_region")
BASAL_STAGE_COLUMNS = ("kcb_ini", "kcb_mid", "kcb_end")
PLANT_KINDS: tuple[PlantKind, ...] = get_args(PlantKind)
PICKINGS: tuple[Picking, ...] = get_args(Picking)
HABITS: tuple[Habit, ...] = get_args(Habit)
DERIVED = "Derived from Kc by FAO-56 table 18 (p. 141), ground cover of more than 80 %: Kc - 0.05"


def stage_lengths_of(file: str, lines: Iterable[str]) -> tuple[StageLengths, ...]:
    """All rows of stage_lengths.csv, in its order; each region's id once for a crop. Raises BrokenRow."""
    return rows_of(file, lines, stage_length_of, lambda lengths: f"{lengths.crop} {lengths.id}")


def plant_of(row: Row, all_lengths: Sequence[StageLengths], establishments: tuple[str, ...]) -> Plant:
    """A row of plants.csv, with the stage lengths of its crop."""
    kc = row.number("kc", SMALLEST_KC, LARGEST_KC) if row.has("kc") else None
    kc_by_month = _kc_by_month(row) if row.has("kc_by_month") else None
    stage_lengths: tuple[StageLengths, ...] = ()
    stages = None
    if any(row.has(column) for column in STAGE_COLUMNS):
        stage_lengths = _usual_first(row, all_lengths)
        stages = _stages(row, stage_lengths[0])
    if sum(way is not None for way in (kc, kc_by_month, stages)) != 1:
        raise row.broken("exactly one of kc, kc_by_month and stages must be given.")
    kcb, derived = _kcb(row, kc)
    if stages is not None:
        derived = not any(row.has(column) for column in BASAL_STAGE_COLUMNS)
    if derived == row.has("kcb_source"):
        raise row.broken("kcb_source must be given where Kcb is, and only there.")
    habit = row.word("habit", HABITS)
    if habit == "deciduous" and stages is None:
        raise row.broken("habit is 'deciduous'; such a plant must have stages.")
    if row.has("picking") and (stages is None or habit != "annual"):
        raise row.broken("picking is given; it is for annuals with stages.")
    root_depth_m = row.number("root_depth_m", 0.05, 2.0)
    return Plant(
        id=row.id(),
        name=row.text("name"),
        common_names=tuple(
            name.strip() for name in row.text("common_names", required=False).split(";") if name.strip()
        ),
        kind=row.word("kind", PLANT_KINDS),
        habit=habit,
        kc=kc,
        kc_by_month=kc_by_month,
        stages=stages,
        kcb=kcb,
        kcb_by_month=(
            None
            if kc_by_month is None
            else tuple(basal_from_single_coefficient(month) for month in kc_by_month)
        ),
        stage_lengths=stage_lengths,
        height_m=row.number("height_m", 0.02, 20.0),
        root_depth_m=root_depth_m,
        root_depth_max_m=(
            row.number("root_depth_max_m", root_depth_m, 3.0) if row.has("root_depth_max_m") else None
        ),
        depletion_fraction=row.number("depletion_fraction", 0.1, 0.8),
        establishment=row.word("establishment", establishments) if row.has("establishment") else None,
        picking=row.word("picking", PICKINGS) if row.has("picking") else "once",
        alive_share=row.number("alive_share", 0.05, 1.0) if row.has("alive_share") else None,
        cover=_cover(row),
        source=row.text("source"),
        kcb_source=DERIVED if derived else row.text("kcb_source"),
        root_source=row.text("root_source"),
        note=row.text("note", required=False),
    )


def _cover(row: Row) -> CoverFactors | None:
    if not row.has("cover_multiplier"):
        return None
    return CoverFactors(
        row.number("cover_multiplier", 1.0, 2.5),
        row.number("fr_mid", 0.3, 1.0),
        row.number("fr_end", 0.3, 1.0),
    )


def _kcb(row: Row, kc: float | None) -> tuple[float | None, bool]:
    """Basal coefficient beside a constant Kc, and whether it had to be derived."""
    if not row.has("kcb"):
        return (None if kc is None else basal_from_single_coefficient(kc)), True
    if kc is None:
        raise row.broken("kcb is given without kc.")
    return row.number("kcb", 0.0, kc), False


def _kc_by_month(row: Row) -> tuple[float, ...]:
    column = "kc_by_month"
    values = row.text(column).split()
    if len(values) != MONTHS:
        raise row.broken(f"{column} has {len(values)} values; it must have {MONTHS}.")
    return tuple(
        Row(row.file, row.line, {column: value}).number(column, SMALLEST_KC, LARGEST_KC) for value in values
    )


def _usual_first(row: Row, all_lengths: Sequence[StageLengths]) -> tuple[StageLengths, ...]:
    crop, region = row.text("stage_crop"), row.text("stage_region")
    of_crop = [lengths for lengths in all_lengths if lengths.crop == crop]
    if not of_crop:
        raise row.broken(f"stage_crop is {crop!r}; stage_lengths.csv has no such crop.")
    usual = [lengths for lengths in of_crop if lengths.id == region]
    if not usual:
        known = ", ".join(lengths.id for lengths in of_crop)
        raise row.broken(f"stage_region is {region!r}; it must be one of {known}.")
    return (*usual, *(lengths for lengths in of_crop if lengths.id != region))


def _stages(row: Row, lengths: StageLengths) -> Stages:
    kc_ini, kc_mid, kc_end = (
        row.number(column, SMALLEST_KC, LARGEST_KC) for column in ("kc_ini", "kc_mid", "kc_end")
    )
    if any(row.has(column) for column in BASAL_STAGE_COLUMNS):
        kcb_ini = row.number("kcb_ini", 0.0, kc_ini)
        kcb_mid = row.number("kcb_mid", 0.0, kc_mid)
        kcb_end = row.number("kcb_end", 0.0, kc_end)
    else:  # table 18: nearly bare at first, more than 80 % covered later
        kcb_ini = min(0.15, kc_ini)
        kcb_mid, kcb_end = basal_from_single_coefficient(kc_mid), basal_from_single_coefficient(kc_end)
    return Stages(
        kc_ini=kc_ini,
        kc_mid=kc_mid,
        kc_end=kc_end,
        kcb_ini=kcb_ini,
        kcb_mid=kcb_mid,
        kcb_end=kcb_end,
        region=lengths.id,
        months=lengths.months,
        l_ini=lengths.l_ini,
        l_dev=lengths.l_dev,
        l_mid=lengths.l_mid,
        l_late=lengths.l_late,
    )


def stage_length_of(row: Row) -> StageLengths:
    """A row of stage_lengths.csv."""
    return StageLengths(
        id=row.id(),
        crop=row.text("crop"),
        region=row.text("region"),
        planted=row.text("planted", required=False),
        months=_months(row),
        l_ini=row.whole("l_ini", 1, LONGEST_STAGE_D),
        l_dev=row.whole("l_dev", 1, LONGEST_STAGE_D),
        l_mid=row.whole("l_mid", 1, LONGEST_STAGE_D),
        l_late=row.whole("l_late", 0, LONGEST_STAGE_D),
        source=row.text("source"),
        note=row.text("note", required=False),
    )


def _months(row: Row) -> tuple[int, ...]:
    column = "months"
    return tuple(
        Row(row.file, row.line, {column: month}).whole(column, 1, MONTHS)
        for month in row.text(column, required=False).split()
    )


def establishment_of(row: Row) -> Establishment:
    """A row of establishment.csv."""
    return Establishment(
        id=row.id(),
        name=row.text("name"),
        weeks=row.whole("weeks", 1, 260),
        planted_depth_m=row.number("planted_depth_m", 0.02, 1.0),
        source=row.text("source"),
        note=row.text("note", required=False),
    )
