"""The route of checks."""

import copy

import pytest

from api.schemas.check import CheckSchema


@pytest.fixture
def garden(garden):
    """One that nothing is odd about, to be changed at will."""
    garden = copy.deepcopy(garden)
    garden["zones"]["lawn"]["watering"]["rate_mm_h"] = 10
    return garden


def test_a_garden_without_oddities_has_no_findings(client, garden):
    answer = client.post("/v1/check", json=garden)

    assert answer.status_code == 200
    assert answer.json == {"garden": "garden", "zones": 1, "findings": []}


def test_what_is_odd_is_told_with_code_pointer_and_advice(client, garden):
    garden["zones"]["lawn"]["watering"].update(efficiency=0.98)
    answer = client.post("/v1/check", json=garden).json

    assert CheckSchema().validate(answer) == {}
    (finding,) = answer["findings"]
    assert finding["code"] == "efficiency-above-published"
    assert finding["pointer"] == "/zones/lawn/watering/efficiency"
    assert "0.98" in finding["text"]
    assert "0.85" in finding["advice"]


def test_what_cannot_be_is_an_error_and_no_finding(client, garden):
    garden["zones"]["lawn"]["area_m2"] = -1
    answer = client.post("/v1/check", json=garden)

    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/invalid-garden"
    assert answer.json["errors"][0]["pointer"] == "/zones/lawn/area_m2"


def test_numbers_that_contradict_each_other_are_an_error_too(client, garden):
    # 0.2 l/min on 85 m2 would refill it in days.
    garden["zones"]["lawn"]["watering"] = {"method": "overhead-spray", "flow_l_min": 0.2}
    answer = client.post("/v1/check", json=garden)

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "/zones/lawn/watering"


def test_nothing_is_stored(client, store, garden):
    client.post("/v1/check", json={**garden, "id": "home"})

    assert store.garden("home") is None


def test_query_parameters_are_refused(client, garden):
    assert client.post("/v1/check?explain=true", json=garden).status_code == 422
