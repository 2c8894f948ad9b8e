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
from api.http.problems import (
    EXPLANATIONS,
    INTERNAL,
    KINDS,
    REFUSED_BY_SERVER,
    _first_of,
    register_error_handlers,
)
from api.weather.errors import SourceIncomplete, WeatherUnavailable, by_fault_of_source
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
    errors.MissingScope("porch", "read", "manage", "home"),
    errors.GardenNotFound("home"),
    errors.ZoneNotFound("lawn"),
    errors.DeliveryNotFound("lawn", "x"),
    errors.ObservationNotFound(DAY),
    errors.ReadingNotFound("lawn", "x"),
    errors.ValveNotFound("lawn"),
    errors.NoPlanWasMade(DAY),
    errors.UnknownFormat("home", "a final plan", 99),
    errors.StoredUnreadable("A record of the garden 'home'"),
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
    SourceIncomplete("There is no weather for 2026-07-14."),
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


def answer_to(error):
    app = Flask("errors")
    register_error_handlers(app)

    @app.post("/")
    def fail():
        raise error

    return app.test_client().post("/")


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
    for lacking in (WeatherGap(DAY, DAY), WeatherIncomplete(DAY, ("t_max_c",))):
        assert answer_to(lacking).status_code == 422
        with pytest.raises(SourceIncomplete, match=str(lacking)) as refused, by_fault_of_source():
            raise lacking
        answer = answer_to(refused.value)
        assert (answer.status_code, answer.json["detail"]) == (503, str(lacking))


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


def test_every_problem_is_explained_with_something_to_do():
    slugs = {kind.slug for kind in (*KINDS.values(), INTERNAL, REFUSED_BY_SERVER)}
    assert set(EXPLANATIONS) == slugs
    assert all(told.when and told.do.endswith(".") for told in EXPLANATIONS.values())


def test_several_faults_are_told_by_the_first_of_them():
    faults = ("latitude is missing.", "longitude is missing.", "zones is missing.", "timezone is missing.")
    assert _first_of([Problem(f"/{number}", fault) for number, fault in enumerate(faults)]) == (
        "latitude is missing; 3 more, see errors."
    )
    asked = [Problem("/area_m", "area_m is not a field here. Did you mean area_m2?"), Problem("/b", "b.")]
    assert _first_of(asked) == "area_m is not a field here. Did you mean area_m2? 1 more, see errors."


# Words that blame the reader, or tell him nothing; of a title and of a sentence to him.
UNKIND = ("please", "sorry", "invalid", "illegal", "forbidden", "error", "oops", "failed")


@pytest.mark.parametrize("kind", [*KINDS.values(), INTERNAL], ids=lambda kind: kind.slug)
def test_titles_say_what_is_so_in_plain_words(kind):
    assert not any(word in kind.title.lower() for word in UNKIND)
    assert kind.title[0].isupper()
    assert not kind.title.endswith(".")
