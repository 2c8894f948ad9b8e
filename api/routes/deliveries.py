"""Deliveries: what really flowed."""

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
from api.http.responses import MUST_BE_NEW, Routes, describes, json_answer, list_answer
from api.ids import ID_PATTERN, REPORT_ID_PATTERN
from api.reports.delivery_reports import Outcome
from api.schemas.base import load, pointer_to
from api.schemas.deliveries import (
    BatchAnswersSchema,
    DeliveryBatchSchema,
    DeliveryListSchema,
    DeliveryReport,
    DeliverySchema,
    NamedReport,
    StoredDeliverySchema,
    UnreadReport,
    load_batch,
)
from api.schemas.fields import day_from
from api.store.rows import DeliveryKey

_SCHEMA: Final = DeliverySchema()
_PLACE: Final = re.compile(rf"([^/]*)/({ID_PATTERN})/({REPORT_ID_PATTERN})")

AFTER: Final = {
    "in": "query",
    "name": "after",
    "schema": {"type": "string"},
    "description": "next of the page before: DATE/ZONE/ID of its last report.",
}


class Deliveries(Protocol):
    """Keeps reports of water."""

    def put_delivery(
        self, garden_id: str, zone_id: str, delivery_id: str, report: DeliveryReport, must_be_new: bool
    ) -> tuple[bool, Mapping[str, Any]]:
        """Keep a report; whether it is new, and how it is kept."""

    def put_deliveries(
        self, garden_id: str, batch: Sequence[NamedReport | UnreadReport]
    ) -> Sequence[Outcome]:
        """Keep many, each as if it came alone."""

    def delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> Mapping[str, Any]:
        """One report."""

    def delete_delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> None:
        """Take a report back."""

    def deliveries(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: DeliveryKey | None,
        limit: int,
    ) -> tuple[Sequence[Mapping[str, Any]], DeliveryKey | None]:
        """Reports of a span of dates, both ends included, and after which to read on."""


def delivery_routes(deliveries: Deliveries) -> Routes:
    """Build the routes from what keeps reports."""
    routes = Routes(
        "deliveries",
        __name__,
        url_prefix="/v1/gardens/<id:garden>/deliveries",
        description="What really flowed.",
    )

    @routes.route("/<id:zone>/<report:delivery>", methods=["PUT"])
    @describes(
        {200: StoredDeliverySchema, 201: StoredDeliverySchema},
        (404, 409, 412, 503),
        parameters=[MUST_BE_NEW],
        body=DeliverySchema,
    )
    def put_delivery(garden: str, zone: str, delivery: str) -> Response:
        """Announce a run, complete it, or report any other water.

        With a run's id, the water counts for that run's plan. An announced run counts in full at once; the
        same id completes it once. Equal content again is 200, other content 409.
        """
        query()
        only_new = must_be_new()
        report = load(_SCHEMA, json_body())
        is_new, body = deliveries.put_delivery(garden, zone, delivery, report, only_new)
        return json_answer(body, 201, {"Location": request.path}) if is_new else json_answer(body)

    @routes.route("/<id:zone>/<report:delivery>")
    @describes({200: StoredDeliverySchema}, (404, 503))
    def get_delivery(garden: str, zone: str, delivery: str) -> Response:
        """One report as it is kept."""
        query()
        return json_answer(deliveries.delivery(garden, zone, delivery))

    @routes.route("/<id:zone>/<report:delivery>", methods=["DELETE"])
    @describes({204: None}, (404, 503))
    def delete_delivery(garden: str, zone: str, delivery: str) -> Response:
        """Take a report back, as though the water had never flowed."""
        query()
        deliveries.delete_delivery(garden, zone, delivery)
        return Response(status=204)

    @routes.route("", methods=["POST"])
    @describes({200: BatchAnswersSchema}, (404, 503), body=DeliveryBatchSchema)
    def post_deliveries(garden: str) -> Response:
        """Reports of a controller that was offline, answered one by one in their order.

        Each is kept as a PUT without precondition would keep it, and none spoils another. A batch that was
        sent may be sent again: what was kept is then known.
        """
        query()
        outcomes = deliveries.put_deliveries(garden, load_batch(json_body()))
        return json_answer(
            {"deliveries": [_outcome(number, outcome) for number, outcome in enumerate(outcomes)]}
        )

    @routes.route("")
    @describes({200: DeliveryListSchema}, (404, 503), parameters=[FROM, TO, AFTER, LIMIT], has_etag=True)
    def list_deliveries(garden: str) -> Response:
        """Reports by the plan's date that they count for, both ends included."""
        given = query("from", "to", "after", "limit")
        first, last = query_dates(given)
        found, further = deliveries.deliveries(garden, first, last, _after(given), query_limit(given))
        following = None if further is None else "/".join(map(str, further))
        return list_answer({"deliveries": found, "next": following})

    return routes


def _after(given: Mapping[str, str]) -> DeliveryKey | None:
    if "after" not in given:
        return None
    place = _PLACE.fullmatch(given["after"])
    try:
        if place is not None:
            return DeliveryKey(day_from(place[1]), place[2], place[3])
    except ValueError:
        pass
    allowed = "next of another page, as 2026-07-15/fescue-lawn/2026-07-15-fescue-lawn-1"
    raise refused_parameter("after", given["after"], allowed)


def _outcome(number: int, outcome: Outcome) -> Mapping[str, Any]:
    within = pointer_to("deliveries", number)
    return {
        "zone": outcome.zone,
        "id": outcome.id,
        "result": outcome.result,
        "delivery": outcome.delivery,
        "problem": None if outcome.error is None else problem_body(outcome.error, within),
    }
