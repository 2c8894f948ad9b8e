"""On which dates the rules let a zone be watered, whatever its soil says."""

import datetime as dt
import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scheduling.errors import Problem
from scheduling.garden.description import WEEKDAYS, Absence, Garden, Pause, Rules, YearlyPause
from scheduling.reasons import DORMANT, FROST_RISK, NOT_A_WATERING_DAY, PAUSED
from scheduling.zone.crop import Establishing

ONE_DAY = dt.timedelta(days=1)
DEFAULT_FROST_LIMIT_C = 5.0
"""Battery valves are commonly rated no lower; common practice, no source."""
DEFAULT_RAIN_DAY_MM = 4.0
"""Depth of counted rain that makes a rain day; our choice, no source."""
DEFAULT_WIND_LIMIT_M_S = 4.0
"""Wind at 2 m above which sprinkling gets badly uneven (Yacoubi et al. 2012)."""
DAYS_AHEAD_FOR_A_CHANCE = 14
"""A zone that may not be watered within so many days is planned as if it could be then."""
MOST_DAYS_EXEMPT = 42
"""Days from planting for which watering days do not hold; towns give 21 to 60 (Fraser MI, Howey FL)."""


class DateSpan(NamedTuple):
    """Dates from a first to a last, both included."""

    first: dt.date
    last: dt.date

    def covers(self, date: dt.date) -> bool:
        """Whether a date is one of them."""
        return self.first <= date <= self.last


@dataclass(frozen=True, slots=True)
class ZoneRules:
    """The rules of one zone: its own where it has them, else the garden's, else the defaults."""

    frost_limit_c: float | None
    """None: exempt."""
    frost_warm_hours: bool
    """Whether runs may move to warm hours of a date that freezes."""
    wind_limit_m_s: float | None
    """At 2 m, for overhead watering; None: exempt."""
    wind_limit_is_given: bool
    rain_day_mm: float
    counts_forecast_rain: bool
    weekdays: frozenset[int] | None
    """Monday is 0; None: every day."""
    odd_even: str | None
    pauses: tuple[Pause | YearlyPause, ...]
    any_day: DateSpan | None = None
    """Dates on which a new planting may be watered whatever the garden's watering days."""
    absence: tuple[Absence, ...] = ()
    """When nobody is there."""


def zone_rules(garden: Garden, own: Rules, zone_id: str, new: Establishing | None = None) -> ZoneRules:
    """Lay a zone's rules over its garden's.

    `new` says how a new planting takes root. Its first weeks know no watering days: towns commonly
    exempt new plantings from them. Days that the zone itself is given hold all the same.
    """
    common, exempt = garden.rules, own.exempt
    frost = _first_given(own.frost_limit_c, common.frost_limit_c, DEFAULT_FROST_LIMIT_C)
    weekdays = own.watering_days if own.watering_days is not None else common.watering_days
    odd_even = own.odd_even if own.odd_even is not None else common.odd_even
    wind = _first_given(own.wind_limit_m_s, common.wind_limit_m_s, DEFAULT_WIND_LIMIT_M_S)
    warm_hours = own.frost_warm_hours if own.frost_warm_hours is not None else common.frost_warm_hours
    any_day = "days" in exempt
    own_days = own.watering_days is not None or own.odd_even is not None
    pauses = tuple(
        pause for pause in (*common.pauses, *own.pauses) if pause.zones is None or zone_id in pause.zones
    )
    return ZoneRules(
        frost_limit_c=None if "frost" in exempt else frost,
        frost_warm_hours=bool(warm_hours),
        wind_limit_m_s=None if "wind" in exempt else wind,
        wind_limit_is_given=own.wind_limit_m_s is not None or common.wind_limit_m_s is not None,
        rain_day_mm=_first_given(own.rain_day_mm, common.rain_day_mm, DEFAULT_RAIN_DAY_MM),
        counts_forecast_rain="rain" not in exempt,
        weekdays=None if any_day or weekdays is None else frozenset(WEEKDAYS.index(day) for day in weekdays),
        odd_even=None if any_day else odd_even,
        pauses=(*pauses, *_nobody_to_water(garden, zone_id)) if garden.absence else pauses,
        any_day=None if new is None or own_days else _first_weeks(new),
        absence=garden.absence,
    )


def _nobody_to_water(garden: Garden, zone_id: str) -> tuple[Pause, ...]:
    """Dates on which nobody waters by hand what is watered so."""
    zone = next((zone for zone in garden.zones if zone.id == zone_id), None)
    if zone is None or not zone.is_by_hand:
        return ()
    because = "nobody is there to water by hand"
    return tuple(
        Pause(away.leaves_on + dt.timedelta(days=1), away.returns_on, because=because)
        for away in garden.absence
    )


def _first_weeks(new: Establishing) -> DateSpan:
    last = new.planted_on + dt.timedelta(days=min(new.days, MOST_DAYS_EXEMPT) - 1)
    return DateSpan(new.planted_on, last)


def _first_given(own: float | None, common: float | None, default: float) -> float:
    if own is not None:
        return own
    return common if common is not None else default


def dateless_rules(garden: Garden) -> tuple[Problem, ...]:
    """Rules that leave a zone no day of any year; mostly there are none."""
    problems: dict[str, Problem] = {}
    for zone in garden.zones:
        rules = zone_rules(garden, zone.rules, zone.id)
        every_year = [pause for pause in rules.pauses if isinstance(pause, YearlyPause)]
        if not every_year:
            continue
        left = [day for day in _A_LEAP_YEAR if not any(pause.covers(day) for pause in every_year)]
        allowed = [day for day in left if _is_odd_or_even(day, rules.odd_even)]
        if allowed:
            continue
        is_own = any(isinstance(pause, YearlyPause) for pause in zone.rules.pauses)
        pointer = f"/zones/{zone.id}/rules/pauses" if is_own else "/rules/pauses"
        what = f'only days that odd_even, "{rules.odd_even}", leaves out' if left else "no day of any year"
        problems.setdefault(
            pointer,
            Problem(
                pointer,
                f"pauses leave {zone.id} {what}: it would never be watered. "
                "Shorten one of them" + (", or leave odd_even out." if left else "."),
            ),
        )
    return tuple(problems.values())


_A_LEAP_YEAR = tuple(dt.date(2024, 1, 1) + dt.timedelta(days=day) for day in range(366))


def _is_odd_or_even(date: dt.date, odd_even: str | None) -> bool:
    return odd_even is None or (date.day % 2 == 1) is (odd_even == "odd")


def is_paused(rules: ZoneRules, date: dt.date) -> bool:
    """Whether a pause, a ban or the winter's lay-up keeps a zone dry on a date: for a fixed timer, too."""
    return any(pause.covers(date) for pause in rules.pauses)


def rule_against(rules: ZoneRules, date: dt.date, dormant: bool, lowest_c: float | None) -> str | None:
    """The reason why a zone may not be watered on a date, whatever its soil says; None: it may.

    `lowest_c` is the lowest temperature to fear, None where no forecast reaches: no frost is
    assumed there.
    """
    if dormant:
        return DORMANT
    if is_paused(rules, date):
        return PAUSED
    if rules.any_day is None or not rules.any_day.covers(date):
        if rules.weekdays is not None and date.weekday() not in rules.weekdays:
            return NOT_A_WATERING_DAY
        if not _is_odd_or_even(date, rules.odd_even):
            return NOT_A_WATERING_DAY
    if rules.frost_limit_c is not None and lowest_c is not None and lowest_c < rules.frost_limit_c:
        return FROST_RISK
    return None


class Chances(NamedTuple):
    """When a zone may be watered, on the days of its columns."""

    against: list[str | None]
    """For each day the reason against it, None where it may be watered."""
    next_chance: list[int]
    """For each day the next one that may be watered, at most 14 days ahead."""


def chances_of(
    rules: ZoneRules,
    dormant: Sequence[bool],
    dates: Sequence[dt.date],
    lowest_c: Sequence[float | None],
    first: int,
    lowest_on: dict[int, float | None],
) -> Chances:
    """When a zone may be watered, from a first day of the columns on; days before it hold nothing.

    `lowest_c` are the lowest temperatures to fear; `lowest_on` replaces that of a date, by index, as
    the plan's own date is judged by its hours from the opening of the watering hours on.
    """
    feared_c = list(lowest_c[first:])
    for day, instead_c in lowest_on.items():
        feared_c[day - first] = instead_c
    against, ahead = _chances_once(rules, dates[first], tuple(dormant[first:]), tuple(feared_c))
    before: list[str | None] = [None] * first
    return Chances(before + against, [0] * first + [first + days for days in ahead])


# Without it a plan of 12 zones over 60 past days takes 5 % longer, and a replay 20 %.
@functools.lru_cache(maxsize=1024)
def _chances_once(
    rules: ZoneRules, date: dt.date, dormant: tuple[bool, ...], lowest_c: tuple[float | None, ...]
) -> tuple[list[str | None], list[int]]:
    """For consecutive days from a date on: what speaks against each, and the place of the next chance."""
    count = len(dormant)
    against: list[str | None] = [None] * count
    next_chance = [0] * count
    upcoming = count + DAYS_AHEAD_FOR_A_CHANCE
    for day in range(count - 1, -1, -1):
        next_chance[day] = min(upcoming, day + DAYS_AHEAD_FOR_A_CHANCE, count)
        against[day] = rule_against(rules, date + day * ONE_DAY, dormant[day], lowest_c[day])
        if against[day] is None:
            upcoming = day
    return against, next_chance
