"""Soil probes: what they read."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final, Protocol

from flask import Response, request

from api.http.problems import problem_body
from api.http.request_params import (
    FROM,
    LIMIT,
    TO,
    json_body,
    must_be_new,
    query,
    query_dates,
    query_limit,
    refused_parameter,
)
from api.http.responses import ONLY_NEW, Routes, describes, json_answer, list_answer
from api.ids import ID_PATTERN, REPORT_ID_PATTERN
from api.reports.soil_moisture import Outcome, ReadingKey
from api.schemas.base import load, pointer_to
from api.schemas.batch import Unread, entries_of
from api.schemas.moisture import (
    NamedReading,
    NamedReadingSchema,
    ReadingAnswersSchema,
    ReadingBatchSchema,
    ReadingListSchema,
    ReadingReport,
    ReadingSchema,
    StoredReadingSchema,
)

_SCHEMA: Final = ReadingSchema()
_NAMED: Final = NamedReadingSchema()
_PLACE: Final = re.compile(rf"([^/]{{1,40}})/({ID_PATTERN})/({REPORT_ID_PATTERN})")

AFTER: Final = {
    "in": "query",
    "name": "after",
    "schema": {"type": "string"},
    "description": "next of the page before: MOMENT/ZONE/ID of its last reading.",
}


class ProbeReadings(Protocol):
    """Keeps readings."""

    def put(
        self, garden_id: str, zone_id: str, reading_id: str, report: ReadingReport, must_be_new: bool
    ) -> tuple[bool, Mapping[str, Any]]:
        """Keep one; whether it is new, and how it is kept."""

    def put_all(self, garden_id: str, batch: Sequence[NamedReading | Unread]) -> Sequence[Outcome]:
        """Keep many, each as if it came alone."""

    def reading(self, garden_id: str, zone_id: str, reading_id: str) -> Mapping[str, Any]:
        """One reading."""

    def readings(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: ReadingKey | None,
        limit: int,
    ) -> tuple[Sequence[Mapping[str, Any]], ReadingKey | None]:
        """Readings of a span of dates, and after which to read on."""

    def delete(self, garden_id: str, zone_id: str, reading_id: str) -> None:
        """Take one back."""


def moisture_routes(probes: ProbeReadings) -> Routes:
    """Build the routes from what keeps readings."""
    routes = Routes(
        "moisture",
        __name__,
        url_prefix="/v1/gardens/<id:garden>/moisture",
        description="What soil probes read.",
    )

    @routes.route("/<id:zone>/<report:reading>", methods=["PUT"])
    @describes(
        {200: StoredReadingSchema, 201: StoredReadingSchema},
        (404, 412, 503),
        parameters=[ONLY_NEW],
        body=ReadingSchema,
    )
    def put_reading(garden: str, zone: str, reading: str) -> Response:
        """Tell what a probe read, in the place of any other reading of this id.

        A ledger goes by one value a morning, the median of the 4 hours before sunrise; what is read by day is
        kept only. How far a probe is believed is learned from its readings.
        """
        query()
        only_new = must_be_new()
        report = load(_SCHEMA, json_body())
        is_new, body = probes.put(garden, zone, reading, report, only_new)
        return json_answer(body, 201, {"Location": request.path}) if is_new else json_answer(body)

    @routes.route("/<id:zone>/<report:reading>")
    @describes({200: StoredReadingSchema}, (404, 503))
    def get_reading(garden: str, zone: str, reading: str) -> Response:
        """One reading as it is kept."""
        query()
        return json_answer(probes.reading(garden, zone, reading))

    @routes.route("/<id:zone>/<report:reading>", methods=["DELETE"])
    @describes({204: None}, (404, 503))
    def delete_reading(garden: str, zone: str, reading: str) -> Response:
        """Take a reading back, as though the probe had never told it."""
        query()
        probes.delete(garden, zone, reading)
        return Response(status=204)

    @routes.route("", methods=["POST"])
    @describes({200: ReadingAnswersSchema}, (404, 503), body=ReadingBatchSchema)
    def post_readings(garden: str) -> Response:
        """Readings of probes that were out of reach, answered one by one in their order.

        Each is kept as a PUT without precondition would keep it, and none spoils another. A batch that was
        sent may be sent again: what was kept is then known.
        """
        query()
        outcomes = probes.put_all(garden, entries_of(json_body(), "moisture", _NAMED))
        return json_answer({"moisture": [_told(*numbered) for numbered in enumerate(outcomes)]})

    @routes.route("")
    @describes({200: ReadingListSchema}, (404, 503), parameters=[FROM, TO, AFTER, LIMIT], has_etag=True)
    def list_readings(garden: str) -> Response:
        """Readings of all zones by the moment at which they were taken.

        Dates are those of the garden's clock, both ends included.
        """
        given = query("from", "to", "after", "limit")
        first, last = query_dates(given)
        found, further = probes.readings(garden, first, last, _after(given), query_limit(given))
        return list_answer({"moisture": found, "next": None if further is None else _written(further)})

    return routes


def _written(key: ReadingKey) -> str:
    moment, zone, reading = key
    return f"{moment.astimezone(dt.UTC).replace(tzinfo=None).isoformat()}Z/{zone}/{reading}"


def _after(given: Mapping[str, str]) -> ReadingKey | None:
    if "after" not in given:
        return None
    place = _PLACE.fullmatch(given["after"])
    try:
        if place is not None:
            moment = dt.datetime.fromisoformat(place[1])
            if moment.tzinfo is not None:
                return moment.astimezone(dt.UTC), place[2], place[3]
    except (ValueError, OverflowError):
        pass
    allowed = "next of another page, as 2026-07-15T02:30:00Z/fescue-lawn/0715-0430"
    raise refused_parameter("after", given["after"], allowed)


def _told(number: int, outcome: Outcome) -> Mapping[str, Any]:
    error = outcome.error
    return {
        "zone": outcome.zone,
        "id": outcome.id,
        "result": outcome.result,
        "reading": outcome.reading,
        "problem": None if error is None else problem_body(error, pointer_to("moisture", number)),
    }
