"""An application around a real store, a clock that stands still, and plans that are made up."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import delete

from api.app import Parts, build_app
from api.settings import Settings
from api.store.rows import Answer, strong_etag
from api.store.store import Store
from api.store.tables import ANSWERS, DELIVERIES, FINALS, GARDENS
from tests.api.stored_garden import LOAM_LAWN

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)


class MadeUpPlans:
    """Answers as it is told to, and remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[Any, ...]] = []
        self.error: Exception | None = None

    def _note(self, *question: Any) -> None:
        self.asked.append(question)
        if self.error is not None:
            raise self.error

    def look_again(self, garden_id, date, zone_id):
        """No run is announced to it."""
        return

    def plan(self, garden_id, which):
        self._note("plan", garden_id, which)
        return _answer(b'{"plan": 1}')

    def zone_plan(self, garden_id, zone_id, which):
        self._note("zone_plan", garden_id, zone_id, which)
        return _answer(b'{"zone": 1}')

    def for_request(self, request, explain):
        self._note("for_request", request, explain)
        return {"garden": request.garden.id}

    def weather(self, garden_id, first, last):
        self._note("weather", garden_id, first, last)
        return {"garden": garden_id}

    def ledger(self, garden_id, zone_id, first, last, form):
        self._note("ledger", garden_id, zone_id, first, last, form)
        return _answer(b'{"ledger": 1}')

    def usage(self, garden_id, first, last, by, timer):
        self._note("usage", garden_id, first, last, by, timer)
        return _answer(b'{"usage": 1}')

    def alerts(self, garden_id):
        self._note("alerts", garden_id)
        return _answer(b'{"alerts": 1}')


class MadeUpReplays:
    """Answers as it is told to, and remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[Any, ...]] = []
        self.error: Exception | None = None

    def for_request(self, request, explain):
        self.asked.append((request, explain))
        if self.error is not None:
            raise self.error
        return {"garden": request.garden.id}


def _answer(body: bytes) -> Answer:
    return Answer(etag=strong_etag(body), body=body, fresh_until=NOW + dt.timedelta(hours=1))


@pytest.fixture(scope="session")
def only_store(tmp_path_factory) -> Iterator[Store]:
    store = Store.open(f"sqlite:///{tmp_path_factory.mktemp('routes')}/rootledger.db", release="test")
    yield store
    store.close()


@pytest.fixture(scope="session")
def only_plans() -> MadeUpPlans:
    return MadeUpPlans()


@pytest.fixture(scope="session")
def only_replays() -> MadeUpReplays:
    return MadeUpReplays()


@pytest.fixture(scope="session")
def only_app(only_store, only_plans, only_replays) -> Flask:
    """Made once: to write the contract of every route takes longer than most tests."""
    return build_app(
        Settings(),
        Parts(only_store, *[only_plans] * 2, only_replays, lambda: NOW, *[only_plans] * 3),
    )


@pytest.fixture
def store(only_store) -> Store:
    """A store without gardens."""
    with only_store.writing() as connection:
        for table in (ANSWERS, DELIVERIES, FINALS, GARDENS):
            connection.execute(delete(table))
    return only_store


@pytest.fixture
def plans(only_plans) -> MadeUpPlans:
    """Plans that nobody has asked for yet."""
    only_plans.__init__()
    return only_plans


@pytest.fixture
def replays(only_replays) -> MadeUpReplays:
    """Replays that nobody has asked for yet."""
    only_replays.__init__()
    return only_replays


@pytest.fixture
def app(only_app, store, plans) -> Flask:
    return only_app


@pytest.fixture
def client(app) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def home(client, garden, store) -> Store:
    """The store, with that garden in it under the id `home`."""
    assert client.put("/v1/gardens/home", json=garden).status_code == 201
    return store


@pytest.fixture
def garden() -> dict[str, Any]:
    """A garden document without an id."""
    return {"latitude": 43.6, "longitude": 3.9, "timezone": "Europe/Paris", "zones": {"lawn": LOAM_LAWN}}
