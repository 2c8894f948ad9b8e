"""Ids in an address: what is none leads nowhere."""

from flask import Flask
from werkzeug.routing import BaseConverter

from api.ids import ID_PATTERN, REPORT_ID_PATTERN


class IdConverter(BaseConverter):
    """The id of a garden or a zone."""

    regex = ID_PATTERN
    part_isolating = True


class ReportIdConverter(BaseConverter):
    """The id of a report."""

    regex = REPORT_ID_PATTERN
    part_isolating = True


class DayConverter(BaseConverter):
    """A date; whether there is such a day is for its route to say."""

    regex = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
    part_isolating = True


def add_converters(app: Flask) -> None:
    """Let an application's rules say `<id:garden>`, `<report:delivery>` and `<day:date>`."""
    app.url_map.converters["id"] = IdConverter
    app.url_map.converters["report"] = ReportIdConverter
    app.url_map.converters["day"] = DayConverter


def pattern_of(converter: BaseConverter) -> dict[str, str]:
    """What the contract says about such a part of an address."""
    return {"type": "string", "pattern": f"^{converter.regex}$"}
