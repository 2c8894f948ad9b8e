"""Valves: their batteries, and whether they are shut."""

from collections.abc import Mapping, Sequence
from typing import Any, Final, Protocol

from flask import Response, request

from api.http.request_params import json_body, query
from api.http.responses import Routes, describes, json_answer, list_answer
from api.schemas.base import load
from api.schemas.valves import StoredValveSchema, ValveListSchema, ValveReport, ValveStateSchema

_SCHEMA: Final = ValveStateSchema()


class ValveStates(Protocol):
    """Keeps what is told of valves."""

    def put(self, garden_id: str, zone_id: str, report: ValveReport) -> tuple[bool, Mapping[str, Any]]:
        """Keep how a valve is; whether it is the first that is told of it, and what stands."""

    def valve(self, garden_id: str, zone_id: str) -> Mapping[str, Any]:
        """How a zone's valve was when it was last told of."""

    def valves(self, garden_id: str) -> Sequence[Mapping[str, Any]]:
        """The same of all."""


def valve_routes(valves: ValveStates) -> Routes:
    """Build the routes from what keeps the state of valves."""
    routes = Routes(
        "valves", __name__, url_prefix="/v1/gardens/<id:garden>/valves", description="The state of valves."
    )

    @routes.route("/<id:zone>", methods=["PUT"])
    @describes({200: StoredValveSchema, 201: StoredValveSchema}, (404, 503), body=ValveStateSchema)
    def put_valve(garden: str, zone: str) -> Response:
        """Tell how a zone's valve is, in the place of what was told before.

        Where something newer is known, that stands, and is answered.
        """
        query()
        is_new, body = valves.put(garden, zone, load(_SCHEMA, json_body()))
        return json_answer(body, 201, {"Location": request.path}) if is_new else json_answer(body)

    @routes.route("/<id:zone>")
    @describes({200: StoredValveSchema}, (404, 503))
    def get_valve(garden: str, zone: str) -> Response:
        """How a zone's valve was when it was last told of."""
        query()
        return json_answer(valves.valve(garden, zone))

    @routes.route("")
    @describes({200: ValveListSchema}, (404, 503), has_etag=True)
    def list_valves(garden: str) -> Response:
        """The valves of which anything was told, by zone."""
        query()
        return list_answer({"valves": valves.valves(garden)})

    return routes
