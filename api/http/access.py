"""Who may do what: one token for everything, and no answer under a foreign name."""

import hmac
from collections.abc import Sequence
from typing import Final

from flask import Flask, request
from werkzeug.exceptions import SecurityError

from api.errors import Unauthorised
from api.settings import Settings

OPEN: Final = frozenset(
    {
        "health.get_live",
        "health.get_ready",
        "contract.get_openapi",
        "docs.get_root",
        "docs.get_docs",
        "docs.get_page",
        "docs.get_problem",
    }
)
"""Endpoints that are answered without the token."""


def guard(app: Flask, settings: Settings) -> None:
    """Refuse foreign Host headers, and requests without the token where one is set.

    A page on the web can make a browser ask this server under the page's own name (DNS
    rebinding), so only names that are known to be ours are answered. Flask's TRUSTED_HOSTS would
    do it, but never recognises an IPv6 address.
    """
    answered = settings.answered_hosts

    @app.before_request
    def _is_asked_under_a_known_name() -> None:
        host = request.environ.get("HTTP_HOST")
        if host is not None and not is_answered(host, answered):
            raise SecurityError

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


def is_answered(host: str, answered: Sequence[str]) -> bool:
    """Whether a Host header, with or without port, is one of some names; .example covers subdomains."""
    closing = host.find("]")
    name = host[: closing + 1] if host.startswith("[") else host.partition(":")[0]
    name = name.lower()
    return name in answered or any(known[0] == "." and name.endswith(known) for known in answered)
