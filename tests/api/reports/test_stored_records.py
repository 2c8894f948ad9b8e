"""What is stored of own weather, probes and valves is read in every format that was ever written."""

import datetime as dt
from collections.abc import Iterator

import pytest

from api.reports.measurements import Measurements
from api.schemas.stored_bodies import FORMAT
from api.store.rows import StoredMorning, StoredObservation, StoredReading, StoredValve
from scheduling.garden.reports import MorningReading
from tests.api.stored_garden import Clock, House, Steady, document

JULY_13, JULY_14 = dt.date(2026, 7, 13), dt.date(2026, 7, 14)
BASE = "/v1/gardens/orchard"

OBSERVATION = {
    "rain_mm": 4.2,
    "t_min_c": -0.5,
    "wind_m_s": 2.0,
    "wind_height_m": 10.0,
    "measured_at": "2026-07-14T08:00:00+02:00",
}
READING = {
    "measured_at": "2026-07-14T05:10:00.500000+02:00",
    "probe": "deep",
    "store_share": 0.5,
    "depth_m": 0.3,
    "error_share": 0.05,
}
MORNING = {
    "store_share": 0.5,
    "depth_m": 0.3,
    "error_share": 0.05,
    "read_at": "2026-07-14T03:10:00.500000+00:00",
}
VALVE = {"battery_share": 0.4}
"""Bodies as the release before there were formats wrote them, and what it answered of them."""
ANSWERS = {
    "observations/2026-07-13": {"date": "2026-07-13", **OBSERVATION, "covers_day": True, "doubts": []},
    "moisture/lawn/r1": {"zone": "lawn", "id": "r1", "morning": "2026-07-14", **READING, "doubts": []},
    "valves/lawn": {
        "zone": "lawn",
        "battery_share": 0.4,
        "state": None,
        "told_at": "2026-07-14T20:00:00+02:00",
    },
}
MEASURED_AT = dt.datetime(2026, 7, 14, 3, 10, 0, 500_000, tzinfo=dt.UTC)


@pytest.fixture
def house(database_url: str) -> Iterator[House]:
    clock = Clock()
    house = House(database_url, clock, Steady(clock))
    for garden_id in ("orchard", "neighbour"):
        house.put({**document(), "id": garden_id})
    yield house
    house.close()


def keep(house: House, **also: object) -> None:
    """Store the bodies, with something added to each."""
    with house.store.changing("orchard") as change:
        change.put_report(StoredObservation(JULY_13, {**OBSERVATION, **also}))
        change.put_report(StoredReading("lawn", "r1", MEASURED_AT, JULY_14, {**READING, **also}))
        change.put_mornings("lawn", JULY_14, [StoredMorning(JULY_14, "lawn", "deep", {**MORNING, **also})])
        told_at = dt.datetime(2026, 7, 14, 18, tzinfo=dt.UTC)
        change.put_report(StoredValve("lawn", told_at, {**VALVE, **also}))


@pytest.mark.parametrize(
    "number", [{}, {"format": 1}, {"format": FORMAT}], ids=["without a number", "format 1", "present format"]
)
def test_bodies_give_the_answers_that_they_gave(house, number):
    keep(house, **number)
    client = house.client()
    for address, expected in ANSWERS.items():
        answer = client.get(f"{BASE}/{address}").json
        assert list(answer.items()) == list(expected.items())

    measured = Measurements(house.store).of(house.store.garden("orchard"), JULY_13)
    assert measured.observations[JULY_13].values["rain_mm"] == 4.2
    (morning,) = measured.mornings
    assert morning.reading == MorningReading(
        "lawn", "deep", JULY_14, store_share=0.5, depth_m=0.3, error_share=0.05
    )
    assert morning.read_at == MEASURED_AT


@pytest.mark.parametrize("address", ANSWERS)
def test_a_format_of_a_newer_release_stops_its_garden_alone(house, address):
    keep(house, format=FORMAT + 1)
    client = house.client()
    kind, _, _ = address.partition("/")
    for refused in (client.get(f"{BASE}/{address}"), client.get(f"{BASE}/{kind}")):
        assert refused.status_code == 503
        assert refused.json["type"] == "/problems/unknown-format"
    assert client.get(f"/v1/gardens/neighbour/{kind}").status_code == 200


def test_the_same_report_as_was_stored_without_a_number_is_known(house):
    keep(house)
    version = house.store.garden("orchard").version
    client = house.client()
    observation = client.put(f"{BASE}/observations/2026-07-13", json=OBSERVATION)
    reading = client.put(f"{BASE}/moisture/lawn/r1", json=READING)
    assert (observation.status_code, reading.status_code) == (200, 200)
    assert house.store.garden("orchard").version == version
