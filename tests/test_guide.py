"""What the documentation shows is true: commands exist, requests have their answers, tables are current."""

import datetime as dt
import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
import textstat
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import settings
from api.app import create_app, open_store
from api.cli.commands import main
from api.routes.contract import contract_of
from api.schemas.garden import load_garden
from api.store.weather import WeatherRows
from api.weather.fetch.forecasts import Forecasts
from api.weather.sources.demo import Demo
from openapi.tables import GUIDE, with_tables
from scheduling.plan.turns import WHY_NOT

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
PAGES = {path.stem: path.read_text() for path in sorted(GUIDE.glob("*.md"))}
EVERYTHING = {"README": README, **PAGES}

MOST_LINES_OF_README = 150
MOST_WORDS_OF_README = 1100
EASY_TO_READ = 60.0
"""Flesch reading ease: plain English that teenagers read easily begins at 60 (Flesch 1948)."""

EVENING = dt.datetime(2026, 6, 16, 20, 30, tzinfo=dt.UTC)
"""That of the flat answer: within the hour before the watering hours open."""


def blocks(text: str, language: str) -> list[str]:
    """Fenced blocks of a language, without the indent of a list."""
    found = re.findall(rf"^( *)```{language}\n(.*?)^ *```$", text, re.M | re.S)
    return [re.sub(rf"^{indent}", "", block, flags=re.M) for indent, block in found]


def commands(text: str, name: str) -> list[list[str]]:
    """Command lines that begin with a name, split as a shell would."""
    lines = "\n".join(blocks(text, "sh"))
    return [
        shlex.split(command, comments=True)
        for command in re.findall(rf"^{name} .*?(?=^\S|\Z)", lines, re.M | re.S)
    ]


def prose(text: str) -> str:
    """A page's sentences, without code, tables, headings and the marks of Markdown."""
    text = re.sub(r"^ *```.*?^ *```$|<!--.*?-->", "", text, flags=re.M | re.S)
    text = re.sub(r"^(\||#).*$", "", text, flags=re.M)
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text)
    return re.sub(r"`[^`]*`", "code", re.sub(r"^ *(-|\d+\.) |\*\*", "", text, flags=re.M))


# The first page


def test_the_readme_is_one_page() -> None:
    assert len(README.splitlines()) <= MOST_LINES_OF_README
    assert len(README.split()) <= MOST_WORDS_OF_README


def test_the_readme_begins_with_the_job() -> None:
    title, first = README.split("\n\n")[:2]

    assert title == "# Rootledger"
    assert first.startswith("Rootledger decides how much to water your garden tomorrow.")


def test_the_two_commands_are_one_line_each_and_make_the_same_environment() -> None:
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ")]

    assert len(lines) == 2
    assert lines[0].endswith(".venv/bin/rootledger demo")
    assert ".venv/bin/pytest" in lines[1]


def test_the_demonstration_prints_what_the_readme_shows() -> None:
    ran = CliRunner().invoke(main, ["demo"], env={"COLUMNS": "80"})
    printed = ran.output.splitlines()

    assert ran.exit_code == 0
    (shown,) = blocks(README, "text")
    for line in shown.splitlines():
        assert any(real.startswith(line) for real in printed), line


@pytest.mark.parametrize("page", EVERYTHING)
def test_every_page_reads_easily(page: str) -> None:
    assert textstat.flesch_reading_ease(prose(EVERYTHING[page])) >= EASY_TO_READ


@pytest.mark.parametrize("page", EVERYTHING)
def test_every_link_to_a_file_leads_to_one(page: str) -> None:
    folder = ROOT if page == "README" else GUIDE
    targets = re.findall(r"\]\((?!https?:|#)([^)#]+)", EVERYTHING[page])

    assert [target for target in targets if not (folder / target).exists()] == []


@pytest.mark.parametrize("page", EVERYTHING)
def test_every_command_of_ours_that_is_shown_exists(page: str) -> None:
    for _, name, *rest in commands(EVERYTHING[page], re.escape(".venv/bin/rootledger")):
        known = {option for parameter in main.commands[name].params for option in parameter.opts}
        assert {option for option in rest if option.startswith("--")} <= known


# Tables


@pytest.fixture(scope="module")
def contract(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, object]]:
    running = Server(tmp_path_factory.mktemp("contract"))
    yield contract_of(running.app)
    running.close()


@pytest.mark.parametrize("page", PAGES)
def test_the_tables_that_are_made_from_code_are_current(page: str, contract: dict[str, object]) -> None:
    """Otherwise run `python -m openapi`."""
    assert PAGES[page] == with_tables(PAGES[page], contract)


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


# Requests as they are shown


GARDEN = next(block for block in blocks(README, "json") if '"zones"' in block)


def test_the_garden_of_the_readme_can_be_checked_and_is_that_of_the_guide(tmp_path: Path) -> None:
    path = tmp_path / "garden.json"
    path.write_text(GARDEN)

    assert load_garden(json.loads(GARDEN)).zones
    assert CliRunner().invoke(main, ["check", str(path)]).exit_code == 0
    assert json.loads(GARDEN) == json.loads(blocks(PAGES["first-week"], "json")[0])


def test_the_requests_of_the_readme_are_answered(server: Server) -> None:
    for request in commands(README, "curl"):
        assert server.curl(request, {"garden.json": GARDEN}).status_code in (200, 201), request


def test_the_request_for_a_plan_is_answered(server: Server) -> None:
    (request,) = commands(PAGES["api"], "curl")

    assert server.curl(request, {}).json["volume_l"] > 0


def test_the_night_goes_as_the_controller_s_page_tells_it(server: Server) -> None:
    told = PAGES["controller"]
    ask, complete, flat = commands(told, "curl")
    turn_shown, flat_shown = (json.loads(block) for block in blocks(told, "json"))
    put = commands(README, "curl")[0]
    server.now = EVENING - dt.timedelta(hours=8)
    assert server.curl(put, {"garden.json": GARDEN}).status_code == 201
    server.now = EVENING
    answer = server.curl(flat, {}).json
    assert answer == flat_shown

    assert server.curl(ask, {}).json["why"] == "not-yet"
    server.now = dt.datetime.fromisoformat(answer["next_start"])
    granted = server.curl(ask, {})
    assert (granted.status_code, granted.json) == (201, turn_shown)
    assert any(word.endswith(granted.json["delivery"]) for word in complete)
    assert server.curl(ask, {}).json == turn_shown
    server.now += dt.timedelta(seconds=turn_shown["run_time_s"])
    assert server.curl(complete, {}).status_code == 200
    assert server.curl(ask, {}).json["why"] == "turn-over"
    after = server.curl(flat, {}).json
    assert after["delivered_l"] == turn_shown["volume_l"]
    assert (after["next_run"], after["runs_left"]) == ("2026-06-17-lawn-2", answer["runs_left"] - 1)


def test_the_controller_s_page_tells_every_reason_and_key_of_a_turn() -> None:
    told = PAGES["controller"]
    for why in WHY_NOT:
        assert f"`{why}`" in told
    for key in ("volume_l", "run_time_s", "max_open_s", "close_by", "open_by", "shut_by", "delivery"):
        assert f"`{key}`" in told


@pytest.mark.parametrize("page", ["reports", "alerts", "looking-back", "weather", "year"])
def test_the_requests_of_a_page_are_answered(server: Server, page: str) -> None:
    server.now = EVENING - dt.timedelta(days=3)
    assert server.curl(commands(README, "curl")[0], {"garden.json": GARDEN}).status_code == 201
    server.now = EVENING

    for request in commands(PAGES[page], "curl"):
        answer = server.curl(request, {})
        assert answer.status_code in (200, 201), (request, answer.text)


def test_the_cron_line_reads_a_plan(server: Server) -> None:
    line = blocks(PAGES["running"], "crontab")[0].split()

    assert len(line[:5]) == 5
    assert line[5] == "curl"
    assert line[-1] == commands(README, "curl")[1][-1]


def test_the_season_that_is_shown_can_be_replayed(tmp_path: Path) -> None:
    told = PAGES["looking-back"]
    garden = json.loads(GARDEN)
    garden["zones"]["raspberries"] = {
        "area_m2": 8,
        "planting": {"plant": "raspberry"},
        "soil": {"texture": "sandy-loam"},
        "watering": {"method": "drip-line", "flow_l_min": 3},
    }
    (tmp_path / "garden.json").write_text(json.dumps(garden))
    (tmp_path / "season.csv").write_text(blocks(told, "csv")[0])
    _, *words = commands(told, re.escape(".venv/bin/rootledger"))[0]

    paths = [str(tmp_path / word) if (tmp_path / word).is_file() else word for word in words]
    ran = CliRunner().invoke(main, paths)
    assert ran.exit_code == 0, ran.output
