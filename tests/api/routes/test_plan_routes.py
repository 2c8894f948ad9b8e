"""Plans: polled from kept bytes, made where none are kept, and made for a garden in the request."""

import datetime as dt
import inspect

import pytest

from api.errors import DateBeyondPlans, GardenNotFound, NoPlanWasMade, TooManyPlaces
from api.plans.answer_cache import Answers
from api.weather.errors import SourceIncomplete, WeatherUnavailable
from scheduling.errors import WeatherGap

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
PLAN = "/v1/gardens/home/plan"


def keep(client, store, garden, what, body):
    client.put("/v1/gardens/home", json=garden)
    version = store.garden("home").version
    return Answers(store).keep("home", what, version, None, NOW + dt.timedelta(hours=1), body, NOW)


@pytest.mark.parametrize(
    ("address", "what"),
    [
        (PLAN, "plan:next"),
        (f"{PLAN}?date=tomorrow", "plan:tomorrow"),
        (f"{PLAN}?date=2026-07-15", "plan:2026-07-15"),
        (f"{PLAN}/lawn", "plan/lawn:next"),
        (f"{PLAN}/lawn?date=today", "plan/lawn:today"),
    ],
)
def test_an_answer_that_holds_is_given_without_planning(client, store, plans, garden, address, what):
    kept = keep(client, store, garden, what, b'{"kept": true}')
    answer = client.get(address)

    assert (answer.status_code, answer.data) == (200, b'{"kept": true}')
    assert answer.headers["ETag"] == f'"{kept.etag}"'
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.content_type == "application/json"
    assert plans.asked == []


def test_who_has_it_already_gets_304_with_its_etag(client, store, garden):
    kept = keep(client, store, garden, "plan:next", b'{"kept": true}')
    answer = client.get(PLAN, headers={"If-None-Match": f'"{kept.etag}"'})

    assert (answer.status_code, answer.data) == (304, b"")
    assert answer.headers["ETag"] == f'"{kept.etag}"'
    assert answer.headers["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize(
    ("address", "question"),
    [
        (PLAN, ("plan", "home", "next")),
        (f"{PLAN}?date=today", ("plan", "home", "today")),
        (f"{PLAN}?date=2026-07-15", ("plan", "home", "2026-07-15")),
        (f"{PLAN}/lawn", ("zone_plan", "home", "lawn", "next")),
    ],
)
def test_what_is_not_kept_is_made(client, plans, address, question):
    answer = client.get(address)

    assert answer.status_code == 200
    assert plans.asked == [question]
    assert answer.headers["ETag"].startswith('"')


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        (
            "date=soon",
            'date is "soon"; it must be "next", "today", "tomorrow" or a date written as YYYY-MM-DD, '
            "from 1900 to 2100.",
        ),
        (
            "date=2026-02-30",
            'date is "2026-02-30"; it must be "next", "today", "tomorrow" or a date written as '
            "YYYY-MM-DD, from 1900 to 2100.",
        ),
        ("dates=today", '"dates" is not a query parameter here. Did you mean date?'),
        ("date=today&date=next", "date is given 2 times; give it once."),
    ],
)
@pytest.mark.parametrize("address", [PLAN, f"{PLAN}/lawn"])
def test_a_date_that_cannot_be_is_refused(client, plans, address, query, sentence):
    refused = client.get(f"{address}?{query}")

    assert (refused.status_code, refused.json["detail"]) == (422, sentence)
    assert plans.asked == []


@pytest.mark.parametrize(
    ("error", "status", "slug"),
    [
        (GardenNotFound("home"), 404, "garden-not-found"),
        (NoPlanWasMade(dt.date(2026, 7, 1)), 404, "no-plan-was-made"),
        (DateBeyondPlans(dt.date(2026, 8, 1), dt.date(2026, 7, 15)), 422, "date-beyond-plans"),
        (WeatherUnavailable("No answer.", 300), 503, "no-forecast"),
        (SourceIncomplete("There is no weather for 2026-07-01."), 503, "no-forecast"),
    ],
)
def test_where_there_is_no_plan_the_problem_says_why(client, plans, error, status, slug):
    plans.error = error
    answer = client.get(PLAN)

    assert (answer.status_code, answer.json["type"]) == (status, f"/problems/{slug}")
    assert "zones" not in answer.json


def test_a_plan_is_made_for_a_garden_in_the_request(client, plans, garden):
    answer = client.post("/v1/plan?explain=true", json={"garden": garden, "date": "2026-07-15"})
    ((_, request, explain),) = plans.asked

    assert answer.status_code == 200
    assert (request.date, explain) == (dt.date(2026, 7, 15), True)


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("explain=yes", 'explain is "yes"; it must be true or false.'),
        ("explains=true", '"explains" is not a query parameter here. Did you mean explain?'),
    ],
)
def test_a_plan_is_not_made_for_a_query_that_cannot_be(client, garden, query, sentence):
    assert client.post(f"/v1/plan?{query}", json={"garden": garden}).json["detail"] == sentence


def test_a_gap_in_given_weather_is_the_requests_own(client, plans, garden):
    plans.error = WeatherGap(dt.date(2026, 7, 1), dt.date(2026, 7, 2))

    assert client.post("/v1/plan", json={"garden": garden}).status_code == 422


def test_too_many_places_are_told_when_to_come_again(client, plans, garden):
    plans.error = TooManyPlaces(1234)
    refused = client.post("/v1/plan", json={"garden": garden})

    assert (refused.status_code, refused.headers["Retry-After"]) == (429, "1234")


def test_the_polled_routes_stay_lean(app):
    """Whatever these two call is paid by every controller every few minutes."""
    for endpoint in ("plans.get_plan", "plans.get_zone_plan"):
        source = inspect.getsource(inspect.unwrap(app.view_functions[endpoint]))
        assert "load" not in source
    hooks = [hook.__name__ for hook in app.before_request_funcs[None]]
    assert hooks == ["_is_asked_under_a_known_name", "_may_do_it"]
    assert app.after_request_funcs == {}
