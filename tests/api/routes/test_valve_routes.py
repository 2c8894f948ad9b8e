"""The state of valves, over HTTP. It is 20:40 in Paris, on 14 July."""

import pytest

BASE = "/v1/gardens/home/valves"
LAWN = f"{BASE}/lawn"


def test_what_is_told_of_a_valve_is_kept_and_read_back(client, home):
    before = home.garden("home").version
    told = client.put(LAWN, json={"battery_share": 0.4, "state": "shut"})
    assert (told.status_code, told.headers["Location"]) == (201, LAWN)
    assert told.json == {
        "zone": "lawn",
        "battery_share": 0.4,
        "state": "shut",
        "told_at": "2026-07-14T20:40:00+02:00",
    }
    assert client.get(LAWN).json == told.json
    assert client.get(BASE).json == {"valves": [told.json]}
    assert home.garden("home").version > before


def test_what_is_told_later_takes_its_place_as_a_whole(client, home):
    client.put(LAWN, json={"battery_share": 0.4, "told_at": "2026-07-14T20:00:00+02:00"})
    told = client.put(LAWN, json={"state": "open"})
    assert told.status_code == 200
    assert (told.json["battery_share"], told.json["state"]) == (None, "open")


def test_a_message_that_was_overtaken_changes_nothing(client, home):
    newer = client.put(LAWN, json={"state": "shut", "told_at": "2026-07-14T20:30:00+02:00"}).json
    before = home.garden("home").version
    late = client.put(LAWN, json={"state": "open", "told_at": "2026-07-14T20:00:00+02:00"})
    assert (late.status_code, late.json) == (200, newer)
    assert client.put(LAWN, json={"state": "shut", "told_at": "2026-07-14T18:30:00Z"}).json == newer
    assert home.garden("home").version == before


@pytest.mark.parametrize(
    ("body", "pointer", "words"),
    [
        ({}, "", "give battery_share, state or both"),
        ({"battery_share": 40}, "/battery_share", "battery_share is 40; it must be a number from 0 to 1."),
        ({"state": "ajar"}, "/state", '"open", "shut" or "unreachable"'),
        ({"state": "shut", "told_at": "2026-07-14T21:00:00+02:00"}, "/told_at", "which has not come yet"),
        ({"battery": 0.4}, "/battery", "is not a field here"),
    ],
)
def test_what_cannot_be_is_refused_in_words(client, home, body, pointer, words):
    refused = client.put(LAWN, json=body)
    assert refused.status_code == 422
    told = {error["pointer"]: error["detail"] for error in refused.json["errors"]}
    assert words in told[pointer]


def test_what_is_not_there_is_404_in_words(client, home):
    assert client.put(f"{BASE}/beds", json={"state": "shut"}).json["type"] == "/problems/zone-not-found"
    unknown = client.get(LAWN)
    assert (unknown.status_code, unknown.json["type"]) == (404, "/problems/valve-not-found")
    assert client.get(BASE).json == {"valves": []}
    for answer in (
        client.put("/v1/gardens/nowhere/valves/lawn", json={"state": "shut"}),
        client.get("/v1/gardens/nowhere/valves/lawn"),
        client.get("/v1/gardens/nowhere/valves"),
    ):
        assert (answer.status_code, answer.json["type"]) == (404, "/problems/garden-not-found")
