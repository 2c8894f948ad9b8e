"""Pictures, a page and a calendar of a garden, for people and for the programs that show them."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from flask import Response

from api.http.problems import kind_of, problem_response
from api.http.request_params import query
from api.http.responses import Routes, describes, known_answer
from api.pages.garden_page import TroublePage, trouble_page, trouble_picture
from api.plans.answer_cache import CALENDAR, CHART, PAGE, Answer, Answers, chart_question
from api.reviews.garden_pages import PagesOfGardens
from api.weather.errors import WeatherUnavailable

SVG: Final = "image/svg+xml"
HTML: Final = "text/html"
ICS: Final = "text/calendar"
WITH_CHARSET: Final = "; charset=utf-8"


def _text(description: str) -> Mapping[str, Any]:
    return {"schema": {"type": "string", "description": description}}


def page_routes(
    pages: PagesOfGardens, answers: Answers, clock: Callable[[], dt.datetime], origins: Sequence[str]
) -> Routes:
    """Build the routes from what draws pages, what keeps their bytes, and a clock.

    Parameters
    ----------
    origins
        Pages of these origins may embed ours.
    """
    routes = Routes("pages", __name__, url_prefix="/v1", description="To look at, and to embed.")
    policy = content_policy(origins)

    def answered(
        garden: str,
        what: str,
        make: Callable[[], Answer],
        content_type: str,
        drawn: Callable[[TroublePage], str],
    ) -> Response:
        query()
        try:
            answer = answers.read(garden, what, clock()) or make()
        except WeatherUnavailable as error:
            response = in_place_of(error, content_type, drawn)
        else:
            response = known_answer(answer.body, answer.etag, content_type)
        response.headers["Content-Security-Policy"] = policy
        return response

    @routes.route("/gardens/<id:garden>/chart.svg")
    @describes({200: None}, (404, 503), has_etag=True, other_types={SVG: _text("The picture.")})
    def get_chart(garden: str) -> Response:
        """A picture of what the roots lack in every zone, the last 30 days and those to come.

        Without weather the picture says so, with the status of the problem.
        """
        return answered(garden, CHART, lambda: pages.chart(garden), SVG, trouble_picture)

    @routes.route("/gardens/<id:garden>/chart/<id:zone>.svg")
    @describes({200: None}, (404, 503), has_etag=True, other_types={SVG: _text("The picture.")})
    def get_zone_chart(garden: str, zone: str) -> Response:
        """A picture of one zone: what its roots lack, rain, watering, and the days on which it waited.

        Without weather the picture says so, with the status of the problem.
        """
        make = lambda: pages.zone_chart(garden, zone)  # noqa: E731
        return answered(garden, chart_question(zone), make, SVG, trouble_picture)

    @routes.route("/gardens/<id:garden>/plan.html")
    @describes({200: None}, (404, 503), has_etag=True, other_types={HTML: _text("The page.")})
    def get_page(garden: str) -> Response:
        """The coming night as a page to look at or to embed; it needs no script and no other file.

        Without weather the page says so, with the status of the problem.
        """
        return answered(garden, PAGE, lambda: pages.page(garden), f"{HTML}{WITH_CHARSET}", trouble_page)

    @routes.route("/gardens/<id:garden>/plan.ics")
    @describes({200: None}, (404, 503), has_etag=True, other_types={ICS: _text("RFC 5545.")})
    def get_calendar(garden: str) -> Response:
        """The runs to come as a calendar that other programs can subscribe to."""
        query()
        answer = answers.read(garden, CALENDAR, clock()) or pages.calendar(garden)
        return known_answer(answer.body, answer.etag, f"{ICS}{WITH_CHARSET}")

    return routes


def content_policy(origins: Sequence[str]) -> str:
    """What a page may load, which is nothing, and who may embed it."""
    return "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors " + " ".join(["'self'", *origins])


def in_place_of(error: Exception, content_type: str, drawn: Callable[[TroublePage], str]) -> Response:
    """A problem as something to look at, with its status, so that an embedded picture is never broken."""
    response = problem_response(error)
    response.set_data(drawn(TroublePage(kind_of(error).title, str(error))).encode())
    response.content_type = content_type
    return response
