"""What a person sees of a plan."""

import copy
import io
import json
from typing import Any

import pytest
from click.testing import CliRunner
from rich.console import Console

from api.cli import commands as cli
from api.cli.tables import print_plan


@pytest.fixture(scope="module")
def demonstration() -> dict[str, Any]:
    body: dict[str, Any] = json.loads(CliRunner().invoke(cli.main, ["demo", "--json"]).stdout)
    return body


NAMES = {"fescue-lawn": "Fescue lawn", "shrub-border": "Shrub border", "vegetable-bed": "Vegetable bed"}
NAMES["balcony-troughs"] = "Balcony troughs"


@pytest.fixture
def body(demonstration) -> dict[str, Any]:
    return copy.deepcopy(demonstration)


def printed(body: dict[str, Any], width: int = 120) -> str:
    out = io.StringIO()
    print_plan(body, Console(file=out, width=width, highlight=False))
    return out.getvalue()


def row_of(body: dict[str, Any], zone: str, width: int = 120) -> str:
    (row,) = (
        line for line in printed(body, width).splitlines() if line.startswith(f"{NAMES.get(zone, zone)}  ")
    )
    return row.removeprefix(NAMES.get(zone, zone))


@pytest.mark.parametrize("width", [50, 60, 80, 120])
def test_no_line_is_wider_than_the_terminal_and_no_number_is_cut(body, width):
    table = printed(body, width)
    assert all(len(line) <= width and line == line.rstrip() for line in table.splitlines())
    assert "…" not in table
    for zone in body["zones"]:
        row = row_of(body, zone["zone"], width).split()
        assert row[0] == zone["decision"]
        if zone["decision"] == "water":
            assert float(row[1]) == zone["runs"][0]["volume_l"]
            assert row[3] == zone["runs"][0]["start"][11:16]


@pytest.mark.parametrize("width", [80, 120])
def test_every_reason_can_be_read_in_full(body, width):
    words = " ".join(printed(body, width).split())
    for zone in body["zones"]:
        for word in zone["reasons"][0]["text"].split():
            assert word in words


def test_totals_are_those_of_the_plan(body):
    table = printed(body)
    assert f"Total {body['volume_l']} litres" in table
    assert f"above {body['main_valve']['max_volume_l']} litres something is stuck or leaking" in table


def test_a_zone_that_waits_has_neither_litres_nor_a_start(body):
    assert row_of(body, "shrub-border").split() == ["wait", "-", "-", "-"]


def test_a_start_on_the_evening_before_says_which_evening(body):
    body["zones"][0]["runs"][0]["start"] = "2026-07-14T23:10:00+02:00"
    body["main_valve"]["opens_at"] = "2026-07-14T23:10:00+02:00"
    assert "Tue 23:10" in row_of(body, "fescue-lawn")
    assert "main valve open Tue 23:10 to 06:09" in printed(body)


def test_short_runs_are_not_told_as_no_minutes(body):
    for run_time_s, minutes in ((18, "0.3"), (90, "1.5"), (599, "10"), (4035, "67")):
        body["zones"][0]["runs"][0]["run_time_s"] = run_time_s
        assert row_of(body, "fescue-lawn").split()[2] == minutes


def test_large_volumes_are_written_out(body):
    body["zones"][0]["runs"][0]["volume_l"] = 1234567
    assert row_of(body, "fescue-lawn").split()[1] == "1234567"


def test_each_of_several_runs_has_a_line_with_its_litres_and_start(body):
    run = body["zones"][0]["runs"][0]
    starts = ("2026-07-15T04:23:00+02:00", "2026-07-15T05:00:00+02:00")
    body["zones"][0]["runs"] = [
        {**run, "start": start, "volume_l": litres} for start, litres in zip(starts, (700, 645), strict=True)
    ]
    first, second, *_ = printed(body).partition("Fescue lawn")[2].splitlines()
    assert (first.split()[1], first.split()[3]) == ("700", "04:23")
    assert (second.split()[0], second.split()[2]) == ("645", "05:00")


def test_a_narrow_terminal_folds_names_and_never_a_number(body):
    lines = printed(body, 40).splitlines()
    assert all(len(line) <= 40 for line in lines)
    assert [line.split()[-1] for line in lines if "04:45" in line or "05:30" in line] == ["04:45", "05:30"]


def test_nothing_to_water_is_said_so(body):
    body["main_valve"], body["volume_l"] = None, 0
    assert "Nothing is watered." in printed(body)


def test_rain_comes_with_its_chance_and_what_is_counted(body):
    assert "no rain" in printed(body)
    body["weather"] |= {"rain_mm": 6.0, "rain_probability": 0.35, "counted_rain_mm": 2.1}
    assert "rain 6.0 mm (35% likely), counted on 2.1 mm" in printed(body)


def test_rain_that_is_not_known_is_not_told_as_none(body):
    body["weather"] |= {"rain_mm": None, "rain_probability": None, "estimated": ["rain"]}
    line = printed(body).splitlines()[1]
    assert "no rain" not in line
    assert "estimated: rain" in line


def test_an_old_forecast_is_said_so(body):
    assert "old" not in printed(body).splitlines()[1]
    body["weather"]["stale"] = True
    assert "the forecast is old" in printed(body)


def test_a_guess_is_called_a_guess_and_a_known_past_is_not(body):
    assert "first guess" in printed(body)
    body["history"] = "known"
    assert "guess" not in printed(body)


def test_notes_keep_their_indent_where_they_wrap(body):
    body["notes"] = [{"code": "some", "text": "word " * 40}]
    wrapped = [line for line in printed(body, 80).splitlines() if line.strip().startswith("word")]
    assert len(wrapped) > 1
    assert all(line.startswith("  word") for line in wrapped)


def test_square_brackets_in_a_pause_s_reason_are_text_and_no_style(body):
    body["zones"][0]["reasons"][0]["text"] = "Paused: [bold]sand[/bold] delivered [/]."
    assert "[bold]sand[/bold]" in " ".join(printed(body).split())


def test_explained_days_name_their_zone(body):
    depths = (
        "opening_depletion",
        "infiltrated_rain",
        "irrigation",
        "etc_adj",
        "drainage",
        "closing_depletion",
    )
    row = {"date": "2026-07-14", **{f"{depth}_mm": number + 0.5 for number, depth in enumerate(depths)}}
    body["zones"][0]["ledger"] = [row]
    table = printed(body)
    assert table.index("Fescue lawn, day by day:") < table.index("2026-07-14  lacked 0.5")
