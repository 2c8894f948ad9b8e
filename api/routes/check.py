"""Checks: what is odd about a garden, before it costs water."""

import datetime as dt
from collections.abc import Callable
from zoneinfo import ZoneInfo

from flask import Response

from api.http.request_params import json_body, query
from api.http.responses import Routes, describes, json_answer
from api.reviews.checks import findings_of
from api.schemas.check import CheckSchema, dump_check
from api.schemas.garden import GardenSchema, load_garden


def check_routes(clock: Callable[[], dt.datetime]) -> Routes:
    """Build the route from a clock, which says which year's sun counts."""
    routes = Routes("checks", __name__, url_prefix="/v1", description="What is odd about a garden.")

    @routes.route("/check", methods=["POST"])
    @describes({200: CheckSchema}, body=GardenSchema)
    def post_check() -> Response:
        """What is odd about a garden: it can be, and seldom is meant; nothing is stored.

        The body is the garden document, as PUT takes it. What cannot be is 422, as there.
        """
        query()
        garden = load_garden(json_body())
        now = clock()
        today = now.astimezone(ZoneInfo(garden.timezone)).date()
        return json_answer(dump_check(garden, findings_of(garden, now), today))

    return routes
