"""What a report of water means: which run it belongs to, whether it may stand, what it counts for.

A controller that wants to be safe against a second one, a restart or a lost message announces a run
before it opens the valve, and completes it once. Any other report is kept as it comes.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeAlias

from api.errors import (
    AlreadyBegun,
    ApiError,
    DeliveryConflict,
    DeliveryNotFound,
    InvalidRequest,
    RunNotOpen,
    TurnIsOpen,
    ZoneNotFound,
)
from api.reports.plausible import CLOCK_TOLERANCE, is_unlikely, must_have_come
from api.reports.records import JsonObject, Page, RecordKind, Records, ReportName
from api.schemas.deliveries import DeliveryReport
from api.schemas.garden import stored_garden
from api.schemas.stored_bodies import (
    KeptPlan,
    delivery_body,
    dump_report,
    read_delivery,
    read_final,
    run_limits,
)
from api.schemas.turns import KeptTurn, read_turn, turn_body
from api.store.changes import Change
from api.store.rows import DeliveryKey, StoredDelivery, StoredFinal, StoredGarden, StoredTurn
from api.store.store import Store
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
    WaterRecord,
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


LookAgain: TypeAlias = Callable[[str, dt.date, str], int | None]
"""Takes off the final plan of a garden and a date what is known since it was made, before a run of a zone
begins; for which version of the garden that holds."""


class DeliveryKind(RecordKind[ReportName, DeliveryReport, Report, DeliveryKey, StoredDelivery]):
    """Reports of water: a run is announced, then completed once; any other report is kept as it comes."""

    row = StoredDelivery

    def __init__(self, look_again: LookAgain) -> None:
        self.look_again = look_again

    def prepare(self, garden_id: str, key: ReportName, told: DeliveryReport) -> int | None:
        """What came meanwhile may leave less to a run that is announced."""
        date = run_date(*key) if told.outcome == RUNNING else None
        return None if date is None else self.look_again(garden_id, date, key.zone)

    def check(
        self, change: Change, garden: StoredGarden, key: ReportName, told: DeliveryReport, now: dt.datetime
    ) -> None:
        """Refuse a report of the future, or of a zone that neither is there nor was."""
        final = _final(change, garden.id, run_date(*key) or _date_of(told, garden, now))
        if not _is_known(key.zone, garden, final, change):
            raise ZoneNotFound(key.zone)
        must_have_come("started_at", told.started_at, now)
        must_have_come("ended_at", told.ended_at, now)

    def record(
        self,
        change: Change,
        garden: StoredGarden,
        key: ReportName,
        told: DeliveryReport,
        kept: Report | None,
        now: dt.datetime,
    ) -> Report:
        """The report with the date that it counts for.

        Raises
        ------
        RunNotOpen
            An announcement of what is no run of a final plan, or of one whose time has passed.
        DeliveryConflict
            A completed report is sent again with other content.
        InvalidRequest
            It is more water than can have flowed, or leaves the litres open where no run says them.
        """
        zone_id, delivery_id = key
        turn = change.turn(zone_id, delivery_id)
        started_at = told.started_at or (now if kept is None else kept.started_at)
        date = run_date(zone_id, delivery_id)
        final = None if date is None else _final(change, garden.id, date)
        run = None if final is None else final.run(zone_id, delivery_id)
        if run is None or date is None:
            date = garden_date(started_at, garden.document["timezone"])
        report = Report(zone_id, delivery_id, date, started_at, told.outcome, told.volume_l, told.ended_at)
        if kept is not None:
            if _says_the_same(kept, report) or (report.outcome == RUNNING and kept.outcome == RUNNING):
                return kept
            if kept.outcome not in (RUNNING, LOST_CONTACT) or report.outcome == RUNNING:
                raise DeliveryConflict(delivery_id)
        elif report.outcome == RUNNING:
            _may_begin(delivery_id, final, run, now)
        if report.outcome not in (RUNNING, NO_WATER) and report.volume_l is None and run is None:
            raise InvalidRequest(
                Problem(
                    "/volume_l",
                    "volume_l is null, and no run of a final plan has this id to say what it was: give "
                    "litres.",
                )
            )
        if turn is not None and report.outcome == LOST_CONTACT:
            report = replace(report, shut_by=reopened(turn, garden.id).shut_by)
        elif turn is not None and report.outcome != RUNNING:
            change.close_turn(zone_id, delivery_id, now)
        return replace(report, unlikely=is_unlikely(report, _zone_of(garden, zone_id), run, now))

    def take_back(self, change: Change, garden: StoredGarden, key: ReportName, record: Report) -> None:
        """Of a turn all of its water counts again until it is closed anew. Raises TurnIsOpen."""
        turn = change.turn(*key)
        if turn is None:
            super().take_back(change, garden, key, record)
        elif record.outcome == RUNNING:
            raise TurnIsOpen(key.id)
        else:
            change.close_turn(*key, None)
            change.put_report(row_of(reopened(turn, garden.id)))

    def read(self, row: StoredDelivery, garden: StoredGarden) -> Report:
        """A stored report. Raises UnknownFormat."""
        return report_of(row, garden.id)

    def row_of(self, record: Report) -> StoredDelivery:
        """A report as it is stored."""
        return row_of(record)

    def listed(self, store: Store, garden: StoredGarden, page: Page[DeliveryKey]) -> list[Report]:
        """By the plan's date that they count for, zone and id."""
        return [report_of(row, garden.id) for row in store.deliveries_page(garden.id, *page)]

    def place(self, record: Report) -> DeliveryKey:
        """Date, zone and id."""
        return DeliveryKey(record.date, record.zone, record.id)

    def dump(self, store: Store, garden: StoredGarden, records: Sequence[Report]) -> list[JsonObject]:
        """Each with what the ledger takes it for, and of an announced run its limits as they now are."""
        # Only a report without litres counts by its run.
        dates = sorted({report.date for report in records if report.volume_l is None})
        rows = [row for date in dates for row in store.finals(garden.id, date, date)]
        plans = {date: kept.plan for date, kept in kept_plans(rows, garden.id).items()}
        record = WaterRecord(plans, records)
        return [_dumped(report, record.run_of(report)) for report in records]

    def not_found(self, key: ReportName) -> ApiError:
        """No report has this name."""
        return DeliveryNotFound(*key)

    def already_there(self, key: ReportName) -> ApiError:
        """Somebody else has the run."""
        return AlreadyBegun(key.id)


def _date_of(told: DeliveryReport, garden: StoredGarden, now: dt.datetime) -> dt.date:
    """The plan's date that water belongs to which no run planned."""
    return garden_date(told.started_at or now, garden.document["timezone"])


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


def _dumped(report: Report, run: FinalRun | None) -> JsonObject:
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


Deliveries: TypeAlias = Records[ReportName, DeliveryReport, Report, DeliveryKey, StoredDelivery]
"""The reports of water of stored gardens."""
