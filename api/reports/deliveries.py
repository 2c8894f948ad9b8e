"""What a report of water means: which run it belongs to, whether it may stand, what it counts for.

A controller that wants to be safe against a second one, a restart or a lost message announces a run
before it opens the valve, and completes it once. Any other report is kept as it comes.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from api.errors import (
    AlreadyBegun,
    DeliveryConflict,
    GardenNotFound,
    InvalidRequest,
    RunNotOpen,
    ZoneNotFound,
)
from api.reports.plausible import CLOCK_TOLERANCE, is_unlikely
from api.schemas.deliveries import DeliveryReport
from api.schemas.garden import stored_garden
from api.schemas.stored_bodies import (
    JsonObject,
    KeptPlan,
    delivery_body,
    dump_report,
    read_delivery,
    read_final,
    run_limits,
)
from api.schemas.turns import KeptTurn, read_turn, turn_body
from api.store.changes import Change
from api.store.rows import StoredDelivery, StoredFinal, StoredGarden, StoredTurn
from api.watering_hours import garden_date
from scheduling.errors import InvalidGarden, Problem, UnknownName
from scheduling.garden.description import Zone
from scheduling.plan.final_plan import (
    LOST_CONTACT,
    NO_WATER,
    RUNNING,
    FinalPlan,
    FinalRun,
    Report,
    run_date,
)


def report_of(row: StoredDelivery, garden_id: str) -> Report:
    """A stored report of water. Raises UnknownFormat."""
    return read_delivery(row.zone, row.id, row.date, row.body, garden_id)


def row_of(report: Report) -> StoredDelivery:
    """A report of water as it is stored."""
    return StoredDelivery(report.zone, report.id, report.date, delivery_body(report))


def kept_plans(rows: Sequence[StoredFinal], garden_id: str) -> dict[dt.date, KeptPlan]:
    """Stored final plans by date. Raises UnknownFormat."""
    return {row.date: read_final(row.date, row.body, garden_id) for row in rows}


def turn_of(row: StoredTurn, garden_id: str) -> KeptTurn:
    """A stored turn. Raises UnknownFormat."""
    return read_turn(row.zone, row.run, row.date, row.key, row.closed_at, row.body, garden_id)


def row_of_turn(kept: KeptTurn) -> StoredTurn:
    """A turn as it is stored."""
    turn = kept.turn
    return StoredTurn(turn.zone, turn.run, turn.date, kept.key, turn.closed_at, turn_body(kept))


def reopened(row: StoredTurn, garden_id: str) -> Report:
    """What counts for a turn while nobody says what flowed: all of it. Raises UnknownFormat."""
    turn = turn_of(row, garden_id).turn
    return Report(turn.zone, turn.run, turn.date, turn.granted_at, RUNNING, shut_by=turn.shut_by)


class Kept(NamedTuple):
    """A report that is kept."""

    report: Report
    run: FinalRun | None
    """The run of a final plan that it belongs to."""
    is_new: bool
    """Nothing was kept under its id before."""
    is_known: bool
    """It says nothing that was not kept before."""


def keep_report(
    change: Change,
    garden_id: str,
    zone_id: str,
    delivery_id: str,
    told: DeliveryReport,
    must_be_new: bool,
    now: dt.datetime,
) -> Kept:
    """Keep a report within a change of its garden; nothing changes where an error is raised.

    Raises
    ------
    GardenNotFound, ZoneNotFound
        There is nothing that it could be a report of.
    AlreadyBegun
        It must be new, and is not: somebody else has the run.
    RunNotOpen
        An announcement of what is no run of a final plan, or of one whose time has passed.
    DeliveryConflict
        A completed report is told again with other content.
    InvalidRequest
        It tells of the future or of more water than can have flowed, or leaves the litres open where
        no run says them.
    """
    garden = change.garden
    if garden is None:
        raise GardenNotFound(garden_id)
    date = run_date(zone_id, delivery_id)
    row, turn = change.delivery(zone_id, delivery_id), change.turn(zone_id, delivery_id)
    started_at = told.started_at or (now if row is None else report_of(row, garden_id).started_at)
    belongs_to = garden_date(started_at, garden.document["timezone"])
    final = _final(change, garden_id, belongs_to if date is None else date)
    if not _is_known(zone_id, garden, final, change):
        raise ZoneNotFound(zone_id)
    _must_have_come("started_at", told.started_at, now)
    _must_have_come("ended_at", told.ended_at, now)
    if must_be_new and row is not None:
        raise AlreadyBegun(delivery_id)

    run = None if date is None or final is None else final.run(zone_id, delivery_id)
    if run is None or date is None:
        date = belongs_to
    report = Report(zone_id, delivery_id, date, started_at, told.outcome, told.volume_l, told.ended_at)
    if row is not None:
        kept = report_of(row, garden_id)
        if _says_the_same(kept, report) or (report.outcome == RUNNING and kept.outcome == RUNNING):
            return Kept(kept, run, is_new=False, is_known=True)
        if kept.outcome not in (RUNNING, LOST_CONTACT) or report.outcome == RUNNING:
            raise DeliveryConflict(delivery_id)
    elif report.outcome == RUNNING:
        _may_begin(delivery_id, final, run, now)
    if report.outcome not in (RUNNING, NO_WATER) and report.volume_l is None and run is None:
        raise InvalidRequest(
            Problem(
                "/volume_l",
                "volume_l is null, and no run of a final plan has this id to say what it was: give litres.",
            )
        )
    if turn is not None and report.outcome == LOST_CONTACT:
        report = replace(report, shut_by=reopened(turn, garden_id).shut_by)
    report = replace(report, unlikely=is_unlikely(report, _zone_of(garden, zone_id), run, now))
    change.put_delivery(row_of(report))
    if turn is not None and report.outcome not in (RUNNING, LOST_CONTACT):
        change.close_turn(zone_id, delivery_id, now)
    return Kept(report, run, is_new=row is None, is_known=False)


def _final(change: Change, garden_id: str, date: dt.date) -> FinalPlan | None:
    body = change.final(date)
    return None if body is None else read_final(date, body, garden_id).plan


def _says_the_same(kept: Report, told: Report) -> bool:
    """Whether two reports are written alike, but for what was added to the one that is kept."""
    return dump_report(replace(kept, unlikely=False, shut_by=None)) == dump_report(told)


def _is_known(zone_id: str, garden: StoredGarden, final: FinalPlan | None, change: Change) -> bool:
    """Whether a zone is there, or was: what a zone got before it was taken out is not lost."""
    if zone_id in garden.document["zones"]:
        return True
    was_planned = final is not None and any(zone.id == zone_id for zone in final.zones)
    return was_planned or change.has_reports(zone_id)


def _zone_of(garden: StoredGarden, zone_id: str) -> Zone | None:
    """A zone as the garden describes it now; None where it no longer does so in a way that can be read."""
    try:
        described = stored_garden(garden.document, garden.id)
    except (InvalidGarden, InvalidRequest, UnknownName):
        return None
    return next((zone for zone in described.zones if zone.id == zone_id), None)


def _must_have_come(name: str, moment: dt.datetime | None, now: dt.datetime) -> None:
    if moment is not None and moment > now + CLOCK_TOLERANCE:
        raise InvalidRequest(Problem(f"/{name}", f"{name} is {moment.isoformat()}, which has not come yet."))


def _may_begin(delivery_id: str, final: FinalPlan | None, run: FinalRun | None, now: dt.datetime) -> None:
    if final is None or run is None:
        raise RunNotOpen(delivery_id, "no final plan has this run")
    if run.is_withdrawn:
        raise RunNotOpen(delivery_id, f"it was withdrawn. {'' if run.why is None else run.why.text}")
    if final.turns_since is not None:
        raise RunNotOpen(delivery_id, "the runs of this night wait for turns; ask for one by POST turns")
    if now >= final.valid_until:
        raise RunNotOpen(delivery_id, f"its watering hours ended at {final.valid_until.isoformat()}")
    if now < run.start - CLOCK_TOLERANCE:
        # Sooner, water might flow before the hours open, or beside what another valve needs.
        raise RunNotOpen(delivery_id, f"its start is {run.start.isoformat()}")
    if now >= run.own_limit:
        # By now it counts as unreported, and would not end within what was planned for it.
        raise RunNotOpen(delivery_id, f"it had to be over by {run.own_limit.isoformat()}")


def dump_delivery(report: Report, run: FinalRun | None) -> JsonObject:
    """A report as it is kept, with what the ledger takes it for, and of an announced run its limits."""
    body = {
        "zone": report.zone,
        "id": report.id,
        "date": report.date.isoformat(),
        **dump_report(report),
        "counted_l": report.counted_l(run),
    }
    if run is not None and report.outcome == RUNNING:
        body["run"] = run_limits(run)
    return body
