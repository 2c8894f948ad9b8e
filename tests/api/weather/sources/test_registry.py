"""The sources by name, and what they cost before any of them is asked."""

import datetime as dt
import sqlite3
import subprocess
import sys
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any

import pytest

from api.settings import PREFIX, SETTINGS
from api.weather.errors import SourceFailed
from api.weather.place import Place
from api.weather.sources import registry
from api.weather.sources.registry import WEATHER_SOURCES, weather_sources
from tests.api.stored_garden import Clock
from tests.api.weather.answers import (
    LATITUDE,
    LONGITUDE,
    WESTERN_LONGITUDE,
    dwd_body,
    met_body,
    nws_grid,
    nws_point,
)
from tests.api.weather.weather_service import Service, open_meteo_body, send

ROOT = Path(__file__).parents[4]


def sources(cache: Path | None, base_url: str | None = None) -> Any:
    names = ("OPEN_METEO_URL", "MET_NORWAY_URL", "US_NWS_URL", "DWD_URL")
    return weather_sources(
        {} if base_url is None else dict.fromkeys(names, base_url),
        cache=cache,
        contact=None,
        clock=lambda: dt.datetime(2026, 7, 14, 18, tzinfo=dt.UTC),
    )


def test_every_source_that_a_garden_may_name_is_there() -> None:
    assert {*sources(None), "own-weather"} == set(WEATHER_SOURCES)  # the owner tells without being asked


@pytest.mark.parametrize("service", registry.SERVICES.values(), ids=lambda service: service.name)
def test_each_tells_before_it_is_asked_what_its_licence_wants_and_where_it_works(service: Any) -> None:
    coverage = service.coverage
    south_pole, home = (-90.0, 0.0), (40.0, -100.0)

    assert len(service.attribution.text) > 20
    assert coverage is None or (coverage.where and coverage.holds(*home) and not coverage.holds(*south_pole))
    assert (registry.why_not(service.name, *south_pole) is None) == (coverage is None)
    assert registry.why_not(service.name, *home) is None


@pytest.mark.parametrize("service", registry.SERVICES.values(), ids=lambda service: service.name)
def test_each_has_its_rows_in_the_guide(service: Any) -> None:
    settings, sources = (
        (ROOT / f"openapi/guide/{page}.md").read_text("utf-8") for page in ("settings", "weather")
    )

    assert f"\n| `{service.name}` | {service.where} | {service.knows} |\n" in sources
    for setting in service.settings:
        assert f"\n| `{PREFIX}{setting.name}` | {setting.default} | {setting.about} |\n" in settings
        assert SETTINGS[setting.name] == setting
    assert service.settings or service.name == "demo"


@pytest.mark.parametrize("name", [name for name in WEATHER_SOURCES if name not in ("demo", "own-weather")])
def test_each_asks_where_its_setting_says_and_fails_as_a_source(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("urllib3.util.retry.time.sleep", lambda seconds: None)  # between its tries
    nobody = "http://127.0.0.1:9"  # the discard port, where nothing listens
    place = Place(40.0, -100.0, "UTC", (name,))

    with pytest.raises(SourceFailed):
        sources(tmp_path / "cache.db", nobody)[name].hours(place, past_days=1)


@pytest.mark.parametrize("name", [name for name in WEATHER_SOURCES if name not in ("demo", "own-weather")])
def test_all_of_them_may_be_at_one_address(name: str, service: Service, clock: Clock) -> None:
    """As where one service stands in for all."""
    now = clock().replace(minute=0)

    def reply(handler: BaseHTTPRequestHandler) -> None:
        answers: dict[str, Any] = {
            "/v1/forecast": open_meteo_body(now.date(), 5),
            "/weatherapi/locationforecast/2.0/complete": met_body(now),
            f"/points/{LATITUDE},{WESTERN_LONGITUDE}": nws_point(),
            "/gridpoints/TOP/31,80": nws_grid(now),
            "/weather": dwd_body(now, 100),
        }
        send(answers[handler.path.partition("?")[0]])(handler)

    service.reply = reply
    longitude = WESTERN_LONGITUDE if name == "us-nws" else LONGITUDE
    weather = sources(None, service.url)[name].hours(Place(LATITUDE, longitude, "UTC", (name,)), past_days=1)
    assert weather.source == name


def test_a_server_that_has_not_asked_yet_has_not_imported_what_asking_takes() -> None:
    told = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, api.cli.server; print({'requests', 'urllib3'} & set(sys.modules))",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )

    assert told.stdout.strip() == "set()"


def test_a_cache_that_cannot_be_written_is_told_before_anything_is_asked() -> None:
    with pytest.raises((OSError, sqlite3.OperationalError)):
        sources(Path("/proc/nowhere/cache.db"))


def test_a_damaged_cache_does_not_stop_the_start(tmp_path: Path) -> None:
    damaged = tmp_path / "cache.db"
    damaged.write_bytes(b"no database, but long enough to be taken for one" * 50)

    assert sources(damaged)
