"""The `rootledger` command: what it prints, what it keeps, and how it fails."""

import datetime as dt
import json
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from api.cli import commands as cli
from tests.api.stored_garden import EVENING, JULY_15, ONE_DAY, Clock, document, lawn, weather_days
from tests.api.weather.weather_service import Service, send

ROOT = Path(__file__).parents[3]


@pytest.fixture
def write(tmp_path) -> Callable[[str, Any], str]:
    """Writes a file of JSON, or of text as it is; gives its path."""

    def written(name: str, content: Any) -> str:
        path = tmp_path / name
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        return str(path)

    return written


@pytest.fixture
def files(write) -> tuple[str, str, str]:
    """A garden and its weather, as arguments of `plan`."""
    return write("garden.json", document()), "--weather", write("weather.json", JULY)


@pytest.fixture
def service() -> Iterator[Service]:
    service = Service(Clock(EVENING))
    yield service
    service.close()


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli.main, arguments)


def planned(*arguments: str) -> dict[str, Any]:
    result = run("plan", *arguments, "--json")
    assert result.exit_code == 0, result.stderr
    body: dict[str, Any] = json.loads(result.stdout)
    return body


JULY = weather_days(dt.date(2026, 6, 1), 70)


def kept(path: str) -> Any:
    return json.loads(Path(path).read_text())


# demo


def test_the_demonstration_prints_a_table_with_totals_and_says_that_it_is_invented():
    result = run("demo")
    assert result.exit_code == 0
    for expected in (
        "quince-court",
        "Wednesday 2026-07-15",
        "decision",
        "litres",
        "min",
        "start",
        "Roots have used",
    ):
        assert expected in result.stdout
    for zone in ("Fescue lawn", "Shrub border", "Vegetable bed", "Balcony troughs"):
        assert zone in result.stdout
    assert "Total" in result.stdout
    assert "Invented weather" in result.stdout


def test_the_demonstration_in_json_is_the_same_plan_each_time():
    first, second = run("demo", "--json").stdout, run("demo", "--json").stdout
    assert first == second
    body = json.loads(first)
    assert body["date"] == "2026-07-15"
    assert body["volume_l"] == sum(zone["volume_l"] for zone in body["zones"]) > 0


def test_the_module_is_the_command():
    ran = subprocess.run(
        [sys.executable, "-m", "api", "demo", "--json"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout)["garden"] == "quince-court"


# plan, with weather from a file


def test_a_plan_with_own_weather_asks_nobody(files, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_CACHE_URL", "sqlite:////proc/nowhere/forecasts.db")
    body = planned(*files)
    assert (body["date"], body["weather"]["source"]) == ("2026-07-15", "given")


def test_weather_days_may_be_in_an_object(files, write):
    listed = planned(*files)
    assert planned(files[0], "--weather", write("object.json", {"days": JULY})) == listed


def test_the_table_says_what_the_json_says(files):
    (zone,) = planned(*files)["zones"]
    table = run("plan", *files).stdout
    assert zone["decision"] == "water"
    assert f"{zone['volume_l']}" in table
    assert zone["reasons"][0]["text"].split(",")[0] in table


def test_explain_adds_the_days_behind_each_zone(files):
    body = planned(*files, "--explain")
    rows = body["zones"][0]["ledger"]
    assert [rows[0]["date"], rows[-1]["date"]] == ["2026-06-01", "2026-07-14"]
    assert "2026-07-14  lacked" in run("plan", *files, "--explain").stdout


def test_a_date_may_be_asked_for(files):
    assert planned(*files, "--date", "2026-07-20")["date"] == "2026-07-20"


# plan, evening by evening with a state file


@pytest.fixture
def evening(files, tmp_path, monkeypatch) -> Callable[..., dict[str, Any]]:
    """Plans one evening after another with the same garden, weather and state file."""

    def on(day: int, *arguments: str) -> dict[str, Any]:
        monkeypatch.setattr(cli, "_now", lambda: EVENING + (day - 14) * ONE_DAY)
        return planned(*files, "--state", str(tmp_path / "state.json"), *arguments)

    return on


def test_the_state_file_is_made_and_holds_state_and_runs(evening, tmp_path):
    body = evening(14)
    file = kept(str(tmp_path / "state.json"))
    assert file["carry_over"] == body["carry_over"]
    run_ = body["zones"][0]["runs"][0]
    assert file["runs"] == [{"zone": "lawn", "date": "2026-07-15", "volume_l": run_["volume_l"]}]


def test_runs_of_past_dates_count_as_carried_out(evening, write):
    evening(14)
    counted = evening(15)
    # The same from the file's state, and the same water told as delivered.
    assert counted["carry_over"]["date"] == "2026-07-16"
    lacked = counted["carry_over"]["zones"]["lawn"]["depletion_mm"]
    assert lacked < 7.0  # a day's use; without the water it would be twice that and more


def test_the_same_evening_twice_gives_the_same_plan(evening, tmp_path):
    first = evening(14)
    before = (tmp_path / "state.json").read_bytes()
    again = evening(14)
    assert [again[name] for name in ("zones", "carry_over")] == [
        first[name] for name in ("zones", "carry_over")
    ]
    assert (tmp_path / "state.json").read_bytes() == before


def test_the_runs_of_a_week_are_kept_for_its_allowance(write, tmp_path, monkeypatch):
    garden = write("garden.json", document(water_supply={"allowance_l": {"week": 700}}))
    weather, state = write("weather.json", JULY), str(tmp_path / "state.json")

    def litres_of_dates(*days: int) -> list[float]:
        given = []
        for day in days:
            monkeypatch.setattr(cli, "_now", lambda: EVENING + (day - 15) * ONE_DAY)  # noqa: B023
            given.append(planned(garden, "--weather", weather, "--state", state)["volume_l"])
        return given

    # 15 July 2026 is a Wednesday; the next week begins with the plan of Monday the 20th.
    week = litres_of_dates(15, 16, 17, 18, 19)
    assert 550 < sum(week) <= 700  # less than 150 l would be below the smallest depth
    assert week[0] > 0
    assert litres_of_dates(20)[0] > 0


def test_deliveries_take_the_place_of_the_kept_runs(evening, write):
    evening(14)
    nothing = evening(15, "--deliveries", write("nothing.json", []))
    assert nothing["carry_over"]["zones"]["lawn"]["depletion_mm"] > 11.0


def test_deliveries_count_by_their_litres(evening, write, tmp_path):
    first = evening(14)
    file = (tmp_path / "state.json").read_text()
    all_of_it = [{"zone": "lawn", "date": "2026-07-15", "volume_l": first["volume_l"]}]
    told = evening(15, "--deliveries", write("told.json", all_of_it))
    (tmp_path / "state.json").write_text(file)
    assert evening(15)["carry_over"] == told["carry_over"]


def test_weeks_of_evenings_water_what_the_lawn_uses(evening):
    """30 dry evenings: what was given, and what is lacking in the end, is what was used."""
    bodies = [evening(day) for day in range(5, 35)]
    lacked_mm, lacks_mm = (
        body["carry_over"]["zones"]["lawn"]["depletion_mm"] for body in (bodies[0], bodies[-1])
    )
    used_mm = sum(body["weather"]["eto_mm"] for body in bodies[:-1])
    given_mm = sum(body["volume_l"] for body in bodies[:-1]) / 50
    assert given_mm == pytest.approx(used_mm + lacked_mm - lacks_mm, rel=0.02)
    assert used_mm > 150.0


def test_a_zone_that_the_garden_no_longer_has_is_left_out_of_its_state(evening, write):
    evening(14)
    write("garden.json", document(zones={"hedge": lawn()}))
    body = evening(15)
    assert list(body["carry_over"]["zones"]) == ["hedge"]
    assert [note["code"] for note in body["zones"][0]["notes"]] == ["opening-assumed"]


def test_a_failing_run_leaves_the_state_file_as_it_was(evening, files, write, tmp_path):
    evening(14)
    before = (tmp_path / "state.json").read_bytes()
    write("garden.json", document(latitude=99))
    result = run("plan", *files, "--state", str(tmp_path / "state.json"))
    assert result.exit_code == 2
    assert (tmp_path / "state.json").read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir() if "state" in path.name) == ["state.json"]


@pytest.mark.parametrize(
    "foreign",
    [
        [],
        {},
        {"carry_over": {}},
        {"carry_over": {"zones": []}, "runs": []},
        {"carry_over": {"zones": {}}, "runs": [{"date": 5}]},
        "text",
    ],
)
def test_a_foreign_file_is_no_state_and_is_left_alone(files, write, foreign):
    state = write("state.json", json.dumps(foreign))
    before = Path(state).read_bytes()
    result = run("plan", *files, "--state", state)
    assert result.exit_code == 2
    assert "no state file" in result.stderr
    assert Path(state).read_bytes() == before


def test_a_state_of_a_later_date_is_refused_in_words(evening, files, tmp_path):
    evening(16)
    result = run("plan", *files, "--state", str(tmp_path / "state.json"), "--date", "2026-07-15")
    assert result.exit_code == 2
    assert (
        "/carry_over/date: date is 2026-07-17, which is after the plan's date, 2026-07-15." in result.stderr
    )


def test_a_state_that_cannot_be_written_is_an_error_after_the_plan(files, tmp_path):
    result = run("plan", *files, "--state", str(tmp_path / "nowhere" / "state.json"))
    assert result.exit_code == 2
    assert "litres" in result.stdout
    assert "cannot be written" in result.stderr
    assert "not kept" in result.stderr


def test_a_state_that_is_a_folder_is_an_error_and_leaves_no_file_behind(files, tmp_path):
    folder = tmp_path / "state.json"
    folder.mkdir()
    result = run("plan", *files, "--state", str(folder))
    assert result.exit_code == 2
    assert "cannot be read" in result.stderr
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


# plan, with a forecast


def live(**changes: Any) -> dict[str, Any]:
    return document(weather_sources=["open-meteo"], **changes)


def test_a_plan_is_made_from_a_forecast(service, write, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", service.url)
    body = planned(write("garden.json", live()))
    weather = body["weather"]
    assert (weather["source"], weather["stale"], body["date"]) == ("open-meteo", False, "2026-07-15")
    assert (weather["t_min_c"], weather["t_max_c"]) == (15.0, 26.5)
    assert weather["rain_mm"] == 2.4  # 0.1 mm an hour
    assert weather["counted_rain_mm"] == 0.7  # with a chance of 30 %
    assert weather["estimated"] == []
    assert any("Open-Meteo" in line for line in weather["attribution"])
    assert "Open-Meteo" in run("plan", write("garden.json", live())).stdout


def test_no_forecast_is_exit_code_3_and_leaves_the_state_alone(service, write, tmp_path, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", service.url)
    service.reply = send({"error": True, "reason": "maintenance"}, status=503)
    result = run("plan", write("garden.json", live()), "--state", str(tmp_path / "state.json"))
    assert (result.exit_code, result.stdout) == (3, "")
    assert "no forecast" in result.stderr
    assert not (tmp_path / "state.json").exists()


def test_a_closed_port_is_exit_code_3(write, monkeypatch):
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", f"http://127.0.0.1:{unused.getsockname()[1]}")
    result = run("plan", write("garden.json", live()))
    assert result.exit_code == 3
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("setting", "value", "words"),
    [
        ("ROOTLEDGER_CACHE_URL", "sqlite:////proc/nowhere/forecasts.db", "ROOTLEDGER_CACHE_URL"),
        ("ROOTLEDGER_OPEN_METEO_URL", "ftp://example.org", "URL is 'ftp://example.org'"),
    ],
)
def test_a_setting_that_cannot_be_used_is_an_error_with_its_name(write, monkeypatch, setting, value, words):
    monkeypatch.setenv(setting, value)
    result = run("plan", write("garden.json", live()))
    assert result.exit_code == 2
    assert setting in result.stderr
    assert words in result.stderr


# Wrong input


def test_check_says_what_is_wrong_by_field_all_at_once(write):
    bad = document(latitude=99, timezone="Europe/Pariss", zones={"lawn": lawn(area_m2=-1, colour="green")})
    result = run("check", write("garden.json", bad))
    assert result.exit_code == 2
    for pointer in ("/latitude: ", "/timezone: ", "/zones/lawn/area_m2: ", "/zones/lawn/colour: "):
        assert pointer in result.stderr
    assert "-90 to 90" in result.stderr
    assert "Europe/Paris" in result.stderr


def test_check_says_what_cannot_be_put_in_numbers(write):
    soil = {"field_capacity": 0.1, "wilting_point": 0.3}
    result = run("check", write("garden.json", document(zones={"lawn": lawn(soil=soil)})))
    assert result.exit_code == 2
    assert "/zones/lawn" in result.stderr
    assert "0.3" in result.stderr


def test_check_names_what_is_odd_and_succeeds(write):
    flat = document(zones={"lawn": lawn(valve={"min_flow_l_min": 30})})
    result = run("check", write("garden.json", flat))
    assert result.exit_code == 0
    assert "/zones/lawn/valve/min_flow_l_min: It takes 20 litres a minute" in result.stdout
    assert "1 zone can be planned" in result.stdout


def test_a_plan_names_fields_as_the_garden_file_has_them(write):
    bad = write("garden.json", document(zones={"lawn": lawn(area_m2="50")}))
    result = run("plan", bad, "--weather", write("weather.json", JULY))
    assert result.exit_code == 2
    assert "\n/zones/lawn/area_m2: " in "\n" + result.stderr


@pytest.mark.parametrize("command", ["plan", "check"])
@pytest.mark.parametrize("content", ['{"latitude": 43.61,\n "longitude": }', "", "\x00", "[" * 5000])
def test_text_that_is_not_json_is_an_error_with_line_and_column(write, command, content):
    result = run(command, write("garden.json", content))
    assert result.exit_code == 2
    assert "is not JSON" in result.stderr
    assert "line 2 column" in result.stderr or content.count("\n") == 0


@pytest.mark.parametrize("content", ["null", "5", "[]", '"garden"', "{}"])
@pytest.mark.parametrize("command", ["plan", "check"])
def test_json_that_is_no_garden_is_refused(write, command, content):
    result = run(command, write("garden.json", content))
    assert result.exit_code == 2
    assert result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("command", ["plan", "check"])
def test_a_missing_file_is_named(tmp_path, command):
    result = run(command, str(tmp_path / "nowhere.json"))
    assert result.exit_code == 2
    assert "nowhere.json: cannot be read: No such file" in result.stderr


@pytest.mark.parametrize("command", ["plan", "check"])
def test_a_folder_is_no_file(tmp_path, command):
    result = run(command, str(tmp_path))
    assert result.exit_code == 2
    assert "cannot be read: Is a directory" in result.stderr


@pytest.mark.parametrize(
    ("option", "content", "pointer"),
    [
        ("--weather", [{"date": "2026-07-15", "t_min_c": "cold"}], "/weather/0/t_min_c: "),
        ("--weather", [], "/weather: "),
        ("--weather", "soon", "/weather: "),
        ("--deliveries", [{"zone": "pond", "date": "2026-07-15", "volume_l": 5}], "/deliveries/0/zone: "),
        (
            "--deliveries",
            [{"zone": "lawn", "date": "2026-07-15", "volume_l": -5}],
            "/deliveries/0/volume_l: ",
        ),
    ],
)
def test_other_files_are_checked_as_strictly(write, option, content, pointer):
    arguments = [write("garden.json", document()), option, write("other.json", json.dumps(content))]
    if option == "--deliveries":
        arguments += ["--weather", write("weather.json", JULY)]
    result = run("plan", *arguments)
    assert result.exit_code == 2
    assert pointer in result.stderr


def test_weather_that_is_too_short_is_an_error_with_its_days(write):
    short = write("weather.json", weather_days(JULY_15 - 3 * ONE_DAY, 3))
    result = run("plan", write("garden.json", document()), "--weather", short)
    assert result.exit_code == 2
    assert "2026-07-15" in result.stderr


@pytest.mark.parametrize("date", ["tomorrow", "2026-13-01", "15.7.2026"])
def test_a_date_that_is_none_is_refused(write, date):
    files = (write("garden.json", document()), "--weather", write("weather.json", JULY))
    result = run("plan", *files, "--date", date)
    assert result.exit_code == 2
    assert "/date: " in result.stderr


def test_an_unknown_command_or_option_is_exit_code_2(write):
    assert run("water").exit_code == 2
    assert run("plan", write("garden.json", document()), "--colour").exit_code == 2
    assert run("--version").exit_code == 0
    assert run("-h").exit_code == 0


# Weather


def test_the_weather_in_use_is_shown_with_its_source(service, write, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", service.url)
    result = run("weather", write("garden.json", live()), "--past", "2")
    head, _, *days = result.stdout.splitlines()

    assert result.exit_code == 0
    assert ", weather of open-meteo, 2026-07-14 " in head
    assert days[0].split()[1:3] == ["2026-07-12", "analysed"]
    assert days[3].split()[1:3] == ["2026-07-15", "forecast"]
    assert "Open-Meteo.com" in result.stdout


def test_the_weather_can_be_had_as_the_api_answers_it(service, write, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", service.url)
    body = json.loads(run("weather", write("garden.json", live()), "--json", "--past", "0").stdout)

    assert body["sources"] == ["open-meteo"]
    assert body["days"][0]["date"] == "2026-07-14"
    assert body["days"][1]["rain_mm"] == pytest.approx(2.4)


def test_without_weather_to_show_the_exit_code_is_3(service, write, monkeypatch):
    monkeypatch.setenv("ROOTLEDGER_OPEN_METEO_URL", service.url)
    service.reply = send({"error": True, "reason": "maintenance"}, status=503)
    result = run("weather", write("garden.json", live()))
    assert (result.exit_code, result.stdout) == (3, "")
