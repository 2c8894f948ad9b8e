"""What wants a person's eye."""

import datetime as dt
from collections.abc import Callable

from flask import Response

from api.http.request_params import query
from api.http.responses import Routes, describes, known_answer
from api.plans.answer_cache import ALERTS, Answers
from api.reviews.alerts import AlertsOfGardens
from api.schemas.alerts import AlertsSchema


def alert_routes(alerts: AlertsOfGardens, answers: Answers, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the route from what knows alerts, what keeps their bytes, and a clock."""
    routes = Routes("alerts", __name__, url_prefix="/v1", description="What wants a person's eye.")

    @routes.route("/gardens/<id:garden>/alerts")
    @describes({200: AlertsSchema}, (404, 503), has_etag=True)
    def get_alerts(garden: str) -> Response:
        """What wants a person's eye in a garden, since when, and what to do about it; made to be polled.

        Nothing is kept of an alert: it is there while its cause is. Without any weather, those that need none
        are told.
        """
        query()
        answer = answers.read(garden, ALERTS, clock()) or alerts.alerts(garden)
        return known_answer(answer.body, answer.etag)

    return routes
