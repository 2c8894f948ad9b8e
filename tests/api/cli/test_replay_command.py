"""`rootledger replay` and `rootledger check` as people use them."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from api.cli import commands as cli
from api.cli import terminal
from tests.api.stored_garden import document, lawn

HEAD = "date,t_min_c,t_max_c,rain_mm"
JUNE = "\n".join([HEAD, *(f"2025-06-{day:02},12,26,{9 if day == 20 else 0}" for day in range(1, 31))])


@pytest.fixture
def replay(tmp_path) -> Callable[..., Result]:
    def run(*options: str, garden: Any = None, table: str | bytes = JUNE) -> Result:
        path, season = tmp_path / "garden.json", tmp_path / "season.csv"
        path.write_text(json.dumps(garden or document(water_supply={"price_per_m3": 4, "currency": "EUR"})))
        season.write_bytes(table if isinstance(table, bytes) else table.encode())
        return CliRunner().invoke(cli.main, ["replay", str(path), "--weather", str(season), *options])

    return run


def test_a_season_is_told_as_a_table(replay):
    result = replay("--timer", "2d:20min")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "orchard, 2025-06-01 to 2025-06-30 (30 days)"
    (zone,) = (line for line in lines if line.startswith("lawn"))
    (timer,) = (line for line in lines if "by timer" in line and "Total" not in line)
    assert zone.split()[1] == "9"  # rain
    assert "6000" in timer.split()  # 20 l/min for 20 minutes, 15 times
    assert any(line.startswith("Total ") and "EUR" in line and "than by timer" in line for line in lines)


def test_the_same_as_the_api_answers_it(replay):
    result = replay("--json", "--timer", "2d:20min", "--from", "2025-06-11")
    body = json.loads(result.stdout)
    assert (body["from"], body["days"]) == ("2025-06-11", 20)
    assert body["zones"][0]["timer"]["volume_l"] == 4000.0
    assert "ledger" not in body["zones"][0]


def test_explain_adds_the_days(replay):
    body = json.loads(replay("--json", "--explain").stdout)
    assert len(body["zones"][0]["ledger"]) == 30


def test_an_evening_may_know_nothing_of_the_days_to_come(replay):
    result = replay("--forecast", "none")
    assert "evenings that knew nothing of the days to come" in result.stdout


def test_more_than_12_zones_may_be_replayed(replay):
    garden = document(zones={f"lawn-{number}": lawn() for number in range(13)})
    assert len(json.loads(replay("--json", garden=garden).stdout)["zones"]) == 13


def test_a_table_that_cannot_be_is_told_by_line_and_column(replay):
    result = replay(table=JUNE.replace("2025-06-07,12", "2025-06-07,x"))
    assert result.exit_code == 2
    assert (
        'season.csv, line 8, column t_min_c: it is "x"; it must be a number from -60 to 60.' in result.stderr
    )
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--timer", "daily"), '--timer: "daily" is no timer'),
        (("--from", "June"), '--from: from is "June"; it must be a date written as YYYY-MM-DD'),
        (("--from", "2024-01-01"), "/from: from is 2024-01-01; weather has days from 2025-06-01"),
        (("--forecast", "good"), "'good' is not one of 'perfect', 'none'"),
    ],
)
def test_an_option_that_cannot_be_is_told(replay, options, told):
    result = replay(*options)
    assert result.exit_code == 2
    assert told in result.stderr


def test_a_garden_that_cannot_be_is_told_by_its_pointer(replay):
    result = replay(garden=document(zones={"lawn": lawn(area_m2=0)}))
    assert result.exit_code == 2
    assert result.stderr.startswith("/zones/lawn/area_m2: ")


def test_a_file_that_is_not_there_is_told(tmp_path):
    garden = tmp_path / "garden.json"
    garden.write_text(json.dumps(document()))
    result = CliRunner().invoke(cli.main, ["replay", str(garden), "--weather", str(tmp_path / "no.csv")])
    assert result.exit_code == 2
    assert "no.csv: cannot be read: No such file or directory." in result.stderr


def test_without_days_and_dates_it_asks_which(tmp_path):
    garden = tmp_path / "garden.json"
    garden.write_text(json.dumps(document()))
    result = CliRunner().invoke(cli.main, ["replay", str(garden)])
    assert result.exit_code == 2
    assert "Which days? Give --weather, or --from and --to." in result.stderr


def test_past_days_of_the_gardens_own_source_may_be_replayed(tmp_path):
    garden = tmp_path / "garden.json"
    garden.write_text(json.dumps(document()))
    result = CliRunner().invoke(cli.main, ["replay", str(garden), "--from", "2026-07-01", "--json"])
    body = json.loads(result.stdout)
    assert (body["to"], body["weather"]["source"]) == ("2026-07-13", "demo")


def test_nobody_sees_a_bar_but_on_a_terminal(replay):
    assert replay().stderr == ""


class Terminal:
    """An error stream that people look at."""

    def __init__(self) -> None:
        self.written = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.written += text
        return len(text)

    def flush(self) -> None:
        """Nothing is kept back."""


def test_on_a_terminal_a_long_replay_shows_how_far_it_is(monkeypatch):
    seen = Terminal()
    monkeypatch.setattr(terminal.sys, "stderr", seen)
    with terminal.evenings_shown(terminal.EVENINGS_WORTH_A_BAR) as passed:
        assert passed is not None
        for done in range(1, 41):
            passed(done, 40)
    assert "Evenings planned" in seen.written
    assert "100%" in seen.written
    with terminal.evenings_shown(terminal.EVENINGS_WORTH_A_BAR - 1) as passed:
        assert passed is None


# Check


def check(tmp_path: Path, garden: Any, *options: str) -> Result:
    path = tmp_path / "garden.json"
    path.write_text(json.dumps(garden))
    return CliRunner().invoke(cli.main, ["check", str(path), *options])


def test_check_says_what_is_odd_and_what_would_make_sense(tmp_path):
    result = check(tmp_path, document())  # its sprinkler loses nothing
    assert result.exit_code == 0
    line, last = result.stdout.splitlines()
    assert line.startswith("/zones/lawn/watering/efficiency: Its efficiency is 1, but the best")
    assert line.endswith("or give at most 0.85.")
    assert last.endswith("1 zone can be planned.")


def test_check_tells_the_same_as_json(tmp_path):
    body = json.loads(check(tmp_path, document(), "--json").stdout)
    assert [finding["code"] for finding in body["findings"]] == ["efficiency-above-published"]
