"""Past weather days from a table: CSV with a line of column names, each with its unit.

Names are those of a weather day in JSON; `rain_in`, `t_min_f`, `wind_km_h`, `solar_w_m2` and the like
are turned into them. Whatever is wrong is told by line and column, all of it at once.
"""

import csv
import datetime as dt
import io
import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from api.errors import ApiError
from api.schemas.fields import Number, day_from, nearest, number, shown
from api.schemas.weather import PAIRS, WeatherDaySchema
from scheduling.balance.weather import Origin, WeatherDay

MOST_PROBLEMS: Final = 50
"""Problems that are told at once."""
DELIMITERS: Final = ",;\t"
ONE_DAY: Final = dt.timedelta(days=1)

DATE: Final = "date"
NEEDED: Final = {
    "t_min_c": "the day's minimum temperature",
    "t_max_c": "the day's maximum temperature",
    "rain_mm": "the day's rain",
}
"""What no estimate can stand in for."""
OF_FORECASTS: Final = ("rain_probability",)
"""What a day that is over does not have."""

UNITS: Final[Mapping[str, Mapping[str, tuple[float, float]]]] = {
    "_c": {"_f": (5.0 / 9.0, -160.0 / 9.0)},
    "rain_mm": {"rain_in": (25.4, 0.0)},
    "_m_s": {"_km_h": (1.0 / 3.6, 0.0), "_mph": (0.44704, 0.0), "_kn": (1852.0 / 3600.0, 0.0)},
    "wind_height_m": {"wind_height_ft": (0.3048, 0.0)},
    "solar_mj_m2": {"solar_w_m2": (0.0864, 0.0), "solar_kwh_m2": (3.6, 0.0)},
    "sunshine_h": {"sunshine_min": (1.0 / 60.0, 0.0), "sunshine_s": (1.0 / 3600.0, 0.0)},
    "cloud_share": {"cloud_pct": (0.01, 0.0)},
}
"""By end of a name of ours: other ends, with the factor and what is added to come to ours.

`solar_w_m2` is the mean of the day's 24 hours."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)


class WeatherTableWrong(ApiError):
    """A table of weather days that cannot be."""

    def __init__(self, name: str, sentences: Sequence[str]) -> None:
        told = [f"{name}, {sentence}" for sentence in sentences[:MOST_PROBLEMS]]
        if len(sentences) > len(told):
            told.append(f"{name} has {len(sentences) - len(told)} more problems; mend these first.")
        super().__init__("\n".join(told))
        self.sentences = tuple(told)


class _Wrong(Exception):
    """Sentences about a table that has no name yet."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__(*sentences)
        self.sentences = sentences


class Column(NamedTuple):
    """What one column holds."""

    name: str
    field: str
    """Of a weather day."""
    lowest: float
    highest: float
    """In the column's own unit."""
    factor: float
    added: float

    def value(self, cell: str) -> float:
        """The number in our unit.

        Raises
        ------
        ValueError
            In a sentence.
        """
        if _NUMBER.fullmatch(cell) is None:
            hint = " Decimals are written with a point." if _DECIMAL_COMMA.fullmatch(cell) else ""
            raise ValueError(f"it is {shown(cell)}; it must be {self._allowed}.{hint}")
        given = float(cell)
        if not self.lowest - 1e-9 <= given <= self.highest + 1e-9:
            raise ValueError(f"it is {number(given)}; it must be {self._allowed}.")
        return given * self.factor + self.added

    @property
    def _allowed(self) -> str:
        return f"a number from {number(round(self.lowest, 4))} to {number(round(self.highest, 4))}"


class _Line(NamedTuple):
    """A day, and where it stands."""

    number: int
    day: WeatherDay


def read_weather_csv(name: str, written: bytes) -> tuple[WeatherDay, ...]:
    """Read a table of past weather days; its name begins every sentence about it.

    Lines may stand in any order; the days must follow each other without a gap.

    Returns
    -------
    tuple of WeatherDay
        In the order of their dates.

    Raises
    ------
    WeatherTableWrong
        With every problem, each by its line and column.
    """
    try:
        return _read(written)
    except _Wrong as wrong:
        raise WeatherTableWrong(name, wrong.sentences) from None


def _read(written: bytes) -> tuple[WeatherDay, ...]:
    """The days; raises _Wrong."""
    try:
        text = written.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = written[: error.start].count(b"\n") + 1
        raise _Wrong([f"line {line}: this is not UTF-8 text."]) from None
    head = text.partition("\n")[0]
    delimiter = max(DELIMITERS, key=head.count)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    problems: list[str] = []
    try:
        names = [name.strip() for name in next(lines, [])]
        columns = _columns_of(names)
        told = list(_days(lines, names, columns, problems))
    except csv.Error as error:
        raise _Wrong([f"line {lines.line_num}: {error}."]) from None
    days = sorted((line for line in told if line is not None), key=lambda line: line.day.date)
    if len(days) == len(told):  # a line that cannot be read would be told as a gap, too
        problems.extend(_gaps(days))
    if not told:
        problems.append("line 2: there is no day.")
    if problems:
        raise _Wrong(problems)
    return tuple(line.day for line in days)


def known_columns() -> dict[str, Column]:
    """Every column that a table may have, beside the date, by name."""
    columns = {}
    for field, limits in WeatherDaySchema().fields.items():
        if not isinstance(limits, Number) or field in OF_FORECASTS:
            continue
        lowest, highest = limits.lowest, limits.highest
        assert lowest is not None, field
        assert highest is not None, field
        columns[field] = Column(field, field, lowest, highest, 1.0, 0.0)
        for end, others in UNITS.items():
            for other, (factor, added) in others.items() if field.endswith(end) else ():
                name = field.removesuffix(end) + other
                columns[name] = Column(
                    name, field, (lowest - added) / factor, (highest - added) / factor, factor, added
                )
    return columns


def _columns_of(names: Sequence[str]) -> dict[int, Column]:
    """What the columns hold, by place; the date is left out. Raises _Wrong."""
    known = known_columns()
    columns: dict[int, Column] = {}
    problems = []
    by_field: dict[str, str] = {}
    for place, name in enumerate(names):
        field = DATE if name == DATE else known[name].field if name in known else None
        where = f"line 1, column {place + 1}:"
        if field is None:
            hint = nearest(name, [DATE, *known]) or " Take it out, or name it as one that is known."
            problems.append(f"{where} {shown(name)} is not a column here.{hint}")
        elif field in by_field:
            problems.append(f"{where} {shown(name)} says again what {by_field[field]} says; take one out.")
        else:
            by_field[field] = name
            if field != DATE:
                columns[place] = known[name]
    problems.extend(_missing(by_field, known))
    if problems:
        columns_told = f"line 1: columns that are known are {DATE}, {', '.join(known)}."
        raise _Wrong([*problems, columns_told])
    return columns


def _missing(given: Mapping[str, str], known: Mapping[str, Column]) -> Iterator[str]:
    """What is wrong with columns that are not there."""
    if DATE not in given:
        yield "line 1: there is no column date; each line needs its date, as 2026-07-15."
    for field, what in NEEDED.items():
        if field not in given:
            names = " or ".join(name for name, column in known.items() if column.field == field)
            yield f"line 1: there is no column for {what}; name it {names}."


def _days(
    lines: Iterator[list[str]], names: Sequence[str], columns: Mapping[int, Column], problems: list[str]
) -> Iterator[_Line | None]:
    """Every line's day, in the order of the table, None where its date cannot be read.

    What is wrong goes to `problems`. The reader, `csv.reader`, knows its line's number.
    """
    seen: dict[dt.date, int] = {}
    for cells in lines:
        line = lines.line_num  # type: ignore[attr-defined]
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(names):
            problems.append(f"line {line}: there are {len(cells)} cells; the first line names {len(names)}.")
            yield None
            continue
        try:
            date = day_from(cells[names.index(DATE)].strip())
        except ValueError as allowed:
            told = shown(cells[names.index(DATE)].strip())
            problems.append(f"line {line}, column date: it is {told}; it must be {allowed}.")
            yield None
            continue
        if date in seen:
            problems.append(f"line {line}, column date: {date} stands on line {seen[date]} already.")
            continue
        seen[date] = line
        wrong, values = _values(cells, columns)
        problems.extend(f"line {line}, column {sentence}" for sentence in wrong)
        yield _Line(line, WeatherDay(date, **values, origin=Origin.MEASURED))  # type: ignore[arg-type]


def _values(cells: Sequence[str], columns: Mapping[int, Column]) -> tuple[list[str], dict[str, float]]:
    """The values of a line in our units, and what is wrong with it."""
    wrong = []
    values: dict[str, float] = {}
    told: dict[str, tuple[str, str]] = {}
    for place, column in columns.items():
        cell = cells[place].strip()
        if not cell:
            if column.field in NEEDED:
                wrong.append(f"{column.name}: it is empty; every day needs {NEEDED[column.field]}.")
            continue
        try:
            values[column.field] = column.value(cell)
            told[column.field] = (column.name, cell)
        except ValueError as sentence:
            wrong.append(f"{column.name}: {sentence}")
    for lower, upper in PAIRS:
        if lower in values and upper in values and values[lower] > values[upper] + 1e-9:
            (name, given), (other, above) = told[lower], told[upper]
            wrong.append(f"{name}: it is {given}; it must not be above {other}, {above}.")
    return wrong, values


def _gaps(lines: Sequence[_Line]) -> Iterator[str]:
    """What is wrong with the dates between which days are missing."""
    for before, after in itertools.pairwise(lines):
        first, last = before.day.date + ONE_DAY, after.day.date - ONE_DAY
        if first <= last:
            missing = f"{first} is" if first == last else f"{first} to {last} are"
            yield (
                f"line {after.number}, column date: {missing} missing between {before.day.date} "
                f"(line {before.number}) and {after.day.date}."
            )
