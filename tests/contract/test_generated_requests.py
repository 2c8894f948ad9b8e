"""Requests that a program makes up from the contract: no 5xx, and no answer that it does not have."""

import datetime as dt

import hypothesis
import pytest
import schemathesis
from hypothesis import HealthCheck
from schemathesis.specs.openapi.checks import positive_data_acceptance

from api import demo
from api.ids import is_report_id
from openapi.conversation import CONTRACT, Clock, service

# A rule across fields, as "a maximum is not below its minimum", is beyond what a schema can say.
BEYOND_A_SCHEMA = [positive_data_acceptance]

REAL = {"garden": demo.GARDEN_ID, "zone": "fescue-lawn", "delivery": "2026-07-15-fescue-lawn-1"}
"""Half of the requests are about what is there; made-up ids would nearly all be 404."""


class Service:
    """A WSGI application that can be asked for its contract before it is there."""

    app = None

    def __call__(self, environ, start_response):
        if self.app is not None:
            return self.app(environ, start_response)
        start_response("200 OK", [("Content-Type", "application/json")])
        return [CONTRACT.read_bytes()]


asked = Service()
contract = schemathesis.openapi.from_wsgi("/v1/openapi.json", asked)


@contract.hook
def map_path_parameters(context, path_parameters):
    if (
        not path_parameters
        or len(str(path_parameters)) % 2
        or not all(map(is_report_id, path_parameters.values()))
    ):
        return path_parameters
    return {name: REAL.get(name, value) for name, value in path_parameters.items()}


@contract.hook
def map_headers(context, headers):
    """Let edits through, so that it is their bodies which are looked at; the garden must stay."""
    if headers and "If-Match" in headers and context.operation.method != "delete":
        return {**headers, "If-Match": "*"}
    return headers


@pytest.fixture(scope="module")
def app():
    """A service with the demonstration's garden and its final plan."""
    clock = Clock()
    clock.now = demo.PINNED_NOW + dt.timedelta(minutes=25)
    with service(clock) as app:
        client = app.test_client()
        address = f"/v1/gardens/{demo.GARDEN_ID}"
        assert client.put(address, json=demo.garden_document()).status_code == 201
        assert client.get(f"{address}/plan").json["status"] == "final"
        asked.app = app
        yield app


def asking(times):
    return hypothesis.settings(
        max_examples=times,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        database=None,
    )


@contract.parametrize()
@asking(20)
def test_every_answer_is_in_the_contract(app, case):
    case.call_and_validate(excluded_checks=BEYOND_A_SCHEMA)


@pytest.mark.long
@contract.parametrize()
@asking(400)
def test_every_answer_of_very_many_is_in_the_contract(app, case):
    case.call_and_validate(excluded_checks=BEYOND_A_SCHEMA)
