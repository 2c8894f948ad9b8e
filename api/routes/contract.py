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
from api.schemas.problem import ProblemSchema
from api.store.rows import strong_etag

DESCRIPTION: Final = """\
Tomorrow's litres for every zone of a garden, from a daily soil water balance after FAO-56.

Errors are `application/problem+json` (RFC 9457). Unknown fields and query parameters are refused. Instants
are ISO 8601 with offset; nobody should act on a plan after its `valid_until`.
"""


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
    return _without_unused(contract.spec.to_dict())


def _without_unused(document: dict[str, Any]) -> dict[str, Any]:
    """Leave out the schemas that flask-smorest brings along and nothing refers to."""
    text = orjson.dumps(document)
    schemas = document["components"]["schemas"]
    for name in list(schemas):
        if f'"#/components/schemas/{name}"'.encode() not in text:
            del schemas[name]
    return document


def contract_of(app: Flask) -> dict[str, Any]:
    """The contract of an application, as it gives it."""
    document: dict[str, Any] = orjson.loads(app.test_client().get("/v1/openapi.json").data)
    return document
