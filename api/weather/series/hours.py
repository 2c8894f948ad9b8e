"""Hourly weather in UTC, in our words and units: what every source turns its answer into."""

import datetime as dt
import operator
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

HOUR = dt.timedelta(hours=1)
CLOCK_TOLERANCE = dt.timedelta(minutes=5)
"""What was made further ahead of now than this was made by a clock that was wrong: it does not count."""

QUANTITIES = (
    "temperature_c",
    "dew_point_c",
    "humidity_pct",
    "wind_m_s",
    "solar_mj_m2",
    "cloud_share",
    "rain_mm",
    "rain_probability",
)
SELDOM = ("low_c", "high_c", "sunshine_h", "rain_members_mm", "eto_mm")
"""Quantities that only some sources give; written only where one is known."""


@dataclass(frozen=True, slots=True)
class Hour:
    """The weather of one hour, from `start` up to but not including `start` + 1 h; None is unknown.

    Temperature, dew point, humidity, wind and cloud are those of the moment `start`, or the hour's
    mean where a source gives only that. Rain and radiation are sums over the hour. The reading at
    the end of an hour is that of the next one, so a day has as many readings as it has hours and
    the one at midnight belongs to the day that begins with it.
    """

    start: dt.datetime
    """A whole hour in UTC."""
    temperature_c: float | None = None
    dew_point_c: float | None = None
    humidity_pct: float | None = None
    wind_m_s: float | None = None
    solar_mj_m2: float | None = None
    cloud_share: float | None = None
    rain_mm: float | None = None
    """Rain, and the water of snow."""
    rain_probability: float | None = None
    """Chance, 0 to 1, that it rains in this hour, or in the longer period that a source tells it of."""
    low_c: float | None = None
    """A minimum that a source gives beside its readings. Where it is that of several hours, the one
    with the lowest reading bears it, so that it counts for the right day."""
    high_c: float | None = None
    """A maximum, likewise."""
    sunshine_h: float | None = None
    rain_members_mm: tuple[float, ...] | None = None
    """Rain of each member of an ensemble, the same member always at the same place; `rain_mm` is
    their mean."""
    eto_mm: float | None = None
    """Reference evapotranspiration as the source reckons it."""


@dataclass(frozen=True, slots=True)
class Attribution:
    """What the licence of the data asks to be said beside them."""

    text: str
    licence_url: str | None = None


@dataclass(frozen=True, slots=True)
class HourlyWeather:
    """One answer of one source: hours in ascending order, none twice, gaps possible."""

    source: str
    attribution: Attribution
    retrieved_at: dt.datetime
    """When the service gave this answer, in UTC."""
    elevation_m: float | None
    wind_height_m: float
    hours: tuple[Hour, ...]
    knows_past: bool = True
    """Whether the source gives an account of hours that are over. Where it does not, they are its
    forecast still, and no rain of theirs is known to have fallen."""


def continued(newer: HourlyWeather, older: HourlyWeather) -> HourlyWeather:
    """An answer that begins at the present, with the hours before it from an earlier one.

    So the day that is under way is whole with a source without past. Other answers stay as they are.
    """
    if newer.knows_past or newer.source != older.source or not newer.hours:
        return newer
    before = tuple(hour for hour in older.hours if hour.start < newer.hours[0].start)
    return replace(newer, hours=before + newer.hours)


def to_json(weather: HourlyWeather) -> dict[str, Any]:
    """A form that json.dumps can write: one list a quantity, hours as hours since 1970."""
    columns = {
        name: list(map(operator.attrgetter(name), weather.hours))
        for name in (*QUANTITIES, *SELDOM)
        if name in QUANTITIES or any(getattr(hour, name) is not None for hour in weather.hours)
    }
    return {
        "source": weather.source,
        "attribution": {"text": weather.attribution.text, "licence_url": weather.attribution.licence_url},
        "retrieved_at": weather.retrieved_at.isoformat(),
        "elevation_m": weather.elevation_m,
        "wind_height_m": weather.wind_height_m,
        "knows_past": weather.knows_past,
        "hours": {"start": [round(hour.start.timestamp()) // 3600 for hour in weather.hours], **columns},
    }


def from_json(form: Mapping[str, Any]) -> HourlyWeather:
    """What `to_json` of this release or an earlier one wrote.

    Raises KeyError, TypeError or ValueError for anything else.
    """
    columns: Mapping[str, Sequence[Any]] = form["hours"]
    starts = [dt.datetime.fromtimestamp(3600 * number, dt.UTC) for number in columns["start"]]
    nothing = [None] * len(starts)
    seldom = {name: columns.get(name, nothing) for name in SELDOM}
    seldom["rain_members_mm"] = [
        None if members is None else tuple(members) for members in seldom["rain_members_mm"]
    ]
    rows = zip(starts, *(columns[name] for name in QUANTITIES), *seldom.values(), strict=True)
    return HourlyWeather(
        source=form["source"],
        attribution=Attribution(form["attribution"]["text"], form["attribution"]["licence_url"]),
        retrieved_at=dt.datetime.fromisoformat(form["retrieved_at"]),
        elevation_m=form["elevation_m"],
        wind_height_m=form["wind_height_m"],
        hours=tuple(Hour(*row) for row in rows),
        knows_past=form.get("knows_past", True),
    )
