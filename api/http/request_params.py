"""What a request brings: a JSON body, query parameters, preconditions."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any, Final

import orjson
from flask import request
from werkzeug.exceptions import RequestEntityTooLarge
from werkzeug.http import parse_etags

from api.errors import InvalidRequest, NotJson, WrongContentType
from api.schemas.base import pointer_to
from api.schemas.fields import day_from, nearest, one_of, shown
from scheduling.errors import Problem

JSON_TYPES: Final = ("application/json",)
PATCH_TYPES: Final = ("application/merge-patch+json", "application/json")

FROM: Final = {"in": "query", "name": "from", "schema": {"type": "string", "format": "date"}}
TO: Final = {"in": "query", "name": "to", "schema": {"type": "string", "format": "date"}}

FEWEST_LISTED: Final = 1
USUALLY_LISTED: Final = 100
MOST_LISTED: Final = 500
LIMIT: Final = {
    "in": "query",
    "name": "limit",
    "schema": {
        "type": "integer",
        "minimum": FEWEST_LISTED,
        "maximum": MOST_LISTED,
        "default": USUALLY_LISTED,
    },
    "description": "How many to list at most.",
}

FORGIVEN: Final = "_"
"""A query parameter that some clients add so that no cache answers them."""

DEEPEST: Final = 32
"""Objects within objects; no document of ours comes near."""


def json_body(content_types: Sequence[str] = JSON_TYPES) -> Any:
    """The body of the request, read from JSON.

    Raises
    ------
    WrongContentType
        Where it says to be something else.
    NotJson
        Where it is none, or is nested too deep. JSON has no NaN, no lone surrogates, and no
        number beyond a double's range.
    werkzeug.exceptions.RequestEntityTooLarge
        Where it is larger than any document of ours.
    """
    if request.mimetype not in content_types:
        raise WrongContentType(request.mimetype, content_types)
    body = request.get_data(cache=False)
    if request.content_length is None and len(body) >= (request.max_content_length or len(body) + 1):
        raise RequestEntityTooLarge  # of a body that hides its length, werkzeug gives the beginning
    try:
        document = orjson.loads(body)
    except ValueError as error:
        raise NotJson(f"The body is not JSON: {str(error)[:200]}.") from None
    if body.count(b"{") + body.count(b"[") > DEEPEST and _is_deeper(document, DEEPEST):
        raise NotJson(f"The body has more than {DEEPEST} objects or lists within each other.")
    return document


def query(*known: str) -> Mapping[str, str]:
    """The query parameters, of which only some are known.

    Raises
    ------
    InvalidRequest
        Where one is unknown, or is given twice.
    """
    if not request.query_string:
        return {}
    problems: list[Problem] = []
    values: dict[str, str] = {}
    for name, given in request.args.lists():
        if name == FORGIVEN:
            continue
        if name not in known:
            sentence = f"{shown(name)} is not a query parameter here.{nearest(name, known)}"
            problems.append(Problem(pointer_to(name), sentence))
        elif len(given) > 1:
            problems.append(Problem(pointer_to(name), f"{name} is given {len(given)} times; give it once."))
        else:
            values[name] = given[0]
    if problems:
        raise InvalidRequest(*problems[:10])
    return values


def query_date(values: Mapping[str, str], name: str) -> dt.date | None:
    """A date among the query parameters; None where it is not given."""
    if name not in values:
        return None
    try:
        return day_from(values[name])
    except ValueError as allowed:
        raise refused_parameter(name, values[name], str(allowed)) from None


def query_dates(values: Mapping[str, str]) -> tuple[dt.date | None, dt.date | None]:
    """`from` and `to` among the query parameters, both ends included; None is an open end."""
    first, last = query_date(values, "from"), query_date(values, "to")
    if first is not None and last is not None and first > last:
        sentence = f"to is {last}, which is before from, {first}; it must not be."
        raise InvalidRequest(Problem("/to", sentence))
    return first, last


def query_whole(values: Mapping[str, str], name: str, lowest: int, highest: int, default: int) -> int:
    """A whole number among the query parameters."""
    if name not in values:
        return default
    given = values[name]
    if (
        not given.isascii()
        or not given.isdigit()
        or not lowest <= int(given[:9]) <= highest
        or len(given) > 9
    ):
        raise refused_parameter(name, given, f"a whole number from {lowest} to {highest}")
    return int(given)


def query_word(values: Mapping[str, str], name: str, known: Sequence[str], default: str) -> str:
    """One of some words among the query parameters."""
    given = values.get(name, default)
    if given not in known:
        raise refused_parameter(name, given, one_of(known))
    return given


def query_limit(values: Mapping[str, str]) -> int:
    """How many entries of a list to give at most."""
    return query_whole(values, "limit", FEWEST_LISTED, MOST_LISTED, USUALLY_LISTED)


def query_truth(values: Mapping[str, str], name: str) -> bool:
    """true or false among the query parameters; false where it is not given."""
    given = values.get(name, "false")
    if given not in ("true", "false"):
        raise refused_parameter(name, given, "true or false")
    return given == "true"


def refused_parameter(name: str, given: str, allowed: str) -> InvalidRequest:
    """What to raise for a query parameter that cannot be."""
    return InvalidRequest(Problem(pointer_to(name), f"{name} is {shown(given)}; it must be {allowed}."))


def must_be_new() -> bool:
    """Whether an edit is only wanted where nothing is there yet (If-None-Match: *).

    Raises
    ------
    InvalidRequest
        Where the header says anything else.
    """
    given = request.headers.get("If-None-Match")
    if given is not None and given.strip() != "*":
        sentence = f"If-None-Match is {shown(given)}; here it must be *."
        raise InvalidRequest(Problem("/If-None-Match", sentence))
    return given is not None


def is_known(etag: str) -> bool:
    """Whether the asker already has the answer with this ETag (If-None-Match)."""
    given = request.environ.get("HTTP_IF_NONE_MATCH")
    if given is None:
        return False
    return given == f'"{etag}"' or parse_etags(given).contains_weak(etag)


def _is_deeper(document: Any, most: int) -> bool:
    level = [document]
    for _ in range(most):
        level = [
            inner
            for outer in level
            if isinstance(outer, dict | list)
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return any(isinstance(value, dict | list) for value in level)


def merge_patch(target: Any, patch: Any) -> Any:
    """Apply a JSON merge patch (RFC 7396): null removes, objects merge, all else replaces.

    The target stays as it is.
    """
    if not isinstance(patch, dict):
        return patch
    merged = dict(target) if isinstance(target, dict) else {}
    for name, value in patch.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = merge_patch(merged.get(name), value)
    return merged
