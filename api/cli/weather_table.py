"""Weather days as a table for people."""

import datetime as dt
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from api.weather.series.own_weather import NAME as OWN_WEATHER

COLUMNS = (
    ("date", "left"),
    ("origin", "left"),
    ("source", "left"),
    ("min", "right"),
    ("max", "right"),
    ("dew", "right"),
    ("wind", "right"),
    ("sun", "right"),
    ("rain", "right"),
    ("chance", "right"),
    ("ETo", "right"),
)
LEGEND = (
    "min, max and dew in °C, wind in m/s at its source's height, sun in MJ/m², rain and ETo (reference "
    "evapotranspiration) in mm. ~: estimated; *: from another source, named above."
)


def print_weather(body: dict[str, Any], console: Console | None = None) -> None:
    """Print weather days, as the API answers them, to the terminal."""
    console = console or Console(highlight=False)
    asked = dt.datetime.fromisoformat(body["retrieved_at"])
    age = ", which is old" if body["stale"] else ""
    console.print(
        Text(f"{body['garden']}, weather of {body['source']}, {asked:%Y-%m-%d %H:%M}{age}", style="bold")
    )
    # Where all days are of the source that is named above, lines fit into 80 columns without it.
    is_named = any(day["source"] != body["source"] for day in body["days"])
    shown = [place for place, (name, _) in enumerate(COLUMNS) if name != "source" or is_named]
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for place in shown:
        name, justify = COLUMNS[place]
        table.add_column(name, justify=justify, no_wrap=True)  # type: ignore[arg-type]
    for day in body["days"]:
        cells = _cells(day)
        table.add_row(*(cells[place] for place in shown))
    # A narrow terminal breaks a line; a number that is cut off would be another number.
    narrow = console.width
    console.width = max(narrow, console.measure(table, options=console.options.update(max_width=200)).maximum)
    console.print(table)
    console.width = narrow
    for line in _lines(body):
        console.print(Padding(Text(line), (0, 0, 0, 2), expand=False))
    for line in (LEGEND, *body["attribution"]):
        console.print(Padding(Text(line, style="dim"), (0, 0, 0, 2), expand=False))


def _cells(day: dict[str, Any]) -> list[str]:
    estimated, borrowed = set(day["estimated"]), {other["quantity"] for other in day["borrowed"]}

    def cell(name: str, quantity: str = "") -> str:
        value = "-" if day[name] is None else f"{day[name]:.1f}"
        return value + ("~" if quantity in estimated else "*" if quantity in borrowed else "")

    chance = day["rain_probability"]
    return [
        f"{dt.date.fromisoformat(day['date']):%a} {day['date']}",
        day["origin"],
        day["source"],
        cell("t_min_c", "temperature"),
        cell("t_max_c", "temperature"),
        cell("t_dew_c", "humidity"),
        cell("wind_m_s", "wind"),
        cell("solar_mj_m2", "solar_radiation"),
        cell("rain_mm", "rain"),
        "-" if chance is None else f"{chance:.0%}",
        cell("eto_mm", "evapotranspiration"),
    ]


def _lines(body: dict[str, Any]) -> list[str]:
    borrowed = dict.fromkeys(
        (other["quantity"], other["source"]) for day in body["days"] for other in day["borrowed"]
    )
    lines = [f"{quantity.replace('_', ' ')} {_whence(source)}" for quantity, source in borrowed]
    for day in body["days"]:
        if day["hours_assumed"]:
            lines.append(
                f"{day['date']}: {day['hours_assumed']} hours had passed before {day['source']} was asked; "
                "they are taken to be like those of the day after, without rain."
            )
        if day["rain_left_out_mm"] >= 0.05:
            lines.append(
                f"{day['date']}: without {day['rain_left_out_mm']:.1f} mm of rain that the day before has "
                "already from another source."
            )
    return lines + [
        f"Of {told['promised_mm']:.0f} mm of rain that {told['source']} let expect on {told['promises']} "
        f"days since {told['since']}, {told['came_mm']:.0f} mm came: its rain counts by {told['share']:.0%}."
        for told in body["trust"]
        if told["share"] < 1.0
    ]


def _whence(source: str) -> str:
    return "as the owner measured it" if source == OWN_WEATHER else f"borrowed from {source}"
