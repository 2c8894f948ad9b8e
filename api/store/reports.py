"""Where reports of each kind are kept, and how one of them is asked for."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

from sqlalchemy import Select, Table, bindparam, select

from api.store.rows import StoredDelivery, StoredObservation, StoredReading, StoredValve
from api.store.tables import DELIVERIES, MOISTURE_READINGS, OBSERVATIONS, VALVES


@dataclass(frozen=True, slots=True, eq=False)
class ReportRows:
    """The rows of a kind of reports."""

    table: Table
    key: tuple[str, ...]
    """The columns that name a report within its garden."""
    one: Select[Any]
    """The row of a key, in the order of the fields of its class."""


def _rows(row: type[Any], table: Table, *key: str) -> ReportRows:
    of_the_key = [table.c[name] == bindparam(name) for name in ("garden_id", *key)]
    columns = [table.c[field.name] for field in fields(row)]
    return ReportRows(table, key, select(*columns).where(*of_the_key))


ROWS_OF: Final[Mapping[type[Any], ReportRows]] = {
    StoredDelivery: _rows(StoredDelivery, DELIVERIES, "zone", "id"),
    StoredObservation: _rows(StoredObservation, OBSERVATIONS, "date"),
    StoredReading: _rows(StoredReading, MOISTURE_READINGS, "zone", "id"),
    StoredValve: _rows(StoredValve, VALVES, "zone"),
}
"""By the class of a row."""
