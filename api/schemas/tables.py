"""Answers as tables for spreadsheets (CSV, RFC 4180): a header, then a line for each thing."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

USAGE_COLUMNS: Final = (
    "from", "to", "zone", "name", "volume_l", "measured_l", "assumed_l", "unmeasured_runs", "cost", "etc_mm",
    "etc_adj_mm", "rain_mm", "infiltrated_rain_mm", "irrigation_mm", "drainage_mm", "timer_volume_l",
)  # fmt: skip
DELIVERY_COLUMNS: Final = (
    "date", "zone", "id", "started_at", "ended_at", "outcome", "volume_l", "counted_l", "unlikely",
)  # fmt: skip


def usage_table(usage: Mapping[str, Any]) -> str:
    """What was used, as it is answered in JSON: a line for each period and zone."""
    return _table(
        USAGE_COLUMNS,
        (
            {
                **zone,
                "from": period["from"],
                "to": period["to"],
                "timer_volume_l": None if zone["timer"] is None else zone["timer"]["volume_l"],
            }
            for period in usage["periods"]
            for zone in period["zones"]
        ),
    )


def delivery_table(deliveries: Iterable[Mapping[str, Any]]) -> str:
    """Reports of water, as they are answered in JSON: a line for each."""
    return _table(DELIVERY_COLUMNS, deliveries)


def _table(columns: Sequence[str], lines: Iterable[Mapping[str, Any]]) -> str:
    """What is not known has an empty cell."""
    text = io.StringIO(newline="")
    table = csv.writer(text)
    table.writerow(columns)
    for line in lines:
        cells = (line.get(column) for column in columns)
        table.writerow([str(cell).lower() if isinstance(cell, bool) else cell for cell in cells])
    return text.getvalue()
