"""The contract: what the service takes and answers, as OpenAPI 3.1."""

from typing import Any

import orjson
from flask import Blueprint, Flask, Response
from flask_smorest import Api  # type: ignore[import-untyped]

from api.routes.answering import known_answer
from api.routes.reading import query
from api.store.etags import strong_etag


def add_contract(app: Flask, contract: Api) -> None:
    """Serve the contract of every route that has been registered; it is written when first asked for."""
    routes = Blueprint("contract", __name__, url_prefix="/v1")
    written: list[tuple[bytes, str]] = []

    @routes.get("/openapi.json")
    def get_openapi() -> Response:
        query()
        if not written:
            body = orjson.dumps(_without_unused(contract.spec.to_dict()))
            written.append((body, strong_etag(body)))
        return known_answer(*written[0])

    app.register_blueprint(routes)


def _without_unused(document: dict[str, Any]) -> dict[str, Any]:
    """Leave out the schemas that flask-smorest brings along and nothing refers to."""
    text = orjson.dumps(document)
    schemas = document["components"]["schemas"]
    for name in list(schemas):
        if f'"#/components/schemas/{name}"'.encode() not in text:
            del schemas[name]
    return document


def contract_of(app: Flask) -> dict[str, Any]:
    """The contract of an application, as an object."""
    document: dict[str, Any] = orjson.loads(app.test_client().get("/v1/openapi.json").data)
    return document
