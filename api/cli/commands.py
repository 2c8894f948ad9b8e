"""The `rootledger` command.

Exit codes: 0 done, 2 wrong input, 3 no forecast to plan from, 4 no database or a damaged one.
"""

import datetime as dt
import gc
import os
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple
from zoneinfo import ZoneInfo

import click
import orjson

from api import RELEASE
from api.cli.store_commands import backup, check_store, token
from api.cli.terminal import (
    WRONG_INPUT,
    evenings_shown,
    live_forecasts,
    no_forecasts,
    read_bytes,
    read_json,
    stop,
    told_in_words,
)
from scheduling.garden.reports import Delivery

if TYPE_CHECKING:
    from api.weather.fetch.forecasts import Forecasts

MOST_PAST_DAYS: Final = 400
"""As many as a request may bring."""


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(RELEASE, prog_name="rootledger")
def main() -> None:
    """Tomorrow's litres for every zone of a garden, and why."""


main.add_command(backup)
main.add_command(check_store)
main.add_command(token)


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print the plan as the API answers it.")
def demo(as_json: bool) -> None:
    """Plan an invented garden with invented weather; nothing is asked over the network."""
    from api.cli import demo as quince_court
    from api.weather.fetch.forecasts import Forecasts
    from api.weather.fetch.repository import KeptInMemory
    from api.weather.sources.demo import Demo

    now = quince_court.PINNED_NOW
    forecasts = Forecasts({"demo": Demo(lambda: now)}, KeptInMemory(), lambda: now)
    _plan({"garden": quince_court.garden_document()}, forecasts, now, as_json, explain=False)


@main.command()
@click.argument("garden_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--date", help="The plan's date, as 2026-07-15; by default the next one.")
@click.option(
    "--weather",
    "weather_file",
    type=click.Path(path_type=Path),
    help="Weather days in JSON, in place of a forecast.",
)
@click.option(
    "--state",
    "state_file",
    type=click.Path(path_type=Path),
    help="Where the zones' state and the runs given are kept from one plan to the next; made if missing.",
)
@click.option(
    "--deliveries",
    "deliveries_file",
    type=click.Path(path_type=Path),
    help="What really flowed, in JSON. Without it, the runs in the state file count as carried out "
    "once their date is past.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the plan as the API answers it.")
@click.option("--explain", is_flag=True, help="Add the days behind each zone's depletion.")
def plan(
    garden_file: Path,
    date: str | None,
    weather_file: Path | None,
    state_file: Path | None,
    deliveries_file: Path | None,
    as_json: bool,
    explain: bool,
) -> None:
    """Plan the garden described in FILE."""
    garden = read_json(garden_file)
    request: dict[str, Any] = {"garden": garden}
    if date is not None:
        request["date"] = date
    if weather_file is not None:
        request["weather"] = _weather_days(read_json(weather_file))
    kept = None if state_file is None else _kept_state(state_file, garden)
    if kept is not None:
        request["carry_over"] = kept.carry_over
    if deliveries_file is not None:
        request["deliveries"] = read_json(deliveries_file)
    now = _now()
    forecasts = live_forecasts(lambda: now) if weather_file is None else no_forecasts(lambda: now)
    try:
        body = _plan(request, forecasts, now, as_json, explain, () if kept is None else kept.runs)
    finally:
        forecasts.close()
    if state_file is not None:
        planned = dt.date.fromisoformat(body["date"])
        runs = [
            Delivery(zone["zone"], planned, run["volume_l"]) for zone in body["zones"] for run in zone["runs"]
        ]
        earlier = () if kept is None else _counted_for_allowances(kept.runs, planned)
        _replace(state_file, {"carry_over": body["carry_over"], "runs": [*earlier, *runs]})


@main.command()
@click.argument("garden_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--past",
    "past_days",
    type=click.IntRange(0, MOST_PAST_DAYS),
    default=7,
    show_default=True,
    help="How many days before today to show.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the days as the API answers them.")
def weather(garden_file: Path, past_days: int, as_json: bool) -> None:
    """Show the weather days of the garden described in FILE, and where each value comes from."""
    from api.cli.tables import print_weather
    from api.plans.weather_series import dump_days, weather_in_use
    from api.schemas.garden import load_garden

    now = _now()
    with told_in_words():
        garden = load_garden(read_json(garden_file))
        forecasts = live_forecasts(lambda: now)
        try:
            today = now.astimezone(ZoneInfo(garden.timezone)).date()
            series = weather_in_use(forecasts, garden, today - dt.timedelta(days=past_days), now)
            body = dump_days(series, garden)
        finally:
            forecasts.close()
    if as_json:
        click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2).decode())
    else:
        print_weather(body)


@main.command()
@click.argument("garden_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print what is odd as the API answers it.")
def check(garden_file: Path, as_json: bool) -> None:
    """Say in words what is wrong, or merely odd, about the garden described in FILE."""
    from api.reviews.checks import findings_of
    from api.schemas.check import dump_check
    from api.schemas.garden import load_garden

    with told_in_words():
        garden = load_garden(read_json(garden_file))
        now = _now()
        today = now.astimezone(ZoneInfo(garden.timezone)).date()
        body = dump_check(garden, findings_of(garden, now), today)
    if as_json:
        click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2).decode())
        return
    for finding in body["findings"]:
        click.echo(f"{finding['pointer']}: {finding['text']} {finding['advice']}")
    count = len(garden.zones)
    click.echo(f"{garden_file}: {count} {'zone' if count == 1 else 'zones'} can be planned.")


@main.command()
@click.argument("garden_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--weather",
    "weather_file",
    type=click.Path(path_type=Path),
    help="Daily weather as CSV, its columns named as in a weather day: date, t_min_c, t_max_c, rain_mm and "
    "more; inches, Fahrenheit and the like by their own names. By default the garden's source is asked.",
)
@click.option("--from", "first", help="First day, as 2025-04-01; by default the first in the CSV.")
@click.option("--to", "last", help="Last day; by default the last in the CSV, else yesterday.")
@click.option(
    "--forecast",
    type=click.Choice(["perfect", "none"]),
    default="perfect",
    show_default=True,
    help="Whether evenings knew the days to come.",
)
@click.option(
    "--timer",
    "timers",
    multiple=True,
    metavar="[ZONE=]DAYS:AMOUNT",
    help="A fixed timer to compare with, as 2d:20min or 3d:150l, for every zone or for one: lawn=2d:20min.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the season as the API answers it.")
@click.option("--explain", is_flag=True, help="With --json: add each zone's days.")
def replay(
    garden_file: Path,
    weather_file: Path | None,
    first: str | None,
    last: str | None,
    forecast: str,
    timers: tuple[str, ...],
    as_json: bool,
    explain: bool,
) -> None:
    """Plan a past season of the garden described in FILE, evening by evening."""
    from api.cli.tables import print_replay
    from api.reviews.replay_request import request_from_words
    from api.reviews.replays import replay_for_request

    with told_in_words():
        request = request_from_words(
            read_json(garden_file),
            None if weather_file is None else (str(weather_file), read_bytes(weather_file)),
            {"from": first, "to": last, "forecast": forecast},
            timers,
        )
        evenings = len(request.weather or ()) * len(request.garden.zones)
        now = _now()
        forecasts = live_forecasts(lambda: now) if weather_file is None else no_forecasts(lambda: now)
        try:
            with evenings_shown(evenings) as progress:
                body = replay_for_request(request, forecasts, now, explain and as_json, progress=progress)
        finally:
            forecasts.close()
    if as_json:
        click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2).decode())
    else:
        print_replay(body)


@main.command()
@click.argument("garden_file", metavar="FILE", type=click.Path(path_type=Path))
@click.pass_context
def new(context: click.Context, garden_file: Path) -> None:
    """Ask for a garden in plain words, write it to FILE, check it, and plan it."""
    from api.cli.new_garden import new_garden

    new_garden(garden_file)
    context.invoke(check, garden_file=garden_file)
    if click.confirm("Plan it now, with the live forecast?", default=True):
        context.invoke(plan, garden_file=garden_file)


@main.command()
@click.argument("word")
def plants(word: str) -> None:
    """Look a plant up by any of its names, such as rose."""
    from api.cli.new_garden import plants_like

    found = plants_like(word)
    if not found:
        stop(WRONG_INPUT, f"No plant of the catalogue is called {word!r}. Try a broader word, such as shrub.")
    for plant in found:
        click.echo(f"{plant.id:<32}{plant.name}")


@main.command("help")
@click.argument("topic", required=False)
def help_(topic: str | None) -> None:
    """Read a page of the guide: its topic, or none for the list."""
    from api.cli.help import print_help

    print_help(topic)


@main.command()
@click.option("--host", help="Address to listen on; by default 127.0.0.1.")
@click.option("--port", type=click.IntRange(1, 65535), help="By default 8425.")
@click.option(
    "--demo",
    "with_demo",
    is_flag=True,
    help="Hold the invented garden quince-court, in a database that goes.",
)
def serve(host: str | None, port: int | None, with_demo: bool) -> None:
    """Answer requests over HTTP."""
    # What is loaded now stays: to look through it for garbage takes a twelfth of the start, and
    # time of every later round.
    gc.disable()
    from api.cli.server import serve as serve_forever
    from api.settings import SettingsError, read_settings

    gc.freeze()
    gc.enable()

    given = {"ROOTLEDGER_HOST": host, "ROOTLEDGER_PORT": None if port is None else str(port)}
    try:
        settings = read_settings({**os.environ, **{name: value for name, value in given.items() if value}})
    except SettingsError as wrong:
        stop(WRONG_INPUT, *wrong.sentences)
    serve_forever(settings, with_demo=with_demo)


def _plan(
    document: dict[str, Any],
    forecasts: "Forecasts",
    now: dt.datetime,
    as_json: bool,
    explain: bool,
    runs: Sequence[Delivery] = (),
) -> dict[str, Any]:
    """Plan, print, and give back what was printed.

    `runs` of earlier plans count as carried out where the document has no deliveries.
    """
    from api.cli.tables import print_plan
    from api.plans.plan_maker import plan_for_request
    from api.schemas.plan_request import load_plan_request
    from api.watering_hours import next_hours

    with told_in_words():
        request = load_plan_request(document)
        if "deliveries" not in document:
            date = request.date or next_hours(request.garden, now).date
            carried_out = tuple(run for run in runs if run.date < date)
            request = replace(request, deliveries=carried_out)
        body = plan_for_request(request, forecasts, now, explain)
    if as_json:
        click.echo(orjson.dumps(body, option=orjson.OPT_INDENT_2).decode())
    else:
        print_plan(body)
    return body


def _counted_for_allowances(runs: Sequence[Delivery], planned: dt.date) -> list[Delivery]:
    """Runs of earlier dates that count for an allowance of a date's week or month, or of later ones'."""
    since = min(planned.replace(day=1), planned - dt.timedelta(days=planned.weekday()))
    return [run for run in runs if since <= run.date < planned]


def _weather_days(document: object) -> object:
    """The list of weather days in a file that is one, or holds one as `days`."""
    return document["days"] if isinstance(document, dict) and set(document) == {"days"} else document


class _KeptState(NamedTuple):
    """What an earlier plan left in a state file."""

    carry_over: dict[str, Any]
    """As a request takes it."""
    runs: tuple[Delivery, ...]
    """Planned; they count as carried out once their date is past."""


def _kept_state(path: Path, garden: object) -> _KeptState | None:
    """What an earlier plan left in a state file, without the zones that the garden no longer has.

    None where there is no such file yet.
    """
    if not os.path.lexists(path):
        return None
    kept = read_json(path)
    zones = garden.get("zones") if isinstance(garden, dict) else None
    known = zones if isinstance(zones, dict) else {}
    try:
        zones_kept = {zone: value for zone, value in kept["carry_over"]["zones"].items() if zone in known}
        carry_over = {**kept["carry_over"], "zones": zones_kept}
        runs = [
            Delivery(run["zone"], dt.date.fromisoformat(run["date"]), float(run["volume_l"]))
            for run in kept["runs"]
        ]
        return _KeptState(carry_over, tuple(run for run in runs if run.zone in zones_kept))
    except (KeyError, TypeError, ValueError, AttributeError):
        stop(WRONG_INPUT, f"{path}: this is no state file of rootledger; move it away to start anew.")


def _replace(path: Path, document: dict[str, Any]) -> None:
    """Write a file in one step, so that a crash leaves the old one whole."""
    written: Path | None = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as new:
            written = Path(new.name)
            new.write(orjson.dumps(document, option=orjson.OPT_INDENT_2))
            new.flush()
            os.fsync(new.fileno())
        written.replace(path)
    except OSError as error:
        if written is not None:
            written.unlink(missing_ok=True)
        stop(WRONG_INPUT, f"{path}: cannot be written: {error.strerror}. The plan above was not kept.")


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)
