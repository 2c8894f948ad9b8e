"""Health: whether the process lives, and whether it can serve."""

import datetime as dt
from collections.abc import Callable

from flask import Response

from api import RELEASE
from api.http.responses import Routes, describes, json_answer
from api.schemas.listing import HealthSchema, LiveSchema
from api.store.store import Store


def health_routes(store: Store, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the routes; they are answered without the token."""
    routes = Routes("health", __name__, url_prefix="/health", description="For whoever watches this.")

    @routes.route("/live")
    @describes({200: LiveSchema}, is_open=True)
    def get_live() -> Response:
        """The process answers."""
        return json_answer({"status": "ok"})

    @routes.route("/ready")
    @describes({200: HealthSchema}, (503,), is_open=True)
    def get_ready() -> Response:
        """The database answers too."""
        store.ping()
        now = clock().astimezone(dt.UTC).isoformat(timespec="seconds")
        return json_answer({"status": "ok", "release": RELEASE, "now": now})

    return routes
