"""What a garden used."""

import datetime as dt
from collections.abc import Callable
from typing import Final

from flask import Response

from api.http.request_params import FROM, TO, query, query_dates, query_word
from api.http.responses import Routes, describes, known_answer
from api.plans.answer_cache import Answers, usage_question
from api.reviews.replay_request import TIMER_ALLOWED
from api.reviews.usage import Usages
from api.schemas.usage import UsageSchema
from scheduling.review.usage import BY

PERIODS: Final = {
    "in": "query",
    "name": "by",
    "schema": {"type": "string", "enum": list(BY), "default": "month"},
    "description": "How long a period is. Weeks begin on Monday; a season is a calendar year, in the south "
    "from July to June, so that no summer is cut.",
}
TIMER: Final = {
    "in": "query",
    "name": "timer",
    "schema": {"type": "string"},
    "description": f"A fixed timer to compare with: {TIMER_ALLOWED}; several with commas. It waters on the "
    "first of the dates.",
}


def usage_routes(usages: Usages, answers: Answers, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the route from what knows usage, what keeps its bytes, and a clock."""
    routes = Routes("usage", __name__, url_prefix="/v1", description="Where the water went.")

    @routes.route("/gardens/<id:garden>/usage")
    @describes({200: UsageSchema}, (404, 503), parameters=[FROM, TO, PERIODS, TIMER], has_etag=True)
    def get_usage(garden: str) -> Response:
        """Litres and money, what plants needed, what rain gave and what drained, against allowance and timer.

        By the dates of plans, from where the ledgers begin to today, whose weather is partly a forecast. What
        nobody measured is told apart, and never taken for nothing.
        """
        values = query("from", "to", "by", "timer")
        first, last = query_dates(values)
        by = next(one for one in BY if one == query_word(values, "by", BY, "month"))
        timer = values.get("timer")
        kept = answers.read(garden, usage_question(first, last, by, timer), clock())
        answer = kept or usages.usage(garden, first, last, by, timer)
        return known_answer(answer.body, answer.etag)

    return routes
