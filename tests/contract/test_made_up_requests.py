"""Requests that a program makes up from the contract: no 5xx, and no answer that it does not have.

A few of each in the plain suite; in the gate very many at random, and every limit of every field.
"""

import pytest
import schemathesis
from hypothesis import HealthCheck
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from api.cli import demo
from api.ids import is_report_id
from openapi.conversation import CONTRACT
from tests.profile import are_in_full, examples

# A rule across fields, as "a maximum is not below its minimum", is beyond what a schema can say.
BEYOND_A_SCHEMA = [positive_data_acceptance]

# What is wrong with one entry of a batch is told of that entry; the batch itself is answered with 200.
ANSWERED_ONE_BY_ONE = [
    ("post", "/v1/gardens/{garden}/deliveries"),
    ("post", "/v1/gardens/{garden}/observations"),
    ("post", "/v1/gardens/{garden}/moisture"),
]

REAL = {
    "garden": demo.GARDEN_ID,
    "zone": "fescue-lawn",
    "delivery": "2026-07-15-fescue-lawn-1",
    "date": "2026-07-13",
    "reading": "0714-0430",
}
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
contract.config.phases.coverage.enabled = are_in_full()  # every limit of every field


@contract.hook
def map_path_parameters(context, path_parameters):
    made_up = not path_parameters or not all(map(is_report_id, path_parameters.values()))
    if made_up or len(str(path_parameters)) % 2:
        return path_parameters
    return {name: REAL.get(name, value) for name, value in path_parameters.items()}


@contract.hook
def map_headers(context, headers):
    """Let edits through, so that it is their bodies which are looked at; the garden must stay."""
    if headers and "If-Match" in headers and context.operation.method != "delete":
        return {**headers, "If-Match": "*"}
    return headers


@pytest.fixture(scope="module")
def app(with_final_plan):
    asked.app = with_final_plan
    return with_final_plan


@contract.parametrize()
@examples(200 if are_in_full() else 9, derandomize=True, suppress_health_check=list(HealthCheck))
def test_every_answer_is_in_the_contract(app, case):
    excluded = list(BEYOND_A_SCHEMA)
    if (case.operation.method, case.operation.path) in ANSWERED_ONE_BY_ONE:
        excluded.append(negative_data_rejection)
    case.call_and_validate(excluded_checks=excluded)
