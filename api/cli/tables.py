"""A plan, a replayed season and weather days as tables for people, each as the API answers it."""

import datetime as dt
import textwrap
from collections.abc import Iterator
from typing import Any, Literal

from rich.console import Console
from rich.table import Table
from rich.text import Text

from api.weather.series.own_weather import NAME as OWN_WEATHER

KNEW = {
    "perfect": "evenings that knew the days to come",
    "none": "evenings that knew nothing of the days to come",
}
SEASON_LEGEND = (
    "rain, watered, missed and drained in mm over the zone. missed: what the plants wanted and did not get. "
    "least: what somebody who knew everything would have given, watering any day just enough. above: water "
    "beyond that. dry: days that ended with the easily available water used up."
)
WEATHER_LEGEND = (
    "min, max and dew in °C, wind in m/s at its source's height, sun in MJ/m², rain and ETo (reference "
    "evapotranspiration) in mm. ~: estimated; *: from another source, named above."
)
SEASON_NUMBERS = (
    "rain", "watered", "drained", "missed", "litres", "least", "above", "runs", "dry", "adequacy",
)  # fmt: skip
WEATHER_WORDS = ("date", "origin", "source")
WEATHER_NUMBERS = ("min", "max", "dew", "wind", "sun", "rain", "chance", "ETo")


def _terminal(console: Console | None) -> Console:
    return console or Console(highlight=False)


def _table(gap: int) -> Table:
    return Table(box=None, pad_edge=False, padding=(0, gap, 0, 0))


def _print_table(console: Console, table: Table) -> None:
    """A table without the blanks that fill its last column."""
    with console.capture() as drawn:
        console.print(table)
    for line in drawn.get().splitlines():
        console.print(Text(line.rstrip()))


def _print_below(console: Console, line: str, by: int = 2, style: str = "") -> None:
    """A line below the table; where it wraps, what follows keeps its distance from the edge."""
    for part in textwrap.wrap(line, max(20, console.width - by), break_on_hyphens=False):
        console.print(Text(" " * by + part, style=style))


def _print_zone_notes(console: Console, zone: dict[str, Any]) -> None:
    for note in zone["notes"]:
        _print_below(console, f"{zone['zone']}: {note['text']}")


def _print_attribution(console: Console, lines: list[str]) -> None:
    for line in lines:
        _print_below(console, line, style="dim")


# A plan


def print_plan(body: dict[str, Any], console: Console | None = None) -> None:
    """Print a plan, as the API answers it, to the terminal."""
    console = _terminal(console)
    date = dt.date.fromisoformat(body["date"])
    _print_below(console, f"{body['garden']}, plan for {date:%A} {date.isoformat()}", by=0, style="bold")
    _print_below(console, _weather_line(body["weather"]), by=0)
    _print_table(console, _plan_table(body))
    _print_below(console, _plan_total(body), by=0, style="bold")
    for zone in body["zones"]:
        reasons = " ".join(reason["text"] for reason in zone["reasons"])
        _print_below(console, f"{zone['name']}: {reasons}")
        for note in zone["notes"]:
            _print_below(console, note["text"], by=4)
        for whose, rows in _ledgers(zone):
            _print_below(console, f"{whose}, day by day:")
            for row in rows:
                _print_below(console, _ledger_line(row), by=4)
    for note in body["notes"]:
        _print_below(console, note["text"])
    if body["history"] == "assumed":
        _print_below(
            console, "What the zones lack rests on a first guess, as if earlier plans had been carried out."
        )
    _print_attribution(console, body["weather"]["attribution"])


def _ledgers(zone: dict[str, Any]) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """The accounts of a zone that were asked for, each with whose it is."""
    if zone.get("ledger"):
        yield zone["name"], zone["ledger"]
    for plant in zone.get("plants", ()):
        if plant.get("ledger"):
            yield f"{zone['name']}, {plant['plant']}", plant["ledger"]


def _plan_table(body: dict[str, Any]) -> Table:
    """A line a run, and a line for each zone that waits. Only names are ever folded, and no number is cut."""
    table = _table(gap=2)
    table.add_column("zone", overflow="fold")
    for head in ("decision", "litres", "min", "start"):
        table.add_column(head, justify="left" if head == "decision" else "right", no_wrap=True)
    for zone in body["zones"]:
        runs = zone["runs"] if zone["decision"] == "water" else ()
        if not runs:
            table.add_row(zone["name"], zone["decision"], "-", "-", "-")
        for number, run in enumerate(runs):
            table.add_row(
                zone["name"] if number == 0 else "",
                zone["decision"] if number == 0 else "",
                _litres(run["volume_l"]),
                _minutes(run["run_time_s"]),
                _clock(run["start"], body["date"]),
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


def _weather_line(weather: dict[str, Any]) -> str:
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
    return "; ".join(parts) + "."


def _plan_total(body: dict[str, Any]) -> str:
    valve = body["main_valve"]
    if valve is None:
        return "Nothing is watered."
    opens, closes = (_clock(valve[name], body["date"]) for name in ("opens_at", "closes_at"))
    return (
        f"Total {_litres(body['volume_l'])} litres, main valve open {opens} to {closes}; "
        f"above {_litres(valve['max_volume_l'])} litres something is stuck or leaking."
    )


def _ledger_line(row: dict[str, Any]) -> str:
    return (
        f"{row['date']}  lacked {row['opening_depletion_mm']:.1f}, rain {row['infiltrated_rain_mm']:.1f}, "
        f"watered {row['irrigation_mm']:.1f}, used {row['etc_adj_mm']:.1f}, "
        f"drained {row['drainage_mm']:.1f}, lacks {row['closing_depletion_mm']:.1f} mm"
    )


# A season


def print_replay(body: dict[str, Any], console: Console | None = None) -> None:
    """Print a season, as the API answers it, to the terminal."""
    console = _terminal(console)
    span = f"{body['from']} to {body['to']} ({body['days']} days)"
    console.print(Text(f"{body['garden']}, {span}", style="bold"))
    console.print(Text(f"Planned by {KNEW[body['forecast']]}."))
    console.print(_season_table(body))
    console.print(_season_total(body))
    _print_below(console, SEASON_LEGEND, style="dim")
    for name, days in body["weather"]["estimated"].items():
        _print_below(console, f"{name.replace('_', ' ')} was estimated on {days} of {body['days']} days.")
    for zone in body["zones"]:
        _print_zone_notes(console, zone)
    _print_attribution(console, body["weather"]["attribution"])


def _season_table(body: dict[str, Any]) -> Table:
    table = _table(gap=1)
    table.add_column("zone", overflow="fold")  # a narrow terminal may fold a name, never cut a number
    for name in SEASON_NUMBERS:
        table.add_column(name, justify="right", no_wrap=True)
    for zone in body["zones"]:
        table.add_row(zone["zone"], *_account_cells(zone, _season_litres(zone["least_volume_l"])))
        if zone["timer"] is not None:
            table.add_row("  by timer", *_account_cells(zone["timer"], ""), style="dim")
    return table


def _account_cells(account: dict[str, Any], least: str) -> tuple[str, ...]:
    excess = account["excess"]
    return (
        f"{account['rain_mm']:.0f}",
        f"{account['irrigation_mm']:.0f}",
        f"{account['drainage_mm']:.0f}",
        f"{account['stress_mm']:.1f}",
        _season_litres(account["volume_l"]),
        least,
        "-" if excess is None else f"{excess:+.0%}",
        str(account["runs"]),
        str(account["stress_days"]),
        f"{account['adequacy']:.3f}",
    )


def _season_total(body: dict[str, Any]) -> Text:
    currency = body["currency"] or ""
    sentence = f"Total {_litres_and_cost(body['volume_l'], body['cost'], currency)}."
    difference = body["difference"]
    if difference is not None:
        compared = "more" if difference["volume_l"] > 0.0 else "less"
        cost = None if difference["cost"] is None else abs(difference["cost"])
        saved = _litres_and_cost(abs(difference["volume_l"]), cost, currency)
        sentence += f" That is {saved} {compared} than by timer."
    return Text(sentence, style="bold")


def _litres_and_cost(volume_l: float, cost: float | None, currency: str) -> str:
    money = "" if cost is None else f" ({cost:.2f} {currency})".replace(" )", ")")
    return f"{_season_litres(volume_l)} litres{money}"


def _season_litres(volume_l: float) -> str:
    return f"{volume_l:.0f}" if volume_l >= 100.0 else f"{volume_l:.1f}"


# Weather days


def print_weather(body: dict[str, Any], console: Console | None = None) -> None:
    """Print weather days, as the API answers them, to the terminal."""
    console = _terminal(console)
    asked = dt.datetime.fromisoformat(body["retrieved_at"])
    age = ", which is old" if body["stale"] else ""
    console.print(
        Text(f"{body['garden']}, weather of {body['source']}, {asked:%Y-%m-%d %H:%M}{age}", style="bold")
    )
    # Where all days are of the source that is named above, lines fit into 80 columns without it.
    is_named = any(day["source"] != body["source"] for day in body["days"])
    words = WEATHER_WORDS if is_named else WEATHER_WORDS[:-1]
    table = _table(gap=1)
    for name in (*words, *WEATHER_NUMBERS):
        justify: Literal["left", "right"] = "left" if name in words else "right"
        table.add_column(name, justify=justify, no_wrap=True)
    for day in body["days"]:
        source = [day["source"]] if is_named else []
        table.add_row(
            f"{dt.date.fromisoformat(day['date']):%a} {day['date']}",
            day["origin"],
            *source,
            *_weather_cells(day),
        )
    # A narrow terminal breaks a line; a number that is cut off would be another number.
    narrow = console.width
    console.width = max(narrow, console.measure(table, options=console.options.update(max_width=200)).maximum)
    console.print(table)
    console.width = narrow
    for line in _lines(body):
        _print_below(console, line)
    _print_attribution(console, [WEATHER_LEGEND, *body["attribution"]])


def _weather_cells(day: dict[str, Any]) -> list[str]:
    estimated, borrowed = set(day["estimated"]), {other["quantity"] for other in day["borrowed"]}

    def cell(name: str, quantity: str = "") -> str:
        value = "-" if day[name] is None else f"{day[name]:.1f}"
        return value + ("~" if quantity in estimated else "*" if quantity in borrowed else "")

    chance = day["rain_probability"]
    return [
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
    lines = [f"{quantity.replace('_', ' ')} {_origin_of(source)}" for quantity, source in borrowed]
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


def _origin_of(source: str) -> str:
    return "as the owner measured it" if source == OWN_WEATHER else f"borrowed from {source}"
