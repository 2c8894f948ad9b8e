"""Own weather: what the owner's gauge or station measured."""

import datetime as dt
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
    query_date,
    query_dates,
    query_limit,
    refused_parameter,
)
from api.http.responses import ONLY_NEW, Routes, describes, json_answer, list_answer
from api.reports.observations import Outcome
from api.schemas.base import load, pointer_to
from api.schemas.batch import Unread, entries_of
from api.schemas.fields import day_from
from api.schemas.observations import (
    DatedObservationSchema,
    DatedReport,
    ObservationAnswersSchema,
    ObservationBatchSchema,
    ObservationListSchema,
    ObservationReport,
    ObservationSchema,
    StoredObservationSchema,
)

_SCHEMA: Final = ObservationSchema()
_DATED: Final = DatedObservationSchema()

AFTER: Final = {
    "in": "query",
    "name": "after",
    "schema": {"type": "string", "format": "date"},
    "description": "List those after this date.",
}


class OwnWeather(Protocol):
    """Keeps observations."""

    def put(
        self, garden_id: str, date: dt.date, report: ObservationReport, must_be_new: bool
    ) -> tuple[bool, Mapping[str, Any]]:
        """Keep one; whether it is new, and how it is kept."""

    def put_all(self, garden_id: str, batch: Sequence[DatedReport | Unread]) -> Sequence[Outcome]:
        """Keep many, each as if it came alone."""

    def observation(self, garden_id: str, date: dt.date) -> Mapping[str, Any]:
        """What is kept of a date."""

    def observations(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: dt.date | None,
        limit: int,
    ) -> tuple[Sequence[Mapping[str, Any]], dt.date | None]:
        """Observations of a span of dates, and after which to read on."""

    def delete(self, garden_id: str, date: dt.date) -> None:
        """Take one back."""


def observation_routes(own: OwnWeather) -> Routes:
    """Build the routes from what keeps observations."""
    routes = Routes(
        "observations",
        __name__,
        url_prefix="/v1/gardens/<id:garden>/observations",
        description="Own weather, by gauge or station.",
    )

    @routes.route("/<day:date>", methods=["PUT"])
    @describes(
        {200: StoredObservationSchema, 201: StoredObservationSchema},
        (404, 412, 503),
        parameters=[ONLY_NEW],
        body=ObservationSchema,
    )
    def put_observation(garden: str, date: str) -> Response:
        """Tell what own instruments measured of a day, in the place of what was told of it before.

        It takes the place of the sources' values, field by field, from that day on in every plan and ledger,
        however late it comes. A gauge read at 8 in the morning tells of the day before.
        """
        query()
        only_new = must_be_new()
        day = _day(date)
        report = load(_SCHEMA, json_body())
        is_new, body = own.put(garden, day, report, only_new)
        return json_answer(body, 201, {"Location": request.path}) if is_new else json_answer(body)

    @routes.route("/<day:date>")
    @describes({200: StoredObservationSchema}, (404, 503))
    def get_observation(garden: str, date: str) -> Response:
        """What is kept of a day."""
        query()
        return json_answer(own.observation(garden, _day(date)))

    @routes.route("/<day:date>", methods=["DELETE"])
    @describes({204: None}, (404, 503))
    def delete_observation(garden: str, date: str) -> Response:
        """Take an observation back, as though nobody had measured."""
        query()
        own.delete(garden, _day(date))
        return Response(status=204)

    @routes.route("", methods=["POST"])
    @describes({200: ObservationAnswersSchema}, (404, 503), body=ObservationBatchSchema)
    def post_observations(garden: str) -> Response:
        """Observations of many days, answered one by one in their order.

        Each is kept as a PUT without precondition would keep it, and none spoils another. A batch that was
        sent may be sent again: what was kept is then known.
        """
        query()
        batch = entries_of(json_body(), "observations", _DATED)
        outcomes = own.put_all(garden, batch)
        return json_answer({"observations": [_told(*numbered) for numbered in enumerate(outcomes)]})

    @routes.route("")
    @describes({200: ObservationListSchema}, (404, 503), parameters=[FROM, TO, AFTER, LIMIT], has_etag=True)
    def list_observations(garden: str) -> Response:
        """Observations by date, both ends included."""
        given = query("from", "to", "after", "limit")
        first, last = query_dates(given)
        found, further = own.observations(garden, first, last, query_date(given, "after"), query_limit(given))
        return list_answer({"observations": found, "next": None if further is None else further.isoformat()})

    return routes


def _day(date: str) -> dt.date:
    try:
        return day_from(date)
    except ValueError as allowed:
        raise refused_parameter("date", date, str(allowed)) from None


def _told(number: int, outcome: Outcome) -> Mapping[str, Any]:
    error = outcome.error
    within = pointer_to("observations", number)
    return {
        "date": None if outcome.date is None else outcome.date.isoformat(),
        "result": outcome.result,
        "observation": outcome.observation,
        "problem": None if error is None else problem_body(error, within),
    }
