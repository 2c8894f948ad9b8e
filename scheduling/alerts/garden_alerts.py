"""Alerts about a garden and its zones: its weather, its water, what its plants go through."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from scheduling.balance.soil_water import LedgerRow
from scheduling.decision.need import LEAST_KS
from scheduling.garden.description import Allowance
from scheduling.plan.plan import ZonePlan
from scheduling.probes.status import ProbeStanding
from scheduling.reasons import (
    ALLOWANCE_NEARLY_SPENT,
    ALLOWANCE_SPENT,
    CANNOT_KEEP_ALIVE,
    FORECAST_OLD,
    FROST_AHEAD,
    HOURS_FULL,
    PROBE_DOUBTFUL,
    Alert,
)
from scheduling.review.usage import ONE_DAY, By, span_of

FREEZES_BELOW_C: Final = 2.0
"""Forecast air at 2 m; the ground, and what lies on it, can be some degrees colder. Common practice, no
source."""
FROST_DAYS_AHEAD: Final = 3
"""Time to drain and bring in; beyond, forecasts of a frost are weak."""
NEARLY_SPENT: Final = 0.9
"""Our choice, no source."""
DAYS_OF_WANT: Final = 7
"""A day of want so long ago is over, unless another one came between."""
STARVES: Final[Mapping[str, str]] = {
    HOURS_FULL: "the watering hours are too short for all",
    ALLOWANCE_SPENT: "the allowance does not suffice for all",
}
"""Reasons of a plan that leave a zone without, whatever it wants."""
TELLS_OF_WANT: Final = ("left-dry", "no-chance-ahead", "cannot-last")
"""Notes of a plan, the gravest first."""


class ColdHour(NamedTuple):
    """The lowest temperature of an hour, or of a day of which no hours are known."""

    start: dt.datetime
    lowest_c: float


def forecast_old(source: str, retrieved_at: dt.datetime, old_after: dt.timedelta, plans_go_on: bool) -> Alert:
    """That no source has answered for long; ended by the next answer.

    Parameters
    ----------
    retrieved_at
        When the newest answer came.
    plans_go_on
        Whether there are plans all the same.
    """
    end = "plans go by what it said" if plans_go_on else "there are no plans"
    text = f"The newest weather, of {source}, is from {retrieved_at:%Y-%m-%d %H:%M}; {end}."
    return Alert(FORECAST_OLD, None, retrieved_at + old_after, text)


def never_answered(sources: Sequence[str], stored_at: dt.datetime) -> Alert:
    """That no source has ever answered for a garden, since it was stored; ended by the first answer."""
    text = f"No weather has come yet from {' or '.join(sources)}; there are no plans."
    return Alert(FORECAST_OLD, None, stored_at, text)


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
        The garden's `frost_limit_c`: valves that stand more than usual are not brought in earlier.
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
    return Alert(
        FROST_AHEAD,
        None,
        since,
        f"{coldest.lowest_c:.1f} °C are forecast for {coldest.start:%Y-%m-%d %H:%M}, the coldest of the next "
        f"{FROST_DAYS_AHEAD} days; on the ground it can be some degrees colder.",
    )


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
            left_l = max(0.0, allowed_l - used_l)
            spent = f"{used_l:.0f} of the {allowed_l:.0f} l of this {by} are spent"
            text = f"{spent}; {left_l:.0f} l are left until {span.last}."
            raised.append((left_l, Alert(ALLOWANCE_NEARLY_SPENT, None, since, text)))
    return min(raised, key=lambda one: one[0])[1] if raised else None


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
    notes = {note.code: note.text for note in plan.notes}
    why = next((notes[code] for code in TELLS_OF_WANT if code in notes), None)
    starved = next((STARVES[reason.code] for reason in plan.reasons if reason.code in STARVES), None)
    if starved is not None:
        why = f"It gets less than it wants: {starved}."
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
    return Alert(
        CANNOT_KEEP_ALIVE,
        plan.zone,
        since,
        f"Its plants were left with {least:.0%} of what they want, and the next plan cannot mend it. {why}",
    )


def probes_doubtful(probes: Iterable[ProbeStanding]) -> list[Alert]:
    """Soil probes that the ledger does not follow; ended when it does again."""
    return [
        Alert(PROBE_DOUBTFUL, probe.zone, probe.since, f"Probe {probe.probe}: {probe.text}")
        for probe in probes
        if probe.standing == "doubtful"
    ]
