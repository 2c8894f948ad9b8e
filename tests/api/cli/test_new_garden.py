"""A garden file from questions: what was answered is what is written, and it can be planned."""

import sys
from pathlib import Path

import orjson
import pytest
from click.testing import CliRunner, Result

from api.cli.commands import main
from api.cli.new_garden import SOIL_BY_FEEL, plants_like
from api.schemas.garden import load_garden
from scheduling import catalogue

PLACE = ("51.45", "-2.59", "London", "Europe/London")
LAWN = ("Back lawn", "60", "lawn", "1", "4", "1", "y", "10", "43")
ANSWERS = (*PLACE, *LAWN)
"""Of Quince Court, which is invented."""


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch):
    """Pretends that somebody is there to answer."""
    monkeypatch.setattr("api.cli.new_garden.sys", Terminal())


class Terminal:
    class stdin:  # noqa: N801
        isatty = staticmethod(lambda: True)

    exit = sys.exit


def answered(path: Path, *answers: str) -> Result:
    return CliRunner().invoke(main, ["new", str(path)], input="\n".join(answers) + "\n")


def test_the_answers_become_a_garden_that_can_be_planned(tmp_path: Path, terminal) -> None:
    path = tmp_path / "garden.json"

    ran = answered(path, *ANSWERS, "n", "y", "n")

    assert ran.exit_code == 0, ran.output
    written = orjson.loads(path.read_bytes())
    assert written["timezone"] == "Europe/London"
    lawn = written["zones"]["back-lawn"]
    assert lawn["watering"] == {"method": "overhead-spray", "flow_l_min": 13.95}  # 10 l in 43 s
    assert lawn["soil"] == {"texture": "clay-loam"}
    assert load_garden(written).zones[0].area_m2 == 60
    assert "Did you mean Europe/London?" in ran.output
    assert "1 zone can be planned." in ran.output


def test_pots_are_asked_for_their_litres(tmp_path: Path, terminal) -> None:
    path = tmp_path / "garden.json"
    pots = ("Pots", "0.8", "tomato", "1", "6", "90", "4", "n")

    ran = answered(path, *PLACE, *pots, "n", "y", "n")

    assert ran.exit_code == 0, ran.output
    zone = orjson.loads(path.read_bytes())["zones"]["pots"]
    assert zone["soil"] == {"container": {"volume_l": 90}}
    assert "flow_l_min" not in zone["watering"]


def test_a_name_that_is_taken_is_asked_for_again(tmp_path: Path, terminal) -> None:
    ran = answered(tmp_path / "garden.json", *ANSWERS, "y", "Back lawn", "Front", *LAWN[1:], "n", "y", "n")

    assert "There is a zone back-lawn already" in ran.output
    assert set(orjson.loads((tmp_path / "garden.json").read_bytes())["zones"]) == {"back-lawn", "front"}


def test_nothing_is_written_where_nobody_agrees(tmp_path: Path, terminal) -> None:
    assert answered(tmp_path / "garden.json", *ANSWERS, "n", "n").exit_code != 0
    assert not (tmp_path / "garden.json").exists()


def test_a_file_that_is_there_stays_as_it_is(tmp_path: Path, terminal) -> None:
    path = tmp_path / "garden.json"
    path.write_text("mine")

    assert answered(path).exit_code == 2
    assert path.read_text() == "mine"


def test_without_a_terminal_the_fields_are_named(tmp_path: Path) -> None:
    ran = answered(tmp_path / "garden.json")

    assert ran.exit_code == 2
    assert "latitude, longitude, timezone" in ran.output


@pytest.mark.parametrize(
    ("word", "nearest"), [("lawn", "turf"), ("Tomatoes", "tomato"), ("strawberries", "strawberry")]
)
def test_plants_are_found_by_the_words_that_people_use(word: str, nearest: str) -> None:
    found = plants_like(word)

    assert found
    assert nearest in found[0].id


def test_every_feel_of_soil_is_a_texture_of_the_catalogue() -> None:
    assert {texture for _, texture in SOIL_BY_FEEL} - {"container"} <= {soil.id for soil in catalogue.soils()}


def test_a_plant_is_looked_up_by_a_common_name() -> None:
    found = CliRunner().invoke(main, ["plants", "rose"])
    unknown = CliRunner().invoke(main, ["plants", "xyzzy"])

    assert found.exit_code == 0
    assert found.output.split()[0] in {plant.id for plant in catalogue.plants()}
    assert unknown.exit_code == 2
    assert "Try a broader word" in unknown.output
