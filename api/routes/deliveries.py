"""Deliveries: what really flowed."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Final, Protocol

from flask import Response, request

from api.routes.answering import MUST_BE_NEW, Routes, describes, json_answer
from api.routes.reading import FROM, TO, json_body, must_be_new, query, query_dates
from api.schemas.base import load
from api.schemas.deliveries import DeliveryListSchema, DeliveryReport, DeliverySchema, StoredDeliverySchema

_SCHEMA: Final = DeliverySchema()


class Deliveries(Protocol):
    """Keeps reports of water."""

    def put_delivery(
        self, garden_id: str, zone_id: str, delivery_id: str, report: DeliveryReport, must_be_new: bool
    ) -> tuple[bool, Mapping[str, Any]]:
        """Keep a report; whether it is new, and how it is kept."""

    def delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> Mapping[str, Any]:
        """One report."""

    def delete_delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> None:
        """Take a report back."""

    def deliveries(
        self, garden_id: str, first: dt.date | None, last: dt.date | None
    ) -> Sequence[Mapping[str, Any]]:
        """Reports of a span of dates, both ends included."""


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

    @routes.route("")
    @describes({200: DeliveryListSchema}, (404, 503), parameters=[FROM, TO])
    def list_deliveries(garden: str) -> Response:
        """Reports by the plan's date that they count for, both ends included."""
        first, last = query_dates(query("from", "to"))
        return json_answer({"deliveries": deliveries.deliveries(garden, first, last)})

    return routes
