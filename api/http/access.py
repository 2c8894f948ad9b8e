"""Who may do what: tokens with scopes, and no answer under a foreign name."""

import datetime as dt
import hmac
from collections.abc import Callable, Sequence
from typing import Any, Final

from flask import Flask, request
from werkzeug.exceptions import MethodNotAllowed, SecurityError

from api.errors import MissingScope, Unauthorised
from api.settings import Settings, is_loopback
from api.store.tokens import Scope, StoredToken, Tokens

OPEN: Final = frozenset(
    {
        "health.get_live",
        "health.get_ready",
        "contract.get_openapi",
        "docs.get_root",
        "docs.get_docs",
        "docs.get_page",
    }
)
"""Endpoints that are answered without a token."""

READING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
REPORTING: Final = frozenset(
    {"deliveries", "observations", "moisture", "readings", "valves", "turns", "reports"}
)
"""Parts of an address below a garden, whose writing needs no more than the scope `report`."""
THINKING: Final = frozenset({"/v1/plan", "/v1/check", "/v1/replay"})
"""What is posted there is answered, and nothing of it is kept."""
FORWARDED: Final = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST", "HTTP_X_REAL_IP")


def guard(
    app: Flask,
    settings: Settings,
    tokens: Tokens,
    clock: Callable[[], dt.datetime],
    *,
    needs_token: bool = False,
) -> None:
    """Refuse foreign Host headers, and requests whose token does not allow them.

    A page on the web can make a browser ask this server under the page's own name (DNS
    rebinding), so only names that are known to be ours are answered. Flask's TRUSTED_HOSTS would
    do it, but never recognises an IPv6 address.
    """
    answered = settings.answered_hosts
    own = None if settings.token is None else settings.token.encode()
    is_private = own is None and not needs_token and is_loopback(settings.host)

    @app.before_request
    def _is_asked_under_a_known_name() -> None:
        host = request.environ.get("HTTP_HOST")
        if host is not None and not is_answered(host, answered):
            raise SecurityError

    @app.before_request
    def _may_do_it() -> None:
        # 405 tells no more than the contract does, and open addresses need it without a token.
        if request.endpoint in OPEN or isinstance(request.routing_exception, MethodNotAllowed):
            return
        environ = request.environ
        if is_private and _is_local(environ) and not tokens.there_is_one():
            return
        scheme, _, token = environ.get("HTTP_AUTHORIZATION", "").partition(" ")
        if scheme.lower() != "bearer":
            raise Unauthorised(HOW)
        token = token.strip()
        if own is not None and hmac.compare_digest(token.encode(), own):
            return
        known = tokens.of(token, clock().astimezone(dt.UTC).date())
        if known is None:
            raise Unauthorised(f"The token in Authorization is not known here. {HOW}")
        _hold_to_scope(known)


HOW: Final = (
    "Send Authorization: Bearer, a space and a token. Whoever runs the service makes one with "
    "rootledger token create."
)


def _hold_to_scope(token: StoredToken) -> None:
    """Raise MissingScope where the token does not allow the request."""
    needed = scope_of(request.method, request.path)
    if not token.includes(needed):
        raise MissingScope(token.name, token.scope, needed)
    is_of_gardens = request.path.startswith("/v1/gardens")
    if token.garden_id is not None and is_of_gardens and _garden_asked_about() != token.garden_id:
        raise MissingScope(token.name, token.scope, needed, token.garden_id)


def _garden_asked_about() -> str | None:
    """The id in the address; None where it names no garden, as that of the list of all."""
    return (request.view_args or {}).get("garden")


def scope_of(method: str, path: str) -> Scope:
    """What a request needs: to read, to report what happened, or to change what is kept."""
    if method in READING or path in THINKING:
        return "read"
    return "report" if not REPORTING.isdisjoint(path.split("/")[4:]) else "manage"


def _is_local(environ: dict[str, Any]) -> bool:
    """Whether a request comes from this machine itself; behind a proxy, everybody seems to."""
    address = environ.get("REMOTE_ADDR") or ""
    return (address == "127.0.0.1" or is_loopback(address)) and not any(name in environ for name in FORWARDED)


def is_answered(host: str, answered: Sequence[str]) -> bool:
    """Whether a Host header, with or without port, is one of some names; .example covers subdomains."""
    closing = host.find("]")
    name = host[: closing + 1] if host.startswith("[") else host.partition(":")[0]
    name = name.lower()
    return name in answered or any(known[0] == "." and name.endswith(known) for known in answered)
