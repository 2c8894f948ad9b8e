"""What `GET /v1/gardens/{garden}/alerts` answers."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from api.schemas.base import Schema
from api.schemas.fields import Id, Items, Part, Text, Word
from scheduling.reasons import WHAT_TO_DO, Alert


class AlertSchema(Schema):
    """Something that wants a person's eye."""

    code = Word(tuple(WHAT_TO_DO), required=True, about="Stable.")
    zone = Id(required=True, allow_none=True, about="null: it concerns the whole garden.")
    since = Text(
        40,
        required=True,
        about="A date, or a moment with offset: since when it is so; of what is forecast, when it begins.",
    )
    text = Text(1000, required=True, about="What it means, for people; it may improve.")
    what_to_do = Text(1000, required=True, about="For people; it may improve.")


class AlertsSchema(Schema):
    """What wants a person's eye, the most urgent first; gone when its cause is gone."""

    garden = Id(required=True)
    alerts = Items(Part(AlertSchema), 0, 10_000, required=True)


def dump_alerts(garden_id: str, alerts: Sequence[Alert], timezone: dt.tzinfo) -> dict[str, Any]:
    """Write alerts as JSON has them."""
    return {
        "garden": garden_id,
        "alerts": [
            {
                "code": alert.code,
                "zone": alert.zone,
                "since": _since(alert.since, timezone),
                "text": alert.text,
                "what_to_do": alert.what_to_do,
            }
            for alert in alerts
        ],
    }


def _since(since: dt.date, timezone: dt.tzinfo) -> str:
    if isinstance(since, dt.datetime):
        return since.astimezone(timezone).isoformat(timespec="seconds")
    return since.isoformat()
