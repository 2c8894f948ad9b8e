"""The contract: what the service takes and answers, as OpenAPI 3.1.

It is written when it is first asked for: that takes longer than the rest of the start.
"""

import threading
from collections.abc import Sequence
from typing import Any, Final

import orjson
from flask import Blueprint, Flask, Response
from flask_smorest import Api  # type: ignore[import-untyped]

from api import RELEASE
from api.http.converters import DayConverter, IdConverter, ReportIdConverter, add_converters, pattern_of
from api.http.request_params import query
from api.http.responses import Routes, add_problems, known_answer
from api.schemas.glossary import FIELDS, PARAMETERS
from api.schemas.problem import ProblemSchema
from api.store.rows import strong_etag

DESCRIPTION: Final = """\
Tomorrow's litres for every zone of a garden, from a daily soil water balance after FAO-56.

Errors are `application/problem+json` (RFC 9457). Unknown fields and query parameters are refused. Instants
are ISO 8601 with offset; nobody should act on a plan after its `valid_until`.

Answers may grow within v1: ignore keys that you do not know; codes may be added.
"""


METHODS: Final = ("get", "put", "post", "patch", "delete")
LIMITS: Final = frozenset(
    {"additionalProperties", "minimum", "maximum", "exclusiveMinimum", "pattern", "minLength", "maxLength"}
    | {"minItems", "maxItems", "minProperties", "maxProperties"}
)
"""What an answer does not promise."""


class Contract(Api):  # type: ignore[misc]
    """flask-smorest with our own errors."""

    DEFAULT_ERROR_RESPONSE_NAME = None
    ERROR_SCHEMA = ProblemSchema


def contract_routes(described: Sequence[Routes]) -> Blueprint:
    """Build the route that gives the contract of other routes."""
    routes = Blueprint("contract", __name__, url_prefix="/v1")
    written: list[tuple[bytes, str]] = []
    writing = threading.Lock()

    @routes.get("/openapi.json")
    def get_openapi() -> Response:
        query()
        with writing:
            if not written:
                body = orjson.dumps(write_contract(described))
                written.append((body, strong_etag(body)))
        return known_answer(*written[0])

    return routes


def write_contract(described: Sequence[Routes]) -> dict[str, Any]:
    """Write the contract of some routes, by registering them with an application that never answers."""
    app = Flask("contract", static_folder=None)
    app.config.update(
        API_TITLE="Rootledger",
        API_VERSION=RELEASE,
        OPENAPI_VERSION="3.1.0",
        API_SPEC_OPTIONS={"info": {"description": DESCRIPTION}, "security": [{"bearer": []}, {}]},
    )
    add_converters(app)
    contract = Contract(app)
    contract.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})
    contract.register_converter(IdConverter, pattern_of)
    contract.register_converter(ReportIdConverter, pattern_of)
    contract.register_converter(DayConverter, pattern_of)
    add_problems(contract.spec)
    for routes in described:
        contract.register_blueprint(routes)
    document = _without_unused(contract.spec.to_dict())
    _open_answers(document)
    _described(document)
    return document


def _without_unused(document: dict[str, Any]) -> dict[str, Any]:
    """Leave out the schemas that flask-smorest brings along and nothing refers to."""
    text = orjson.dumps(document)
    schemas = document["components"]["schemas"]
    for name in list(schemas):
        if f'"#/components/schemas/{name}"'.encode() not in text:
            del schemas[name]
    return document


def _open_answers(document: dict[str, Any]) -> None:
    """Let what is only answered have more keys and other limits one day: requests alone are strict."""
    schemas = document["components"]["schemas"]
    operations = [operation for item in document["paths"].values() for operation in _operations(item)]
    asked = _schemas_in([operation.get("requestBody") for operation in operations], schemas)
    for name, schema in schemas.items():
        if name not in asked:
            _without(schema, LIMITS)


def _without(told: Any, names: frozenset[str]) -> None:
    if isinstance(told, list):
        for inner in told:
            _without(inner, names)
    elif isinstance(told, dict):
        for name in names & set(told):
            # A field may bear the name of a limit: then it is described by an object.
            if name != "additionalProperties" and isinstance(told[name], dict):
                continue
            if name != "additionalProperties" or told[name] is False:
                del told[name]
        for inner in told.values():
            _without(inner, names)


def _schemas_in(told: Any, schemas: dict[str, Any]) -> set[str]:
    """The schemas that a part of the contract refers to, and those that these do."""
    found: set[str] = set()
    looked_at: list[Any] = [told]
    while looked_at:
        inner = looked_at.pop()
        if isinstance(inner, list):
            looked_at += inner
        elif isinstance(inner, dict):
            name = str(inner.get("$ref", "")).rpartition("#/components/schemas/")[2]
            if name in schemas and name not in found:
                found.add(name)
                looked_at.append(schemas[name])
            looked_at += inner.values()
    return found


def _described(document: dict[str, Any]) -> None:
    """Describe by its name each parameter and each field that says nothing of its own."""
    for item in document["paths"].values():
        given = [item, *_operations(item)]
        for parameter in (one for part in given for one in part.get("parameters", ())):
            if parameter.get("name") in PARAMETERS:
                parameter.setdefault("description", PARAMETERS[parameter["name"]])
    for schema in document["components"]["schemas"].values():
        for name, told in schema.get("properties", {}).items():
            if name in FIELDS:
                told.setdefault("description", FIELDS[name])


def _operations(item: dict[str, Any]) -> list[dict[str, Any]]:
    return [item[method] for method in METHODS if method in item]


def contract_of(app: Flask) -> dict[str, Any]:
    """The contract of an application, as it gives it."""
    document: dict[str, Any] = orjson.loads(app.test_client().get("/v1/openapi.json").data)
    return document
