"""In this folder the plain suite uses both kinds of databases: what it tests is the SQL."""

import datetime as dt

import pytest

from api.store.rows import StoredGarden
from api.store.store import Store

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """The URL of a database that has its tables and no rows, of each kind in turn."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture
def garden(store: Store) -> StoredGarden:
    """A garden that is in the store, without zones."""
    with store.changing("quince-court") as change:
        return change.put_document({"zones": {}}, "here", NOW)
