"""Hostile answers of weather services, met by an application: no plan, or that of the last good answer."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from api.app import create_app
from api.settings import Settings
from api.store.store import Store
from api.weather.fetch.forecasts import Forecast, Forecasts
from api.weather.place import Place
from tests.api.stored_garden import LOAM_LAWN, Clock
from tests.api.weather.sources.test_hostile_answers import (
    ANSWERS,
    IN_PART,
    KINDS,
    LATER,
    LATITUDE,
    NOW,
    Asked,
    Kind,
    Told,
    spoiled,
)
from tests.api.weather.weather_service import NOON, MemoryKeep, Service, expire, limits_for, send

PLAN, WEATHER = "/v1/gardens/quince-court/plan", "/v1/gardens/quince-court/weather"


class Turns:
    """The forecasts of an application, whose sources change from case to case."""

    def __init__(self) -> None:
        self.now: Forecasts | None = None

    def at(self, place: Place, **wanted: Any) -> Forecast:
        """As the forecasts whose turn it is answer."""
        assert self.now is not None
        return self.now.at(place, **wanted)


class House:
    """An application whose garden has one source, and what this source had said at noon."""

    def __init__(self, kind: Kind, told: Told, folder: Any) -> None:
        self.kind, self.told = kind, told
        self.clock = Clock(LATER)
        self.store = Store.open(f"sqlite:///{folder}/{kind.name}.db", release="1")
        self.turns = Turns()
        app = create_app(Settings(), store=self.store, forecasts=self.turns, clock=self.clock)  # type: ignore[arg-type]
        self.client: FlaskClient = app.test_client()
        garden = {
            "latitude": LATITUDE,
            "longitude": kind.longitude,
            "timezone": "UTC",
            "weather_sources": [kind.name],
            "zones": {"lawn": LOAM_LAWN},
        }
        assert self.client.put("/v1/gardens/quince-court", json=garden).status_code == 201
        self.good = MemoryKeep()
        asked = Asked(told, kind)
        asked.clock.now = NOON
        told.reply = send(kind.good(NOON.replace(minute=0)))
        Forecasts({kind.name: asked.source}, self.good, asked.clock).at(kind.place("UTC"), past_days=0)
        expire(asked.session, age_h=7)
        self.cached = dict(asked.session.cache.responses)
        asked.close()
        (self.while_silent,) = self.answers(PLAN, reply=send("", 503), is_known=True)

    def answers(self, *paths: str, reply: Any, is_known: bool) -> list[Any]:
        """What the application answers when the service replies so."""
        asked = Asked(self.told, self.kind, limits_for(reply))
        self.told.reply = reply
        keep = MemoryKeep()
        if is_known:
            asked.session.cache.responses.update(self.cached)
            keep.answers.update(self.good.answers)
            keep.kept_days.update({key: dict(days) for key, days in self.good.kept_days.items()})
        self.turns.now = Forecasts({self.kind.name: asked.source}, keep, self.clock)
        told = [self.client.get(path) for path in paths]
        self.turns.now.close()
        asked.close()
        return told


@pytest.fixture(scope="module")
def houses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, House]]:
    service = Service(Clock(NOON))
    folder, told = tmp_path_factory.mktemp("hostile"), Told(service)
    houses = {kind.name: House(kind, told, folder) for kind in KINDS}
    yield houses
    for house in houses.values():
        house.store.close()
    service.close()


CASES = pytest.mark.parametrize(
    ("kind", "reply"),
    [pytest.param(kind, reply, id=f"{kind.name}, {what}") for kind, what, reply in ANSWERS],
)


@CASES
def test_where_nothing_is_known_there_is_no_plan_and_a_time_to_ask_again(houses, kind, reply):
    for answer in houses[kind.name].answers(PLAN, f"{PLAN}/lawn", WEATHER, reply=reply, is_known=False):
        assert answer.status_code == 503
        assert answer.content_type == "application/problem+json"
        assert answer.json["type"] == "/problems/no-forecast"
        assert int(answer.headers["Retry-After"]) >= 1


@CASES
def test_where_a_good_answer_is_known_the_plan_is_made_of_it(houses, kind, reply):
    house = houses[kind.name]
    plan, weather = house.answers(PLAN, WEATHER, reply=reply, is_known=True)

    assert plan.status_code == weather.status_code == 200
    assert plan.json == house.while_silent.json
    assert (plan.json["weather"]["stale"], weather.json["stale"]) == (True, True)
    assert plan.json["weather"]["retrieved_at"] == NOON.isoformat()


ESTIMATED = {"rain_mm": "rain", "solar_mj_m2": "solar_radiation", "wind_m_s": "wind"}


@pytest.mark.parametrize(
    ("kind", "spoil", "unknown"),
    [pytest.param(kind, spoil, unknown, id=f"{kind.name}, {what}") for kind, what, spoil, unknown in IN_PART],
)
def test_what_an_answer_lacks_is_named_as_estimated_and_without_temperatures_there_is_no_plan(
    houses, kind, spoil, unknown
):
    house = houses[kind.name]
    (plan,) = house.answers(f"{PLAN}?date=tomorrow", reply=send(spoiled(kind, spoil)), is_known=False)
    if "t_min_c" in unknown:
        assert plan.status_code == 503
        assert int(plan.headers["Retry-After"]) >= 1
        return
    assert plan.status_code == 200
    weather = plan.json["weather"]
    assert weather["retrieved_at"] == LATER.isoformat()
    for name, quantity in ESTIMATED.items():
        assert (quantity in weather["estimated"]) is (name in unknown), quantity
    if "rain_mm" in unknown:
        assert (weather["rain_mm"], weather["counted_rain_mm"]) == (None, 0.0)
    assert NOW <= LATER < NOW + dt.timedelta(hours=1)
