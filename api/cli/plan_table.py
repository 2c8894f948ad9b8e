"""A plan as a table for people."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text


def print_plan(body: dict[str, Any], console: Console | None = None) -> None:
    """Print a plan, as the API answers it, to the terminal."""
    console = console or Console(highlight=False)
    date = dt.date.fromisoformat(body["date"])
    console.print(Text(f"{body['garden']}, plan for {date:%A} {date.isoformat()}", style="bold"))
    console.print(_weather_line(body["weather"]))
    console.print(_table(body))
    console.print(_totals(body))
    for zone in body["zones"]:
        for note in zone["notes"]:
            _print_indented(console, f"{zone['zone']}: {note['text']}")
        for whose, rows in _ledgers(zone):
            _print_indented(console, f"{whose}, day by day:")
            for row in rows:
                _print_indented(console, _ledger_line(row), by=4)
    for note in body["notes"]:
        _print_indented(console, note["text"])
    if body["history"] == "assumed":
        _print_indented(
            console, "What the zones lack rests on a first guess, as if earlier plans had been carried out."
        )
    for line in body["weather"]["attribution"]:
        _print_indented(console, line, style="dim")


def _ledgers(zone: dict[str, Any]) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """The accounts of a zone that were asked for, each with whose it is."""
    if zone.get("ledger"):
        yield zone["zone"], zone["ledger"]
    for plant in zone.get("plants", ()):
        if plant.get("ledger"):
            yield f"{zone['zone']}, {plant['plant']}", plant["ledger"]


def _print_indented(console: Console, line: str, by: int = 2, style: str = "") -> None:
    """A line below the table; where it wraps, what follows keeps its distance from the edge."""
    console.print(Padding(Text(line, style=style), (0, 0, 0, by), expand=False))


def _table(body: dict[str, Any]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("zone", no_wrap=True)
    table.add_column("decision")
    table.add_column("litres", justify="right")
    table.add_column("minutes", justify="right")
    table.add_column("start")
    table.add_column("reason")
    for zone in body["zones"]:
        starts = "\n".join(_clock(run["start"], body["date"]) for run in zone["runs"])
        waters = zone["decision"] == "water"
        table.add_row(
            zone["zone"],
            zone["decision"],
            _litres(zone["volume_l"]) if waters else "-",
            _minutes(zone["run_time_s"]) if waters else "-",
            starts or "-",
            Text(" ".join(reason["text"] for reason in zone["reasons"])),
        )
    return table


def _clock(instant: str, date: str) -> str:
    """A clock time, with its weekday where that is not the plan's: nights begin the evening before."""
    moment = dt.datetime.fromisoformat(instant)
    return f"{moment:%H:%M}" if moment.date().isoformat() == date else f"{moment:%a %H:%M}"


def _litres(volume_l: float) -> str:
    return f"{volume_l:.10g}"  # %g would write a large garden's as 1.23e+06


def _minutes(run_time_s: int) -> str:
    minutes = run_time_s / 60
    return f"{minutes:.0f}" if minutes >= 9.95 else f"{minutes:.1f}"


def _weather_line(weather: dict[str, Any]) -> Text:
    parts = [f"reference ET {weather['eto_mm']} mm"]
    if weather["t_min_c"] is not None and weather["t_max_c"] is not None:
        parts.insert(0, f"{weather['t_min_c']} to {weather['t_max_c']} °C")
    if weather["rain_mm"] == 0.0:
        parts.append("no rain")
    elif weather["rain_mm"] is not None:
        chance = weather["rain_probability"]
        likely = "" if chance is None else f" ({chance:.0%} likely)"
        parts.append(f"rain {weather['rain_mm']} mm{likely}, counted on {weather['counted_rain_mm']} mm")
    if weather["estimated"]:
        parts.append(f"estimated: {', '.join(weather['estimated'])}")
    if weather["stale"]:
        parts.append("the forecast is old")
    return Text("; ".join(parts) + ".")


def _totals(body: dict[str, Any]) -> Text:
    valve = body["main_valve"]
    if valve is None:
        return Text("Nothing is watered.", style="bold")
    opens, closes = (_clock(valve[name], body["date"]) for name in ("opens_at", "closes_at"))
    return Text(
        f"Total {_litres(body['volume_l'])} litres, main valve open {opens} to {closes}; "
        f"above {_litres(valve['max_volume_l'])} litres something is stuck or leaking.",
        style="bold",
    )


def _ledger_line(row: dict[str, Any]) -> str:
    return (
        f"{row['date']}  lacked {row['opening_depletion_mm']:.1f}, rain {row['infiltrated_rain_mm']:.1f}, "
        f"watered {row['irrigation_mm']:.1f}, used {row['etc_adj_mm']:.1f}, "
        f"drained {row['drainage_mm']:.1f}, lacks {row['closing_depletion_mm']:.1f} mm"
    )
