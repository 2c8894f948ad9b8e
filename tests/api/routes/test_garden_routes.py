"""Gardens: created, read, edited by whoever has read them, deleted."""

import json

import pytest

HOME = "/v1/gardens/home"


@pytest.fixture
def etag(client, garden):
    """The ETag of a garden that is stored as `home`."""
    return client.put(HOME, json=garden).headers["ETag"]


def test_a_garden_is_created_and_read_back_as_it_was_given(client, garden):
    created = client.put(HOME, json=garden)
    read = client.get(HOME)

    assert created.status_code == 201
    assert created.headers["Location"] == HOME
    assert read.json == {"id": "home", **garden}
    assert read.headers["ETag"] == created.headers["ETag"]
    assert read.headers["Cache-Control"] == "private, no-cache"


def test_who_has_a_garden_already_gets_304_with_its_etag(client, etag):
    read = client.get(HOME, headers={"If-None-Match": etag})

    assert (read.status_code, read.data) == (304, b"")
    assert read.headers["ETag"] == etag


@pytest.mark.parametrize("given", ['"other", {}', "W/{}", "*"])
def test_every_form_of_if_none_match_is_understood(client, etag, given):
    assert client.get(HOME, headers={"If-None-Match": given.format(etag)}).status_code == 304


def test_another_etag_gets_the_garden(client, etag):
    assert client.get(HOME, headers={"If-None-Match": '"other"'}).status_code == 200


def test_the_same_document_again_changes_nothing_and_needs_no_precondition(client, garden, etag, store):
    version = store.garden("home").version
    again = client.put(HOME, json={"id": "home", **garden})

    assert (again.status_code, again.headers["ETag"]) == (200, etag)
    assert store.garden("home").version == version


def test_an_edit_without_if_match_is_asked_for_it(client, garden, etag):
    for edit in (
        client.put(HOME, json={**garden, "name": "Home"}),
        client.patch(HOME, json={"name": "Home"}),
        client.delete(HOME),
    ):
        assert edit.status_code == 428
        assert edit.json["type"] == "/problems/precondition-required"
    assert "name" not in client.get(HOME).json


def test_an_edit_of_an_older_version_is_refused(client, garden, etag):
    client.patch(HOME, json={"name": "Home"}, headers={"If-Match": etag})

    for edit in (
        client.put(HOME, json={**garden, "name": "Other"}, headers={"If-Match": etag}),
        client.patch(HOME, json={"name": "Other"}, headers={"If-Match": etag}),
        client.delete(HOME, headers={"If-Match": etag}),
    ):
        assert edit.status_code == 412
    assert client.get(HOME).json["name"] == "Home"


def test_a_weak_etag_is_no_licence_to_edit(client, etag):
    assert client.patch(HOME, json={"name": "x"}, headers={"If-Match": f"W/{etag}"}).status_code == 412


def test_an_edit_of_the_version_that_stands_is_done(client, garden, etag):
    edited = client.put(HOME, json={**garden, "name": "Home"}, headers={"If-Match": etag})

    assert edited.status_code == 200
    assert edited.json["name"] == "Home"
    assert edited.headers["ETag"] == client.get(HOME).headers["ETag"] != etag


def test_who_insists_on_a_new_garden_does_not_overwrite_one(client, garden, etag):
    only_new = {"If-None-Match": "*"}

    assert client.put(HOME, json={**garden, "name": "x"}, headers=only_new).status_code == 412
    assert client.put("/v1/gardens/other", json=garden, headers=only_new).status_code == 201
    assert client.put(HOME, json=garden, headers={"If-None-Match": '"x"'}).status_code == 422


def test_if_match_on_a_garden_that_is_not_there_is_refused(client, garden):
    assert client.put(HOME, json=garden, headers={"If-Match": "*"}).status_code == 412
    assert client.get(HOME).status_code == 404


@pytest.mark.parametrize("content_type", ["application/merge-patch+json", "application/json"])
def test_a_patch_merges_into_the_document(client, etag, content_type):
    patch = {"name": "Home", "zones": {"lawn": {"area_m2": 90}, "bed": {**LAWN_PARTS, "area_m2": 5}}}
    patched = client.patch(
        HOME, data=json.dumps(patch), content_type=content_type, headers={"If-Match": etag}
    )

    assert patched.status_code == 200
    assert patched.json["zones"]["lawn"]["area_m2"] == 90
    assert patched.json["zones"]["lawn"]["soil"] == {"texture": "loam"}
    assert patched.json["zones"]["bed"]["area_m2"] == 5


LAWN_PARTS = {
    "planting": {"plant": "herbs"},
    "soil": {"texture": "loam"},
    "watering": {"method": "drip-line"},
}


def test_null_in_a_patch_removes_a_field(client, etag):
    named = client.patch(HOME, json={"name": "Home"}, headers={"If-Match": etag})
    unnamed = client.patch(HOME, json={"name": None, "id": None}, headers={"If-Match": named.headers["ETag"]})

    assert unnamed.headers["ETag"] == etag
    assert unnamed.json["id"] == "home"


@pytest.mark.parametrize(
    ("patch", "pointer"),
    [
        ({"zones": {"lawn": None}}, "/zones"),
        ({"zones": {"lawn": {"area_m2": "90"}}}, "/zones/lawn/area_m2"),
        ({"id": "away"}, "/id"),
        (["no object"], ""),
        ("no object", ""),
    ],
)
def test_a_patch_that_would_make_a_garden_that_cannot_be_changes_nothing(client, etag, patch, pointer):
    refused = client.patch(HOME, json=patch, headers={"If-Match": etag})

    assert refused.status_code == 422
    assert refused.json["errors"][0]["pointer"] == pointer
    assert client.get(HOME).headers["ETag"] == etag


def test_a_patch_that_changes_nothing_is_fine(client, etag):
    patched = client.patch(HOME, json={}, headers={"If-Match": etag})

    assert (patched.status_code, patched.headers["ETag"]) == (200, etag)


def test_deleting_says_how_many_reports_went(client, etag):
    deleted = client.delete(HOME, headers={"If-Match": etag})

    assert deleted.json == {"id": "home", "reports_deleted": 0}
    assert client.get(HOME).status_code == 404
    assert client.delete(HOME, headers={"If-Match": etag}).status_code == 404
    assert client.patch(HOME, json={}, headers={"If-Match": etag}).status_code == 404


def test_a_garden_that_cannot_be_is_not_stored(client, garden):
    refused = client.put(HOME, json={**garden, "zones": {"lawn": {"area_m": 85}}})

    assert refused.status_code == 422
    assert refused.content_type == "application/problem+json"
    assert refused.json["type"] == "/problems/invalid-garden"
    assert {
        "pointer": "/zones/lawn/area_m",
        "detail": '"area_m" is not a field here. Did you mean area_m2?',
    } in refused.json["errors"]
    assert client.get(HOME).status_code == 404


def test_the_id_in_the_document_must_be_that_of_the_address(client, garden):
    assert client.put(HOME, json={"id": "away", **garden}).status_code == 422


@pytest.mark.parametrize("garden_id", ["Home", "a_b", "-a", "a" * 65, "%00", "a%0Ab", "%F0%9F%8C%B1"])
def test_no_garden_is_at_an_address_that_is_no_id(client, garden, garden_id):
    refused = client.put(f"/v1/gardens/{garden_id}", json=garden)

    assert refused.status_code == 404
    assert "lower-case letters" in refused.json["detail"]


def test_gardens_are_listed_page_by_page(client, garden):
    for garden_id in ("b", "a", "c"):
        client.put(f"/v1/gardens/{garden_id}", json={**garden, "name": garden_id.upper()})

    first = client.get("/v1/gardens?limit=2").json
    second = client.get(f"/v1/gardens?limit=2&after={first['next']}").json

    assert first == {
        "gardens": [{"id": "a", "name": "A", "zones": 1}, {"id": "b", "name": "B", "zones": 1}],
        "next": "b",
    }
    assert second == {"gardens": [{"id": "c", "name": "C", "zones": 1}], "next": None}
    assert len(client.get("/v1/gardens").json["gardens"]) == 3


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("limit=0", 'limit is "0"; it must be a whole number from 1 to 500.'),
        ("limit=501", 'limit is "501"; it must be a whole number from 1 to 500.'),
        ("limit=" + "9" * 5000, f'limit is "{"9" * 40}…"; it must be a whole number from 1 to 500.'),
        ("limit=five", 'limit is "five"; it must be a whole number from 1 to 500.'),
        ("limit=%D9%A3", 'limit is "٣"; it must be a whole number from 1 to 500.'),
        ("limits=5", '"limits" is not a query parameter here. Did you mean limit?'),
        ("limit=5&limit=6", "limit is given 2 times; give it once."),
        (
            "after=A",
            'after is "A"; it must be at most 64 lower-case letters, digits and hyphens, '
            "beginning and ending with a letter or digit.",
        ),
    ],
)
def test_a_query_that_cannot_be_is_refused(client, query, sentence):
    refused = client.get(f"/v1/gardens?{query}")

    assert refused.status_code == 422
    assert refused.json["detail"] == sentence


@pytest.mark.parametrize("method", ["get", "put", "patch", "delete"])
def test_unknown_query_parameters_are_refused_everywhere(client, garden, etag, method):
    body = {} if method in ("get", "delete") else {"json": garden}

    assert (
        getattr(client, method)(f"{HOME}?force=true", headers={"If-Match": etag}, **body).status_code == 422
    )
