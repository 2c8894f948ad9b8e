"""Turns: the one question that opens a valve."""

import re
from typing import Final, Protocol

from flask import Response, request

from api.errors import InvalidRequest
from api.http.request_params import json_body, query
from api.http.responses import JSON, Routes, describes
from api.plans.turns import TurnAnswer
from api.schemas.fields import shown
from api.schemas.turns import AskForATurnSchema, TurnSchema, load_question
from scheduling.errors import Problem

IDEMPOTENCY_KEY: Final = {
    "in": "header",
    "name": "Idempotency-Key",
    "schema": {"type": "string", "maxLength": 130},
    "description": (
        "Any word of your own, quoted or bare, a new one for each question. A question whose answer was lost "
        "may be asked again with the same key: a turn that was granted by it is granted again, until open_by "
        "or its report."
    ),
}
_KEY: Final = re.compile(r"[!-~]{1,128}")


class GivesTurns(Protocol):
    """Gives turns."""

    def ask(self, garden_id: str, zones: tuple[str, ...] | None, key: str | None, at: str) -> TurnAnswer:
        """Give the turn that is due, or say why there is none."""


def turn_routes(turns: GivesTurns) -> Routes:
    """Build the route from what gives turns."""
    routes = Routes("turns", __name__, url_prefix="/v1", description="Leave to open a valve.")

    @routes.route("/gardens/<id:garden>/turns", methods=["POST"])
    @describes(
        {200: TurnSchema, 201: TurnSchema},
        (404, 503),
        parameters=[IDEMPOTENCY_KEY],
        body=AskForATurnSchema,
    )
    def post_turn(garden: str) -> Response:
        """Ask for a turn, every few minutes and again after every report.

        201: open the valve that the answer names now, with its limits; the water counts as delivered in full
        until the delivery is reported. 200: there is no turn, and every valve stays shut. Moments are those
        of the server's clock.
        """
        query()
        key = _key()
        zones = load_question(json_body())
        answer = turns.ask(garden, zones, key, request.path.removesuffix("/turns") + "/deliveries")
        if answer.delivery is None:
            return Response(answer.body, content_type=JSON)
        return Response(answer.body, 201, {"Location": answer.delivery}, content_type=JSON)

    return routes


def _key() -> str | None:
    """The Idempotency-Key of the request, without quotes; None where there is none."""
    given = request.headers.get("Idempotency-Key")
    if given is None:
        return None
    key = given.strip()
    if len(key) > 2 and key[0] == key[-1] == '"':
        key = key[1:-1]
    if not _KEY.fullmatch(key) or '"' in key:
        sentence = f"Idempotency-Key is {shown(given)}; it must be 1 to 128 letters, digits or signs."
        raise InvalidRequest(Problem("/Idempotency-Key", sentence))
    return key
