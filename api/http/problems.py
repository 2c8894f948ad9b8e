"""The one table of what each error is over HTTP.

Every error leaves as `application/problem+json` (RFC 9457), in words that tell a person what to
change. No error outside this file knows a status.
"""

import logging
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import orjson
from flask import Flask, Response, request
from werkzeug import exceptions as http

from api.errors import (
    AlreadyBegun,
    DateBeyondPlans,
    DeliveryConflict,
    DeliveryNotFound,
    GardenGone,
    GardenNotFound,
    InvalidRequest,
    NoPlanWasMade,
    NotJson,
    ObservationNotFound,
    PreconditionMissing,
    PreconditionWrong,
    ReadingNotFound,
    ReplayUnderWay,
    RunNotOpen,
    StoreUnavailable,
    TooManyPlaces,
    Unauthorised,
    UnknownFormat,
    ValveNotFound,
    WrongContentType,
    ZoneNotFound,
)
from api.ids import ID_ALLOWED
from api.weather.errors import WeatherUnavailable
from scheduling.errors import (
    InvalidGarden,
    OpeningAfterPlan,
    Problem,
    UnknownName,
    WeatherGap,
    WeatherIncomplete,
)

log = logging.getLogger(__name__)


PROBLEM_JSON: Final = "application/problem+json"


@dataclass(frozen=True, slots=True)
class Kind:
    """What an error is over HTTP."""

    slug: str
    title: str
    status: int


KINDS: Final[Mapping[type[Exception], Kind]] = {
    NotJson: Kind("not-json", "The body is not JSON", 400),
    http.SecurityError: Kind("unknown-host", "This name is not answered here", 400),
    http.BadRequest: Kind("bad-request", "The request cannot be read", 400),
    Unauthorised: Kind("unauthorised", "A token is needed", 401),
    GardenNotFound: Kind("garden-not-found", "There is no such garden", 404),
    GardenGone: Kind("garden-not-found", "There is no such garden", 404),
    ZoneNotFound: Kind("zone-not-found", "There is no such zone", 404),
    DeliveryNotFound: Kind("delivery-not-found", "There is no such delivery", 404),
    ObservationNotFound: Kind("observation-not-found", "There is no such observation", 404),
    ReadingNotFound: Kind("reading-not-found", "There is no such reading", 404),
    ValveNotFound: Kind("valve-not-found", "Nothing is known of this valve", 404),
    NoPlanWasMade: Kind("no-plan-was-made", "No plan was made", 404),
    http.NotFound: Kind("not-found", "There is nothing here", 404),
    http.MethodNotAllowed: Kind("method-not-allowed", "This cannot be done here", 405),
    DeliveryConflict: Kind("delivery-conflict", "The delivery is kept with other content", 409),
    RunNotOpen: Kind("run-not-open", "The run may not begin", 409),
    AlreadyBegun: Kind("already-begun", "The run has already begun", 412),
    PreconditionWrong: Kind("precondition-failed", "It has been changed since", 412),
    http.RequestEntityTooLarge: Kind("too-large", "The body is too large", 413),
    WrongContentType: Kind("unsupported-media-type", "The content type is not taken", 415),
    http.UnsupportedMediaType: Kind("unsupported-media-type", "The content type is not taken", 415),
    InvalidRequest: Kind("invalid-request", "The request cannot be", 422),
    InvalidGarden: Kind("invalid-garden", "The garden cannot be", 422),
    UnknownName: Kind("unknown-name", "The catalogue has no such name", 422),
    WeatherGap: Kind("weather-gap", "Days of weather are missing", 422),
    WeatherIncomplete: Kind("weather-incomplete", "A day of weather lacks what it needs", 422),
    OpeningAfterPlan: Kind("carry-over-after-plan", "The carry-over is later than the plan", 422),
    DateBeyondPlans: Kind("date-beyond-plans", "The date is too far ahead", 422),
    PreconditionMissing: Kind("precondition-required", "If-Match is missing", 428),
    TooManyPlaces: Kind("too-many-places", "Too many places", 429),
    WeatherUnavailable: Kind("no-forecast", "There is no forecast to plan from", 503),
    StoreUnavailable: Kind("no-storage", "The database does not answer", 503),
    UnknownFormat: Kind("unknown-format", "What is stored cannot be read", 503),
    ReplayUnderWay: Kind("replay-under-way", "Another replay is under way", 503),
}
"""The one table: error -> status."""


OF_A_SOURCE: Final[Mapping[type[Exception], Kind]] = {
    WeatherGap: KINDS[WeatherUnavailable],
    WeatherIncomplete: KINDS[WeatherUnavailable],
}
"""For a request that brings no weather of its own: then it is the source that lacks it."""


INTERNAL: Final = Kind("internal-error", "Something went wrong here", 500)


RETRY_AFTER_S: Final = 60
"""When to ask again where the error does not know better."""


def kind_of(error: Exception) -> Kind:
    """What an error is over HTTP: by its class, or the nearest class above it."""
    tables = (OF_A_SOURCE, KINDS) if request.method in ("GET", "HEAD") else (KINDS,)
    for above in type(error).__mro__:
        for table in tables:
            if above in table:
                return table[above]
    if isinstance(error, http.HTTPException) and error.code is not None and 400 <= error.code < 500:
        return Kind("bad-request", error.name, error.code)
    return INTERNAL


def problem_response(error: Exception) -> Response:
    """Write an error as its problem."""
    kind = kind_of(error)
    if kind is INTERNAL:
        return _internal(error)
    if isinstance(error, UnknownFormat):
        log.error("%s", error)
    response = Response(orjson.dumps(problem_body(error)), kind.status, content_type=PROBLEM_JSON)
    if kind.status == 401:
        response.headers["WWW-Authenticate"] = 'Bearer realm="rootledger"'
    if kind.status in (429, 503):
        response.headers["Retry-After"] = str(max(1, int(getattr(error, "retry_after_s", RETRY_AFTER_S))))
    if isinstance(error, http.MethodNotAllowed) and error.valid_methods:
        response.headers["Allow"] = ", ".join(sorted(error.valid_methods))
    return response


def problem_body(error: Exception, within: str = "") -> dict[str, Any]:
    """An error about a request, as its problem is written.

    Parameters
    ----------
    within
        Pointer of the part that the error is about, where a request has several that may fail apart.
    """
    kind = kind_of(error)
    body: dict[str, Any] = {
        "type": f"/problems/{kind.slug}",
        "title": kind.title,
        "status": kind.status,
        "detail": _detail(error),
    }
    problems: Sequence[Problem] = getattr(error, "problems", ())
    if problems:
        body["detail"] = (
            problems[0].detail if len(problems) == 1 else f"{len(problems)} things are wrong; see errors."
        )
        body["errors"] = [
            {"pointer": f"{within}{problem.pointer}", "detail": problem.detail} for problem in problems
        ]
    return body


def register_error_handlers(app: Flask) -> None:
    """Make every error of an application leave as its problem."""
    app.register_error_handler(http.HTTPException, problem_response)
    app.register_error_handler(Exception, problem_response)


def _detail(error: Exception) -> str:
    return "".join(character if character.isprintable() else "·" for character in _told(error))


def _told(error: Exception) -> str:
    match error:
        case http.NotFound():
            return f"Nothing is at {request.path[:200]}. Ids are {ID_ALLOWED}."
        case http.MethodNotAllowed():
            return f"{request.method[:20]} cannot be done at {request.path[:200]}."
        case http.RequestEntityTooLarge():
            return f"The body must be at most {request.max_content_length or 0} bytes."
        case http.SecurityError():
            host = request.environ.get("HTTP_HOST", "")[:200]
            return f"Host is {host!r}, which is not answered; ROOTLEDGER_TRUSTED_HOSTS can name it."
        case http.HTTPException():
            return error.description or error.name
    return str(error)


def _internal(error: Exception) -> Response:
    incident = secrets.token_hex(8)
    log.error("incident %s: %s %r", incident, request.method, request.path, exc_info=error)
    body = {
        "type": f"/problems/{INTERNAL.slug}",
        "title": INTERNAL.title,
        "status": INTERNAL.status,
        "detail": f"It is not your request. The log has it as incident {incident}.",
    }
    return Response(orjson.dumps(body), INTERNAL.status, content_type=PROBLEM_JSON)
