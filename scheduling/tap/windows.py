"""When water may flow, as stretches of whole seconds of Unix time: clock changes have no say in them.

Windows are in order, apart from each other, and none is empty.
"""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scheduling.balance.weather import HourAhead

HOUR_S = 3600
HOURS_WARM_AFTER = 3
"""Hours that have to stay warm after the one in which water flows: what stands in a valve can freeze."""


class Span(NamedTuple):
    """Hours in which water may flow, as instants."""

    opens: dt.datetime
    closes: dt.datetime


Window = tuple[int, int]
Windows = tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class Bans:
    """Hours of the clock in which no water may flow, as instants."""

    common: tuple[Span, ...] = ()
    """For every zone that has none of its own."""
    own: Mapping[str, tuple[Span, ...]] = field(default_factory=dict)
    """By zone id; they take the place of the common ones."""

    def of(self, zone_id: str) -> tuple[Span, ...]:
        """Those that hold for a zone."""
        return self.own.get(zone_id, self.common)


def windows_of(spans: Iterable[Span]) -> Windows:
    """Spans in order as windows, inwards to whole seconds."""
    bounds = ((math.ceil(span.opens.timestamp()), math.floor(span.closes.timestamp())) for span in spans)
    return tuple((opens, closes) for opens, closes in bounds if opens < closes)


def without(windows: Windows, barred: Iterable[tuple[float, float]]) -> Windows:
    """What is left of windows outside of some stretches, in whatever order these come."""
    left: Sequence[Window] = windows
    for begins, ends in barred:
        first, last = math.floor(begins), math.ceil(ends)
        kept: list[Window] = []
        for opens, closes in left:
            if last <= opens or first >= closes:
                kept.append((opens, closes))
                continue
            if opens < first:
                kept.append((opens, first))
            if last < closes:
                kept.append((last, closes))
        left = kept
    return tuple(left)


def length_s(windows: Windows) -> int:
    """How long windows are together. [s]"""
    return sum(closes - opens for opens, closes in windows)


def permitted(span: Span | None, bans: Iterable[Span]) -> Windows:
    """What the bans leave of a span of watering hours; of none, nothing."""
    if span is None:
        return ()
    barred = ((ban.opens.timestamp(), ban.closes.timestamp()) for ban in bans)
    return without(windows_of((span,)), barred)


def calm(windows: Windows, hours: Iterable[HourAhead], limit_m_s: float) -> Windows:
    """Windows without the hours whose wind is above a limit; hours of unknown wind stay."""
    windy = (
        (hour.start_s, hour.start_s + HOUR_S)
        for hour in hours
        if hour.wind_2m_m_s is not None and hour.wind_2m_m_s > limit_m_s
    )
    return without(windows, windy)


def calmest(windows: Windows, hours: Sequence[HourAhead], needed_s: float) -> tuple[Windows, float]:
    """The calmest of the windows that are long enough together, and the wind in them at most. [m/s]

    Where none are, all of them. The wind of every hour of the windows is known.
    """
    within = [
        hour
        for hour in hours
        if hour.wind_2m_m_s is not None
        and any(hour.start_s < closes and opens < hour.start_s + HOUR_S for opens, closes in windows)
    ]
    winds = sorted({hour.wind_2m_m_s for hour in within if hour.wind_2m_m_s is not None})
    for limit_m_s in winds:
        chosen = calm(windows, within, limit_m_s)
        if length_s(chosen) >= needed_s:
            return chosen, limit_m_s
    return windows, winds[-1]


def warm(windows: Windows, hours: Sequence[HourAhead], limit_c: float) -> Windows:
    """Windows within hours that stay at or above a limit, the three hours after each included.

    An hour whose temperature is unknown is not warm.
    """
    warm_starts = {hour.start_s for hour in hours if hour.lowest_c is not None and hour.lowest_c >= limit_c}
    if not windows:
        return ()
    first = windows[0][0] // HOUR_S * HOUR_S
    cold = [
        (start_s, start_s + HOUR_S)
        for start_s in range(first, windows[-1][1], HOUR_S)
        if any(start_s + later * HOUR_S not in warm_starts for later in range(HOURS_WARM_AFTER + 1))
    ]
    return without(windows, cold)
