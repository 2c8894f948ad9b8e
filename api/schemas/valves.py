"""What a controller knows of the state of its valves, in JSON."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import Id, Instant, Items, Number, Part, Word

OPEN: Final = "open"
SHUT: Final = "shut"
UNREACHABLE: Final = "unreachable"
STATES: Final = (OPEN, SHUT, UNREACHABLE)


@dataclass(frozen=True, slots=True)
class ValveReport:
    """What is told of a valve."""

    values: Mapping[str, Any]
    told_at: dt.datetime | None = None
    """When it was so; None: when it was told."""


class ValveStateSchema(Schema):
    """How a valve is: the whole of what is known, as it takes the place of what was told before."""

    battery_share = Number(0, 1, about="What is left in its battery.")
    state = Word(STATES, about="unreachable: it has not answered.")
    told_at = Instant(about="When it was so; now, if not given.")

    @validates_schema
    def _tells_something(self, data: dict[str, Any], **kwargs: Any) -> None:
        if "battery_share" not in data and "state" not in data:
            raise ValidationError("Nothing is told; give battery_share, state or both.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> ValveReport:
        told_at = data.pop("told_at", None)
        return ValveReport(data, told_at)


class StoredValveSchema(Schema):
    """How a valve was when it was last told of."""

    zone = Id(required=True)
    battery_share = Number(0, 1, required=True, allow_none=True)
    state = Word(STATES, required=True, allow_none=True)
    told_at = Instant(required=True)


class ValveListSchema(Schema):
    """The valves of a garden of which anything was told, by zone."""

    valves = Items(Part(StoredValveSchema), 0, 10_000, required=True)
