"""The one table of what each error is over HTTP.

Every error leaves as `application/problem+json` (RFC 9457), in words that tell a person what to
change. No error outside this file knows a status.
"""

import logging
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import orjson
from flask import Flask, Response, request
from werkzeug import exceptions as http

from api.errors import (
    OUTAGES,
    AlreadyBegun,
    DateBeyondPlans,
    DeliveryConflict,
    DeliveryNotFound,
    GardenGone,
    GardenNotFound,
    InvalidRequest,
    KeyUsedOtherwise,
    MissingScope,
    NoPlanWasMade,
    NotJson,
    NotReady,
    ObservationNotFound,
    PreconditionMissing,
    PreconditionWrong,
    ReadingNotFound,
    ReplayUnderWay,
    RunNotOpen,
    StoredUnreadable,
    StoreUnavailable,
    TooManyPlaces,
    TurnIsOpen,
    Unauthorised,
    UnknownFormat,
    ValveNotFound,
    WrongContentType,
    ZoneNotFound,
)
from api.ids import ID_ALLOWED
from api.store.outages import outage_log
from api.weather.errors import SourceIncomplete, WeatherUnavailable
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
    MissingScope: Kind("missing-scope", "The token does not allow this", 403),
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
    TurnIsOpen: Kind("turn-is-open", "The turn is still open", 409),
    RunNotOpen: Kind("run-not-open", "The run may not begin", 409),
    AlreadyBegun: Kind("already-begun", "The run has already begun", 412),
    PreconditionWrong: Kind("precondition-failed", "It has been changed since", 412),
    http.RequestEntityTooLarge: Kind("too-large", "The body is too large", 413),
    WrongContentType: Kind("unsupported-media-type", "The content type is not taken", 415),
    http.UnsupportedMediaType: Kind("unsupported-media-type", "The content type is not taken", 415),
    InvalidRequest: Kind("invalid-request", "The request is not valid", 422),
    KeyUsedOtherwise: Kind("key-used-otherwise", "The key was used with another body", 422),
    InvalidGarden: Kind("invalid-garden", "The garden is not valid", 422),
    UnknownName: Kind("unknown-name", "The catalogue has no such name", 422),
    WeatherGap: Kind("weather-gap", "Days of weather are missing", 422),
    WeatherIncomplete: Kind("weather-incomplete", "A day of weather lacks what it needs", 422),
    OpeningAfterPlan: Kind("carry-over-after-plan", "The carry-over is later than the plan", 422),
    DateBeyondPlans: Kind("date-beyond-plans", "The date is too far ahead", 422),
    PreconditionMissing: Kind("precondition-required", "If-Match is missing", 428),
    TooManyPlaces: Kind("too-many-places", "Too many places", 429),
    WeatherUnavailable: Kind("no-forecast", "There is no forecast to plan from", 503),
    SourceIncomplete: Kind("no-forecast", "There is no forecast to plan from", 503),
    StoreUnavailable: Kind("no-storage", "The database does not answer", 503),
    StoredUnreadable: Kind("unknown-format", "What is stored cannot be read", 503),
    UnknownFormat: Kind("unknown-format", "What is stored cannot be read", 503),
    ReplayUnderWay: Kind("replay-under-way", "Another replay is under way", 503),
}
"""The one table: error -> status."""


class Explanation(NamedTuple):
    """When a problem arises, and what to do about it."""

    when: str
    do: str


EXPLANATIONS: Final[Mapping[str, Explanation]] = {
    "not-json": Explanation(
        "the body cannot be read as JSON",
        "Look at the line and column that the detail names.",
    ),
    "unknown-host": Explanation(
        "the request names a host that this server does not answer to",
        "Use the server's own name, or add this one to ROOTLEDGER_TRUSTED_HOSTS.",
    ),
    "bad-request": Explanation(
        "the request itself cannot be read",
        "Look at its address, headers and query.",
    ),
    "unauthorised": Explanation(
        "the server asks for a token, and none or a wrong one came",
        "Send the header Authorization: Bearer with a token of this server.",
    ),
    "missing-scope": Explanation(
        "the token is known, but its scope or its garden does not allow the request",
        "Use a token with the scope that detail names: rootledger token create makes one.",
    ),
    "garden-not-found": Explanation(
        "no garden is stored under this id, or it was deleted meanwhile",
        "Look at the list of gardens, or store it with PUT.",
    ),
    "zone-not-found": Explanation(
        "the garden has no zone of this id",
        "Look at the garden's document for its zones.",
    ),
    "delivery-not-found": Explanation(
        "no report of water has this id",
        "Look at the list of the garden's deliveries.",
    ),
    "observation-not-found": Explanation(
        "no measured day is stored for this date",
        "Look at the list of the garden's observations.",
    ),
    "reading-not-found": Explanation(
        "no reading of this probe is stored for this moment",
        "Look at the list of the garden's readings.",
    ),
    "valve-not-found": Explanation(
        "nothing was ever reported of this valve",
        "Report its state or its battery first.",
    ),
    "no-plan-was-made": Explanation(
        "the date is over, and nobody asked for its plan while it could be made",
        "Ask during the hour before the watering hours, every evening.",
    ),
    "not-found": Explanation(
        "nothing has this address",
        "Compare the address with the contract at /v1/openapi.json.",
    ),
    "method-not-allowed": Explanation(
        "the address is right, and the method is not one of its own",
        "Use a method that the Allow header names.",
    ),
    "delivery-conflict": Explanation(
        "a completed report has this id already, and says something else",
        "Send another id for other water; a completed report stays as it is.",
    ),
    "turn-is-open": Explanation(
        "the report of a turn that nobody has closed was to be taken back",
        "Close the turn by PUT with its outcome, then change it as you need.",
    ),
    "key-used-otherwise": Explanation(
        "an Idempotency-Key came again with another body",
        "Use a new key for each question; the same key asks the same question again.",
    ),
    "run-not-open": Explanation(
        "the run was withdrawn, its time has passed, or its plan is not final",
        "Leave the valve shut, and poll the zone again.",
    ),
    "already-begun": Explanation(
        "this run was announced before",
        "Leave it to whoever announced it; open nothing a second time.",
    ),
    "precondition-failed": Explanation(
        "what was to be changed has been changed since it was read",
        "Read it again, and send the change with its new ETag.",
    ),
    "too-large": Explanation(
        "the body is larger than the server takes",
        "Send less at once; batches can be sent in parts.",
    ),
    "unsupported-media-type": Explanation(
        "the Content-Type is not one that the address takes",
        "Send application/json, or what the contract names.",
    ),
    "invalid-request": Explanation(
        "a field or a parameter of the request is missing or wrong",
        "Change what errors names; each says what would be right.",
    ),
    "invalid-garden": Explanation(
        "a field of the garden is missing, wrong, or at odds with another",
        "Change what errors names; each says what would be right.",
    ),
    "unknown-name": Explanation(
        "a plant, soil or method is not in the catalogue",
        "Use a name of the catalogue; the detail may name the nearest.",
    ),
    "weather-gap": Explanation(
        "days are missing within the weather that came with the request",
        "Send the days that the detail names.",
    ),
    "weather-incomplete": Explanation(
        "a day of the weather lacks a value that it cannot do without",
        "Add the value that the detail names.",
    ),
    "carry-over-after-plan": Explanation(
        "the carry-over that came with the request is later than the plan's date",
        "Send the carry-over of an earlier plan, or ask for a later date.",
    ),
    "date-beyond-plans": Explanation(
        "no plan can be made so far ahead",
        "Ask for today or tomorrow.",
    ),
    "precondition-required": Explanation(
        "a change came without saying what it changes",
        "Read it first, and send its ETag as If-Match.",
    ),
    "too-many-places": Explanation(
        "plans were asked for at too many places that belong to no stored garden",
        "Store the garden, or wait for as long as Retry-After says.",
    ),
    "no-forecast": Explanation(
        "no weather source has answered, and too little is known without",
        "Ask again later; a second source in weather_sources stands in for the first.",
    ),
    "no-storage": Explanation(
        "the database does not answer",
        "Ask again in a minute; see whether the database runs.",
    ),
    "unknown-format": Explanation(
        "a newer release wrote what is stored for this garden, or the row is damaged",
        "Run that release again, or restore a backup; other gardens go on.",
    ),
    "replay-under-way": Explanation(
        "a replay takes the server's time already",
        "Ask again when it is done.",
    ),
    "refused-by-server": Explanation(
        "the request is no HTTP, or its header or body is larger than the server takes",
        "Look at the detail; send less, or repair the client.",
    ),
    "internal-error": Explanation(
        "something failed that is not the request's fault",
        "Look into the server's log for the incident that the detail names, and report it.",
    ),
}
"""By slug, what is behind `/problems/{slug}`."""


INTERNAL: Final = Kind("internal-error", "Something went wrong here", 500)
REFUSED_BY_SERVER: Final = Kind("refused-by-server", "The server refuses the request", 400)
"""Before the application sees it; the status is the one that the server gives."""


RETRY_AFTER_S: Final = 60
"""When to ask again where the error does not know better."""


def kind_of(error: Exception) -> Kind:
    """What an error is over HTTP: by its class, or the nearest class above it."""
    for above in type(error).__mro__:
        if above in KINDS:
            return KINDS[above]
    if isinstance(error, http.HTTPException) and error.code is not None and 400 <= error.code < 500:
        return Kind("bad-request", error.name, error.code)
    return INTERNAL


def problem_response(error: Exception) -> Response:
    """Write an error as its problem."""
    kind = kind_of(error)
    if kind is INTERNAL:
        return _internal(error)
    if isinstance(error, UnknownFormat | StoredUnreadable | StoreUnavailable):
        outage_log.tell(str(error))
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
        body["detail"] = _first_of(problems)
        body["errors"] = [
            {"pointer": f"{within}{problem.pointer}", "detail": problem.detail} for problem in problems
        ]
    return body


def _first_of(problems: Sequence[Problem]) -> str:
    """The first fault in words, and how many more there are."""
    first, more = problems[0].detail, len(problems) - 1
    if not more:
        return first
    ended = first.removesuffix(".")
    return f"{ended}{';' if ended != first else ''} {more} more, see errors."


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
            return f'Host is "{host}", which is not answered; ROOTLEDGER_TRUSTED_HOSTS can name it.'
        case http.HTTPException():
            return error.description or error.name
        case NotReady():
            return f"Not ready to {error.part}. {OUTAGES[error.outage]}"
        case StoreUnavailable():
            return OUTAGES[error.outage]
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
