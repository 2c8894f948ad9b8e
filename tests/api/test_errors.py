"""Every error leaves as its problem, by one table."""

import datetime as dt
import inspect

import pytest
from flask import Flask
from werkzeug import exceptions as http

import api.errors
import scheduling.errors
from api import errors
from api.errors import ApiError, GardenGone, StoreUnavailable
from api.http.problems import KINDS, register_error_handlers
from api.weather.errors import WeatherUnavailable
from scheduling.errors import (
    InvalidGarden,
    OpeningAfterPlan,
    Problem,
    SchedulingError,
    UnknownName,
    WeatherGap,
    WeatherIncomplete,
)

DAY = dt.date(2026, 7, 15)

EXAMPLES = [
    errors.NotJson("The body is not JSON."),
    errors.WrongContentType("text/html", ("application/json",)),
    errors.InvalidRequest(Problem("/date", "date is wrong."), Problem("/state", "state is wrong.")),
    errors.Unauthorised("Authorization is not given."),
    errors.GardenNotFound("home"),
    errors.ZoneNotFound("lawn"),
    errors.DeliveryNotFound("lawn", "x"),
    errors.ObservationNotFound(DAY),
    errors.ReadingNotFound("lawn", "x"),
    errors.ValveNotFound("lawn"),
    errors.NoPlanWasMade(DAY),
    errors.UnknownFormat("home", "a final plan", 99),
    errors.DateBeyondPlans(DAY, DAY),
    errors.AlreadyBegun("x"),
    errors.DeliveryConflict("x"),
    errors.RunNotOpen("x"),
    errors.TurnIsOpen("x"),
    errors.KeyUsedOtherwise("night-1"),
    errors.PreconditionMissing(),
    errors.PreconditionWrong("It has changed."),
    errors.TooManyPlaces(1800),
    GardenGone("home"),
    StoreUnavailable("The database does not answer."),
    WeatherUnavailable("The source did not answer.", 300),
    InvalidGarden((Problem("/zones/lawn/area_m2", "area_m2 is 0."),)),
    UnknownName("plant", "gras", ("grass",)),
    WeatherGap(DAY, DAY),
    WeatherIncomplete(DAY, ("t_max_c",)),
    OpeningAfterPlan(DAY, DAY),
    http.BadRequest(),
    http.SecurityError(),
    http.NotFound(),
    http.MethodNotAllowed(valid_methods=["PUT", "GET"]),
    http.RequestEntityTooLarge(),
    http.UnsupportedMediaType(),
    errors.ReplayUnderWay(5),
]


def answer_to(error, method="POST"):
    app = Flask("errors")
    register_error_handlers(app)

    @app.route("/", methods=["GET", "POST"])
    def fail():
        raise error

    return app.test_client().open("/", method=method)


def test_every_entry_of_the_table_has_an_example():
    assert {type(example) for example in EXAMPLES} == set(KINDS)


def test_every_error_of_the_package_has_its_place_in_the_table():
    own = {
        error
        for module, base in ((api.errors, ApiError), (scheduling.errors, SchedulingError))
        for _, error in inspect.getmembers(module, inspect.isclass)
        if issubclass(error, base) and error is not base and error.__module__ == module.__name__
    }

    assert own <= set(KINDS)


@pytest.mark.parametrize("error", EXAMPLES, ids=lambda error: type(error).__name__)
def test_an_error_leaves_as_its_problem(error):
    answer = answer_to(error)
    kind = KINDS[type(error)]

    assert answer.status_code == kind.status
    assert answer.content_type == "application/problem+json"
    assert answer.json["type"] == f"/problems/{kind.slug}"
    assert answer.json["title"] == kind.title
    assert answer.json["status"] == kind.status
    assert answer.json["detail"].endswith((".", "!"))
    assert set(answer.json) <= {"type", "title", "status", "detail", "errors"}


def test_every_problem_of_a_document_is_listed():
    assert answer_to(EXAMPLES[2]).json["errors"] == [
        {"pointer": "/date", "detail": "date is wrong."},
        {"pointer": "/state", "detail": "state is wrong."},
    ]


def test_a_single_problem_is_the_detail_too():
    refused = InvalidGarden((Problem("/zones/lawn/area_m2", "area_m2 is 0."),))
    assert answer_to(refused).json["detail"] == "area_m2 is 0."


def test_headers_say_what_to_do_next():
    assert answer_to(errors.Unauthorised("x.")).headers["WWW-Authenticate"] == 'Bearer realm="rootledger"'
    assert answer_to(errors.TooManyPlaces(1800)).headers["Retry-After"] == "1800"
    assert answer_to(WeatherUnavailable("x.", 300)).headers["Retry-After"] == "300"
    assert int(answer_to(StoreUnavailable("x.")).headers["Retry-After"]) > 0
    assert answer_to(http.MethodNotAllowed(valid_methods=["PUT", "GET"])).headers["Allow"] == "GET, PUT"


def test_weather_that_a_source_lacks_is_not_the_askers_fault():
    assert answer_to(WeatherGap(DAY, DAY), "GET").status_code == 503
    assert answer_to(WeatherIncomplete(DAY, ("t_max_c",)), "GET").status_code == 503
    assert answer_to(WeatherGap(DAY, DAY), "POST").status_code == 422


def test_an_error_nobody_thought_of_shows_no_trace_and_is_found_in_the_log(caplog):
    answer = answer_to(ZeroDivisionError("secret"))

    assert answer.status_code == 500
    assert answer.json["type"] == "/problems/internal-error"
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    incident = answer.json["detail"].split()[-1].rstrip(".")
    assert len(incident) == 16
    assert incident in caplog.text
    assert "ZeroDivisionError: secret" in caplog.text


def test_other_errors_of_the_framework_keep_their_status():
    assert answer_to(http.Gone()).status_code == 410
    assert answer_to(http.Gone()).content_type == "application/problem+json"
