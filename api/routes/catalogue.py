"""The catalogue: what may be named in a zone."""

from collections.abc import Callable, Sequence
from typing import Final

import orjson
from flask import Response

from api.http.request_params import query, refused_parameter
from api.http.responses import Routes, describes, known_answer
from api.schemas.base import Schema
from api.schemas.catalogue import (
    MethodsSchema,
    PlantsSchema,
    SoilsSchema,
    SubstratesSchema,
    dump_entry,
)
from api.store.rows import strong_etag
from scheduling import catalogue
from scheduling.catalogue import Method, Plant, SoilTexture, Substrate

Entries = Callable[[], Sequence[Plant | SoilTexture | Substrate | Method]]

LISTS: Final[tuple[tuple[str, Entries, type[Schema], str], ...]] = (
    ("plants", catalogue.plants, PlantsSchema, "Plants, each with its source."),
    ("soils", catalogue.soils, SoilsSchema, "Texture classes of soil, each with its source."),
    ("substrates", catalogue.substrates, SubstratesSchema, "What fills a container, each with its source."),
    ("methods", catalogue.methods, MethodsSchema, "Ways for water to arrive, each with its source."),
)

LONGEST_SEARCH: Final = 100
SEARCH: Final = {
    "in": "query",
    "name": "search",
    "schema": {"type": "string", "minLength": 1, "maxLength": LONGEST_SEARCH},
    "description": "List only the plants that are called so: by id, name or common name.",
}


def catalogue_routes() -> Routes:
    """Build one route for each list; a list is written when it is first asked for."""
    routes = Routes(
        "catalogue", __name__, url_prefix="/v1/catalogue", description="What may be named in a zone."
    )
    for name, entries, schema, summary in LISTS:
        routes.add_url_rule(f"/{name}", f"get_{name}", _view(name, entries, schema, summary))
    return routes


def _view(name: str, entries: Entries, schema: type[Schema], summary: str) -> Callable[[], Response]:
    written: list[tuple[bytes, str]] = []

    may_be_searched = entries is catalogue.plants

    @describes({200: schema}, parameters=[SEARCH] if may_be_searched else (), has_etag=True)
    def view() -> Response:
        given = query("search") if may_be_searched else query()
        if "search" in given:
            word = given["search"]
            if not 1 <= len(word) <= LONGEST_SEARCH:
                raise refused_parameter("search", word, f"a word of 1 to {LONGEST_SEARCH} letters")
            body = _body(name, catalogue.plants_called(word))
            return known_answer(body, strong_etag(body))
        if not written:
            body = _body(name, entries())
            written.append((body, strong_etag(body)))
        return known_answer(*written[0])

    view.__doc__ = summary
    return view


def _body(name: str, entries: Sequence[Plant | SoilTexture | Substrate | Method]) -> bytes:
    return orjson.dumps({name: [dump_entry(entry) for entry in entries]})
