"""How a route answers: bytes, an ETag, and what the contract says about it."""

from collections.abc import Callable, Mapping, Sequence
from http import HTTPStatus
from typing import Any, Final, TypeVar

import orjson
from apispec import APISpec
from flask import Response
from flask_smorest import Blueprint  # type: ignore[import-untyped]

from api.http.problems import PROBLEM_JSON
from api.http.request_params import is_known
from api.schemas.base import Schema
from api.schemas.problem import ProblemSchema
from api.store.rows import strong_etag

JSON: Final = "application/json"

CACHE_CONTROL: Final = "private, no-cache"
"""An answer may be kept, and must be asked about before it is used again."""

View = TypeVar("View", bound=Callable[..., Response])

PROBLEMS: Final[Mapping[int, str]] = {
    400: "The request cannot be read: no JSON, or a Host that is not answered.",
    401: "The token is missing or wrong.",
    403: "The token does not allow this.",
    404: "There is nothing of that name.",
    409: "It contradicts what is kept.",
    412: "A precondition does not hold: it has changed, or is there already.",
    413: "The body is too large.",
    415: "The content type is not taken.",
    422: "What was sent cannot be; every problem is listed.",
    428: "If-Match is missing.",
    429: "Too many places were asked about.",
    503: "There is no forecast to plan from, the database does not answer, or another replay is under way.",
}

HEADERS_OF: Final[Mapping[int, tuple[str, ...]]] = {
    401: ("WWW-Authenticate",),
    429: ("Retry-After",),
    503: ("Retry-After",),
}

IF_NONE_MATCH: Final = {
    "in": "header",
    "name": "If-None-Match",
    "schema": {"type": "string"},
    "description": "ETag of the answer at hand; 304 where it still holds.",
}
IF_MATCH: Final = {
    "in": "header",
    "name": "If-Match",
    "schema": {"type": "string"},
    "description": "ETag of the version that the edit was made for.",
}


MUST_BE_NEW: Final = {
    "in": "header",
    "name": "If-None-Match",
    "schema": {"type": "string", "enum": ["*"]},
    "description": "With *, 412 where it is there already. A run's valve is opened on 201 only.",
}


ONLY_NEW: Final = {
    "in": "header",
    "name": "If-None-Match",
    "schema": {"type": "string", "enum": ["*"]},
    "description": "With *, 412 where one is kept already.",
}


class Routes(Blueprint):  # type: ignore[misc]
    """The routes of one resource, as flask-smorest has them, with types."""

    def route(self, rule: str, **options: Any) -> Callable[[View], View]:
        """Register a view under an address."""
        registered: Callable[[View], View] = super().route(rule, **options)
        return registered


def json_answer(body: object, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """An object as the body of an answer."""
    return Response(orjson.dumps(body), status, headers, content_type=JSON)


def list_answer(obj: object) -> Response:
    """An object as the body of an answer with its ETag, or 304 where the asker already has it."""
    body = orjson.dumps(obj)
    return known_answer(body, strong_etag(body))


def known_answer(body: bytes, etag: str, content_type: str = JSON) -> Response:
    """Bytes with their ETag, or 304 where the asker already has them.

    Parameters
    ----------
    etag
        A strong hash of the bytes, without quotes.
    """
    headers = [("ETag", f'"{etag}"'), ("Cache-Control", CACHE_CONTROL), ("Content-Type", content_type)]
    return Response(status=304, headers=headers) if is_known(etag) else Response(body, headers=headers)


def describes(
    answers: Mapping[int, type[Schema] | None],
    problems: Sequence[int] = (),
    *,
    parameters: Sequence[Mapping[str, Any]] = (),
    body: type[Schema] | Mapping[str, Any] | None = None,
    body_types: Sequence[str] = (JSON,),
    has_etag: bool = False,
    is_open: bool = False,
    other_types: Mapping[str, Mapping[str, Any]] | None = None,
) -> Callable[[View], View]:
    """Say in the contract what a route takes and answers; its docstring says what it does.

    Parameters
    ----------
    answers
        By status, what is answered when all is well.
    problems
        Statuses of the problems beside 400, 401, 403 and 422, which every route has.
    has_etag
        Whether the answer has an ETag and the route heeds If-None-Match.
    is_open
        Whether it is answered without the token.
    other_types
        By content type, what may be answered in place of JSON.
    """
    given = [*parameters, *([IF_NONE_MATCH] if has_etag else [])]
    with_body = (413, 415) if body is not None else ()
    always = (400, 422) if is_open else (400, 401, 403, 422)
    doc: dict[str, Any] = {
        "responses": {
            **{
                str(status): _answer(status, schema, has_etag, other_types or {})
                for status, schema in answers.items()
            },
            **({"304": _answer(304, None, True, {})} if has_etag else {}),
            **{str(status): problem_name(status) for status in sorted({*always, *with_body, *problems})},
        }
    }
    if given:
        doc["parameters"] = given
    if body is not None:
        content = {"schema": body}
        doc["requestBody"] = {"required": True, "content": dict.fromkeys(body_types, content)}
    if is_open:
        doc["security"] = []

    def described(view: View) -> View:
        # What Blueprint.doc writes, without the function that it wraps around every call: 4 us of a poll.
        first, *words = view.__name__.split("_")
        named = {"operationId": first + "".join(map(str.capitalize, words)), **doc}
        view.__dict__["_apidoc"] = {"manual_doc": named}
        return view

    return described


def problem_name(status: int) -> str:
    """Name of a problem among the components of the contract."""
    return HTTPStatus(status).phrase.replace(" ", "").replace("-", "")


def add_problems(spec: APISpec) -> None:
    """Put every problem into the contract once, to be referred to."""
    for status, description in PROBLEMS.items():
        response: dict[str, Any] = {
            "description": description,
            "content": {PROBLEM_JSON: {"schema": ProblemSchema}},
        }
        if headers := HEADERS_OF.get(status):
            response["headers"] = {name: {"schema": {"type": "string"}} for name in headers}
        spec.components.response(f"{problem_name(status)}", response)


def _answer(
    status: int, schema: type[Schema] | None, has_etag: bool, other_types: Mapping[str, Mapping[str, Any]]
) -> dict[str, Any]:
    answer: dict[str, Any] = {"description": HTTPStatus(status).phrase}
    content = {**({} if schema is None else {JSON: {"schema": schema}}), **other_types}
    if content:
        answer["content"] = content
    if has_etag:
        answer["headers"] = {"ETag": {"schema": {"type": "string"}}}
    return answer
