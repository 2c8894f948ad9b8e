"""What `POST /v1/check` answers: what is odd about a garden."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from api.schemas.base import Schema
from api.schemas.fields import Id, Items, Part, Text, Whole, Word
from api.schemas.garden import MOST_ZONES
from scheduling.garden.description import Garden
from scheduling.reasons import Finding
from scheduling.reasons.tables import codes
from scheduling.reasons.words import Words


class FindingSchema(Schema):
    """Something odd; it can be, and seldom is meant."""

    code = Word(codes("findings"), required=True, about="Stable; there may be new ones.")
    pointer = Text(1000, required=True, about="JSON pointer within the garden.")
    text = Text(1000, required=True, about="For people; it may improve.")
    advice = Text(1000, required=True, about="What would make sense.")


class CheckSchema(Schema):
    """A garden that can be planned, and what is odd about it."""

    garden = Id(required=True)
    zones = Whole(1, MOST_ZONES, required=True)
    findings = Items(Part(FindingSchema), 0, 100_000, required=True)


def dump_check(garden: Garden, findings: Sequence[Finding], today: dt.date) -> dict[str, Any]:
    """Write what was found as JSON has it."""
    words = Words(today, garden.units)
    return {
        "garden": garden.id,
        "zones": len(garden.zones),
        "findings": [
            {
                "code": finding.code,
                "pointer": finding.pointer,
                "text": finding.about.sentence(words),
                "advice": finding.about.advice(words),
            }
            for finding in findings
        ],
    }
