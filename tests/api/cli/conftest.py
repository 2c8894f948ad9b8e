"""What every command finds in these tests, whoever runs them."""

import pytest

from api.cli import commands
from tests.api.stored_garden import EVENING


@pytest.fixture(autouse=True)
def _own_folder(tmp_path, monkeypatch) -> None:
    """A data folder of the test's own, the evening of 14 July 2026, no pause between two tries."""
    monkeypatch.setenv("ROOTLEDGER_CACHE_URL", f"sqlite:///{tmp_path}/forecasts.db")
    monkeypatch.setattr(commands, "_now", lambda: EVENING)
    monkeypatch.setattr("api.weather.sources.session.time.sleep", lambda seconds: None)
    monkeypatch.setenv("COLUMNS", "120")
