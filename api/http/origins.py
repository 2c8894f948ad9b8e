"""Pages of other origins that may read answers in a browser (CORS, the Fetch standard)."""

from collections.abc import Sequence
from typing import Final

from flask import Flask, Response, request

READING: Final = ("GET", "HEAD")
MAY_BE_SENT: Final = "Authorization, If-None-Match"
MAY_BE_READ: Final = "ETag, Retry-After"
PREFLIGHT_HOLDS_S: Final = 600


def let_origins_read(app: Flask, origins: Sequence[str]) -> None:
    """Let pages of some origins read by GET, and nothing else. To be called before the guard is set.

    A browser asks first where a page sends a token; it sends no token with that question.
    """
    if not origins:
        return

    @app.before_request
    def _may_it_be_asked() -> Response | None:
        if request.method != "OPTIONS" or request.headers.get("Origin") not in origins:
            return None
        if request.headers.get("Access-Control-Request-Method") not in READING:
            return None
        headers = {
            "Access-Control-Allow-Methods": ", ".join(READING),
            "Access-Control-Allow-Headers": MAY_BE_SENT,
            "Access-Control-Max-Age": str(PREFLIGHT_HOLDS_S),
        }
        return Response(status=204, headers=headers)

    @app.after_request
    def _may_be_read(response: Response) -> Response:
        response.vary.add("Origin")
        origin = request.headers.get("Origin")
        if origin in origins and request.method in (*READING, "OPTIONS"):
            response.headers["Access-Control-Allow-Origin"] = origin
            response.headers["Access-Control-Expose-Headers"] = MAY_BE_READ
        return response
