"""The route of replays."""

import datetime as dt

import pytest

from api.errors import ReplayUnderWay
from api.weather.errors import WeatherUnavailable
from scheduling.errors import WeatherGap

DAYS = [{"date": "2025-06-01", "t_min_c": 11, "t_max_c": 24, "rain_mm": 0}]


def test_a_request_is_read_and_answered(client, replays, garden):
    answer = client.post("/v1/replay", json={"garden": garden, "weather": DAYS})

    assert (answer.status_code, answer.json) == (200, {"garden": "garden"})
    ((request, explain),) = replays.asked
    assert [zone.id for zone in request.garden.zones] == ["lawn"]
    assert explain is False


def test_explain_is_passed_on(client, replays, garden):
    client.post("/v1/replay?explain=true", json={"garden": garden, "weather": DAYS})

    assert replays.asked[0][1] is True


@pytest.mark.parametrize(
    ("error", "status", "retry_after"),
    [
        (ReplayUnderWay(5), 503, "5"),
        (WeatherUnavailable("demo lacks days.", 1800), 503, "1800"),
        (WeatherGap(dt.date(2025, 6, 2), dt.date(2025, 6, 3)), 422, None),
    ],
)
def test_what_goes_wrong_has_its_status(client, replays, garden, error, status, retry_after):
    replays.error = error
    answer = client.post("/v1/replay", json={"garden": garden, "weather": DAYS})

    assert answer.status_code == status
    assert answer.headers.get("Retry-After") == retry_after
    assert answer.content_type == "application/problem+json"


def test_a_second_replay_is_told_to_come_again(client, replays, garden):
    replays.error = ReplayUnderWay(5)
    answer = client.post("/v1/replay", json={"garden": garden, "weather": DAYS})

    assert answer.json["type"] == "/problems/replay-under-way"
    assert "one is reckoned at a time" in answer.json["detail"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/garden"),
        ({"garden": {}}, "/garden/latitude"),
        ({"weather": DAYS, "wether": 1}, "/wether"),
        ({"timer": {"all": {}}}, "/timer/all"),
    ],
)
def test_a_body_that_cannot_be_is_refused_with_pointers(client, replays, body, pointer):
    answer = client.post("/v1/replay", json=body)

    assert answer.status_code == 422
    assert pointer in [error["pointer"] for error in answer.json["errors"]]
    assert replays.asked == []


def test_unknown_parameters_are_refused(client, garden):
    answer = client.post("/v1/replay?explian=true", json={"garden": garden, "weather": DAYS})

    assert answer.status_code == 422
    assert "Did you mean explain?" in answer.json["detail"]
