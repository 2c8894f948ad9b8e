"""The guide as pages, and where to go from the root: for people who look at the service in a browser."""

from typing import Final

from flask import Blueprint, Response, redirect, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as AnyResponse

from api import RELEASE
from api.http.problems import EXPLANATIONS, INTERNAL, KINDS, REFUSED_BY_SERVER
from api.http.responses import json_answer, known_answer
from api.pages.guide import guide, guide_html, problem_html
from api.store.rows import strong_etag

HTML: Final = "text/html; charset=utf-8"
NOTHING_ELSE: Final = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'"
"""A page of the guide loads nothing and runs nothing."""
FIRST_PAGE: Final = "first-week"


def docs_routes() -> Blueprint:
    """Build the routes; they tell nothing about any garden, so they are answered without a token."""
    routes = Blueprint("docs", __name__)

    @routes.get("/")
    def get_root() -> AnyResponse:
        """Where to go: a page for a browser, JSON for a program."""
        if request.accept_mimetypes.best_match(["application/json", "text/html"]) == "text/html":
            return redirect(f"{request.root_path}/docs/{FIRST_PAGE}", 302)
        base = request.root_path
        return json_answer(
            {
                "name": "Rootledger",
                "release": RELEASE,
                "guide": f"{base}/docs/{FIRST_PAGE}",
                "contract": f"{base}/v1/openapi.json",
                "gardens": f"{base}/v1/gardens",
            }
        )

    @routes.get("/docs/", strict_slashes=False)
    def get_docs() -> AnyResponse:
        """The first page of the guide."""
        return redirect(f"{request.root_path}/docs/{FIRST_PAGE}", 302)

    @routes.get("/docs/<topic>")
    def get_page(topic: str) -> Response:
        """One page of the guide."""
        if topic not in guide():
            raise NotFound
        return page_answer(guide_html(topic, request.root_path))

    @routes.get("/problems/<slug>")
    def get_problem(slug: str) -> Response:
        """What a kind of problem means: a problem's `type` leads here."""
        kind = next(
            (kind for kind in (*KINDS.values(), INTERNAL, REFUSED_BY_SERVER) if kind.slug == slug), None
        )
        if kind is None:
            raise NotFound
        return page_answer(problem_html(kind.title, kind.status, *EXPLANATIONS[slug], request.root_path))

    return routes


def page_answer(html: str, policy: str = NOTHING_ELSE) -> Response:
    """A page with its ETag, or 304; it may load nothing and run nothing."""
    body = html.encode()
    answer = known_answer(body, strong_etag(body), HTML)
    answer.headers["Content-Security-Policy"] = policy
    return answer
