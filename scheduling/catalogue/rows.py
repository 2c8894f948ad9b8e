"""From a row of text to an entry of the catalogue; a row that cannot be is refused by line."""

import csv
import re
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol, TypeVar

from scheduling.catalogue.entries import Method, SoilTexture, Substrate

ID_PATTERN = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
LONGEST_ID = 64


class BrokenRow(ValueError):
    """A row of the catalogue that cannot be true; names file, line and column."""


class Entry(Protocol):
    """The fields of every entry that can be looked up by name."""

    @property
    def id(self) -> str: ...

    @property
    def name(self) -> str: ...


EntryT = TypeVar("EntryT", bound=Entry)
RowT = TypeVar("RowT")
WordT = TypeVar("WordT", bound=str)


class Row:
    """The cells of one line, read with their ranges."""

    def __init__(self, file: str, line: int, cells: dict[str, str]) -> None:
        self.file = file
        self.line = line
        self.cells = cells

    def broken(self, complaint: str) -> BrokenRow:
        """The error to raise about this row."""
        return BrokenRow(f"{self.file} line {self.line}: {complaint}")

    def text(self, column: str, required: bool = True) -> str:
        """A cell as written; by default it must not be empty."""
        try:
            value = self.cells[column].strip()
        except KeyError:
            raise self.broken(f"there is no column {column}.") from None
        if required and not value:
            raise self.broken(f"{column} is empty.")
        return value

    def number(self, column: str, low: float, high: float) -> float:
        """A number from `low` to `high`."""
        value = self.text(column)
        try:
            number = float(value)
        except ValueError:
            raise self.broken(f"{column} is {value!r}; it must be a number.") from None
        if not low <= number <= high:
            raise self.broken(f"{column} is {value}; it must be {low:g} to {high:g}.")
        return number

    def whole(self, column: str, low: int, high: int) -> int:
        """A whole number from `low` to `high`."""
        number = self.number(column, low, high)
        if number != int(number):
            raise self.broken(f"{column} is {number}; it must be a whole number.")
        return int(number)

    def yes(self, column: str) -> bool:
        """A cell that says yes or no."""
        value = self.text(column)
        if value not in ("yes", "no"):
            raise self.broken(f"{column} is {value!r}; it must be yes or no.")
        return value == "yes"

    def word(self, column: str, known: tuple[WordT, ...]) -> WordT:
        """One of some words."""
        value = self.text(column)
        for word in known:
            if word == value:
                return word
        raise self.broken(f"{column} is {value!r}; it must be one of {', '.join(known)}.")

    def has(self, column: str) -> bool:
        """Whether a cell has content."""
        return bool(self.text(column, required=False))

    def id(self) -> str:
        """The name by which documents call the entry."""
        value = self.text("id")
        if not ID_PATTERN.fullmatch(value) or len(value) > LONGEST_ID:
            raise self.broken(
                f"id is {value!r}; it must be lower-case letters, digits and hyphens, at most {LONGEST_ID}."
            )
        return value


def entries_of(file: str, lines: Iterable[str], entry_of: Callable[[Row], EntryT]) -> tuple[EntryT, ...]:
    """All entries of one file, in its order; each id once. Raises BrokenRow."""
    return rows_of(file, lines, entry_of, lambda entry: entry.id)


def rows_of(
    file: str, lines: Iterable[str], entry_of: Callable[[Row], RowT], key_of: Callable[[RowT], str]
) -> tuple[RowT, ...]:
    """The entries of a file in its order, each key once. Raises BrokenRow."""
    entries: dict[str, RowT] = {}
    for row in _rows(file, lines):
        entry = entry_of(row)
        key = key_of(entry)
        if key in entries:
            raise row.broken(f"id {key!r} stands in the file twice.")
        entries[key] = entry
    if not entries:
        raise BrokenRow(f"{file} line 1: there are no rows.")
    return tuple(entries.values())


def _rows(file: str, lines: Iterable[str]) -> Iterator[Row]:
    reader = csv.reader(lines, strict=True)
    columns = next(reader, [])
    for cells in reader:
        row = Row(file, reader.line_num, dict(zip(columns, cells, strict=False)))
        if len(cells) != len(columns):
            raise row.broken(f"there are {len(cells)} cells; the header has {len(columns)}.")
        yield row


def soil_of(row: Row) -> SoilTexture:
    """A row of soils.csv."""
    sand_share = row.number("sand_share", 0.0, 1.0)
    wilting_point = row.number("wilting_point", 0.01, 0.4)
    field_capacity = row.number("field_capacity", wilting_point + 0.01, 0.55)
    ponding_by_slope_mm = (
        row.number("ponding_0_3_pct_mm", 1.0, 20.0),
        row.number("ponding_4_6_pct_mm", 1.0, 20.0),
        row.number("ponding_7_12_pct_mm", 1.0, 20.0),
        row.number("ponding_over_12_pct_mm", 1.0, 20.0),
    )
    if list(ponding_by_slope_mm) != sorted(ponding_by_slope_mm, reverse=True):
        raise row.broken("ponding rises with the slope; a steeper surface must not hold more.")
    ksat_mm_h = row.number("ksat_mm_h", 0.5, 500.0)
    rew_mm = row.number("rew_mm", 1.0, 15.0)
    return SoilTexture(
        id=row.id(),
        name=row.text("name"),
        sand_share=sand_share,
        clay_share=row.number("clay_share", 0.0, 1.0 - sand_share),
        wilting_point=wilting_point,
        field_capacity=field_capacity,
        saturation=row.number("saturation", field_capacity + 0.01, 0.7),
        ksat_mm_h=ksat_mm_h,
        intake_mm_h=row.number("intake_mm_h", 1.0, 50.0),
        ponding_by_slope_mm=ponding_by_slope_mm,
        rew_mm=rew_mm,
        tew_mm=row.number("tew_mm", rew_mm + 0.5, 50.0),
        source=row.text("source"),
        intake_source=row.text("intake_source"),
        evaporation_source=row.text("evaporation_source"),
        note=row.text("note", required=False),
    )


def substrate_of(row: Row) -> Substrate:
    """A row of substrates.csv."""
    capacity_share = row.number("capacity_share", 0.2, 0.9)
    return Substrate(
        id=row.id(),
        name=row.text("name"),
        capacity_share=capacity_share,
        unavailable_share=row.number("unavailable_share", 0.02, capacity_share - 0.05),
        source=row.text("source"),
        note=row.text("note", required=False),
    )


def method_of(row: Row) -> Method:
    """A row of methods.csv."""
    efficiency = row.number("efficiency", 0.3, 1.0)
    overhead = row.yes("overhead")
    wetted_share = row.number("wetted_share", 0.1, 1.0)
    if overhead and wetted_share != 1.0:
        raise row.broken(f"wetted_share is {wetted_share:g}; overhead watering must wet it all.")
    return Method(
        id=row.id(),
        name=row.text("name"),
        efficiency=efficiency,
        efficiency_best=row.number("efficiency_best", efficiency, 1.0),
        rate_mm_h=row.number("rate_mm_h", 1.0, 100.0),
        wetted_share=wetted_share,
        smallest_depth_mm=row.number("smallest_depth_mm", 0.1, 10.0),
        overhead=overhead,
        air_loss_share=row.number("air_loss_share", 0.0, 0.3 if overhead else 0.0),
        source=row.text("source"),
        note=row.text("note", required=False),
    )
