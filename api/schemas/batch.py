"""Many reports in one request, each read by itself."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Generic, TypeVar

import marshmallow
from marshmallow import ValidationError, fields

from api.errors import InvalidRequest
from api.schemas.base import Schema, load, problems_of
from api.schemas.fields import Items, Word

MOST_IN_A_BATCH: Final = 500
KEPT: Final = "kept"
KNOWN: Final = "known"
CONFLICT: Final = "conflict"
REFUSED: Final = "refused"

KeyT = TypeVar("KeyT")
ToldT = TypeVar("ToldT")


def result_field() -> Word:
    """What became of one report of a batch whose reports take the place of earlier ones."""
    return Word(
        (KEPT, KNOWN, REFUSED),
        required=True,
        about='"kept": new, or in the place of another; "known": the same was kept before; "refused": it '
        "cannot be.",
    )


@dataclass(frozen=True, slots=True)
class Named(Generic[KeyT, ToldT]):
    """A report among others, with what names it."""

    key: KeyT
    told: ToldT
    name: Mapping[str, str | None] = field(default_factory=dict)
    """What names it, as it was sent."""


@dataclass(frozen=True, slots=True)
class Unread:
    """What stands in a batch in the place of a report, and is none."""

    name: Mapping[str, str | None]
    """What names it; None for what cannot be read."""
    error: InvalidRequest


def entries_of(
    document: object,
    name: str,
    schema: marshmallow.Schema,
    name_parts: Mapping[str, Callable[[Any], bool]],
    key_of: Callable[..., KeyT],
    told_by: Callable[..., ToldT],
) -> list[Named[KeyT, ToldT] | Unread]:
    """Read a batch, `{name: [...]}`; what is wrong with one entry leaves the others as they are.

    Parameters
    ----------
    schema
        Reads an entry.
    name_parts
        The fields of an entry that name it, each with what can be read of it; `key_of` makes its key of them.
    told_by
        Makes the report of all other fields.

    Raises
    ------
    InvalidRequest
        It is no such list, or one too long.
    """
    of_a_list = Schema.from_dict(
        {name: Items(fields.Raw(allow_none=True), 1, MOST_IN_A_BATCH, required=True)}
    )
    entries: list[Named[KeyT, ToldT] | Unread] = []
    for given in load(of_a_list(), document)[name]:
        sent = given if isinstance(given, Mapping) else {}
        read = {part: sent.get(part) for part in name_parts}
        name_sent = {part: value if name_parts[part](value) else None for part, value in read.items()}
        try:
            data = schema.load(given)
        except ValidationError as error:
            entries.append(Unread(name_sent, InvalidRequest(*problems_of(error))))
        else:
            key = key_of(*(data.pop(part) for part in name_parts))
            entries.append(Named(key, told_by(**data), name_sent))
    return entries
