"""The invented garden of the demonstration: Quince Court, at a pinned moment of an invented July.

Its weather comes from the source `demo`, which invents it and says so. Nobody lives there.
"""

import datetime as dt
import importlib.resources
from typing import Any

import orjson

from api.schemas.garden import load_garden
from api.store.store import Store
from api.weather.place import place_of

GARDEN_ID = "quince-court"
PINNED_NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
"""A July evening, 20:40 by the garden's clock."""


def garden_document() -> dict[str, Any]:
    """The garden as its owner would have written it."""
    text = importlib.resources.files("api.cli").joinpath("quince-court.json").read_bytes()
    document: dict[str, Any] = orjson.loads(text)
    return document


def hold_garden(store: Store) -> None:
    """Store the invented garden, unless there is one of that name."""
    document = garden_document()
    place = place_of(load_garden(document, GARDEN_ID))
    with store.changing(GARDEN_ID) as change:
        if change.garden is None:
            change.put_document(document, place.key, dt.datetime.now(dt.UTC))
