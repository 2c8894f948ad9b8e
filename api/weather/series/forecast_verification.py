"""What became of the rain that was promised: a source that keeps promising too much is believed less.

The last forecast made the day before a date is kept beside the rain that came. Where a source's
promises came to less than they said, its rain counts for less, by the ratio of the two sums; at least
a tenth of it always counts, and a source that promises too little is not counted for more.
"""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from api.weather.series.gap_filling import counted_once
from scheduling.balance.weather import IS_PROMISE, Origin, WeatherDay
from scheduling.landscape.counted_rain import counted_depth_mm

LEAST_TRUST_SHARE = 0.1
"""Of a source's rain, so much counts however often it has been wrong. Our choice, no source: at a half,
a source that promises 10 mm for every dry day lets plants suffer."""
LEAST_PROMISE_MM = 1.0
"""What is less was hardly a promise."""
LEAST_PROMISES = 5
"""Judged by so many days of promised rain; fewer may be chance."""
BENEFIT_OF_DOUBT_MM = 20.0
"""Rain that is taken to have come as promised, beside what is known: a few days decide little."""


@dataclass(frozen=True, slots=True)
class Promise:
    """The rain of a date as its source saw it the day before."""

    date: dt.date
    source: str
    expected_mm: float
    """What a plan counted of it: by its chance, or the mean of an ensemble."""
    most_mm: float
    """The whole depth, or the wettest member's: what came above it was not promised."""
    made_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Trust:
    """How far a source's promises of rain are relied on, and why."""

    source: str
    share: float
    """0.1 to 1: what of its counted rain counts."""
    promised_mm: float
    came_mm: float
    """Of each day at most what was promised at most."""
    promises: int
    """Days with rain promised of which it is known what came."""
    since: dt.date
    """The first of them."""


def promises_of(days: Iterable[WeatherDay], made_at: dt.datetime, zone: ZoneInfo) -> list[Promise]:
    """What an answer promises for the day after it was given."""
    tomorrow = made_at.astimezone(zone).date() + dt.timedelta(days=1)
    return [
        Promise(
            date=day.date,
            source=day.source_of("rain"),
            expected_mm=counted_depth_mm(day.rain_mm, day.rain_probability, day.rain_is_expected_value),
            most_mm=max(day.rain_members_mm or (day.rain_mm,)),
            made_at=made_at,
        )
        for day in days
        if day.date == tomorrow and day.rain_mm is not None and day.origin is Origin.FORECAST
    ]


def trust_in_sources(
    promises: Iterable[Promise], days: Sequence[WeatherDay], since: dt.date | None
) -> dict[str, Trust]:
    """How far each source is relied on, by what was promised from a date on; None: by all there is.

    Only days count whose rain somebody measured or analysed; where the owner has a gauge, by that.
    """
    came_mm = {
        day.date: day.rain_mm
        for day in days
        if day.rain_mm is not None
        and (day.origin in (Origin.MEASURED, Origin.ANALYSED) or "rain_mm" in day.observed)
    }
    kept: dict[str, list[Promise]] = {}
    for promise in promises:
        is_due = promise.date in came_mm and (since is None or promise.date >= since)
        if is_due and promise.expected_mm >= LEAST_PROMISE_MM:
            kept.setdefault(promise.source, []).append(promise)
    return {source: _trust(source, told, came_mm) for source, told in kept.items()}


def _trust(source: str, promises: Sequence[Promise], came_mm: Mapping[dt.date, float]) -> Trust:
    promised = math.fsum(promise.expected_mm for promise in promises)
    came = math.fsum(min(came_mm[promise.date], promise.most_mm) for promise in promises)
    ratio = (came + BENEFIT_OF_DOUBT_MM) / (promised + BENEFIT_OF_DOUBT_MM)
    share = 1.0 if len(promises) < LEAST_PROMISES else min(1.0, max(LEAST_TRUST_SHARE, ratio))
    first = min(promise.date for promise in promises)
    return Trust(source, share, promised, came, len(promises), first)


def relied_on(
    days: Sequence[WeatherDay], promises: Iterable[Promise], since: dt.date | None
) -> tuple[tuple[WeatherDay, ...], dict[str, Trust]]:
    """Days as plans rely on them: rain counted once, promises as far as their sources are trusted."""
    trust = trust_in_sources(promises, days, since)
    return with_trust(counted_once(days), trust), trust


def with_trust(days: Iterable[WeatherDay], trust: Mapping[str, Trust]) -> tuple[WeatherDay, ...]:
    """Days whose promised rain counts as far as its source is relied on."""
    doubted = {source: told.share for source, told in trust.items() if told.share < 1.0}
    if not doubted:
        return tuple(days)
    return tuple(
        replace(day, rain_trust_share=doubted.get(day.source_of("rain"), 1.0))
        if day.origin in IS_PROMISE
        else day
        for day in days
    )
