"""What `GET /v1/gardens/{garden}/alerts` answers."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from api.schemas.base import Schema
from api.schemas.fields import Id, Items, Part, Text, Word
from scheduling.reasons import Alert
from scheduling.reasons.tables import codes
from scheduling.reasons.words import Words


class AlertSchema(Schema):
    """Something that wants a person's eye."""

    code = Word(codes("alerts"), required=True, about="Stable.")
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


def dump_alerts(garden_id: str, alerts: Sequence[Alert], timezone: dt.tzinfo, words: Words) -> dict[str, Any]:
    """Write alerts as JSON has them."""
    return {
        "garden": garden_id,
        "alerts": [
            {
                "code": alert.code,
                "zone": alert.zone,
                "since": _since(alert.since, timezone),
                "text": alert.about.sentence(words),
                "what_to_do": alert.about.advice(words),
            }
            for alert in alerts
        ],
    }


def _since(since: dt.date, timezone: dt.tzinfo) -> str:
    if isinstance(since, dt.datetime):
        return since.astimezone(timezone).isoformat(timespec="seconds")
    return since.isoformat()
