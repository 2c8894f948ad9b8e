"""The service that made-up requests are sent to."""

import datetime as dt

import pytest

from api.cli import demo
from openapi.conversation import Clock, service


@pytest.fixture(scope="session", autouse=True)
def _patient(_patient_service):
    """Nothing here fails because a machine is slow."""


@pytest.fixture(scope="module")
def with_final_plan():
    """A service with the demonstration's garden and its final plan."""
    clock = Clock()
    clock.now = demo.PINNED_NOW + dt.timedelta(minutes=25)
    with service(clock) as app:
        client = app.test_client()
        address = f"/v1/gardens/{demo.GARDEN_ID}"
        assert client.put(address, json=demo.garden_document()).status_code == 201
        assert client.get(f"{address}/plan").json["phase"] == "final"
        yield app
