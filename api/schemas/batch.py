"""Many reports in one request, each read by itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import marshmallow
from marshmallow import ValidationError, fields

from api.errors import InvalidRequest
from api.schemas.base import Schema, load, problems_of
from api.schemas.fields import Items, Word

MOST_IN_A_BATCH: Final = 500
KEPT: Final = "kept"
KNOWN: Final = "known"
REFUSED: Final = "refused"


def result_field() -> Word:
    """What became of one report of a batch whose reports take the place of earlier ones."""
    return Word(
        (KEPT, KNOWN, REFUSED),
        required=True,
        about='"kept": new, or in the place of another; "known": the same was kept before; "refused": it '
        "cannot be.",
    )


@dataclass(frozen=True, slots=True)
class Unread:
    """What stands in a batch in the place of a report, and is none."""

    given: Any
    error: InvalidRequest

    def get(self, name: str) -> Any:
        """What it has under a name; None where it has nothing, or is no object."""
        return self.given.get(name) if isinstance(self.given, Mapping) else None


def entries_of(document: object, name: str, schema: marshmallow.Schema) -> list[Any]:
    """Read a batch, `{name: [...]}`; what is wrong with one entry leaves the others as they are.

    Each entry as the schema reads it, or unread.

    Raises
    ------
    InvalidRequest
        It is no such list, or one too long.
    """
    of_a_list = Schema.from_dict(
        {name: Items(fields.Raw(allow_none=True), 1, MOST_IN_A_BATCH, required=True)}
    )
    listed = load(of_a_list(), document)[name]
    return [_read(entry, schema) for entry in listed]


def _read(entry: Any, schema: marshmallow.Schema) -> Any:
    try:
        return schema.load(entry)
    except ValidationError as error:
        return Unread(entry, InvalidRequest(*problems_of(error)))
