"""When a garden or a zone may be watered, in JSON."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import DayOrYearlyDay, Id, Items, Number, Part, Pattern, Text, Truth, Word, shown
from scheduling.garden.description import WEEKDAYS, HoursSpan, Pause, Rules, YearlyPause

OPENING: Final = r"([01]\d|2[0-3]):[0-5]\d|sunrise|sunset"
EXEMPTIONS: Final = ("frost", "rain", "wind", "days")
OPENING_ALLOWED: Final = '"HH:MM", "sunrise" or "sunset"'


class SpanSchema(Schema):
    """One span of watering hours; it may cross midnight."""

    makes = HoursSpan

    opens = Pattern(OPENING, OPENING_ALLOWED, required=True, data_key="from")
    closes = Pattern(OPENING, OPENING_ALLOWED, required=True, data_key="to")

    @validates_schema
    def _has_a_length(self, data: dict[str, Any], **kwargs: Any) -> None:
        if data["opens"] == data["closes"]:
            raise ValidationError(
                f'to is "{data["closes"]}", as is from; a span must have a length.',
                "to",
            )


class ZonePauseSchema(Schema):
    """Dates, both included, on which a zone is not watered."""

    first = DayOrYearlyDay(required=True, data_key="from", about="A date; MM-DD: that day of every year.")
    last = DayOrYearlyDay(required=True, data_key="to", about="Likewise; over New Year, it is before from.")
    because = Text(200, about="For people; it comes back with the reason.")

    @validates_schema
    def _runs_forward(self, data: dict[str, Any], **kwargs: Any) -> None:
        first, last = data["first"], data["last"]
        if isinstance(first, tuple) is not isinstance(last, tuple):
            raise ValidationError(
                "to must be a day of every year as from is one, or a date as from is one; not one of each.",
                "to",
            )
        if isinstance(first, dt.date) and first > last:
            raise ValidationError(f"to is {last}, which is before from, {first}; it must not be.", "to")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Pause | YearlyPause:
        made = YearlyPause if isinstance(data["first"], tuple) else Pause
        return made(data["first"], data["last"], data.get("zones"), data.get("because", ""))


class PauseSchema(ZonePauseSchema):
    """Dates, both included, on which a garden, or some zones of it, are not watered."""

    zones = Items(Id(), 1, 200, unique=True, about="Which zones; all of them where this is left out.")


class ZoneRulesSchema(Schema):
    """What is different for one zone."""

    makes = Rules

    frost_limit_c = Number(-10, 20, about="Below this forecast minimum no water flows; 5 by default.")
    rain_day_mm = Number(0.1, 100, about="Counted rain that makes a rain day; 4 by default.")
    frost_warm_hours = Truth(
        about="Whether to water in warm hours of a date that may freeze; false by default."
    )
    wind_limit_m_s = Number(
        0.5, 40, about="Mean wind at 2 m above which nothing is watered overhead; 4 by default."
    )
    forbidden_hours = Items(
        Part(SpanSchema), 0, 10, about="Hours of the clock, or of the sun, in which no water flows."
    )
    watering_days = Items(Word(WEEKDAYS), 1, 7, unique=True, about="Dates of plans; every day by default.")
    odd_even = Word(("odd", "even"), about="Days of the month on which watering is allowed.")
    pauses = Items(Part(ZonePauseSchema), 0, 100)
    exempt = Items(Word(EXEMPTIONS), 0, len(EXEMPTIONS), unique=True, about="Rules that do not hold here.")


class GardenRulesSchema(ZoneRulesSchema):
    """When a garden may be watered."""

    class Meta(Schema.Meta):
        exclude = ("exempt",)

    watering_hours = Items(
        Part(SpanSchema), 1, 2, about="One or two spans in which water may flow; 22:00 to sunrise by default."
    )
    pauses = Items(Part(PauseSchema), 0, 100)

    @validates_schema(skip_on_field_errors=True)
    def _spans_are_apart(self, data: dict[str, Any], **kwargs: Any) -> None:
        spans = data.get("watering_hours", ())
        minutes = [(_minute(span.opens), _minute(span.closes)) for span in spans]
        if len(minutes) == 2 and _overlap(*minutes):
            raise ValidationError(
                "watering_hours has two spans that overlap; join them.",
                "watering_hours",
            )


def _minute(clock: str) -> int | None:
    """Minute of the day; None where the sun decides."""
    return int(clock[:2]) * 60 + int(clock[3:]) if ":" in clock else None


def _overlap(first: tuple[int | None, int | None], second: tuple[int | None, int | None]) -> bool:
    """Whether two daily spans share a minute; what the sun decides is not judged here."""
    if None in first or None in second:
        return False
    return bool(_minutes(first) & _minutes(second))


def _minutes(span: tuple[int | None, int | None]) -> set[int]:
    opens, closes = span[0] or 0, span[1] or 0
    return {minute % 1440 for minute in range(opens, closes if closes > opens else closes + 1440)}


def unknown_zones(document: Mapping[str, Any], zones: Mapping[str, Any]) -> dict[int, Any]:
    """What is wrong with the zones that a garden's pauses name, by place in the list of pauses."""
    wrong: dict[int, Any] = {}
    rules = document.get("rules")
    pauses = rules.get("pauses") if isinstance(rules, Mapping) else None
    for place, pause in enumerate(pauses if isinstance(pauses, list) else ()):
        named = pause.get("zones") if isinstance(pause, Mapping) else None
        missing = {
            at: [f"zones names {shown(zone)}, which is no zone of this garden."]
            for at, zone in enumerate(named if isinstance(named, list) else ())
            if isinstance(zone, str) and len(zone) <= 64 and zone not in zones
        }
        if missing:
            wrong[place] = {"zones": missing}
    return wrong
