"""A problem (RFC 9457) in JSON."""

from marshmallow import fields

from api.schemas.base import Schema
from api.schemas.fields import Items, Part, Text, Whole


class ProblemEntrySchema(Schema):
    """One thing that is wrong with what was sent."""

    pointer = fields.String(
        required=True,
        metadata={"description": "JSON pointer within the body, or / and the name of a query parameter."},
    )
    detail = Text(1000, required=True)


class ProblemSchema(Schema):
    """What is wrong, in words that tell a person what to change."""

    type = Text(200, required=True, about="Stable.")
    title = Text(200, required=True)
    status = Whole(400, 599, required=True)
    detail = Text(2000, required=True)
    errors = Items(Part(ProblemEntrySchema), 1, 51)
