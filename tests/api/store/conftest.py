"""In this folder the plain suite uses both kinds of databases: what it tests is the SQL."""

import pytest


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """The URL of a database that has its tables and no rows, of each kind in turn."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url
