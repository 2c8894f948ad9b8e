"""Who may do what: one token for everything, and no answer under a foreign name."""

import hmac
from typing import Final

from flask import Flask, request

from api.errors import Unauthorised
from api.settings import Settings

OPEN: Final = frozenset({"health.get_live", "health.get_ready", "contract.get_openapi"})
"""Endpoints that are answered without the token."""


def guard(app: Flask, settings: Settings) -> None:
    """Refuse foreign Host headers, and requests without the token where one is set.

    A page on the web can make a browser ask this server under the page's own name (DNS
    rebinding), so only names that are known to be ours are answered.
    """
    app.config["TRUSTED_HOSTS"] = list(settings.answered_hosts)
    if settings.token is None:
        return
    token = settings.token.encode()

    @app.before_request
    def _bears_the_token() -> None:
        if request.endpoint in OPEN:
            return
        scheme, _, given = request.environ.get("HTTP_AUTHORIZATION", "").partition(" ")
        if scheme.lower() != "bearer":
            raise Unauthorised("Authorization is not given; it must be Bearer and the token.")
        if not hmac.compare_digest(given.strip().encode(), token):
            raise Unauthorised("Authorization does not bear the token of this server.")
