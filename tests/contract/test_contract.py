"""The contract is the service's own: what is written is served, and what is served is written."""

import re

import orjson
import pytest
from openapi_spec_validator import validate

from api.routes.contract import contract_of
from openapi.conversation import CONTRACT, Clock, ask, example_files, service


@pytest.fixture(scope="module")
def clock():
    return Clock()


@pytest.fixture(scope="module")
def app(clock):
    with service(clock) as app:
        yield app


@pytest.fixture(scope="module")
def contract(app):
    return contract_of(app)


class Conversation:
    """The examples as one conversation: each is answered by a service that was asked those before it."""

    def __init__(self, app, clock):
        self._app = app
        self._clock = clock
        self._to_ask = example_files()

    def up_to(self, path):
        """What an example answers, and what it should, asking whatever comes before it first."""
        while self._to_ask[0] != path:
            self._next()
        return self._next()

    def _next(self):
        example = orjson.loads(self._to_ask.pop(0).read_bytes())
        return ask(self._app, self._clock, example), example["answer"]


@pytest.fixture(scope="module")
def conversation(app, clock):
    return Conversation(app, clock)


def operations(contract):
    return [
        (path, method, operation)
        for path, item in contract["paths"].items()
        for method, operation in item.items()
        if method in ("get", "put", "post", "patch", "delete")
    ]


def test_the_written_contract_is_the_served_one(contract):
    assert orjson.loads(CONTRACT.read_bytes()) == contract, "run python -m openapi, and read what has changed"


def test_the_contract_is_openapi(contract):
    validate(contract)


def test_every_route_is_in_the_contract(app, contract):
    # The pages of the guide are for people.
    documented = {(path, method.upper()) for path, method, _ in operations(contract)}
    served = {
        (re.sub("<(id|report|day):([a-z]+)>", r"{\2}", rule.rule).replace("<", "{").replace(">", "}"), method)
        for rule in app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
        if rule.rule != "/v1/openapi.json" and not rule.endpoint.startswith("docs.")
    }

    assert documented == served


def test_every_operation_says_what_it_does_and_how_it_can_fail(contract):
    for path, method, operation in operations(contract):
        assert operation["summary"].endswith("."), (path, method)
        assert {"400", "422"} <= set(operation["responses"]), (path, method)
        if "requestBody" in operation:
            assert {"413", "415"} <= set(operation["responses"]), (path, method)


def test_every_problem_is_described_once(contract):
    for _, _, operation in operations(contract):
        for status, response in operation["responses"].items():
            if status >= "400":
                assert response["$ref"].startswith("#/components/responses/")
    for response in contract["components"]["responses"].values():
        assert response["content"]["application/problem+json"]["schema"] == {
            "$ref": "#/components/schemas/Problem"
        }


def test_limits_of_the_fields_are_in_the_contract(contract):
    area = contract["components"]["schemas"]["Zone"]["properties"]["area_m2"]
    garden = contract["components"]["schemas"]["Garden"]

    assert (area["minimum"], area["maximum"]) == (0.01, 100_000)
    assert garden["additionalProperties"] is False
    assert garden["properties"]["zones"]["maxProperties"] == 200


@pytest.mark.parametrize("path", example_files(), ids=lambda path: path.stem)
def test_an_example_is_what_the_service_answers(conversation, path):
    answer, written = conversation.up_to(path)

    assert answer == written, "run python -m openapi, and read what has changed"


def test_no_example_answers_what_the_contract_does_not_have(contract):
    known = {
        (method, len(path.split("/")), status)
        for path, method, operation in operations(contract)
        for status in operation["responses"]
    }
    for path in example_files():
        example = orjson.loads(path.read_bytes())
        address = example["request"]["path"].partition("?")[0]
        answered = (
            example["request"]["method"].lower(),
            len(address.split("/")),
            str(example["answer"]["status"]),
        )
        assert answered in known


def test_every_example_has_a_number_of_its_own():
    numbers = [path.name.partition("-")[0] for path in example_files()]
    assert all(number.isdigit() for number in numbers)
    assert len(set(numbers)) == len(numbers)


def test_the_examples_are_about_something():
    for path in example_files():
        assert orjson.loads(path.read_bytes())["about"].endswith(".")


def test_every_operation_has_a_name_of_its_own(contract):
    names = [operation["operationId"] for _, _, operation in operations(contract)]

    assert len(names) == len(set(names))
    assert {"getPlan", "getNow", "putDelivery"} <= set(names)


def test_every_parameter_and_every_field_is_described(contract):
    silent = [
        (path, parameter["name"])
        for path, item in contract["paths"].items()
        for part in (item, *(operation for where, _, operation in operations(contract) if where == path))
        for parameter in part.get("parameters", ())
        if not parameter.get("description")
    ]
    silent += [
        (name, field)
        for name, schema in contract["components"]["schemas"].items()
        for field, told in schema.get("properties", {}).items()
        if not told.get("description")
    ]

    assert silent == []


def test_answers_may_grow_and_requests_are_strict(contract):
    schemas = contract["components"]["schemas"]

    assert "additionalProperties" not in schemas["Plan"]
    assert "additionalProperties" not in schemas["FlatZone"]
    assert schemas["FlatZone"]["properties"]["volume_l"].keys() & {"minimum", "maximum"} == set()
    assert schemas["PlanRequest"]["additionalProperties"] is False
    assert "ignore keys that you do not know" in contract["info"]["description"]
