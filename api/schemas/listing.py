"""Lists and small answers in JSON."""

from api.schemas.base import Schema
from api.schemas.fields import Id, Instant, Items, Part, Text, Whole, Word


class GardenEntrySchema(Schema):
    """A garden in the list of gardens."""

    id = Id(required=True)
    name = Text(required=True)
    zones = Whole(1, 200, required=True, allow_none=True, about="How many; null: its document is damaged.")


class GardenListSchema(Schema):
    """Gardens in the order of their ids."""

    gardens = Items(Part(GardenEntrySchema), 0, 500, required=True)
    next = Id(required=True, allow_none=True, about="Give it as after to read on; null at the end.")


class DeletedGardenSchema(Schema):
    """What went with a deleted garden."""

    id = Id(required=True)
    reports_deleted = Whole(0, 1_000_000_000, required=True)


class HealthSchema(Schema):
    """That the service answers."""

    status = Word(("ok",), required=True)
    release = Text(required=True)
    now = Instant(required=True)


class LiveSchema(Schema):
    """That the process answers."""

    status = Word(("ok",), required=True)
