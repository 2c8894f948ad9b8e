"""Gardens: documents with their zones."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any, Final

import orjson
from flask import Response, request
from werkzeug.http import parse_etags

from api.errors import GardenNotFound, PreconditionMissing, PreconditionWrong
from api.http.request_params import (
    LIMIT,
    PATCH_TYPES,
    json_body,
    merge_patch,
    must_be_new,
    query,
    query_limit,
    refused_parameter,
)
from api.http.responses import IF_MATCH, MUST_BE_NEW, Routes, describes, json_answer, known_answer
from api.ids import ID_ALLOWED, ID_PATTERN, is_id
from api.schemas.garden import GardenSchema, load_garden
from api.schemas.listing import DeletedGardenSchema, GardenListSchema
from api.store.outages import outage_log
from api.store.rows import StoredGarden
from api.store.store import Store
from api.weather.place import place_of

AFTER: Final = {
    "in": "query",
    "name": "after",
    "schema": {"type": "string", "pattern": f"^{ID_PATTERN}$"},
    "description": "List the gardens after this id.",
}


def garden_routes(gardens: Store, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the routes from what keeps gardens, and a clock."""
    routes = Routes("gardens", __name__, url_prefix="/v1/gardens", description="Gardens and their zones.")

    @routes.route("")
    @describes({200: GardenListSchema}, (503,), parameters=[AFTER, LIMIT])
    def list_gardens() -> Response:
        """Gardens in the order of their ids; one whose document is damaged has no name and no zones."""
        given = query("after", "limit")
        limit = query_limit(given)
        after = given.get("after")
        if after is not None and not is_id(after):
            raise refused_parameter("after", after, ID_ALLOWED)
        found = gardens.listed(after, limit + 1)
        return json_answer(
            {
                "gardens": [_entry(*garden) for garden in found[:limit]],
                "next": found[limit - 1][0] if len(found) > limit else None,
            }
        )

    @routes.route("/<id:garden>")
    @describes({200: GardenSchema}, (404, 503), has_etag=True)
    def get_garden(garden: str) -> Response:
        """A garden as it was given."""
        query()
        stored = gardens.garden(garden)
        if stored is None:
            raise GardenNotFound(garden)
        return known_answer(orjson.dumps(stored.document), stored.etag)

    @routes.route("/<id:garden>", methods=["PUT"])
    @describes(
        {200: GardenSchema, 201: GardenSchema},
        (404, 412, 428, 503),
        parameters=[IF_MATCH, MUST_BE_NEW],
        body=GardenSchema,
    )
    def put_garden(garden: str) -> Response:
        """Create a garden, or give it another document.

        What is there already wants If-Match with its ETag, unless the document is the same. Reports are
        kept; the new document explains the past too.
        """
        query()
        only_new = must_be_new()
        document = json_body()
        read = load_garden(document, garden)
        document = {"id": garden, **document}
        with gardens.changing(garden) as change:
            stands = change.garden
            if stands is None:
                if "If-Match" in request.headers:
                    raise PreconditionWrong(f'No garden is stored as "{garden}", so none can match If-Match.')
            elif only_new:
                raise PreconditionWrong(f'There is a garden "{garden}" already.')
            elif stands.document == document:
                return _stored_answer(stands, 200)
            else:
                _must_match(stands)
            stored = change.put_document(document, place_of(read).key, clock())
        return _stored_answer(stored, 201 if stands is None else 200)

    @routes.route("/<id:garden>", methods=["PATCH"])
    @describes(
        {200: GardenSchema},
        (404, 412, 428, 503),
        parameters=[IF_MATCH],
        body={"type": "object"},
        body_types=PATCH_TYPES,
    )
    def patch_garden(garden: str) -> Response:
        """Change some fields of a garden: a JSON merge patch (RFC 7396), then the whole is checked."""
        query()
        patch = json_body(PATCH_TYPES)
        with gardens.changing(garden) as change:
            stands = change.garden
            if stands is None:
                raise GardenNotFound(garden)
            _must_match(stands)
            patched = merge_patch(stands.document, patch)
            read = load_garden(patched, garden)
            document = {"id": garden, **patched}
            if document == stands.document:
                return _stored_answer(stands, 200)
            stored = change.put_document(document, place_of(read).key, clock())
        return _stored_answer(stored, 200)

    @routes.route("/<id:garden>", methods=["DELETE"])
    @describes({200: DeletedGardenSchema}, (404, 412, 428, 503), parameters=[IF_MATCH])
    def delete_garden(garden: str) -> Response:
        """Delete a garden with everything that was reported about it."""
        query()
        with gardens.changing(garden) as change:
            if change.garden is None:
                raise GardenNotFound(garden)
            _must_match(change.garden)
            reports = change.delete()
        return json_answer({"id": garden, "reports_deleted": reports})

    return routes


def _entry(garden_id: str, document: Mapping[str, Any] | None) -> Mapping[str, Any]:
    if document is None:
        outage_log.tell(f"The stored document of the garden {garden_id!r} is damaged.")
        return {"id": garden_id, "name": "", "zones": None}
    return {"id": garden_id, "name": document.get("name", ""), "zones": len(document["zones"])}


def _stored_answer(stored: StoredGarden, status: int) -> Response:
    headers = {"ETag": f'"{stored.etag}"', **({"Location": request.path} if status == 201 else {})}
    return json_answer(stored.document, status, headers)


def _must_match(stands: StoredGarden) -> None:
    """Hold an edit to the version that it was made for.

    Raises
    ------
    PreconditionMissing
        It does not say which.
    PreconditionWrong
        It is another than the one that stands.
    """
    given = request.headers.get("If-Match")
    if given is None:
        raise PreconditionMissing
    if not parse_etags(given).contains(stands.etag):
        raise PreconditionWrong("The garden has been changed since it was read; read it again.")
