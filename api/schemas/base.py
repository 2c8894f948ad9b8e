"""The schema that all others are, and how its refusals become problems with JSON pointers."""

from collections.abc import Mapping
from typing import Any, ClassVar

import marshmallow
from marshmallow import RAISE, ValidationError, post_load

from api.errors import InvalidRequest
from api.schemas.fields import nearest, shown
from scheduling.errors import Problem

MOST_HINTS = 10
"""Unknown fields of one object that get a hint; more are refused without one."""

MOST_PROBLEMS = 50
"""Problems that one answer tells."""


LONGEST_NAME = 200
"""Characters of a name that a pointer repeats."""


class Schema(marshmallow.Schema):
    """Refuses unknown fields, with the nearest known name."""

    class Meta:
        unknown = RAISE

    makes: ClassVar[type | None] = None
    """What a loaded document becomes, its fields as arguments; None: a dictionary."""

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Any:
        return data if self.makes is None else self.makes(**self.made_of(data))

    def made_of(self, data: dict[str, Any]) -> dict[str, Any]:
        """The arguments of what is made, where these are not the fields as they were loaded."""
        return data

    error_messages: dict[str, str] = {"type": "Here must be an object."}  # noqa: RUF012

    def handle_error(
        self, error: ValidationError, data: Any, *, many: bool, partial: Any = None, **kwargs: Any
    ) -> None:
        """Replace marshmallow's word about unknown fields by one that helps."""
        if not isinstance(data, Mapping) or not isinstance(error.messages, dict):
            return
        known = [field.data_key or name for name, field in self.load_fields.items()]
        unknown = sorted(set(data) - set(known))
        for place, name in enumerate(unknown):
            hint = nearest(name, known) if place < MOST_HINTS else ""
            error.messages[name] = [f"{shown(name)} is not a field here.{hint}"]


def load(schema: marshmallow.Schema, document: object) -> Any:
    """Read a document by its schema.

    Raises
    ------
    InvalidRequest
        With every problem at once.
    """
    try:
        return schema.load(document)  # type: ignore[arg-type]
    except ValidationError as error:
        raise InvalidRequest(*problems_of(error)) from None


def problems_of(error: ValidationError, within: str = "") -> tuple[Problem, ...]:
    """Every problem of a refused document, with its pointer, in the order of the pointers.

    Parameters
    ----------
    within : str
        Pointer of the document that was refused, where it is a part of a larger one.
    """
    found = sorted(_flattened(error.messages, within))
    if len(found) > MOST_PROBLEMS:
        rest = Problem(within, f"There are {len(found) - MOST_PROBLEMS} more problems; mend these first.")
        return (*found[:MOST_PROBLEMS], rest)
    return tuple(found)


def pointer_to(*names: str | int) -> str:
    """A JSON pointer (RFC 6901): `/zones/fescue-lawn/area_m2`; of a name beyond reason, its beginning."""
    return "".join(f"/{str(name)[:LONGEST_NAME].replace('~', '~0').replace('/', '~1')}" for name in names)


def _flattened(messages: Any, pointer: str) -> list[Problem]:
    if isinstance(messages, str):
        return [Problem(pointer, messages)]
    if isinstance(messages, list):
        return [problem for message in messages for problem in _flattened(message, pointer)]
    return [
        problem
        for name, inner in messages.items()
        for problem in _flattened(inner, pointer if name == "_schema" else pointer + pointer_to(name))
    ]
