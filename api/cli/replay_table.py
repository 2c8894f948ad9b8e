"""A replayed season as a table for people."""

from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

KNEW = {
    "perfect": "evenings that knew the days to come",
    "none": "evenings that knew nothing of the days to come",
}
LEGEND = (
    "rain, watered, missed and drained in mm over the zone. missed: what the plants wanted and did not get. "
    "least: what somebody who knew everything would have given, watering any day just enough. above: water "
    "beyond that. dry: days that ended with the easily available water used up."
)


def print_replay(body: dict[str, Any], console: Console | None = None) -> None:
    """Print a season, as the API answers it, to the terminal."""
    console = console or Console(highlight=False)
    span = f"{body['from']} to {body['to']} ({body['days']} days)"
    console.print(Text(f"{body['garden']}, {span}", style="bold"))
    console.print(Text(f"Planned by {KNEW[body['forecast']]}."))
    console.print(_table(body))
    console.print(_totals(body))
    _print_indented(console, LEGEND, style="dim")
    for name, days in body["weather"]["estimated"].items():
        _print_indented(console, f"{name.replace('_', ' ')} was estimated on {days} of {body['days']} days.")
    for zone in body["zones"]:
        for note in zone["notes"]:
            _print_indented(console, f"{zone['zone']}: {note['text']}")
    for line in body["weather"]["attribution"]:
        _print_indented(console, line, style="dim")


def _print_indented(console: Console, line: str, style: str = "") -> None:
    console.print(Padding(Text(line, style=style), (0, 0, 0, 2), expand=False))


def _table(body: dict[str, Any]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("zone", overflow="fold")  # a narrow terminal may fold a name, never cut a number
    for name in (
        "rain",
        "watered",
        "drained",
        "missed",
        "litres",
        "least",
        "above",
        "runs",
        "dry",
        "adequacy",
    ):
        table.add_column(name, justify="right", no_wrap=True)
    for zone in body["zones"]:
        table.add_row(zone["zone"], *_cells(zone, _litres(zone["least_volume_l"])))
        if zone["timer"] is not None:
            table.add_row("  by timer", *_cells(zone["timer"], ""), style="dim")
    return table


def _cells(account: dict[str, Any], least: str) -> tuple[str, ...]:
    excess = account["excess"]
    return (
        f"{account['rain_mm']:.0f}",
        f"{account['irrigation_mm']:.0f}",
        f"{account['drainage_mm']:.0f}",
        f"{account['stress_mm']:.1f}",
        _litres(account["volume_l"]),
        least,
        "-" if excess is None else f"{excess:+.0%}",
        str(account["runs"]),
        str(account["stress_days"]),
        f"{account['adequacy']:.3f}",
    )


def _totals(body: dict[str, Any]) -> Text:
    currency = body["currency"] or ""
    told = f"Total {_told(body['volume_l'], body['cost'], currency)}."
    difference = body["difference"]
    if difference is not None:
        compared = "more" if difference["volume_l"] > 0.0 else "less"
        cost = None if difference["cost"] is None else abs(difference["cost"])
        told += f" That is {_told(abs(difference['volume_l']), cost, currency)} {compared} than by timer."
    return Text(told, style="bold")


def _told(volume_l: float, cost: float | None, currency: str) -> str:
    money = "" if cost is None else f" ({cost:.2f} {currency})".replace(" )", ")")
    return f"{_litres(volume_l)} litres{money}"


def _litres(volume_l: float) -> str:
    return f"{volume_l:.0f}" if volume_l >= 100.0 else f"{volume_l:.1f}"
