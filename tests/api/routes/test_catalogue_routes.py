"""The catalogue, the health of the service, and the contract."""

import pytest

from api.errors import StoreUnavailable
from scheduling import catalogue


@pytest.mark.parametrize(
    ("name", "entries"),
    [
        ("plants", catalogue.plants),
        ("soils", catalogue.soils),
        ("substrates", catalogue.substrates),
        ("methods", catalogue.methods),
    ],
)
def test_a_list_of_the_catalogue_is_whole_and_known_by_its_etag(client, name, entries):
    listed = client.get(f"/v1/catalogue/{name}")
    again = client.get(f"/v1/catalogue/{name}", headers={"If-None-Match": listed.headers["ETag"]})

    assert [entry["id"] for entry in listed.json[name]] == [entry.id for entry in entries()]
    assert all(entry["source"] for entry in listed.json[name])
    assert (again.status_code, again.headers["ETag"]) == (304, listed.headers["ETag"])


def test_plants_may_be_searched_by_what_people_call_them(client):
    found = client.get("/v1/catalogue/plants?search=azalea").json["plants"]

    assert [entry["id"] for entry in found] == ["rhododendron"]
    assert client.get("/v1/catalogue/plants?search=xyzzy").json == {"plants": []}
    assert client.get("/v1/catalogue/soils?search=loam").status_code == 422


def test_there_is_no_other_list(client):
    assert client.get("/v1/catalogue/pots").status_code == 404


def test_the_process_answers(client):
    assert client.get("/health/live").json == {"status": "ok"}


def test_the_service_is_ready_where_its_database_answers(client):
    assert client.get("/health/ready").json == {
        "status": "ok",
        "release": "0.1.0",
        "now": "2026-07-14T18:40:00+00:00",
    }


def test_the_service_is_not_ready_where_its_database_does_not_answer(client, store, monkeypatch):
    def fail():
        raise StoreUnavailable("The database does not answer.")

    monkeypatch.setattr(store, "ping", fail)
    answer = client.get("/health/ready")

    assert (answer.status_code, answer.json["type"]) == (503, "/problems/no-storage")
    assert int(answer.headers["Retry-After"]) >= 1


def test_the_contract_is_served_and_known_by_its_etag(client):
    contract = client.get("/v1/openapi.json")

    assert contract.json["openapi"] == "3.1.0"
    assert (
        client.get("/v1/openapi.json", headers={"If-None-Match": contract.headers["ETag"]}).status_code == 304
    )


@pytest.mark.parametrize("word", ["", "x" * 101])
def test_a_search_for_nothing_or_for_a_whole_page_is_refused_with_what_it_may_be(client, word):
    refused = client.get("/v1/catalogue/plants", query_string={"search": word})

    assert refused.status_code == 422
    assert "a word of 1 to 100 letters" in refused.json["errors"][0]["detail"]
