"""The service that made-up requests are sent to."""

import datetime as dt
from pathlib import Path

import pytest

from api.cli import demo
from openapi.conversation import Clock, service

IN_FULL = "test_made_up_requests_in_full.py"


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out the long count unless it is asked for: to collect it alone takes ten seconds."""
    if collection_path.name == IN_FULL and "not long" in config.getoption("markexpr"):
        return True
    return None


@pytest.fixture(scope="module")
def with_final_plan():
    """A service with the demonstration's garden and its final plan."""
    clock = Clock()
    clock.now = demo.PINNED_NOW + dt.timedelta(minutes=25)
    with service(clock) as app:
        client = app.test_client()
        address = f"/v1/gardens/{demo.GARDEN_ID}"
        assert client.put(address, json=demo.garden_document()).status_code == 201
        assert client.get(f"{address}/plan").json["status"] == "final"
        yield app
