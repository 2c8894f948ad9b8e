"""Turns: leave to open one valve for one run now, within limits that the valve keeps by itself.

An irrigation system gives its members turns. Whoever opens valves asks for one, every few minutes and
after every report; the answer is a turn with its limits, or why there is none yet. All moments are those
of the server's clock, so that a controller's own may be wrong.
"""

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from scheduling.plan.final_plan import RUNNING, FinalPlan, FinalRun, Report
from scheduling.plan.revision import SMALLEST_PART
from scheduling.tap.runs import round_down_l
from scheduling.tap.timetable import FLOW_TOLERANCE_L_MIN
from scheduling.tap.windows import Windows

WhyNot = Literal["not-yet", "nothing-to-do", "tap-busy", "gap", "soaking", "hours-over", "draft", "turn-over"]

NOT_YET: Final = "not-yet"
NOTHING_TO_DO: Final = "nothing-to-do"
TAP_BUSY: Final = "tap-busy"
GAP: Final = "gap"
SOAKING: Final = "soaking"
HOURS_OVER: Final = "hours-over"
DRAFT: Final = "draft"
TURN_OVER: Final = "turn-over"

WHY_NOT: Final[tuple[WhyNot, ...]] = (
    NOT_YET,
    NOTHING_TO_DO,
    TAP_BUSY,
    GAP,
    SOAKING,
    HOURS_OVER,
    DRAFT,
    TURN_OVER,
)

OPEN_WITHIN_S: Final = 120
"""How long after its turn was granted a valve may be opened; a message takes no longer. Our choice."""
EARLY_S: Final = 15 * 60
"""How long before its start a run may begin where the tap is free: it makes up for slow polling. Ours."""
STAYS_OPEN: Final = dt.timedelta(hours=24)
"""For how long a valve that says it is open is taken to be so. Our choice."""


@dataclass(frozen=True, slots=True)
class Turn:
    """Leave to open one valve for one run; a run gets one turn, ever."""

    zone: str
    run: str
    date: dt.date
    """The plan's date."""
    granted_at: dt.datetime
    open_by: dt.datetime
    """Later its valve stays shut."""
    shut_by: dt.datetime
    """By then its valve is shut, whenever it was opened."""
    volume_l: float
    run_time_s: int
    max_open_s: int
    closed_at: dt.datetime | None = None
    """When a report said that the valve is shut; None: nobody has."""

    @property
    def ended_at(self) -> dt.datetime:
        """When its water ended, or ends at the latest."""
        return self.shut_by if self.closed_at is None else min(self.closed_at, self.shut_by)

    @property
    def flow_l_min(self) -> float:
        """The flow that its limits are made for."""
        return self.volume_l / self.run_time_s * 60.0


@dataclass(frozen=True, slots=True)
class Refused:
    """No turn for now: every valve stays shut."""

    why: WhyNot
    text: str
    next_at: dt.datetime | None
    """When to ask again; None: not for this plan."""


@dataclass(frozen=True, slots=True)
class Tap:
    """What the tap gives at once."""

    flow_l_min: float | None
    """None: as much as the valves take."""
    zones_at_once: int
    gap_s: int
    """How long a valve keeps its place after it has closed."""


@dataclass(frozen=True, slots=True)
class ZoneAtTap:
    """What turns have to know of a zone."""

    windows: Windows
    """When water may flow to it: watering hours less bans, in order. [s of Unix time]"""
    flow_l_min: float
    rest_s: int
    """How long its soil soaks between two of its runs."""
    says_open_until: dt.datetime | None = None
    """Its valve says that it is open though it should be shut, and is taken to be open until then."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Somebody asks for a turn."""

    plan: FinalPlan
    reports: Sequence[Report]
    """Those that count for the plan's date."""
    turns: Sequence[Turn]
    """Those of the plan, and of the plans before it whose valves may still be open."""
    zones: Mapping[str, ZoneAtTap]
    """All that the garden has, by id."""
    may_open: Collection[str]
    """The zones whose valves the controller can open."""
    tap: Tap
    moment: dt.datetime
    """In the garden's time zone, which sentences speak in."""


class _Hold(NamedTuple):
    """A valve that has a place at the tap."""

    zone: str
    flow_l_min: float
    shut_s: float
    """When it is shut at the latest."""
    free_s: float
    """When its place is free: after the gap."""


class _Chance(NamedTuple):
    """The first moment at which a run could begin, and its limits then."""

    zone: str
    run: FinalRun
    at_s: float
    why: WhyNot
    """Why not before."""
    volume_l: float
    run_time_s: int
    max_open_s: int

    @property
    def shut_s(self) -> float:
        """When its valve is shut at the latest."""
        return self.at_s + OPEN_WITHIN_S + self.max_open_s


def grant(asked: Asked) -> Turn | Refused:
    """Give the turn that is due, or say why there is none.

    Runs go in the order of the timetable. A later one goes first only where its valve is shut before the
    earlier one could begin, or where the tap has enough for both.
    """
    waiting = _waiting(asked)
    if not waiting:
        return Refused(NOTHING_TO_DO, "No run of this plan waits for a turn.", None)
    holds = _holds(asked)
    ahead: list[_Chance] = []
    for zone_id, run in waiting:
        chance = _chance(zone_id, run, asked, holds)
        if chance is None:
            continue
        if chance.at_s <= asked.moment.timestamp() and _leaves_room(chance, ahead, holds, asked):
            return _turn(chance, asked)
        ahead.append(chance)
    if not ahead:
        text = "What is left of the watering hours is too short for the runs that wait."
        return Refused(HOURS_OVER, text, None)
    return _refused(ahead, asked)


def _waiting(asked: Asked) -> list[tuple[str, FinalRun]]:
    """The runs that have neither begun nor had a turn, in the order of the timetable."""
    taken = {(turn.zone, turn.run) for turn in asked.turns}
    taken |= {(report.zone, report.id) for report in asked.reports}
    runs = [
        (zone_id, run)
        for zone_id, run in asked.plan.runs
        if zone_id in asked.may_open and zone_id in asked.zones
        if not run.is_withdrawn and (zone_id, run.id) not in taken
    ]
    return sorted(runs, key=lambda entry: entry[1].start)


def _holds(asked: Asked) -> list[_Hold]:
    """The valves that are open, may be, or have just closed."""
    gap_s = asked.tap.gap_s
    holds = []
    for turn in asked.turns:
        zone = asked.zones.get(turn.zone)
        flow_l_min = turn.flow_l_min if zone is None else max(zone.flow_l_min, turn.flow_l_min)
        ends_s = turn.ended_at.timestamp()
        holds.append(_Hold(turn.zone, flow_l_min, ends_s, ends_s + gap_s))
    with_turns = {(turn.zone, turn.run) for turn in asked.turns}
    for report in asked.reports:
        run = asked.plan.run(report.zone, report.id)
        zone = asked.zones.get(report.zone)
        if report.outcome == RUNNING and run and zone and (report.zone, report.id) not in with_turns:
            ends_s = report.overdue_at(run).timestamp()
            holds.append(_Hold(report.zone, zone.flow_l_min, ends_s, ends_s + gap_s))
    for zone_id, zone in asked.zones.items():
        if zone.says_open_until is not None:
            until_s = zone.says_open_until.timestamp()
            holds.append(_Hold(zone_id, zone.flow_l_min, until_s, until_s))
    now_s = asked.moment.timestamp()
    return [hold for hold in holds if hold.free_s > now_s or hold.zone in asked.may_open]


def _chance(zone_id: str, run: FinalRun, asked: Asked, holds: Sequence[_Hold]) -> _Chance | None:
    """The first moment at which a run could begin; None where what is left of the hours is too short."""
    zone, now_s = asked.zones[zone_id], asked.moment.timestamp()
    at_s = now_s
    why: WhyNot = NOT_YET
    due_s = run.start.timestamp() - EARLY_S
    rest_s = max(zone.rest_s, asked.tap.gap_s)
    soaked_s = max((hold.shut_s + rest_s for hold in holds if hold.zone == zone_id), default=now_s)
    free_s = _free_from(zone_id, max(now_s, due_s), zone.flow_l_min, asked.tap, holds)
    reasons: tuple[tuple[float, WhyNot], ...] = (
        (due_s, NOT_YET),
        (free_s, _why_busy(zone.flow_l_min, asked, holds)),
        (soaked_s, SOAKING),
    )
    for moment_s, named in reasons:
        if moment_s > at_s:
            at_s, why = moment_s, named
    limits = _limits(run, zone.windows, at_s)
    if limits is None:
        return None
    begins_s, volume_l, run_time_s, max_open_s = limits
    return _Chance(
        zone_id, run, begins_s, why if begins_s == at_s else NOT_YET, volume_l, run_time_s, max_open_s
    )


def _limits(run: FinalRun, windows: Windows, from_s: float) -> tuple[float, float, int, int] | None:
    """When a run begins that may from a moment on, and its litres, time and limit; None: too little is left.

    Litres are in proportion to the time that the window leaves. A later window with room for the whole run
    is better than a part of it.
    """
    part: tuple[float, float, int, int] | None = None
    for opens_s, closes_s in windows:
        at_s = max(from_s, float(opens_s))
        left_s = int(closes_s - at_s) - OPEN_WITHIN_S
        if left_s >= run.run_time_s:
            return at_s, run.volume_l, run.run_time_s, min(run.max_open_s, left_s)
        if part is None and left_s > 0 and left_s >= SMALLEST_PART * run.run_time_s:
            volume_l = round_down_l(run.volume_l * left_s / run.run_time_s)
            if volume_l > 0.0:
                part = at_s, volume_l, left_s, min(run.max_open_s, left_s)
    return part


def _fits(flow_l_min: float, tap: Tap, beside: Sequence[float]) -> bool:
    """Whether the tap has a place and the flow for one more valve beside the flows of others."""
    if not beside:
        return True
    if len(beside) >= tap.zones_at_once:
        return False
    return tap.flow_l_min is None or flow_l_min + sum(beside) <= tap.flow_l_min + FLOW_TOLERANCE_L_MIN


def _free_from(zone_id: str, from_s: float, flow_l_min: float, tap: Tap, holds: Sequence[_Hold]) -> float:
    """From when on the tap has a place for a zone: valves only close, so that it stays free."""
    for at_s in (from_s, *sorted(hold.free_s for hold in holds if hold.free_s > from_s)):
        beside = [hold.flow_l_min for hold in holds if hold.free_s > at_s]
        is_shut = all(hold.zone != zone_id or hold.shut_s <= at_s for hold in holds)
        if is_shut and _fits(flow_l_min, tap, beside):
            return at_s
    raise AssertionError("after the last valve the tap is free")


def _why_busy(flow_l_min: float, asked: Asked, holds: Sequence[_Hold]) -> WhyNot:
    now_s = asked.moment.timestamp()
    flowing = [hold.flow_l_min for hold in holds if hold.shut_s > now_s]
    return GAP if _fits(flow_l_min, asked.tap, flowing) else TAP_BUSY


def _leaves_room(chance: _Chance, ahead: Sequence[_Chance], holds: Sequence[_Hold], asked: Asked) -> bool:
    """Whether a run that begins now leaves the tap to those that come before it in the timetable."""
    zone = asked.zones[chance.zone]
    meets = []
    for other in ahead:
        rest_s = max(zone.rest_s, asked.tap.gap_s) if other.zone == chance.zone else asked.tap.gap_s
        if chance.shut_s + rest_s <= other.at_s:
            continue
        if other.zone == chance.zone:
            return False
        meets.append(asked.zones[other.zone].flow_l_min)
    if not meets:
        return True
    now_s = asked.moment.timestamp()
    meets += [hold.flow_l_min for hold in holds if hold.free_s > now_s]
    return _fits(zone.flow_l_min, asked.tap, meets)


def _turn(chance: _Chance, asked: Asked) -> Turn:
    begun_s = asked.moment.timestamp()
    open_s = begun_s + OPEN_WITHIN_S
    return Turn(
        zone=chance.zone,
        run=chance.run.id,
        date=asked.plan.date,
        granted_at=asked.moment,
        open_by=_at(open_s, asked),
        shut_by=_at(open_s + chance.max_open_s, asked),
        volume_l=chance.volume_l,
        run_time_s=chance.run_time_s,
        max_open_s=chance.max_open_s,
    )


def _at(moment_s: float, asked: Asked) -> dt.datetime:
    return dt.datetime.fromtimestamp(moment_s, asked.moment.tzinfo)


def _refused(ahead: Sequence[_Chance], asked: Asked) -> Refused:
    """Why the first run that waits cannot begin yet, and when the next one can."""
    first = ahead[0]
    now_s = asked.moment.timestamp()
    next_at = _at(math.ceil(min(chance.at_s for chance in ahead if chance.at_s > now_s)), asked)
    clock = f"{next_at:%H:%M}"
    texts: dict[WhyNot, str] = {
        NOT_YET: f"The next run can begin at {clock}.",
        TAP_BUSY: f"Another valve has the tap, until {clock} at the latest.",
        GAP: f"A valve has just closed. The next one can open at {clock}.",
        SOAKING: f"The soil takes in the last run's water. The next run can begin at {clock}.",
    }
    return Refused(first.why, texts[first.why], next_at)
