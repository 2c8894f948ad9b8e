"""Health: whether the process lives, and whether it can serve."""

import datetime as dt
import threading
import time
from collections.abc import Callable
from typing import Final

from flask import Response

from api import RELEASE
from api.errors import NotReady, StoreUnavailable
from api.http.responses import Routes, describes, json_answer
from api.schemas.listing import HealthSchema, LiveSchema
from api.store.store import Store

PROVED_AGAIN_AFTER_S: Final = 5.0
"""Anybody may ask whether the service is ready: more than one write in this time would help no one."""


class _WriteProof:
    """Proves that the database takes a write, at most once in some seconds; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._proved_s = -PROVED_AGAIN_AFTER_S

    def renew(self, now: dt.datetime) -> None:
        """Return if the last write was taken. Raises NotReady."""
        with self._lock:
            if time.monotonic() - self._proved_s < PROVED_AGAIN_AFTER_S:
                return
            try:
                self._store.prove_write(now)
            except StoreUnavailable as error:
                raise NotReady("write", error) from error
            self._proved_s = time.monotonic()


def health_routes(store: Store, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the routes; they are answered without the token."""
    proof = _WriteProof(store)
    routes = Routes("health", __name__, url_prefix="/health", description="For whoever watches this.")

    @routes.route("/live")
    @describes({200: LiveSchema}, is_open=True)
    def get_live() -> Response:
        """The process answers."""
        return json_answer({"status": "ok"})

    @routes.route("/ready")
    @describes({200: HealthSchema}, (503,), is_open=True)
    def get_ready() -> Response:
        """The database can be read and written too; otherwise the problem says which of them fails."""
        now = clock()
        try:
            store.ping()
        except StoreUnavailable as error:
            raise NotReady("read", error) from error
        proof.renew(now)
        told = now.astimezone(dt.UTC).isoformat(timespec="seconds")
        return json_answer({"status": "ok", "release": RELEASE, "now": told})

    return routes
