"""The weather in use, over HTTP."""

import datetime as dt

from api.errors import GardenNotFound
from api.weather.errors import WeatherUnavailable


def test_the_days_are_answered_with_an_etag(client, plans):
    answer = client.get("/v1/gardens/quince-court/weather")
    assert (answer.status_code, answer.json) == (200, {"garden": "quince-court"})
    assert plans.asked == [("weather", "quince-court", None, None)]

    again = client.get("/v1/gardens/quince-court/weather", headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


def test_a_span_of_dates_may_be_asked_for(client, plans):
    client.get("/v1/gardens/quince-court/weather?from=2026-07-01&to=2026-07-14")
    client.get("/v1/gardens/quince-court/weather?to=2026-07-14")
    assert plans.asked == [
        ("weather", "quince-court", dt.date(2026, 7, 1), dt.date(2026, 7, 14)),
        ("weather", "quince-court", None, dt.date(2026, 7, 14)),
    ]


def test_what_cannot_be_asked_is_refused_before_anybody_is_asked(client, plans):
    for query in ("from=yesterday", "from=2026-07-14&to=2026-07-13", "date=2026-07-14"):
        answer = client.get(f"/v1/gardens/quince-court/weather?{query}")
        assert answer.status_code == 422, query
    assert plans.asked == []


def test_a_garden_that_is_not_there_is_404(client, plans):
    plans.error = GardenNotFound("quince-court")
    assert client.get("/v1/gardens/quince-court/weather").status_code == 404


def test_without_any_weather_it_is_503_with_a_time_to_ask_again(client, plans):
    plans.error = WeatherUnavailable("No source has answered.", 300)
    answer = client.get("/v1/gardens/quince-court/weather")
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "300")
