"""A zone's account as a picture: what its roots lack, day by day, and what rain and watering brought.

Depletion is drawn downward, as what an account is overdrawn by: the upper edge is soil at field
capacity, the dashed line is where plants begin to suffer, and the lower edge is soil that plants can
draw nothing from. Rain and watering differ by pattern as well as by colour, so the picture can be read
in grey and in print.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from api.pages.templates import template

WIDTH: Final = 360.0
"""Width of every picture in its own units. A letter of 11 units is 10 px high at 320 px."""
LEFT: Final = 48.0
RIGHT: Final = 8.0
ACCOUNT_TOP: Final = 46.0
ACCOUNT_HEIGHT: Final = 96.0
BARS_TOP: Final = 162.0
BARS_HEIGHT: Final = 44.0
LABELS_BELOW: Final = 13.0
MOST_LETTERS: Final = 54
"""Letters of a line of text that fit the width."""
STRIP_HEIGHT: Final = 58.0
LEAST_RANGE_MM: Final = 5.0
"""The bars' scale never shows less than this, so that a drop is no downpour."""


@dataclass(frozen=True, slots=True)
class ChartDay:
    """One day of a zone's account."""

    date: dt.date
    depletion_mm: float
    """What the root zone lacks at the end of the day."""
    stress_mm: float
    """Depletion from which plants suffer: readily available water."""
    total_mm: float
    """Total available water."""
    rain_mm: float
    water_mm: float
    """Watering that reached the roots."""
    is_forecast: bool
    waits_for: str | None = None
    """In a few words why the zone was, or will be, left alone that day; None: nobody said."""


@dataclass(frozen=True, slots=True)
class ZoneChart:
    """What a zone's picture shows."""

    name: str
    today: dt.date
    days: tuple[ChartDay, ...]
    told: str
    """What the next plan says of the zone, in a sentence."""


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on the axis of dates."""

    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Bar:
    """Water of one kind on one day."""

    x: float
    y: float
    width: float
    height: float
    kind: str
    """`rain` or `water`."""
    is_forecast: bool
    label: str


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the parts of one account lie, in units of the picture."""

    top: float
    height: float
    first: dt.date
    step: float

    @property
    def bottom(self) -> float:
        """The lower edge: soil that plants can draw nothing from."""
        return self.top + self.height

    def x(self, date: dt.date) -> float:
        """The middle of a day."""
        return tidy(LEFT + ((date - self.first).days + 0.5) * self.step)

    def y(self, depletion_mm: float, deepest_mm: float) -> float:
        """How far down a depletion lies."""
        return tidy(self.top + self.height * min(1.0, max(0.0, depletion_mm / deepest_mm)))


def tidy(value: float) -> float:
    """A coordinate with one decimal: finer than an eye sees, and the same on every machine."""
    return round(value, 1) + 0.0


def zone_chart(chart: ZoneChart) -> str:
    """The picture of one zone, as SVG."""
    frame = _frame(ACCOUNT_TOP, ACCOUNT_HEIGHT, chart.days)
    lines = wrapped(chart.told)
    highest_mm = _highest(chart.days)
    return (
        template("zone.svg")
        .render(
            chart=chart,
            width=WIDTH,
            height=tidy(BARS_TOP + BARS_HEIGHT + LABELS_BELOW + 20.0 + 15.0 * len(lines)),
            left=LEFT,
            right=WIDTH - RIGHT,
            frame=frame,
            account=_account(frame, chart.days),
            bars=_bars(frame, chart.days, highest_mm),
            bars_top=BARS_TOP,
            bars_bottom=BARS_TOP + BARS_HEIGHT,
            highest_mm=highest_mm,
            ticks=_ticks(frame, chart.days),
            today_x=frame.x(chart.today),
            waits=[day for day in chart.days if day.waits_for],
            lines=lines,
            description=description(chart),
            text_y=BARS_TOP + BARS_HEIGHT + LABELS_BELOW + 6.0,
        )
        .strip()
    )


def garden_chart(name: str, zones: Sequence[ZoneChart]) -> str:
    """All zones of a garden, one account below the other, on one axis of dates."""
    top = 44.0
    strips = []
    for place, chart in enumerate(zones):
        frame = _frame(top + place * (STRIP_HEIGHT + 22.0) + 16.0, STRIP_HEIGHT, chart.days)
        strips.append((chart, frame, _account(frame, chart.days)))
    last = strips[-1][1].bottom if strips else top
    return (
        template("garden.svg")
        .render(
            name=name,
            width=WIDTH,
            height=tidy(last + LABELS_BELOW + 12.0),
            left=LEFT,
            right=WIDTH - RIGHT,
            strips=strips,
            ticks=_ticks(strips[-1][1], zones[-1].days) if strips else (),
            ticks_y=last + LABELS_BELOW,
            description=" ".join(description(chart) for chart in zones),
        )
        .strip()
    )


def description(chart: ZoneChart) -> str:
    """What the picture shows, for whoever does not see it."""
    past = [day for day in chart.days if not day.is_forecast]
    if not past:
        return f"{chart.name}: there is no account yet."
    latest = past[-1]
    rain = sum(day.rain_mm for day in past)
    water = sum(day.water_mm for day in past)
    suffered = sum(day.depletion_mm > day.stress_mm + 0.05 for day in past)
    days = "day" if suffered == 1 else "days"
    return (
        f"{chart.name}, {_day(past[0].date)} to {_day(latest.date)}: {rain:.0f} mm of rain and "
        f"{water:.0f} mm of watering came in; plants suffered on {suffered} {days}. The roots now lack "
        f"{latest.depletion_mm:.0f} mm of {latest.total_mm:.0f} mm; plants suffer beyond "
        f"{latest.stress_mm:.0f} mm."
    )


@dataclass(frozen=True, slots=True)
class _Account:
    """The lines of one account, as points of SVG paths."""

    past: str
    ahead: str
    stress: str
    area: str


def _account(frame: Frame, days: Sequence[ChartDay]) -> _Account:
    deepest_mm = max((day.total_mm for day in days), default=1.0)
    points = [(frame.x(day.date), frame.y(day.depletion_mm, deepest_mm)) for day in days]
    stress = [(frame.x(day.date), frame.y(day.stress_mm, deepest_mm)) for day in days]
    seen = sum(not day.is_forecast for day in days)
    past = points[:seen]
    area = f"{_path([(past[0][0], frame.top), *past, (past[-1][0], frame.top)])} Z" if past else ""
    return _Account(_path(past), _path(points[max(0, seen - 1) :]), _path(stress), area)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{'L' if place else 'M'}{x:g} {y:g}" for place, (x, y) in enumerate(points))


def _bars(frame: Frame, days: Sequence[ChartDay], highest_mm: float) -> list[Bar]:
    bars = []
    width = tidy(max(1.2, 0.4 * frame.step))
    for day in days:
        middle = frame.x(day.date)
        for kind, depth_mm, x in (
            ("rain", day.rain_mm, middle - width),
            ("water", day.water_mm, middle),
        ):
            height = tidy(BARS_HEIGHT * min(1.0, depth_mm / highest_mm))
            if height <= 0.0:
                continue
            word = "rain" if kind == "rain" else "watering"
            bars.append(
                Bar(
                    x=tidy(x),
                    y=tidy(BARS_TOP + BARS_HEIGHT - height),
                    width=width,
                    height=height,
                    kind=kind,
                    is_forecast=day.is_forecast,
                    label=f"{_day(day.date)}: {depth_mm:.1f} mm of {word}",
                )
            )
    return bars


def _highest(days: Sequence[ChartDay]) -> float:
    """The upper end of the bars' scale, a multiple of 5 mm. [mm]"""
    most = max((max(day.rain_mm, day.water_mm) for day in days), default=0.0)
    return max(LEAST_RANGE_MM, LEAST_RANGE_MM * math.ceil(most / LEAST_RANGE_MM - 1e-9))


def _frame(top: float, height: float, days: Sequence[ChartDay]) -> Frame:
    first = days[0].date if days else dt.date.min
    count = max(1, (days[-1].date - first).days + 1 if days else 1)
    return Frame(top, height, first, (WIDTH - LEFT - RIGHT) / count)


def _ticks(frame: Frame, days: Sequence[ChartDay]) -> list[Tick]:
    """Mondays, or firsts of the month where there are many of them."""
    if not days:
        return []
    weekly = len(days) <= 45
    chosen = [day.date for day in days if (day.date.weekday() == 0 if weekly else day.date.day == 1)]
    return [Tick(frame.x(date), _day(date)) for date in chosen]


def _day(date: dt.date) -> str:
    return f"{date.day} {date:%B}"


def wrapped(sentence: str, letters: int = MOST_LETTERS) -> list[str]:
    """A sentence as lines that fit the width, three at most."""
    lines: list[str] = []
    for word in sentence.split():
        if lines and len(lines[-1]) + 1 + len(word) <= letters:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if len(lines) > 3:
        lines = [*lines[:2], f"{lines[2].removesuffix('.')} …"]
    return lines
