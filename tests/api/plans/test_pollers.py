"""Eight pollers in four processes agree, at the moment a plan becomes final and whenever it shrinks."""

import os
import subprocess
import sys
from pathlib import Path

import orjson
import pytest

from api.schemas.stored_bodies import FORMAT
from tests.api.stored_garden import EVENING, JULY_15, ONE_DAY, Clock, House, document
from tests.profile import PATIENCE_S

POLLERS = Path(__file__).with_name("pollers.py")
ROOT = Path(__file__).parents[3]


def read_by_eight(url: str, clock: Clock) -> list[bytes]:
    ran = subprocess.run(
        [sys.executable, POLLERS, url, clock.now.isoformat()],
        stdout=subprocess.PIPE,
        timeout=PATIENCE_S,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    return ran.stdout.splitlines()


@pytest.fixture
def house(open_house, database_url, clock) -> House:
    """A garden that was stored three days ago."""
    clock.now = EVENING - 3 * ONE_DAY
    house = open_house(database_url)
    house.put()
    return house


@pytest.mark.long
def test_one_final_plan_is_made_and_shrinks_once(house, database_url):
    house.clock.to(21)
    read = read_by_eight(database_url, house.clock)
    assert (len(read), len(set(read))) == (8, 1)
    assert orjson.loads(read[0])["phase"] == "final"
    (kept,) = house.store.finals("orchard", None, None)
    assert (kept.date, {"format": FORMAT, **orjson.loads(read[0])}) == (JULY_15, kept.body)

    house.put(document(rules={"pauses": [{"from": "2026-07-15", "to": "2026-07-16"}]}))
    version = house.store.garden("orchard").version
    less = read_by_eight(database_url, house.clock)
    assert (len(less), len(set(less))) == (8, 1)
    assert orjson.loads(less[0])["zones"][0]["runs"][0]["state"] == "withdrawn"
    assert house.store.garden("orchard").version == version + 1
