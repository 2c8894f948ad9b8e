"""The invented garden of the demonstration: Quince Court, at a pinned moment of an invented July.

Its weather comes from the source `demo`, which invents it and says so. Nobody lives there.
"""

import datetime as dt
import importlib.resources
from typing import Any

import orjson

GARDEN_ID = "quince-court"
PINNED_NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
"""A July evening, 20:40 by the garden's clock."""


def garden_document() -> dict[str, Any]:
    """The garden as its owner would have written it."""
    text = importlib.resources.files("api.cli").joinpath("quince-court.json").read_bytes()
    document: dict[str, Any] = orjson.loads(text)
    return document
