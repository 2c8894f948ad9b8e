"""Own weather, over HTTP."""

import datetime as dt

import pytest

BASE = "/v1/gardens/home/observations"
JULY_13 = f"{BASE}/2026-07-13"
TODAY = f"{BASE}/2026-07-14"


def version(store) -> int:
    return store.garden("home").version


def test_an_observation_is_kept_and_read_back(client, home):
    before = version(home)
    kept = client.put(JULY_13, json={"rain_mm": 4.2, "t_max_c": 27})
    assert kept.status_code == 201
    assert kept.headers["Location"] == JULY_13
    assert kept.json == {
        "date": "2026-07-13",
        "rain_mm": 4.2,
        "t_max_c": 27.0,
        "measured_at": "2026-07-14T20:40:00+02:00",
        "covers_day": True,
        "doubts": [],
    }
    assert client.get(JULY_13).json == kept.json
    assert version(home) > before


def test_the_same_again_changes_nothing_and_another_value_takes_its_place(client, home):
    client.put(JULY_13, json={"rain_mm": 4.2})
    before = version(home)
    assert client.put(JULY_13, json={"rain_mm": 4.2}).status_code == 200
    assert version(home) == before
    corrected = client.put(JULY_13, json={"rain_mm": 2.4})
    assert (corrected.status_code, corrected.json["rain_mm"]) == (200, 2.4)
    assert version(home) > before


def test_only_a_new_one_may_be_asked_for(client, home):
    headers = {"If-None-Match": "*"}
    assert client.put(JULY_13, json={"rain_mm": 1}, headers=headers).status_code == 201
    refused = client.put(JULY_13, json={"rain_mm": 2}, headers=headers)
    assert refused.status_code == 412
    assert refused.json["detail"] == "An observation of 2026-07-13 is kept already."


def test_it_can_be_taken_back_once(client, home):
    client.put(JULY_13, json={"rain_mm": 1})
    assert client.delete(JULY_13).status_code == 204
    for gone in (client.get(JULY_13), client.delete(JULY_13)):
        assert gone.status_code == 404
        assert gone.json["type"] == "/problems/observation-not-found"


def test_what_is_told_of_today_covers_the_day_only_in_its_last_hour(client, home):
    told = client.put(TODAY, json={"rain_mm": 3, "measured_at": "2026-07-14T12:00:00+02:00"})
    assert (told.status_code, told.json["covers_day"]) == (201, False)
    assert client.put(JULY_13, json={"rain_mm": 3, "measured_at": "2026-07-13T23:05:00+02:00"}).json[
        "covers_day"
    ]
    assert not client.put(JULY_13, json={"rain_mm": 3, "measured_at": "2026-07-13T22:55:00+02:00"}).json[
        "covers_day"
    ]


@pytest.mark.parametrize(
    ("date", "body", "pointer", "words"),
    [
        ("2026-07-15", {"rain_mm": 1}, "/date", "which has not come yet; at the garden it is 2026-07-14"),
        ("2026-07-13", {}, "", "Nothing is observed; give at least one of t_min_c"),
        ("2026-07-13", {"rain_mm": -0.1}, "/rain_mm", "rain_mm is -0.1; it must be a number from 0 to 1000."),
        ("2026-07-13", {"t_min_c": 20, "t_max_c": 10}, "/t_min_c", "must not be above t_max_c, 10"),
        ("2026-07-13", {"rain_mm": 1, "wind_height_m": 2}, "/wind_height_m", "where wind_m_s was measured"),
        ("2026-07-13", {"rain_in": 1}, "/rain_in", "Did you mean rain_mm?"),
        ("2026-07-13", {"rain_mm": 1, "measured_at": "2026-07-14T21:00:00Z"}, "/measured_at", "not come yet"),
        ("2026-07-13", {"rain_mm": 1, "measured_at": "2026-07-12T21:00Z"}, "/measured_at", "had not begun"),
        ("2026-02-30", {"rain_mm": 1}, "/date", "must be a date"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(client, home, date, body, pointer, words):
    refused = client.put(f"{BASE}/{date}", json=body)
    assert refused.status_code == 422
    assert refused.json["errors"][0]["pointer"] == pointer
    assert words in refused.json["errors"][0]["detail"]


def test_what_is_unlikely_is_kept_and_marked(client, home):
    told = client.put(JULY_13, json={"rain_mm": 350, "solar_mj_m2": 45, "sunshine_h": 16, "t_max_c": 30})
    assert told.status_code == 201
    assert [doubt.partition(" ")[0] for doubt in told.json["doubts"]] == [
        "rain_mm",
        "solar_mj_m2",
        "sunshine_h",
    ]


def test_a_garden_that_is_not_there_is_404(client):
    body = {"rain_mm": 1}
    for answer in (
        client.put("/v1/gardens/nowhere/observations/2026-07-13", json=body),
        client.get("/v1/gardens/nowhere/observations/2026-07-13"),
        client.delete("/v1/gardens/nowhere/observations/2026-07-13"),
        client.get("/v1/gardens/nowhere/observations"),
        client.post("/v1/gardens/nowhere/observations", json={"observations": [body]}),
    ):
        assert answer.status_code == 404
        assert answer.json["type"] == "/problems/garden-not-found"


def test_the_list_goes_by_date_page_by_page(client, home):
    dates = [dt.date(2026, 7, day).isoformat() for day in (10, 11, 12, 13)]
    for date in reversed(dates):
        client.put(f"{BASE}/{date}", json={"rain_mm": 1})

    def listed(query: str):
        body = client.get(f"{BASE}?{query}").json
        return [entry["date"] for entry in body["observations"]], body["next"]

    assert listed("") == (dates, None)
    assert listed("from=2026-07-11&to=2026-07-12") == (dates[1:3], None)
    assert listed("limit=3") == (dates[:3], "2026-07-12")
    assert listed("limit=3&after=2026-07-12") == (dates[3:], None)
    for query in ("limit=501", "after=yesterday", "zone=lawn"):
        assert client.get(f"{BASE}?{query}").status_code == 422, query


def test_a_batch_is_answered_item_by_item(client, home):
    client.put(JULY_13, json={"rain_mm": 4.2})
    before = version(home)
    batch = {
        "observations": [
            {"date": "2026-07-12", "rain_mm": 0},
            {"date": "2026-07-13", "rain_mm": 4.2},
            {"date": "2026-07-15", "rain_mm": 1},
            {"date": "2026-07-11", "rain_mm": "4"},
            {"rain_mm": 4},
            None,
        ]
    }
    answer = client.post(BASE, json=batch)
    assert answer.status_code == 200
    told = answer.json["observations"]
    assert [entry["result"] for entry in told] == [
        "kept",
        "known",
        "refused",
        "refused",
        "refused",
        "refused",
    ]
    assert [entry["date"] for entry in told] == [
        "2026-07-12", "2026-07-13", "2026-07-15", "2026-07-11", None, None,
    ]  # fmt: skip
    assert told[0]["observation"]["rain_mm"] == 0.0
    assert [entry["problem"]["errors"][0]["pointer"] for entry in told[2:]] == [
        "/observations/2/date", "/observations/3/rain_mm", "/observations/4/date", "/observations/5",
    ]  # fmt: skip
    assert version(home) == before + 1
    again = client.post(BASE, json=batch).json["observations"]
    assert [entry["result"] for entry in again[:2]] == ["known", "known"]
    assert version(home) == before + 1


def test_a_batch_that_is_none_is_refused_whole(client, home):
    for body in ([], {}, {"observations": []}, {"observations": {}}, {"observations": [{}] * 501}):
        assert client.post(BASE, json=body).status_code == 422, body


def test_deleting_the_garden_counts_its_observations(client, home):
    client.put(JULY_13, json={"rain_mm": 4.2})
    etag = client.get("/v1/gardens/home").headers["ETag"]
    assert client.delete("/v1/gardens/home", headers={"If-Match": etag}).json["reports_deleted"] == 1
