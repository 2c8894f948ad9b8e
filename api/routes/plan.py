"""Plans: the polled ones of stored gardens, and those asked for with a garden in the request.

The two GET routes are made to be polled: one statement, bytes out. Whatever is added to them is
paid by every controller every few minutes, so they parse their one query parameter by hand.
"""

import datetime as dt
from collections.abc import Callable
from typing import Final

from flask import Response, request

from api.http.request_params import json_body, query, query_truth, refused_parameter
from api.http.responses import Routes, describes, json_answer, known_answer
from api.plans.answer_cache import NOW, Answers, plan_question
from api.plans.plans import PlanLife
from api.reviews.garden_today import GardensToday
from api.schemas.fields import day_from
from api.schemas.flat_zone import FlatZoneSchema
from api.schemas.garden_now import GardenNowSchema
from api.schemas.plan import PlanSchema
from api.schemas.plan_request import PlanRequestSchema, load_plan_request

WORDS_FOR_A_DATE: Final = ("next", "today", "tomorrow")

DATE: Final = {
    "in": "query",
    "name": "date",
    "schema": {
        "type": "string",
        "default": "next",
        "anyOf": [{"enum": list(WORDS_FOR_A_DATE)}, {"format": "date"}],
    },
    "description": (
        "next: the plan whose hours are open, else the next to open. "
        "Or today, tomorrow, or a date up to tomorrow."
    ),
}
EXPLAIN: Final = {
    "in": "query",
    "name": "explain",
    "schema": {"type": "boolean", "default": False},
    "description": "true adds each zone's ledger.",
}


def plan_routes(
    plans: PlanLife, today: GardensToday, answers: Answers, clock: Callable[[], dt.datetime]
) -> Routes:
    """Build the routes from what makes plans, what keeps their bytes, and a clock."""
    routes = Routes("plans", __name__, url_prefix="/v1", description="Tomorrow's litres, and why.")

    @routes.route("/gardens/<id:garden>/plan")
    @describes({200: PlanSchema}, (404, 503), parameters=[DATE], has_etag=True)
    def get_plan(garden: str) -> Response:
        """What each zone of a garden gets; made to be polled.

        A draft may still change, and no water flows by it. The first reading after final_at makes the plan
        final.
        """
        which = _which()
        answer = answers.read(garden, plan_question(which), clock()) or plans.plan(garden, which)
        return known_answer(answer.body, answer.etag)

    @routes.route("/gardens/<id:garden>/plan/<id:zone>")
    @describes({200: FlatZoneSchema}, (404, 503), parameters=[DATE], has_etag=True)
    def get_zone_plan(garden: str, zone: str) -> Response:
        """One zone of that plan, flat, for a controller that reads one value at a time."""
        which = _which()
        kept = answers.read(garden, plan_question(which, zone), clock())
        answer = kept or plans.zone_plan(garden, zone, which)
        return known_answer(answer.body, answer.etag)

    @routes.route("/gardens/<id:garden>/now")
    @describes({200: GardenNowSchema}, (404, 503), has_etag=True)
    def get_now(garden: str) -> Response:
        """A garden now in one answer: next plan, zones, litres, weather and alerts; made to be polled."""
        query()
        answer = answers.read(garden, NOW, clock()) or today.now(garden)
        return known_answer(answer.body, answer.etag)

    @routes.route("/plan", methods=["POST"])
    @describes({200: PlanSchema}, (429, 503), parameters=[EXPLAIN], body=PlanRequestSchema)
    def post_plan() -> Response:
        """A plan for the garden in the request; nothing is stored but the forecast.

        Send carry_over of the answer back with the next request, with every delivery since: that is how one
        evening's plan knows of the last one's water.
        """
        explain = query_truth(query("explain"), "explain")
        return json_answer(plans.for_request(load_plan_request(json_body()), explain))

    return routes


def _which() -> str:
    """The date that is asked for: a word, or YYYY-MM-DD."""
    if not request.query_string:
        return "next"
    given = query("date").get("date", "next")
    if given not in WORDS_FOR_A_DATE:
        try:
            day_from(given)
        except ValueError as allowed:
            raise refused_parameter("date", given, f'"next", "today", "tomorrow" or {allowed}') from None
    return given
