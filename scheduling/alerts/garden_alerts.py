"""Alerts about a garden and its zones: weather, water supply and plant stress."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from scheduling.balance.soil_water import LedgerRow
from scheduling.decision.need import LEAST_KS
from scheduling.garden.description import Allowance
from scheduling.plan.plan import ZonePlan
from scheduling.probes.status import ProbeStanding
from scheduling.reasons import ALLOWANCE_SPENT, HOURS_FULL, Alert
from scheduling.reasons.alerts import (
    AllowanceNearlySpent,
    CannotKeepAlive,
    ForecastOld,
    FrostAhead,
    NeverAnswered,
    NobodyAsked,
)
from scheduling.reasons.notes import CannotLast, LeftDry, NoChanceAhead
from scheduling.reasons.probe_notes import ProbeDoubtful, ProbeNotFollowed
from scheduling.review.usage import ONE_DAY, By, span_of

FREEZES_BELOW_C: Final = 2.0
"""Forecast air at 2 m; the ground, and what lies on it, can be some degrees colder. Common practice, no
source."""
FROST_DAYS_AHEAD: Final = 3
"""Time to drain and bring in; beyond, forecasts of a frost are weak."""
NEARLY_SPENT: Final = 0.9
"""Our choice, no source."""
DAYS_OF_WANT: Final = 7
"""A water shortage that long ago is over, unless there was another one since."""
STARVES: Final = frozenset({HOURS_FULL, ALLOWANCE_SPENT})
"""Reasons that leave a zone without water although it needs some."""
TELLS_OF_WANT: Final = (LeftDry, NoChanceAhead, CannotLast)
"""Notes of a plan, the gravest first."""


class ColdHour(NamedTuple):
    """The lowest temperature of an hour, or of a day of which no hours are known."""

    start: dt.datetime
    lowest_c: float


def forecast_old(retrieved_at: dt.datetime, old_after: dt.timedelta, plans_go_on: bool) -> Alert:
    """That no source has answered for long; ended by the next answer.

    Parameters
    ----------
    retrieved_at
        When the newest answer came.
    plans_go_on
        Whether plans are still made.
    """
    return Alert(None, retrieved_at + old_after, ForecastOld(retrieved_at, plans_go_on))


def never_answered(sources: Sequence[str], stored_at: dt.datetime) -> Alert:
    """That no source has ever answered for a garden, since it was stored; ended by the first answer."""
    return Alert(None, stored_at, NeverAnswered(tuple(sources)))


def frost_ahead(
    ahead: Iterable[ColdHour], lows_c: Mapping[dt.date, float], limit_c: float, paused: Iterable[dt.date]
) -> Alert | None:
    """That it will freeze within the next days; ended by a milder forecast, or a pause of all zones.

    Parameters
    ----------
    ahead
        The hours to come, in order and in local time.
    lows_c
        By date, the lowest temperature of the days around, to say since when the cold lasts.
    limit_c
        The garden's `frost_limit_c`: valves that tolerate more cold than usual are not brought in earlier.
    paused
        Dates on which nothing is watered, so that the valves are taken to be drained.
    """
    least_c = min(limit_c, FREEZES_BELOW_C)
    drained = set(paused)
    cold = [hour for hour in ahead if hour.lowest_c < least_c and hour.start.date() not in drained]
    if not cold:
        return None
    since = cold[0].start.date()
    while lows_c.get(since - ONE_DAY, least_c) < least_c and since - ONE_DAY not in drained:
        since -= ONE_DAY
    coldest = min(cold, key=lambda hour: hour.lowest_c)
    return Alert(None, since, FrostAhead(coldest.lowest_c, coldest.start))


def allowance_nearly_spent(
    allowance: Allowance, litres: Mapping[dt.date, float], date: dt.date
) -> Alert | None:
    """That little is left of a week's or a month's litres; the tighter of both. Ended by the next one.

    A day's allowance is there to be spent, so it is no alert. `litres` are those that count, by date.
    """
    limits: tuple[tuple[By, float | None], ...] = (("week", allowance.week), ("month", allowance.month))
    raised = []
    for by, allowed_l in limits:
        if allowed_l is None:
            continue
        span = span_of(date, by)
        used_l, since = 0.0, None
        for day in span.dates:
            used_l += litres.get(day, 0.0)
            if since is None and used_l >= NEARLY_SPENT * allowed_l:
                since = day
        if since is not None:
            raised.append((since, AllowanceNearlySpent(used_l, allowed_l, by, span.last)))
    if not raised:
        return None
    since, tightest = min(raised, key=lambda one: one[1].left_l)
    return Alert(None, since, tightest)


def cannot_keep_alive(plan: ZonePlan, ledgers: Sequence[Sequence[LedgerRow]]) -> Alert | None:
    """That a zone's plants get less than 70 % of what they want, and the plan cannot mend it.

    Ended when a plan can, or when its plants have had enough for a week.

    Parameters
    ----------
    plan
        For a date, with its notes.
    ledgers
        The days before, of each planting.
    """
    warnings = [note for kind in TELLS_OF_WANT for note in plan.notes if isinstance(note, kind)]
    starved = [reason for reason in plan.reasons if reason.code in STARVES]
    why = next(iter((*starved, *warnings)), None)
    if why is None or not ledgers or not ledgers[0]:
        return None
    want = sorted({row.date for rows in ledgers for row in rows if row.ks < LEAST_KS})
    last = ledgers[0][-1].date
    if not want or (last - want[-1]).days >= DAYS_OF_WANT:
        return None
    since = want[-1]
    for date in reversed(want):
        if (since - date).days > DAYS_OF_WANT:
            break
        since = date
    least = min(row.ks for rows in ledgers for row in rows if row.date >= since)
    return Alert(plan.zone, since, CannotKeepAlive(least, why))


class Night(NamedTuple):
    """A night whose watering hours are over."""

    ended_at: dt.datetime
    was_planned: bool
    """Somebody read its plan."""
    has_runs: bool
    """Whose valves were to be opened."""
    was_asked: bool
    """Somebody asked for a turn."""


def nobody_asked(nights: Sequence[Night], takes_turns: bool, zones: Sequence[ZonePlan]) -> Alert | None:
    """That nobody asked in the last nights though zones want water; ended by the next one who asks.

    Parameters
    ----------
    nights
        In their order.
    takes_turns
        Whether anybody has ever asked for a turn.
    zones
        What is planned for the next night.
    """
    thirsty = [zone for zone in zones if zone.decision == "water"]
    silent: list[Night] = []
    for night in reversed(nights):
        if night.was_planned and (night.was_asked or not (takes_turns and night.has_runs)):
            break
        silent.append(night)
    if not silent or not thirsty:
        return None
    driest = max(thirsty, key=lambda zone: zone.soil_water.depletion_mm / zone.soil_water.total_available_mm)
    water = driest.soil_water
    about = NobodyAsked(len(silent), driest.name or driest.zone, water.depletion_mm, water.total_available_mm)
    return Alert(None, silent[-1].ended_at, about)


def probes_doubtful(probes: Iterable[ProbeStanding]) -> list[Alert]:
    """Soil probes that the ledger does not follow; ended when it does again."""
    return [
        Alert(probe.zone, probe.since, ProbeDoubtful(probe.probe, probe.told))
        for probe in sorted(probes, key=lambda probe: probe.probe)
        if isinstance(probe.told, ProbeNotFollowed)
    ]
