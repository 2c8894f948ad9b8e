"""A row of a zone's ledger in JSON."""

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from api.schemas.base import Schema
from api.schemas.fields import ById, Day, Id, Items, Number, Part, Text, Word
from api.schemas.planting import MOST_PLANTS
from scheduling.balance.soil_water import BY_BOTH, BY_PROBE, BY_ROOTS, LedgerRow
from scheduling.balance.weather import HUMIDITY, RAIN, SOLAR_RADIATION, TEMPERATURE, WIND, Origin

DECIMALS: Final = {"kc": 3, "ks": 3, "kcb": 3, "ke": 3}
"""Of coefficients; depths have 2."""
CAUSES: Final = (BY_PROBE, BY_ROOTS, BY_BOTH)


class LedgerRowSchema(Schema):
    """One day: closing = opening - infiltrated_rain - irrigation + etc_adj + drainage + adjustment."""

    date = Day(required=True)
    opening_depletion_mm = Number(0, required=True)
    rain_mm = Number(0, required=True, about="What fell on the zone.")
    runoff_mm = Number(0, required=True)
    infiltrated_rain_mm = Number(0, required=True)
    irrigation_gross_mm = Number(0, required=True)
    irrigation_mm = Number(0, required=True, about="What reached the roots.")
    eto_mm = Number(0, required=True)
    kc = Number(0, required=True)
    ks = Number(0, 1, required=True)
    etc_mm = Number(0, required=True, about="Kc ETo.")
    etc_adj_mm = Number(0, required=True, about="What was used: Ks ETc.")
    drainage_mm = Number(0, required=True)
    adjustment_mm = Number(required=True, about="A correction from outside the balance.")
    closing_depletion_mm = Number(0, required=True)
    taw_mm = Number(0, required=True)
    raw_mm = Number(0, required=True)
    kcb = Number(0, about="This and what follows only with the dual coefficient.")
    ke = Number(0, about="Of the soil's evaporation.")
    evaporation_mm = Number(0, about="What of etc_adj the soil lost.")
    surface_depletion_mm = Number(0, about="What the top layer lacks in the evening, where last wetted.")
    adjustment_cause = Word(CAUSES, about="Where there is an adjustment: soil probes, or shallower roots.")


def dump_row(row: LedgerRow) -> dict[str, Any]:
    """Write a row as JSON has it: depths to 0.01 mm."""
    values = row._asdict()
    return {
        "date": values.pop("date").isoformat(),
        # + 0.0 makes 0.0 of -0.0.
        **{
            name: value if isinstance(value, str) else round(value, DECIMALS.get(name, 2)) + 0.0
            for name, value in values.items()
            if value is not None
        },
    }


JSON: Final = "json"
CSV: Final = "csv"
FORMATS: Final = (JSON, CSV)

DIGITS: Final = 10
"""Decimals of every value: rounded to what is readable, rows would no longer close."""

QUANTITIES: Final = (TEMPERATURE, HUMIDITY, WIND, SOLAR_RADIATION, RAIN)
ESTIMATED: Final = "estimated"
"""In the table, in the place of a source."""
NO_SOURCE: Final = "assumed"
"""In the table, of a day of which nothing is known."""

WEATHER_COLUMNS: Final = ("weather_origin", *(f"{quantity}_source" for quantity in QUANTITIES))
COLUMNS: Final = ("date", "plant", "plant_share", *LedgerRow._fields[1:], *WEATHER_COLUMNS)
"""Of the table. Those of the dual coefficient stay empty where a zone does not ask for it."""


@dataclass(frozen=True, slots=True)
class DaySources:
    """Whose weather a day has."""

    origin: Origin
    sources: Mapping[str, str]
    """By quantity, but for what is estimated."""
    estimated: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlantLedger:
    """The rows of one planting."""

    plant: str
    share: float
    """Of the zone's ground."""
    rows: tuple[LedgerRow, ...]


@dataclass(frozen=True, slots=True)
class ZoneLedger:
    """A zone's account between two dates."""

    garden: str
    zone: str
    history: str
    """ "assumed" where it begins with a first guess, "known" where with `soil_full_on`."""
    plantings: tuple[PlantLedger, ...]
    weather: Mapping[dt.date, DaySources]
    attribution: Sequence[str]


class RowWeatherSchema(Schema):
    """Whose weather values a day has."""

    origin = Word(
        tuple(origin.value for origin in Origin),
        required=True,
        about="forecast: the day is not over; past-forecast: it is, and only its forecast is known; "
        "assumed: nothing is known, the mean of the last known days stands for it.",
    )
    sources = ById(Text(), required=True, about="By quantity, but for what is estimated.")
    estimated = Items(Text(), 0, 20, required=True, about="What FAO-56's substitutes stand for.")


class DatedRowSchema(LedgerRowSchema):
    """One day: closing = opening - infiltrated_rain - irrigation + etc_adj + drainage + adjustment.

    Values have ten decimals, so that this holds to 1e-9 mm, and closing is the next day's opening.
    """

    weather = Part(RowWeatherSchema, required=True)


class PlantLedgerSchema(Schema):
    """The account of one planting; most zones have one."""

    plant = Id(required=True)
    share = Number(0, 1, required=True, about="Of the zone's ground.")
    rows = Items(Part(DatedRowSchema), 0, 100_000, required=True)


class ZoneLedgerSchema(Schema):
    """A zone's account, day by day, from where it begins to today, whose weather is partly a forecast."""

    garden = Id(required=True)
    zone = Id(required=True)
    history = Word(
        ("known", "assumed"),
        required=True,
        about="assumed: it begins with a first guess; known: with soil_full_on.",
    )
    first = Day(data_key="from", required=True, allow_none=True, about="null where there are no rows.")
    last = Day(data_key="to", required=True, allow_none=True)
    plantings = Items(Part(PlantLedgerSchema), 1, MOST_PLANTS, required=True)
    attribution = Items(Text(500), 0, 20, required=True)


def dump_zone_ledger(ledger: ZoneLedger) -> dict[str, Any]:
    """Write an account as JSON has it."""
    rows = ledger.plantings[0].rows
    weather = {date: _weather(day) for date, day in ledger.weather.items()}
    return {
        "garden": ledger.garden,
        "zone": ledger.zone,
        "history": ledger.history,
        "from": rows[0].date.isoformat() if rows else None,
        "to": rows[-1].date.isoformat() if rows else None,
        "plantings": [
            {
                "plant": planting.plant,
                "share": round(planting.share, 3),
                "rows": [_row(row, weather[row.date]) for row in planting.rows],
            }
            for planting in ledger.plantings
        ],
        "attribution": list(ledger.attribution),
    }


def _row(row: LedgerRow, weather: dict[str, Any]) -> dict[str, Any]:
    values = {name: _in_full(value) for name, value in row._asdict().items() if value is not None}
    return {**values, "weather": weather}


def _weather(day: DaySources) -> dict[str, Any]:
    return {
        "origin": day.origin.value,
        "sources": dict(day.sources),
        "estimated": list(day.estimated),
    }


def _in_full(value: object) -> object:
    if isinstance(value, dt.date):
        return value.isoformat()
    # + 0.0 makes 0.0 of -0.0.
    return round(value, DIGITS) + 0.0 if isinstance(value, float) else value


def ledger_table(ledger: ZoneLedger) -> str:
    """Write an account as CSV (RFC 4180): a header, then a line for each date and planting."""
    text = io.StringIO(newline="")
    table = csv.writer(text)
    table.writerow(COLUMNS)
    weather = {date: _weather_cells(day) for date, day in ledger.weather.items()}
    by_date = zip(*(planting.rows for planting in ledger.plantings), strict=True)
    for rows in by_date:
        for planting, row in zip(ledger.plantings, rows, strict=True):
            date, *values = (_in_full(value) for value in row)
            table.writerow((date, planting.plant, round(planting.share, 3), *values, *weather[row.date]))
    return text.getvalue()


def _weather_cells(day: DaySources) -> tuple[str, ...]:
    missing = NO_SOURCE if day.origin is Origin.ASSUMED else ESTIMATED
    return (day.origin.value, *(day.sources.get(quantity, missing) for quantity in QUANTITIES))
