"""What a controller knows of the state of its valves, in JSON."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import Id, Instant, Items, Number, Part, Word

OPEN: Final = "open"
SHUT: Final = "shut"
UNREACHABLE: Final = "unreachable"
STATES: Final = (OPEN, SHUT, UNREACHABLE)


@dataclass(frozen=True, slots=True)
class ValveState:
    """How a valve is; None is not known."""

    battery_share: float | None = None
    state: str | None = None
    told_at: dt.datetime | None = None
    """When it was so; None: when it is reported."""


@dataclass(frozen=True, slots=True)
class KeptValve:
    """The last report of a zone's valve."""

    zone: str
    told_at: dt.datetime
    battery_share: float | None
    state: str | None


class ValveStateSchema(Schema):
    """How a valve is: the whole of what is known, as it takes the place of what was told before."""

    battery_share = Number(0, 1, about="What is left in its battery.")
    state = Word(STATES, about="unreachable: it has not answered.")
    told_at = Instant(about="When it was so; now, if not given.")

    @validates_schema
    def _tells_something(self, data: dict[str, Any], **kwargs: Any) -> None:
        if "battery_share" not in data and "state" not in data:
            raise ValidationError("Nothing is told; give battery_share, state or both.")


class StoredValveSchema(Schema):
    """How a valve was when it was last told of."""

    zone = Id(required=True)
    battery_share = Number(0, 1, required=True, allow_none=True)
    state = Word(STATES, required=True, allow_none=True)
    told_at = Instant(required=True)


class ValveListSchema(Schema):
    """The valves of a garden of which anything was told, by zone."""

    valves = Items(Part(StoredValveSchema), 0, 10_000, required=True)
