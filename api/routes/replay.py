"""Replays: a past season of a garden, planned as it would have been."""

from flask import Response

from api.http.request_params import json_body, query, query_truth
from api.http.responses import Routes, describes, json_answer
from api.reviews.replays import Replays
from api.routes.plan import EXPLAIN
from api.schemas.replay import ReplayRequestSchema, ReplaySchema, load_replay_request


def replay_routes(replays: Replays) -> Routes:
    """Build the route from what replays."""
    routes = Routes("replays", __name__, url_prefix="/v1", description="What a season would have been.")

    @routes.route("/replay", methods=["POST"])
    @describes({200: ReplaySchema}, (429, 503), parameters=[EXPLAIN], body=ReplayRequestSchema)
    def post_replay() -> Response:
        """A past season, planned evening by evening with only what was known then; nothing is stored.

        Beside it a fixed timer, where one is given, and the least water of who knows everything. How far back
        from can be without weather depends on the garden's source: open-meteo tells 92 days and, where its
        archive is asked, more. One replay is reckoned at a time; another is told 503, and when to ask again.
        """
        explain = query_truth(query("explain"), "explain")
        return json_answer(replays.for_request(load_replay_request(json_body()), explain))

    return routes
