"""A final plan, the reports of its water, and the state of each run at a moment.

A run waits (`to-do`), is taken back before it began (`withdrawn`), or has the outcome that somebody
reported: `running` is an announcement, the others complete it. A run that nobody reported by its limit is
`unreported`. `FinalRun.state` is the one place that decides this; `standing` asks it for a whole plan, and
`WaterRecord` for all plans of a garden.
"""

import datetime as dt
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from scheduling.garden.description import UnreportedWatering
from scheduling.garden.reports import Delivery, Metered
from scheduling.plan.plan import MainValve
from scheduling.reasons import Decision

Outcome = Literal["running", "done", "stopped", "no-water", "lost-contact"]
RunState = Literal[Outcome, "to-do", "unreported", "withdrawn"]

RUNNING: Final = "running"
LOST_CONTACT: Final = "lost-contact"
NO_WATER: Final = "no-water"
TO_DO: Final = "to-do"
UNREPORTED: Final = "unreported"
WITHDRAWN: Final = "withdrawn"

SHOWS_THE_FLOW: Final = frozenset({"done", "stopped"})
"""Outcomes after which litres and time are both known; after a lost contact the end is not."""

_RUN_ID: Final = re.compile(r"(\d{4}-\d{2}-\d{2})-(.+)-(\d+)")


def run_date(zone_id: str, run_id: str) -> dt.date | None:
    """The plan's date in the id of a zone's run; None where an id is no such id."""
    match = _RUN_ID.fullmatch(run_id)
    if match is None or match[2] != zone_id:
        return None
    try:
        return dt.date.fromisoformat(match[1])
    except ValueError:
        return None


class Why(NamedTuple):
    """A reason as it was written into a plan: a stable code, and its sentence."""

    code: str
    text: str


class FinalRun(NamedTuple):
    """One opening of one valve in a final plan.

    A tuple, as its zone is: each new plan reads all plans of its garden, and tuples are made in a third
    of the time that dataclasses take (measured).
    """

    id: str
    start: dt.datetime
    volume_l: float
    run_time_s: int
    max_open_s: int
    is_withdrawn: bool = False
    """Taken back before it began: its valve stays shut, and no sum counts it."""
    planned_l: float | None = None
    """What it was when the plan became final; None for a run that was never cut."""
    why: Why | None = None
    """Why it was cut or withdrawn."""
    until: dt.datetime | None = None
    """Where it waits for a turn: as long as the watering hours last."""

    @property
    def own_limit(self) -> dt.datetime:
        """When it has reached its limit, had it begun at its start."""
        return self.start + dt.timedelta(seconds=self.max_open_s)

    @property
    def limit(self) -> dt.datetime:
        """Its own limit, or the end of the hours where it waits for a turn: then it is late."""
        return self.own_limit if self.until is None else self.until

    @property
    def first_planned_l(self) -> float:
        """What it was when the plan became final, cut or not. [l]"""
        return self.volume_l if self.planned_l is None else self.planned_l

    def state(self, report: "Report | None", now: dt.datetime) -> RunState:
        """Its state at a moment, by the report that has its id; None where there is no such report.

        A report outweighs a withdrawal: the water flowed all the same.
        """
        if report is not None:
            return report.outcome
        if self.is_withdrawn:
            return WITHDRAWN
        return UNREPORTED if now >= self.limit else TO_DO


@dataclass(frozen=True, slots=True)
class Report:
    """A report of water through a zone's valve, of a run or of any other water."""

    zone: str
    id: str
    """Id of a run, or the reporter's own."""
    date: dt.date
    """The plan's date that the water counts for."""
    started_at: dt.datetime
    outcome: Outcome
    volume_l: float | None = None
    """None: not known, or not yet."""
    ended_at: dt.datetime | None = None
    unlikely: bool = False
    """More water than this valve should be able to pass."""
    shut_by: dt.datetime | None = None
    """Where it stands for an open turn: when the valve is shut at the latest."""

    @property
    def litres_known(self) -> bool:
        """Whether it says what flowed; where no water came, there is nothing more to say."""
        return self.volume_l is not None or self.outcome == NO_WATER

    def counted_l(self, run: FinalRun | None) -> float:
        """What it counts for: its litres, or as planned while they are not known. [l]

        Water that no run planned and nobody measured counts for nothing, as its litres had to be given.
        """
        if self.volume_l is not None:
            return self.volume_l
        return 0.0 if run is None or self.outcome == NO_WATER else float(run.volume_l)

    def overdue_at(self, run: FinalRun) -> dt.datetime:
        """When its run, begun as it says, has reached its limit."""
        if self.shut_by is not None:
            return self.shut_by
        return self.started_at + dt.timedelta(seconds=run.max_open_s)


class FinalZone(NamedTuple):
    """What one zone gets by a final plan."""

    id: str
    decision: Decision
    volume_l: float
    run_time_s: int
    net_mm: float
    gross_mm: float
    runs: tuple[FinalRun, ...]
    reasons: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class FinalPlan:
    """The zones of a garden for one date, decided: from now on its water can only become less."""

    date: dt.date
    made_at: dt.datetime
    valid_until: dt.datetime
    volume_l: float
    main_valve: MainValve | None
    zones: tuple[FinalZone, ...]
    turns_since: dt.datetime | None = None
    """When somebody first asked for a turn: from then on its runs wait for turns until the hours end."""

    @property
    def runs(self) -> Iterator[tuple[str, FinalRun]]:
        """Every run with the id of its zone."""
        return ((zone.id, run) for zone in self.zones for run in zone.runs)

    def run(self, zone_id: str, run_id: str) -> FinalRun | None:
        """A run of a zone; None where there is none of that id."""
        for zone in self.zones:
            if zone.id == zone_id:
                return next((run for run in zone.runs if run.id == run_id), None)
        return None

    def is_at_most(self, before: "FinalPlan") -> bool:
        """Whether it has the same runs as an earlier form of it, and none of them more water or time."""
        return len(self.zones) == len(before.zones) and all(
            zone.id == old.id
            and len(zone.runs) == len(old.runs)
            and all(_is_at_most(run, was) for run, was in zip(zone.runs, old.runs, strict=True))
            for zone, old in zip(self.zones, before.zones, strict=True)
        )


def _is_at_most(run: FinalRun, was: FinalRun) -> bool:
    return (
        (run.id, run.start) == (was.id, was.start)
        and run.is_withdrawn >= was.is_withdrawn
        and run.volume_l <= was.volume_l
        and run.run_time_s <= was.run_time_s
        and run.max_open_s <= was.max_open_s
    )


@dataclass(frozen=True, slots=True)
class RunStanding:
    """A run at a moment."""

    zone: str
    date: dt.date
    run: FinalRun
    report: Report | None
    state: RunState
    is_overdue: bool
    """Announced, not completed, and beyond its limit."""


@dataclass(frozen=True, slots=True)
class ZoneStanding:
    """A zone of a plan at a moment."""

    runs: tuple[RunStanding, ...]
    delivered_l: float
    """What has flowed for the date, beside the runs too; an announced run counts in full at once."""
    remaining_l: float
    """What its runs that wait will still give."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A plan at a moment."""

    is_over: bool
    zones: tuple[ZoneStanding, ...]
    changes_at: dt.datetime | None
    """When the clock alone changes it next; None: never again."""


def standing(plan: FinalPlan, reports: Sequence[Report], now: dt.datetime) -> Standing:
    """A plan at a moment, by the reports that count for its date.

    Water without a run's id counts as delivered, and leaves the runs as they are.
    """
    is_over = now >= plan.valid_until
    moments = [plan.valid_until]
    left = {(report.zone, report.id): report for report in reports}
    zones = []
    for zone in plan.zones:
        runs = []
        delivered_l = remaining_l = 0.0
        for run in zone.runs:
            report = left.pop((zone.id, run.id), None)
            state = run.state(report, now)
            is_overdue = False
            if report is not None:
                delivered_l += report.counted_l(run)
                if state == RUNNING:
                    late_at = report.overdue_at(run)
                    moments.append(late_at)
                    is_overdue = now >= late_at
            elif state == TO_DO:
                moments.append(run.limit)
                remaining_l += run.volume_l
            runs.append(RunStanding(zone.id, plan.date, run, report, state, is_overdue))
        delivered_l += sum(report.counted_l(None) for report in left.values() if report.zone == zone.id)
        zones.append(ZoneStanding(tuple(runs), delivered_l, 0.0 if is_over else remaining_l))
    coming = [moment for moment in moments if moment > now]
    return Standing(is_over, tuple(zones), min(coming, default=None))


class Flow(NamedTuple):
    """Water through a zone's valve."""

    zone: str
    date: dt.date
    start: dt.datetime
    end: dt.datetime
    volume_l: float

    def come_by(self, moment: dt.datetime) -> float:
        """What of it has come by a moment, where it flows evenly. [l]"""
        length = (self.end - self.start).total_seconds()
        passed = (moment - self.start).total_seconds()
        if length <= 0.0:
            return self.volume_l if passed >= 0.0 else 0.0
        return self.volume_l * min(1.0, max(0.0, passed / length))


def counts_unreported(
    rule: UnreportedWatering, told_since: Mapping[str, dt.date], zone: str, date: dt.date
) -> bool:
    """Whether a run that nobody reported is taken to have flowed as planned.

    By `auto` it is, until the zone has had its first turn or report of a run: whoever reports one run would
    have reported the next.
    """
    if rule == "auto":
        return date < told_since.get(zone, dt.date.max)
    return rule == "as-planned"


@dataclass(frozen=True, slots=True)
class WaterRecord:
    """The final plans of a garden and the reports of its water, over some dates."""

    plans: Mapping[dt.date, FinalPlan]
    """In the order of their dates."""
    reports: Sequence[Report]
    """In the order of their dates, zones and ids."""
    unreported: UnreportedWatering = "auto"
    """How the garden counts runs that nobody reported."""

    def told_since(self) -> dict[str, dt.date]:
        """By zone, the date of its first run that had a turn or a report."""
        first: dict[str, dt.date] = {}
        for report in self.reports:
            if report.zone not in first and run_date(report.zone, report.id) is not None:
                first[report.zone] = report.date
        return first

    def run_of(self, report: Report) -> FinalRun | None:
        """The run that a report belongs to; None for any other water."""
        plan = self.plans.get(report.date)
        return None if plan is None else plan.run(report.zone, report.id)

    def counted_l(self, report: Report) -> float:
        """What a report counts for. [l]"""
        return report.counted_l(self.run_of(report) if report.volume_l is None else None)

    def standings(self, now: dt.datetime) -> list[Standing]:
        """Every plan at a moment."""
        by_date: dict[dt.date, list[Report]] = {}
        for report in self.reports:
            by_date.setdefault(report.date, []).append(report)
        return [standing(plan, by_date.get(date, ()), now) for date, plan in self.plans.items()]

    def without_report(self) -> Iterator[tuple[str, dt.date, FinalRun]]:
        """The runs that nobody has reported, without those that were withdrawn."""
        reported = {(report.zone, report.id) for report in self.reports}
        for date, plan in self.plans.items():
            for zone in plan.zones:
                for run in zone.runs:
                    if not run.is_withdrawn and (zone.id, run.id) not in reported:
                        yield zone.id, date, run

    def deliveries(
        self,
        planned: dt.date,
        now: dt.datetime,
        left_out: Collection[tuple[str, str]] = (),
    ) -> tuple[list[Delivery], list[dt.datetime]]:
        """What has flowed by reports, and what final plans count as flowing.

        Parameters
        ----------
        planned
            Of this date, only reports count.
        left_out
            Reports that count for nothing, by zone and id.

        Returns
        -------
        Also the moments at which runs that wait would no longer count.
        """
        deliveries = [
            Delivery(report.zone, report.date, self.counted_l(report))
            for report in self.reports
            if (report.zone, report.id) not in left_out
        ]
        changes_at = []
        told_since = self.told_since()
        for zone, date, run in self.without_report():
            if date == planned:
                continue
            if not counts_unreported(self.unreported, told_since, zone, date):
                if run.state(None, now) == UNREPORTED:
                    continue
                changes_at.append(run.limit)
            deliveries.append(Delivery(zone, date, float(run.volume_l)))
        return deliveries, changes_at

    def flows(self) -> Iterator[Flow]:
        """All water with the times at which it flowed, or was to flow."""
        for report in self.reports:
            if report.outcome == NO_WATER:
                continue
            run = self.run_of(report)
            end = report.ended_at
            if end is None:
                end = report.started_at + dt.timedelta(seconds=0 if run is None else run.run_time_s)
            yield Flow(report.zone, report.date, report.started_at, end, report.counted_l(run))
        told_since = self.told_since()
        for zone, date, run in self.without_report():
            if counts_unreported(self.unreported, told_since, zone, date):
                yield Flow(
                    zone, date, run.start, run.start + dt.timedelta(seconds=run.run_time_s), run.volume_l
                )

    def metered(self) -> tuple[Metered, ...]:
        """The runs of which litres, begin and end were reported, in the order in which they flowed.

        Hand watering is not among them: who opens a valve by hand may open it half-way.
        """
        runs = [
            (report.started_at, report.ended_at, report.volume_l, report)
            for report in self.reports
            if report.outcome in SHOWS_THE_FLOW
            and report.volume_l is not None
            and run_date(report.zone, report.id) is not None
        ]
        return tuple(
            Metered(report.zone, report.date, volume_l, int((ended - begun).total_seconds()))
            for begun, ended, volume_l, report in sorted(runs, key=lambda run: run[0])
            if ended is not None and volume_l is not None
        )
