"""Soil probes, over HTTP. It is 20:40 in Paris, on 14 July."""

import pytest

BASE = "/v1/gardens/home/moisture"
READING = f"{BASE}/lawn/0714-0430"
AT_NIGHT = "2026-07-14T04:30:00+02:00"
BODY = {"measured_at": AT_NIGHT, "water_content": 0.24}


def version(store) -> int:
    return store.garden("home").version


def test_a_reading_is_kept_and_read_back(client, home):
    before = version(home)
    kept = client.put(READING, json=BODY)
    assert (kept.status_code, kept.headers["Location"]) == (201, READING)
    assert kept.json == {
        "zone": "lawn",
        "id": "0714-0430",
        "morning": "2026-07-14",
        "measured_at": AT_NIGHT,
        "probe": "probe",
        "water_content": 0.24,
        "doubts": [],
    }
    assert client.get(READING).json == kept.json
    assert version(home) > before


def test_what_is_read_by_day_counts_for_no_morning(client, home):
    told = client.put(READING, json={**BODY, "measured_at": "2026-07-14T13:00:00+02:00"})
    assert (told.status_code, told.json["morning"]) == (201, None)


def test_the_same_again_changes_nothing_and_another_value_takes_its_place(client, home):
    client.put(READING, json=BODY)
    before = version(home)
    assert client.put(READING, json=BODY).status_code == 200
    assert version(home) == before
    corrected = client.put(READING, json={"measured_at": AT_NIGHT, "store_share": 0.4, "probe": "deep"})
    assert (corrected.status_code, corrected.json["store_share"]) == (200, 0.4)
    assert "water_content" not in corrected.json
    assert version(home) > before


def test_only_a_new_one_may_be_asked_for(client, home):
    headers = {"If-None-Match": "*"}
    assert client.put(READING, json=BODY, headers=headers).status_code == 201
    assert client.put(READING, json=BODY, headers=headers).status_code == 412


def test_it_can_be_taken_back_once(client, home):
    client.put(READING, json=BODY)
    assert client.delete(READING).status_code == 204
    for gone in (client.get(READING), client.delete(READING)):
        assert (gone.status_code, gone.json["type"]) == (404, "/problems/reading-not-found")


@pytest.mark.parametrize(
    ("change", "pointer", "words"),
    [
        ({"water_content": 1.2}, "/water_content", "water_content is 1.2; it must be a number from 0 to 1."),
        ({"water_content": 24}, "/water_content", "must be a number from 0 to 1"),
        ({"store_share": 0.5}, "/store_share", "give only one of them"),
        ({"water_content": None}, "/water_content", "is null"),
        ({"depth_m": 0}, "/depth_m", "above 0 and at most 5"),
        ({"error_share": 0.9}, "/error_share", "above 0 and at most 0.5"),
        ({"probe": "Deep one"}, "/probe", "lower-case letters"),
        ({"measured_at": "2026-07-14T04:30:00"}, "/measured_at", "a moment with offset"),
        ({"measured_at": "2026-07-14T20:50:00+02:00"}, "/measured_at", "which has not come yet"),
        ({"moisture": 0.3}, "/moisture", "is not a field here"),
    ],
)
def test_what_cannot_be_is_refused_in_words(client, home, change, pointer, words):
    refused = client.put(READING, json={**BODY, **change})
    assert refused.status_code == 422
    assert refused.json["errors"][0]["pointer"] == pointer
    assert words in refused.json["errors"][0]["detail"]


def test_a_reading_of_nothing_is_refused(client, home):
    refused = client.put(READING, json={"measured_at": AT_NIGHT})
    assert refused.status_code == 422
    assert refused.json["detail"] == "water_content is missing; give it, or store_share."


def test_what_is_doubtful_is_kept_and_marked(client, home):
    told = client.put(READING, json={"measured_at": AT_NIGHT, "store_share": 1.8, "depth_m": 2})
    assert told.status_code == 201
    assert told.json["doubts"] == [
        "store_share is 1.8; from -0.2 to 1.5 is likely.",
        "depth_m is 2; from 0.02 to 1.5 is likely.",
    ]


def test_a_zone_or_garden_that_is_not_there_is_404_in_words(client, home):
    refused = client.put(f"{BASE}/beds/1", json=BODY)
    assert (refused.status_code, refused.json["detail"]) == (404, 'There is no zone "beds" here.')
    for answer in (
        client.put("/v1/gardens/nowhere/moisture/lawn/1", json=BODY),
        client.get("/v1/gardens/nowhere/moisture/lawn/1"),
        client.delete("/v1/gardens/nowhere/moisture/lawn/1"),
        client.get("/v1/gardens/nowhere/moisture"),
        client.post("/v1/gardens/nowhere/moisture", json={"moisture": [BODY]}),
    ):
        assert (answer.status_code, answer.json["type"]) == (404, "/problems/garden-not-found")


def test_the_list_goes_by_moment_page_by_page(client, home):
    for day in (14, 12, 13):
        for hour in ("04", "13"):
            body = {"measured_at": f"2026-07-{day}T{hour}:30:00+02:00", "store_share": 0.5}
            client.put(f"{BASE}/lawn/{day}-{hour}", json=body)
    order = [f"{day}-{hour}" for day in (12, 13, 14) for hour in ("04", "13")]

    def listed(**query):
        body = client.get(BASE, query_string=query).json
        return [entry["id"] for entry in body["moisture"]], body["next"]

    assert listed() == (order, None)
    assert listed(**{"from": "2026-07-13", "to": "2026-07-13"}) == (order[2:4], None)
    first, following = listed(limit=4)
    assert (first, following) == (order[:4], "2026-07-13T11:30:00Z/lawn/13-13")
    assert listed(limit=4, after=following) == (order[4:], None)


@pytest.mark.parametrize(
    "query",
    [
        "limit=0",
        "after=x",
        "after=2026-07-13/lawn/1",
        "after=0001-01-01T00:00%2B14:00/lawn/1",
        "zone=lawn",
    ],
)
def test_a_list_that_cannot_be_is_refused(client, home, query):
    assert client.get(f"{BASE}?{query}").status_code == 422


def test_a_batch_is_answered_item_by_item(client, home):
    client.put(READING, json=BODY)
    batch = {
        "moisture": [
            {"zone": "lawn", "id": "0714-0430", **BODY},
            {"zone": "lawn", "id": "0713-0430", **BODY, "measured_at": "2026-07-13T04:30:00+02:00"},
            {"zone": "beds", "id": "1", **BODY},
            {"zone": "lawn", "id": "2", "measured_at": AT_NIGHT, "water_content": 2},
            {"id": "UPPER"},
            7,
        ]
    }
    told = client.post(BASE, json=batch).json["moisture"]
    assert [entry["result"] for entry in told] == ["known", "kept"] + 4 * ["refused"]
    assert [(entry["zone"], entry["id"]) for entry in told[2:]] == [
        ("beds", "1"),
        ("lawn", "2"),
        (None, None),
        (None, None),
    ]
    assert told[1]["reading"]["morning"] == "2026-07-13"
    assert told[2]["problem"]["type"] == "/problems/zone-not-found"
    assert told[3]["problem"]["errors"][0]["pointer"] == "/moisture/3/water_content"
    again = client.post(BASE, json=batch).json["moisture"]
    assert [entry["result"] for entry in again[:2]] == ["known", "known"]
