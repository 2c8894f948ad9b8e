"""What has become known since a plan became final, and the water that is therefore taken off it.

A revision is a list of operations on runs that have not begun: each is withdrawn, or cut to fewer litres.
`revise` finds them one rule after the other (rules of the garden, water that has flowed, what the zone
needs by now, the allowance), and applies them to the plan in one step. Litres to come only become fewer.
"""

import datetime as dt
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from scheduling import catalogue
from scheduling.balance.weather import HourAhead
from scheduling.garden.description import Garden, Zone
from scheduling.plan.final_plan import RUNNING, TO_DO, UNREPORTED, FinalPlan, FinalRun, FinalZone, Report, Why
from scheduling.plan.plan import MainValve, ZonePlan
from scheduling.reasons import (
    HOURS_FULL,
    NOT_A_WATERING_DAY,
    PAUSED,
    RAIN_EXPECTED,
    RAIN_NOT_ENOUGH,
    SOIL_MOIST,
    Reason,
)
from scheduling.reasons.runs import (
    AllowanceLeftOver,
    AlreadyDelivered,
    DeliveredBeside,
    ForbiddenHours,
    FrostAtItsTime,
    LessNeeded,
    NoWateringDaySince,
    OutsideHours,
    PausedSince,
    WindAtItsTime,
    ZoneRemoved,
)
from scheduling.reasons.words import Words
from scheduling.tap.allocation import RANK, AllowanceLeft
from scheduling.tap.runs import LIMIT_ALLOWANCE_S, LIMIT_FACTOR, round_down_l, round_up_l
from scheduling.tap.windows import HOUR_S, Bans, Span, Window, permitted
from scheduling.zone.metering import METER_ERROR_SHARE
from scheduling.zone.rules import rule_against, zone_rules

SMALLEST_PART: Final = 0.1
"""Less of a run than this is withdrawn rather than cut; our choice."""
DUST_L: Final = 0.005
SLACK_S: Final = 60
"""Starts are whole minutes, and hours may be left in the middle of one."""
WORTH_A_CUT: Final = 0.05
"""A newer forecast asks for a little more or less each hour: below this share nothing is cut; our choice."""


@dataclass(frozen=True, slots=True)
class Withdraw:
    """Take a run back before it begins."""

    zone: str
    run: str
    why: Why

    def on(self, run: FinalRun) -> FinalRun:
        """The run after it."""
        return run._replace(is_withdrawn=True, why=self.why)


@dataclass(frozen=True, slots=True)
class Cut:
    """Leave fewer litres to a run that has not begun."""

    zone: str
    run: str
    volume_l: float
    why: Why

    def on(self, run: FinalRun) -> FinalRun:
        """The run after it, its time and its limit cut in the same part."""
        run_time_s = _part_of_time(run, self.volume_l)
        limit_s = math.ceil(LIMIT_FACTOR * run_time_s + LIMIT_ALLOWANCE_S)
        return run._replace(
            volume_l=self.volume_l,
            run_time_s=run_time_s,
            max_open_s=min(run.max_open_s, limit_s),
            planned_l=run.first_planned_l,
            why=self.why,
        )


@dataclass(frozen=True, slots=True)
class Shorten:
    """Give a run the limits of its turn, which came too late for all of it."""

    zone: str
    run: str
    volume_l: float
    run_time_s: int
    max_open_s: int
    why: Why

    def on(self, run: FinalRun) -> FinalRun:
        """The run after it."""
        return run._replace(
            volume_l=self.volume_l,
            run_time_s=self.run_time_s,
            max_open_s=self.max_open_s,
            planned_l=run.first_planned_l,
            why=self.why,
        )


Operation = Withdraw | Cut | Shorten


def _part_of_time(run: FinalRun, volume_l: float) -> int:
    return int(run.run_time_s * volume_l / run.volume_l)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known at a moment of a date that has its final plan."""

    garden: Garden
    date: dt.date
    spans: Sequence[Span]
    """The watering hours of the date, warm hours included."""
    bans: Bans
    timezone: dt.tzinfo | None
    reports: Sequence[Report]
    """Those of the date."""
    moment: dt.datetime
    wanted: Mapping[str, ZonePlan] | None = None
    """By zone: what it would get by now, had nothing of this plan flowed and nobody else a wish; None
    where there is no weather to say so."""
    allowance: AllowanceLeft | None = None
    """What the tightest allowance leaves for runs that have not begun."""
    by_hour: Sequence[HourAhead] = ()
    begins: str | None = None
    """The zone of which a run is about to be opened."""
    told: Collection[str] = ()
    """Zones of which any run had a turn or a report, now or before."""

    def why(self, reason: Reason) -> Why:
        """A reason as it is written into a plan of the date."""
        return Why(reason.code, reason.sentence(Words(self.date, self.garden.units)))


def runs_to_come(zone: FinalZone, reports: Iterable[Report], now: dt.datetime) -> tuple[FinalRun, ...]:
    """The runs of a zone that have not begun and still may, in their order."""
    reported = {report.id: report for report in reports if report.zone == zone.id}
    return tuple(run for run in zone.runs if run.state(reported.get(run.id), now) == TO_DO)


def revise(plan: FinalPlan, known: Known) -> FinalPlan | None:
    """A final plan with what is known since taken off; None where that changes nothing."""
    operations = find(plan, known)
    if not operations:
        return None
    revised = apply(plan, operations, known)
    assert revised.is_at_most(plan), operations
    return revised


def find(plan: FinalPlan, known: Known) -> tuple[Operation, ...]:
    """The operations that a plan needs by what is known, in the order in which they are to be applied."""
    looks = []
    for zone in plan.zones:
        look = _Look.at(zone, known)
        look = look.after(_by_rules(look, known))
        look = look.after(_by_water(look, known))
        looks.append(look.after(_by_need(look, known)))
    return tuple(operation for look in _by_allowance(looks, known) for operation in look.operations)


def apply(plan: FinalPlan, operations: Iterable[Operation], known: Known) -> FinalPlan:
    """A plan after operations, its sums, reasons and the limits of the main valve in line with its runs."""
    by_zone: dict[str, list[Operation]] = {}
    for operation in operations:
        by_zone.setdefault(operation.zone, []).append(operation)
    zones = tuple(
        _applied(zone, by_zone[zone.id], known) if zone.id in by_zone else zone for zone in plan.zones
    )
    runs = [run for zone in zones for run in zone.runs if not run.is_withdrawn]
    volume_l = _tidy(sum(run.volume_l for run in runs))
    return replace(plan, zones=zones, volume_l=volume_l, main_valve=_main_valve(runs, known.timezone))


def _applied(zone: FinalZone, operations: Sequence[Operation], known: Known) -> FinalZone:
    runs = {run.id: run for run in zone.runs}
    for operation in operations:
        runs[operation.run] = operation.on(runs[operation.run])
    left = [run for run in runs.values() if not run.is_withdrawn]
    volume_l = sum(run.volume_l for run in left)
    part = volume_l / zone.volume_l if zone.volume_l else 0.0
    new = dict.fromkeys(operation.why for operation in operations)
    codes = {why.code for why in new}
    old = [why for why in zone.reasons if why.code not in codes]
    after = zone._replace(
        runs=tuple(runs.values()),
        decision="water" if left else "wait",
        volume_l=_tidy(volume_l),
        run_time_s=sum(run.run_time_s for run in left),
        net_mm=round(zone.net_mm * part, 1),
        gross_mm=round(zone.gross_mm * part, 1),
    )
    # Where nothing is left to come, the reason that took it back is the first.
    is_open = bool(runs_to_come(after, known.reports, known.moment))
    return after._replace(reasons=tuple([*old, *new] if is_open else [*new, *old]))


def _main_valve(runs: Sequence[FinalRun], timezone: dt.tzinfo | None) -> MainValve | None:
    if not runs:
        return None
    opens = min(run.start.timestamp() for run in runs)
    closes = max(run.start.timestamp() + run.run_time_s for run in runs)
    limit = max(run.start.timestamp() + run.max_open_s for run in runs)
    return MainValve(
        opens_at=dt.datetime.fromtimestamp(opens, timezone),
        closes_at=dt.datetime.fromtimestamp(closes, timezone),
        max_open_s=int(limit - opens),
        max_volume_l=round_up_l(LIMIT_FACTOR * sum(run.volume_l for run in runs)),
    )


def _tidy(volume_l: float) -> float:
    return round(volume_l, 3)


@dataclass(frozen=True, slots=True)
class _Look:
    """One zone of a plan, with what has flowed and what is still to come, after some operations."""

    id: str
    zone: Zone | None
    """None where the garden no longer has it."""
    wanted: ZonePlan | None
    planned_l: float
    """What it was to get when the plan became final."""
    given_l: float
    """What its runs have given, by their reports, or count for without."""
    unreported_l: float
    """The part of it that nobody has reported."""
    doubtful_l: float
    """What runs may have given beyond it that were announced and whose litres nobody has reported yet. Of a
    run that flows as it should, that is of no account before the next one begins."""
    beside_l: float
    """What has flowed for the date beside its runs."""
    open: tuple[FinalRun, ...]
    """The runs that have not begun and still may, after the operations."""
    operations: tuple[Operation, ...] = field(default=())

    @classmethod
    def at(cls, zone: FinalZone, known: Known) -> "_Look":
        """Look at a zone."""
        reports = {report.id: report for report in known.reports if report.zone == zone.id}
        rule = known.garden.unreported_watering
        as_planned = rule == "as-planned" or (rule == "auto" and zone.id not in known.told)
        given_l = unreported_l = doubtful_l = 0.0
        for run in zone.runs:
            report = reports.pop(run.id, None)
            if report is not None:
                counted_l = report.counted_l(run)
                given_l += counted_l
                if not report.litres_known and _is_in_doubt(report, run, known):
                    doubtful_l += METER_ERROR_SHARE * counted_l
            elif as_planned and run.state(None, known.moment) == UNREPORTED:
                unreported_l += run.volume_l
        return cls(
            id=zone.id,
            zone=next((described for described in known.garden.zones if described.id == zone.id), None),
            wanted=None if known.wanted is None else known.wanted.get(zone.id),
            planned_l=sum(run.first_planned_l for run in zone.runs),
            given_l=given_l + unreported_l,
            unreported_l=unreported_l,
            doubtful_l=doubtful_l,
            beside_l=sum(report.counted_l(None) for report in reports.values()),
            open=runs_to_come(zone, known.reports, known.moment),
        )

    @property
    def left_l(self) -> float:
        """What its runs that have not begun would give."""
        return sum(run.volume_l for run in self.open)

    def after(self, operations: Iterable[Operation]) -> "_Look":
        """The zone after more operations."""
        more = tuple(operations)
        by_run = {operation.run: operation for operation in more}
        runs = [by_run[run.id].on(run) if run.id in by_run else run for run in self.open]
        return replace(
            self,
            open=tuple(run for run in runs if not run.is_withdrawn),
            operations=(*self.operations, *more),
        )

    def withdraw_all(self, why: Why) -> Iterator[Operation]:
        """Take back whatever has not begun."""
        return (Withdraw(self.id, run.id, why) for run in self.open)

    def cut_to(self, left_l: float, why: Why) -> Iterator[Operation]:
        """Leave so much to the runs that have not begun; the last ones go first."""
        over_l = self.left_l - max(0.0, left_l)
        for run in reversed(self.open):
            if over_l <= DUST_L:
                return
            part_l = round_down_l(max(0.0, run.volume_l - over_l))
            if part_l < SMALLEST_PART * run.first_planned_l or _part_of_time(run, part_l) == 0:
                yield Withdraw(self.id, run.id, why)
                part_l = 0.0
            else:
                yield Cut(self.id, run.id, part_l, why)
            over_l -= run.volume_l - part_l


def _is_in_doubt(report: Report, run: FinalRun, known: Known) -> bool:
    """Whether what a run gave should have been reported by now, or is wanted before the next one."""
    flows = report.outcome == RUNNING and known.moment < report.overdue_at(run)
    return not flows or known.begins == report.zone


def _by_rules(look: _Look, known: Known) -> Iterator[Operation]:
    """Withdraw what rules forbid: of the document, of cold and wind, or that of need."""
    if not look.open:
        return
    if look.zone is None:
        yield from look.withdraw_all(known.why(ZoneRemoved()))
        return
    against = _against(look, look.zone, known)
    if against is not None:
        yield from look.withdraw_all(against)
        return
    within_hours = [window for span in known.spans for window in permitted(span, ())]
    within_bans = [window for span in known.spans for window in permitted(span, known.bans.of(look.id))]
    for run in look.open:
        why = None
        if not _lies_in(run, within_hours):
            why = known.why(OutsideHours())
        elif not _lies_in(run, within_bans):
            why = known.why(ForbiddenHours())
        elif look.wanted is not None and not _lies_in(
            run, [window for of_span in look.wanted.windows for window in of_span]
        ):
            why = _by_the_hour(run, look.zone, look.wanted, known)
        if why is not None:
            yield Withdraw(look.id, run.id, why)


def _against(look: _Look, zone: Zone, known: Known) -> Why | None:
    """What forbids to water the zone on the date at all."""
    wanted = look.wanted
    if wanted is not None:
        first = wanted.reasons[0]
        if wanted.decision == "water" or first.code == HOURS_FULL:
            # The hours have to do for the runs as they are; where they were changed, runs lie outside.
            return None
        if look.beside_l and first.code in (SOIL_MOIST, RAIN_EXPECTED):
            return known.why(DeliveredBeside(look.beside_l, None))
        return known.why(first)
    rules = zone_rules(known.garden, zone.rules, zone.id)
    code = rule_against(rules, known.date, False, None)
    changed: dict[str, type[PausedSince | NoWateringDaySince]] = {
        PAUSED: PausedSince,
        NOT_A_WATERING_DAY: NoWateringDaySince,
    }
    return None if code is None else known.why(changed[code](known.date))


def _by_the_hour(run: FinalRun, zone: Zone, wanted: ZonePlan, known: Known) -> Why | None:
    """Why cold or wind forbid the hours of a run, though there are others; None: plants first."""
    begins = run.start.timestamp()
    ends = begins + run.run_time_s
    rules = zone_rules(known.garden, zone.rules, zone.id)
    winds = [
        hour.wind_2m_m_s
        for hour in known.by_hour
        if hour.wind_2m_m_s is not None and begins < hour.start_s + HOUR_S and hour.start_s < ends
    ]
    limit_m_s, wind_m_s = rules.wind_limit_m_s, max(winds, default=0.0)
    is_overhead = catalogue.method(zone.watering.method).overhead
    if is_overhead and limit_m_s is not None and wind_m_s > limit_m_s:
        if wanted.is_pressing:
            return None
        return known.why(WindAtItsTime(wind_m_s, limit_m_s))
    return known.why(FrostAtItsTime())


def _lies_in(run: FinalRun, windows: Sequence[Window]) -> bool:
    opens = run.start.timestamp()
    closes = opens + run.run_time_s
    return any(first - SLACK_S <= opens and closes <= last + SLACK_S for first, last in windows)


def _by_water(look: _Look, known: Known) -> Iterator[Operation]:
    """Take off what its runs have given beyond the plan."""
    over_l = look.given_l + look.doubtful_l + look.left_l - look.planned_l
    if look.open and over_l > DUST_L:
        why = known.why(AlreadyDelivered(over_l, is_certain=not look.doubtful_l))
        yield from look.cut_to(look.left_l - over_l, why)


def _by_need(look: _Look, known: Known) -> Iterator[Operation]:
    """Take off what is no longer needed, by water beside the plan or by a newer forecast."""
    wanted = look.wanted
    if wanted is None or not look.open or any(reason.code == HOURS_FULL for reason in wanted.reasons):
        return
    if wanted.volume_l >= (1.0 - WORTH_A_CUT) * (look.given_l + look.left_l):
        return
    if look.beside_l:
        why: Reason = DeliveredBeside(look.beside_l, wanted.volume_l)
    elif wanted.reasons[0].code == RAIN_NOT_ENOUGH:
        why = wanted.reasons[0]
    else:
        why = LessNeeded(wanted.volume_l)
    yield from look.cut_to(wanted.volume_l - look.given_l, known.why(why))


def _by_allowance(looks: Sequence[_Look], known: Known) -> list[_Look]:
    """The zones after what an allowance has no litres for any more is cut, low priority first."""
    if known.allowance is None:
        return list(looks)
    unreported_l = sum(look.unreported_l for look in looks)
    over_l = sum(look.left_l + look.unreported_l for look in looks) - known.allowance.left_l
    left_l = max(0.0, known.allowance.left_l - unreported_l)
    why = known.why(AllowanceLeftOver(known.allowance.allowed_l, left_l, known.allowance.period))
    after = {look.id: look for look in looks}
    described = [(RANK[look.zone.priority], look.id) for look in looks if look.zone is not None]
    for _, zone_id in sorted(described, reverse=True):
        look = after[zone_id]
        if over_l > DUST_L and look.open:
            cut = look.after(look.cut_to(look.left_l - over_l, why))
            over_l -= look.left_l - cut.left_l
            after[zone_id] = cut
    return list(after.values())
