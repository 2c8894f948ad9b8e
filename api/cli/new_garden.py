"""`rootledger new`: a garden file from questions in plain words, for whoever has never written one."""

import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo, available_timezones

import click
import orjson

from api.cli.terminal import WRONG_INPUT, stop
from api.ids import ID_PATTERN
from scheduling import catalogue

SOIL_BY_FEEL: Final = (
    ("It feels gritty and falls apart", "loamy-sand"),
    ("It feels gritty and holds as a ball, but makes no ribbon", "sandy-loam"),
    ("It feels soft and makes a short ribbon that breaks", "loam"),
    ("It makes a ribbon as wide as a finger", "clay-loam"),
    ("It makes a long, shiny ribbon", "clay"),
    ("It is in pots or troughs", "container"),
)
"""What a handful of moist soil does between the fingers, and the texture to write."""
MOST_OFFERED: Final = 8
REQUIRED: Final = "latitude, longitude, timezone, and for each zone area_m2, planting, soil, watering"


def new_garden(path: Path) -> dict[str, Any]:
    """Ask for a garden, show what was understood, and write it down.

    Where nobody can answer, or the file is there already, the command ends and says what to do.
    """
    if not sys.stdin.isatty():
        stop(
            WRONG_INPUT,
            f"new asks questions, and there is no terminal to ask. Write {path} yourself. "
            f"It needs {REQUIRED}. "
            "The guide shows how: rootledger help first-week.",
        )
    if path.exists():
        stop(WRONG_INPUT, f"{path} is there already. Give another name, or move it away first.")
    return asked_for(path)


def asked_for(path: Path) -> dict[str, Any]:
    """The questions themselves."""
    click.echo(
        "A garden in a few questions. Enter takes what is in brackets; Ctrl-C leaves without a file.\n"
    )
    garden: dict[str, Any] = {
        "latitude": _number("Latitude in degrees, north of the equator is positive", -90.0, 90.0),
        "longitude": _number("Longitude in degrees, east of Greenwich is positive", -180.0, 180.0),
        "timezone": _timezone(),
        "zones": {},
    }
    while True:
        zone_id, zone = _zone(garden["zones"])
        garden["zones"][zone_id] = zone
        if not click.confirm("\nIs there another zone?", default=False):
            break
    click.echo("\nThis is what I understood:\n")
    click.echo(orjson.dumps(garden, option=orjson.OPT_INDENT_2).decode())
    click.confirm(f"\nWrite it to {path}?", default=True, abort=True)
    try:
        path.write_bytes(orjson.dumps(garden, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
    except OSError as error:
        stop(WRONG_INPUT, f"{path}: cannot be written: {error.strerror}.")
    return garden


def _zone(taken: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    while True:
        name = click.prompt("\nWhat do you call this zone").strip()
        zone_id = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
        if re.fullmatch(ID_PATTERN, zone_id) is None:
            click.echo("Use letters or digits, such as: back lawn.")
        elif zone_id in taken:
            click.echo(f"There is a zone {zone_id} already; choose another name.")
        else:
            break
    area = _number("Its area in square metres (of pots: of their leaves, seen from above)", 0.01, 100_000.0)
    zone: dict[str, Any] = {"name": name, "area_m2": area, "planting": {"plant": _plant()}, "soil": _soil()}
    zone["watering"] = _watering()
    return zone_id, zone


def _plant() -> str:
    while True:
        word = click.prompt("What grows there, such as lawn, tomato, roses")
        found = plants_like(word)
        if not found:
            click.echo("Nothing of that name is in the catalogue. Try a broader word: shrub, tree, herbs.")
            continue
        for number, plant in enumerate(found, 1):
            click.echo(f"  {number}  {plant.name}")
        click.echo("  0  none of these")
        chosen = click.prompt("Which one", type=click.IntRange(0, len(found)), default=1)
        if chosen:
            return found[chosen - 1].id


def plants_like(word: str) -> Sequence[catalogue.Plant]:
    """Plants that are called so, one or many of them, as many as can be offered at once."""
    word = word.strip().lower()
    singulars = (word, word.removesuffix("s"), word.removesuffix("es"), re.sub("ies$", "y", word))
    found = next((plants for one in singulars if (plants := catalogue.plants_called(one))), ())
    return found[:MOST_OFFERED]


def _soil() -> dict[str, Any]:
    click.echo("Roll a handful of moist soil between your fingers.")
    for number, (feel, _) in enumerate(SOIL_BY_FEEL, 1):
        click.echo(f"  {number}  {feel}")
    texture = SOIL_BY_FEEL[click.prompt("Which one", type=click.IntRange(1, len(SOIL_BY_FEEL))) - 1][1]
    if texture != "container":
        return {"texture": texture}
    litres = _number("How many litres of soil do the pots hold together", 0.1, 1_000_000.0)
    return {"container": {"volume_l": litres}}


def _watering() -> dict[str, Any]:
    click.echo("How does the water arrive?")
    methods = catalogue.methods()
    for number, method in enumerate(methods, 1):
        click.echo(f"  {number}  {method.name}")
    method = methods[click.prompt("Which one", type=click.IntRange(1, len(methods))) - 1]
    watering: dict[str, Any] = {"method": method.id}
    if click.confirm("Did you time a bucket, or do you know the flow?", default=True):
        litres = _number("How many litres were in the bucket", 0.1, 1000.0)
        seconds = _number("After how many seconds", 1.0, 100_000.0)
        flow = round(60.0 * litres / seconds, 2)
        click.echo(f"That is {flow:g} litres a minute.")
        watering["flow_l_min"] = flow
    else:
        click.echo("Then a usual rate stands in, and plans say so.")
    return watering


def _timezone() -> str:
    known = available_timezones()
    while True:
        name: str = click.prompt("Time zone, such as Europe/London")
        if name in known and "/" in name:
            ZoneInfo(name)
            return name
        city = name.rsplit("/", 1)[-1].replace(" ", "_").lower()
        near = sorted(zone for zone in known if zone.lower().endswith(f"/{city}"))
        hint = f" Did you mean {near[0]}?" if near else " It is an area and a city: Europe/London."
        click.echo(f"{name} is no time zone.{hint}")


def _number(question: str, low: float, high: float) -> float:
    """A number within a range, whole where it is whole."""
    answer: float = click.prompt(question, type=click.FloatRange(low, high))
    return int(answer) if answer == int(answer) else answer
