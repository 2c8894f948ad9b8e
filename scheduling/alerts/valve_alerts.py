"""Alerts about valves: late closings, low batteries, wrong flows and missing reports."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from scheduling.garden.description import Zone
from scheduling.garden.reports import Metered
from scheduling.reasons import Alert
from scheduling.reasons.alerts import (
    BatteryLow,
    NoReports,
    OpenByItsWord,
    TurnNotClosed,
    UnderDelivered,
    ValveNotShut,
)
from scheduling.reasons.description_notes import FlowBeyondBelief, FlowHasDrifted
from scheduling.zone.metering import drift_note, learned_flow

RUNNING: Final = "running"
UNREPORTED: Final = "unreported"
TO_DO: Final = "to-do"
LOST_CONTACT: Final = "lost-contact"
HAS_ENDED: Final = frozenset({"done", "stopped", "no-water"})
"""Outcomes by which somebody knows that the valve is shut."""

LOW_BATTERY_SHARE: Final = 0.2
"""Below it a valve may not last until somebody comes by. Our choice, no source."""
LESS_THAN_PLANNED: Final = 0.8
"""A meter's own error and a late start explain more than this. Our choice, no source."""
LEAST_SHORT_RUNS: Final = 3
"""One run may be stopped by hand; this many short runs in a row have a cause."""
LATEST_DAYS: Final = 30
"""Older runs say nothing about the present."""
SILENT_FOR: Final = dt.timedelta(hours=48)
"""A controller that was offline for a night reports on the next day."""
LEAST_SILENT_RUNS: Final = 2


class RunTold(NamedTuple):
    """A run of a final plan with what was reported about it."""

    zone: str
    date: dt.date
    start: dt.datetime
    """As planned."""
    limit: dt.datetime
    """The latest end of the run if it began as planned."""
    planned_l: float
    state: str
    """An outcome, or `to-do`, `unreported` or `withdrawn`."""
    begun_at: dt.datetime | None = None
    """As reported."""
    shut_by: dt.datetime | None = None
    """The latest time at which the valve closes, given its reported start."""
    measured_l: float | None = None
    """None: nobody knows."""
    is_open_turn: bool = False
    """It has had a turn that nobody has closed."""


class ValveTold(NamedTuple):
    """The last report about a valve."""

    zone: str
    told_at: dt.datetime
    state: str | None = None
    """`open`, `shut` or `unreachable`; None: not reported."""
    battery_share: float | None = None


def valve_not_shut(runs: Sequence[RunTold], valves: Iterable[ValveTold], now: dt.datetime) -> list[Alert]:
    """Valves that should be shut by now but are not reported shut.

    Raised for an announced run that is past its limit or whose controller has lost contact, and for
    a valve that is reported open while nothing runs. It ends when the run is reported complete, a
    later run of the zone has ended, or the valve is reported shut.
    """
    told = {valve.zone: valve for valve in valves}
    raised: dict[str, Alert] = {}
    for alert in (*_past_their_limit(runs, told, now), *_open_by_their_word(runs, told, now)):
        raised.setdefault(alert.zone or "", alert)
    return list(raised.values())


def _past_their_limit(
    runs: Sequence[RunTold], told: dict[str, ValveTold], now: dt.datetime
) -> Iterator[Alert]:
    for run in runs:
        if run.state not in (RUNNING, LOST_CONTACT) or run.begun_at is None or run.shut_by is None:
            continue
        if run.is_open_turn:
            continue
        valve = told.get(run.zone)
        is_shut = valve is not None and valve.state == "shut" and valve.told_at > run.begun_at
        if now < run.shut_by or is_shut or _has_ended_since(run.begun_at, run.zone, runs):
            continue
        lost = run.state == LOST_CONTACT
        about = ValveNotShut(run.begun_at, run.shut_by, contact_was_lost=lost)
        yield Alert(run.zone, run.shut_by, about)


def turn_not_closed(runs: Iterable[RunTold], now: dt.datetime) -> list[Alert]:
    """Turns that nobody has closed though their valves should be shut; only the report ends it."""
    return [
        Alert(run.zone, run.shut_by, TurnNotClosed(run.planned_l, run.begun_at, run.shut_by))
        for run in runs
        if run.is_open_turn and run.begun_at is not None and run.shut_by is not None and now >= run.shut_by
    ]


def _open_by_their_word(
    runs: Sequence[RunTold], told: dict[str, ValveTold], now: dt.datetime
) -> Iterator[Alert]:
    for valve in told.values():
        if valve.state != "open" or _has_ended_since(valve.told_at, valve.zone, runs, or_during=True):
            continue
        covering = [
            ends
            for run in runs
            if run.zone == valve.zone and (ends := _is_meant_to_run(run)) is not None
            if run.start <= valve.told_at < ends or (run.begun_at or run.start) <= valve.told_at < ends
        ]
        ends = max(covering, default=None)
        if ends is not None and now < ends:
            continue
        since = valve.told_at if ends is None else ends
        yield Alert(valve.zone, since, OpenByItsWord(valve.told_at))


def _is_meant_to_run(run: RunTold) -> dt.datetime | None:
    """The time until which a run may be in progress; None: it is not in progress."""
    if run.state == RUNNING:
        return run.shut_by
    return run.limit if run.state in (TO_DO, UNREPORTED) else None


def _has_ended_since(
    moment: dt.datetime, zone: str, runs: Iterable[RunTold], or_during: bool = False
) -> bool:
    """Whether a run of a zone that began after a moment has ended; or one that was open then."""
    return any(
        run.zone == zone
        and run.state in HAS_ENDED
        and run.begun_at is not None
        and (
            run.begun_at > moment
            or (or_during and run.shut_by is not None and run.begun_at <= moment < run.shut_by)
        )
        for run in runs
    )


def battery_low(valves: Iterable[ValveTold]) -> list[Alert]:
    """Valves whose battery is nearly empty; ended by a fuller one."""
    return [
        Alert(valve.zone, valve.told_at, BatteryLow(valve.battery_share, LOW_BATTERY_SHARE))
        for valve in valves
        if valve.battery_share is not None and valve.battery_share < LOW_BATTERY_SHARE
    ]


def flow_has_drifted(
    zone: Zone,
    drift: FlowHasDrifted | FlowBeyondBelief,
    runs: Sequence[Metered],
    declared_l_min: float | None,
) -> Alert:
    """A zone whose metered flow differs from its earlier flow or from the declared flow.

    Parameters
    ----------
    drift
        The note in the plan.
    runs
        Metered runs of the zone in order of time. The alert dates from the first run after which
        every run shows the drift.
    declared_l_min
        None where the owner gave no flow.
    """
    since = runs[-1].date
    for count in range(len(runs), 0, -1):
        date = runs[count - 1].date
        learned = learned_flow(runs[:count], zone.valve, date)
        if learned is None or drift_note(learned, declared_l_min) is None:
            break
        since = date
    return Alert(zone.id, since, drift)


def under_delivered(runs: Iterable[RunTold], today: dt.date) -> list[Alert]:
    """Zones whose latest runs all gave much less than planned; a run that is not short ends the alert."""
    by_zone: dict[str, list[RunTold]] = {}
    for run in sorted(runs, key=lambda run: run.start):
        if run.measured_l is not None and run.planned_l > 0.0:
            by_zone.setdefault(run.zone, []).append(run)
    alerts = []
    for zone, told in by_zone.items():
        short = _latest(told)
        if len(short) < LEAST_SHORT_RUNS or (today - short[-1].date).days > LATEST_DAYS:
            continue
        planned_l = sum(run.planned_l for run in short)
        measured_l = sum(run.measured_l or 0.0 for run in short)
        alerts.append(Alert(zone, short[0].date, UnderDelivered(len(short), measured_l, planned_l)))
    return alerts


def _latest(runs: Sequence[RunTold]) -> list[RunTold]:
    """The runs that fell short, back to the last one that did not."""
    short: list[RunTold] = []
    for run in reversed(runs):
        if (run.measured_l or 0.0) >= LESS_THAN_PLANNED * run.planned_l:
            break
        short.append(run)
    return short[::-1]


def no_reports(
    runs: Iterable[RunTold], counts_as_planned: Callable[[RunTold], bool], now: dt.datetime
) -> list[Alert]:
    """Runs of the last days of which nobody tells anything; ended by the next report of one.

    Of the whole garden where none of its zones is told of, else of each zone by itself. What was
    due more than a month ago is no news any more.
    """
    due = [
        run
        for run in sorted(runs, key=lambda run: run.limit)
        if run.limit <= now and run.state not in (TO_DO, "withdrawn")
    ]
    by_zone: dict[str, list[RunTold]] = {}
    for run in due:
        by_zone.setdefault(run.zone, []).append(run)
    silent = {zone: _silent(told) for zone, told in by_zone.items()}
    if _is_long(_silent(due), now):
        every = sorted((run for told in silent.values() for run in told), key=lambda run: run.limit)
        return [_silence(None, every, counts_as_planned)]
    return [_silence(zone, told, counts_as_planned) for zone, told in silent.items() if _is_long(told, now)]


def _silent(runs: Sequence[RunTold]) -> list[RunTold]:
    """The runs that nobody reported, back to the last one that somebody did."""
    silent: list[RunTold] = []
    for run in reversed(runs):
        if run.state != UNREPORTED:
            break
        silent.append(run)
    return silent[::-1]


def _is_long(silent: Sequence[RunTold], now: dt.datetime) -> bool:
    return (
        len(silent) >= LEAST_SILENT_RUNS
        and now - silent[0].limit >= SILENT_FOR
        and now - silent[-1].limit <= dt.timedelta(days=LATEST_DAYS)
    )


def _silence(
    zone: str | None, runs: Sequence[RunTold], counts_as_planned: Callable[[RunTold], bool]
) -> Alert:
    planned_l = sum(run.planned_l for run in runs)
    counted_l = sum(run.planned_l for run in runs if counts_as_planned(run))
    return Alert(zone, runs[0].limit, NoReports(len(runs), planned_l, counted_l))
