"""README is true: its commands, its requests and answers, its tables."""

import ast
import datetime as dt
import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import marshmallow
import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import settings
from api.app import create_app, open_store
from api.cli.commands import main
from api.routes.contract import contract_of
from api.schemas.fields import ById, Items, Part
from api.schemas.garden import WEATHER_SOURCES, GardenSchema, load_garden
from api.store.weather import WeatherRows
from api.weather.fetch.forecasts import Forecasts
from api.weather.sources.demo import Demo
from scheduling.plan import revision
from scheduling.reasons import REASONS, WHAT_TO_DO

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()

EVENING = dt.datetime(2026, 6, 16, 20, 30, tzinfo=dt.UTC)
"""That of the flat answer: within the hour before the watering hours open."""


def section(title: str) -> str:
    """Text of a section, its subsections included."""
    level, _, name = title.partition(" ")
    found = re.search(rf"^{level} {re.escape(name)}\n(.*?)(?=^#{{1,{len(level)}}} |\Z)", README, re.M | re.S)
    assert found, title
    return found[1]


def blocks(text: str, language: str) -> list[str]:
    """Fenced blocks of a language, without the indent of a list."""
    found = re.findall(rf"^( *)```{language}\n(.*?)^ *```$", text, re.M | re.S)
    return [re.sub(rf"^{indent}", "", block, flags=re.M) for indent, block in found]


def codes_in_first_column(text: str) -> list[str]:
    """What stands in code type at the head of each row of the tables."""
    return re.findall(r"^\| `([^`]+)`", text, re.M)


def commands(text: str, name: str) -> list[list[str]]:
    """Command lines that begin with a name, split as a shell would."""
    lines = "\n".join(blocks(text, "sh"))
    return [
        shlex.split(command, comments=True)
        for command in re.findall(rf"^{name} .*?(?=^\S|\Z)", lines, re.M | re.S)
    ]


# The commands


def test_the_two_commands_are_one_line_each_and_make_the_same_environment() -> None:
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ")]

    assert len(lines) == 2
    assert lines[0].endswith(".venv/bin/rootledger demo")
    assert ".venv/bin/pytest" in lines[1]


def test_the_demonstration_prints_what_the_readme_shows() -> None:
    ran = CliRunner().invoke(main, ["demo"], env={"COLUMNS": "80"})

    assert ran.exit_code == 0
    shown = blocks(section("## Try it"), "text")[0]
    assert [line.rstrip() for line in ran.output.splitlines()] == shown.splitlines()


def test_every_command_of_ours_that_is_shown_exists() -> None:
    shown = commands(README, re.escape(".venv/bin/rootledger"))

    assert shown
    for _, name, *rest in shown:
        known = {option for parameter in main.commands[name].params for option in parameter.opts}
        assert {option for option in rest if option.startswith("--")} <= known


# Requests


class Server:
    """An application on a clock of ours, with invented weather in the place of the forecast."""

    def __init__(self, folder: Path) -> None:
        self.now = EVENING
        given = settings.Settings(
            database_url=f"sqlite:///{folder / 'store.db'}", cache_url=f"sqlite:///{folder / 'cache.db'}"
        )
        self.store = open_store(given)
        self.forecasts = Forecasts(
            {"open-meteo": Demo(lambda: self.now)}, WeatherRows(self.store), lambda: self.now
        )
        self.app: Flask = create_app(
            given, store=self.store, forecasts=self.forecasts, clock=lambda: self.now
        )
        self.client: FlaskClient = self.app.test_client()

    def curl(self, arguments: list[str], files: dict[str, str]) -> TestResponse:
        """Ask what a curl command would ask."""
        method, headers, body, url = None, {}, None, ""
        words = iter(arguments[1:])
        for word in words:
            if word == "-X":
                method = next(words)
            elif word == "-H":
                name, _, value = next(words).partition(": ")
                headers[name] = value
            elif word == "-d":
                body = next(words)
                body = files[body[1:]] if body.startswith("@") else body
            elif word.startswith("http://127.0.0.1:8425/"):
                url = word.removeprefix("http://127.0.0.1:8425")
            else:
                assert word == "-sS", word
        return self.client.open(url, method=method or ("POST" if body else "GET"), headers=headers, data=body)

    def close(self) -> None:
        self.forecasts.close()
        self.store.close()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    running = Server(tmp_path)
    yield running
    running.close()


def request_for_a_plan() -> list[str]:
    return commands(section("## One request, and its answer"), "curl")[0]


def garden_json() -> str:
    body = next(word for word in request_for_a_plan() if word.startswith("{"))
    return json.dumps(json.loads(body)["garden"])


def test_the_request_has_the_answer_that_is_shown(server: Server) -> None:
    shown = json.loads(blocks(section("## One request, and its answer"), "json")[0])

    answer = server.curl(request_for_a_plan(), {})

    assert answer.status_code == 200
    assert {**answer.json, "made_at": shown["made_at"]} == shown


def test_the_evening_routine_goes_as_it_is_told(server: Server) -> None:
    told = section("## A garden that stays")
    files = {"garden.json": garden_json()}
    put, plan, flat, announce, complete = commands(told, "curl")
    server.now = EVENING - dt.timedelta(hours=8)
    assert server.curl(put, files).status_code == 201
    server.now = EVENING
    assert server.curl(plan, files).json["status"] == "final"

    answer = server.curl(flat, files).json
    assert answer == json.loads(blocks(told, "json")[0])
    assert any(word.endswith("/" + answer["next_run"]) for word in announce)

    server.now = dt.datetime.fromisoformat(answer["next_start"])
    assert server.curl(announce, files).status_code == 201
    assert server.curl(announce, files).status_code == 412
    server.now += dt.timedelta(seconds=answer["next_run_time_s"])
    assert server.curl(complete, files).status_code == 200
    after = server.curl(flat, files).json
    assert after["delivered_l"] == answer["next_volume_l"]
    assert (after["next_run"], after["runs_left"]) == ("2026-06-17-lawn-2", answer["runs_left"] - 1)


def test_the_cron_line_reads_the_plan_that_is_stored() -> None:
    line = blocks(section("## A garden that stays"), "crontab")[0].split()

    assert len(line[:5]) == 5
    assert line[5] == "curl"
    assert line[-1] == commands(section("## A garden that stays"), "curl")[1][-1]


def test_the_garden_can_be_planned_from_its_file(tmp_path: Path) -> None:
    path = tmp_path / "garden.json"
    path.write_text(garden_json())

    assert load_garden(json.loads(garden_json())).zones
    assert CliRunner().invoke(main, ["check", str(path)]).exit_code == 0


# Tables


def test_every_setting_is_listed_with_its_default() -> None:
    table = section("## Settings").split("### ")[0]
    assert codes_in_first_column(table) == [settings.PREFIX + name for name in settings.READERS]

    defaults = settings.Settings()
    for name in ("HOST", "PORT", "LOG_FORMAT"):
        assert f"| `{settings.PREFIX}{name}` | `{getattr(defaults, name.lower())}` |" in table
    assert f"at least {settings.SHORTEST_TOKEN} characters" in table


def test_every_weather_source_is_listed() -> None:
    assert codes_in_first_column(section("### Weather")) == list(WEATHER_SOURCES)


def test_every_reason_is_listed_in_its_order() -> None:
    table, of_finals, _ = re.split(
        r"^\| (?:reason of a run|note) \|", section("## Reasons and notes"), flags=re.M
    )

    assert tuple(codes_in_first_column(table)) == REASONS
    assert set(codes_in_first_column(of_finals)) == set(revision.REASONS)


def test_every_note_is_listed() -> None:
    known = {
        call.args[0].value
        for package in ("api", "scheduling")
        for path in (ROOT / package).rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text()))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "Note"
        and isinstance(call.args[0], ast.Constant)
    }
    table = section("## Reasons and notes").split("| note |")[1]

    assert sorted(codes_in_first_column(table)) == sorted(known)


def test_every_alert_is_listed_in_its_order() -> None:
    assert codes_in_first_column(section("### Alerts")) == list(WHAT_TO_DO)


def test_every_route_of_the_contract_is_listed_and_no_other(server: Server) -> None:
    table = section("## The API").split("### ")[0]
    rows = re.findall(r"^\| (`[^|]+) \|", table, re.M)
    listed = set()
    for row in rows:
        first, *others = re.findall(r"`([^`]+)`", row)
        methods, _, path = first.rpartition(" ")
        listed |= {(method, one) for method in methods.split(", ") for one in (path, *others)}
    paths = contract_of(server.app)["paths"]
    known = {(method.upper(), path) for path, methods in paths.items() for method in methods}
    known = {(method, path) for method, path in known if path.startswith("/")}

    assert listed - {("GET", "/v1/openapi.json")} == {
        (method, path)
        for method, path in known
        if method in {"GET", "PUT", "POST", "PATCH", "DELETE"} and path != "/v1/openapi.json"
    }


def test_every_field_of_a_garden_is_listed_and_no_other() -> None:
    table = section("### A zone, field by field")
    rows = re.findall(r"^\| [^|]+ \| .* \|$", table, re.M)
    listed = set(re.findall(r"`([a-z0-9_]+)`", " ".join(rows)))
    values = {"high", "normal", "low", "frost", "rain", "wind", "days", "sunrise", "sunset", "none"}
    values |= {"single", "dual"}

    assert listed - values == set(_fields(GardenSchema()))


def _fields(schema: marshmallow.Schema) -> Iterator[str]:
    """Names of the fields of a schema and of its parts."""
    for name, field in schema.fields.items():
        yield field.data_key or name
        inner: Any = field
        while isinstance(inner, Items | ById):
            inner = inner.inner if isinstance(inner, Items) else inner.value_field
        if isinstance(inner, Part):
            yield from _fields(inner.schema)


# A past season


def test_the_season_that_is_shown_can_be_replayed(tmp_path: Path) -> None:
    told = section("## A past season")
    (tmp_path / "garden.json").write_text(garden_json())
    (tmp_path / "season.csv").write_text(blocks(told, "csv")[0])
    _, *words = commands(told, re.escape(".venv/bin/rootledger"))[0]

    paths = [str(tmp_path / word) if (tmp_path / word).is_file() else word for word in words]
    assert CliRunner().invoke(main, paths).exit_code == 0
