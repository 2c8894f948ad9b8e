"""Keeping reports of water: one by one or many at once, read back, taken back."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from api.errors import (
    DeliveryConflict,
    DeliveryNotFound,
    GardenNotFound,
    InvalidRequest,
    RunNotOpen,
    TurnIsOpen,
    ZoneNotFound,
)
from api.reports.deliveries import dump_delivery, keep_report, kept_plans, reopened, report_of, row_of
from api.schemas.deliveries import (
    CONFLICT,
    KEPT,
    KNOWN,
    REFUSED,
    DeliveryReport,
    NamedReport,
    UnreadReport,
)
from api.store.changes import Change
from api.store.rows import DeliveryKey, StoredDelivery
from api.store.store import Store
from scheduling.plan.final_plan import RUNNING, WaterRecord, run_date

MOST_TRIES = 5
"""How often to look at a plan anew where reports or edits come while one of its runs is announced."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one report of a batch."""

    zone: str | None
    id: str | None
    result: str
    delivery: dict[str, Any] | None = None
    """As it is kept."""
    error: Exception | None = None
    """Why it is not."""


class DeliveryReports:
    """Reports of the water of stored gardens."""

    def __init__(
        self,
        store: Store,
        clock: Callable[[], dt.datetime],
        look_again: Callable[[str, dt.date, str], int | None],
    ) -> None:
        """`look_again` takes off the final plan of a garden and a date what is known since it was made,
        before a run of a zone begins, and tells for which version of the garden that holds."""
        self._store = store
        self._clock = clock
        self._look_again = look_again

    def put_delivery(
        self, garden_id: str, zone_id: str, delivery_id: str, report: DeliveryReport, must_be_new: bool
    ) -> tuple[bool, dict[str, Any]]:
        """Keep a report of water; whether it is new, and how it is kept. Raises as `keep_report`."""
        date = run_date(zone_id, delivery_id) if report.outcome == RUNNING else None
        for tries_left in reversed(range(MOST_TRIES)):
            looked_at = None if date is None else self._look_again(garden_id, date, zone_id)
            with self._store.changing(garden_id) as change:
                if looked_at is not None and tries_left and _has_changed(change, looked_at):
                    continue  # what came meanwhile may leave less to this run
                kept = keep_report(
                    change, garden_id, zone_id, delivery_id, report, must_be_new, self._clock()
                )
            return kept.is_new, dump_delivery(kept.report, kept.run)
        raise AssertionError("the last try keeps the report")

    def put_deliveries(self, garden_id: str, batch: Sequence[NamedReport | UnreadReport]) -> list[Outcome]:
        """Keep many reports in one change, each as if it came alone, in their order.

        Raises
        ------
        GardenNotFound
            There is no such garden. Whatever else is wrong with a report is told of that report.
        """
        now = self._clock()
        with self._store.changing(garden_id) as change:
            if change.garden is None:
                raise GardenNotFound(garden_id)
            return [_outcome(change, garden_id, named, now) for named in batch]

    def delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> dict[str, Any]:
        """One report. Raises GardenNotFound, DeliveryNotFound."""
        self._must_exist(garden_id)
        delivery = self._store.delivery(garden_id, zone_id, delivery_id)
        if delivery is None:
            raise DeliveryNotFound(zone_id, delivery_id)
        return self._dumped(garden_id, [delivery])[0]

    def deliveries(
        self,
        garden_id: str,
        first: dt.date | None,
        last: dt.date | None,
        after: DeliveryKey | None,
        limit: int,
    ) -> tuple[list[dict[str, Any]], DeliveryKey | None]:
        """Reports of a span of dates, both ends included; and after which to read on, where there are more.

        Raises GardenNotFound.
        """
        self._must_exist(garden_id)
        found = self._store.deliveries_page(garden_id, first, last, after, limit + 1)
        further = found[limit - 1].key if len(found) > limit else None
        return self._dumped(garden_id, found[:limit]), further

    def delete_delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> None:
        """Take a report back; of a turn, all of its water counts again until it is closed anew.

        Raises GardenNotFound, DeliveryNotFound, TurnIsOpen.
        """
        self._must_exist(garden_id)
        with self._store.changing(garden_id) as change:
            row, turn = change.delivery(zone_id, delivery_id), change.turn(zone_id, delivery_id)
            if row is None:
                raise DeliveryNotFound(zone_id, delivery_id)
            if turn is None:
                change.delete_delivery(zone_id, delivery_id)
            elif report_of(row, garden_id).outcome == RUNNING:
                raise TurnIsOpen(delivery_id)
            else:
                change.close_turn(zone_id, delivery_id, None)
                change.put_delivery(row_of(reopened(turn, garden_id)))

    def _dumped(self, garden_id: str, deliveries: Sequence[StoredDelivery]) -> list[dict[str, Any]]:
        reports = [report_of(row, garden_id) for row in deliveries]
        # Only a report without litres counts by its run.
        dates = sorted({report.date for report in reports if report.volume_l is None})
        rows = [row for date in dates for row in self._store.finals(garden_id, date, date)]
        plans = {date: kept.plan for date, kept in kept_plans(rows, garden_id).items()}
        record = WaterRecord(plans, reports)
        return [dump_delivery(report, record.run_of(report)) for report in reports]

    def _must_exist(self, garden_id: str) -> None:
        if self._store.garden(garden_id) is None:
            raise GardenNotFound(garden_id)


def _has_changed(change: Change, version: int) -> bool:
    return change.garden is not None and change.garden.version != version


def _outcome(change: Change, garden_id: str, named: NamedReport | UnreadReport, now: dt.datetime) -> Outcome:
    if isinstance(named, UnreadReport):
        return Outcome(named.zone, named.id, REFUSED, error=named.error)
    try:
        kept = keep_report(change, garden_id, named.zone, named.id, named.report, must_be_new=False, now=now)
    except DeliveryConflict as error:
        return Outcome(named.zone, named.id, CONFLICT, error=error)
    except (ZoneNotFound, RunNotOpen, InvalidRequest) as error:
        return Outcome(named.zone, named.id, REFUSED, error=error)
    result = KNOWN if kept.is_known else KEPT
    return Outcome(named.zone, named.id, result, dump_delivery(kept.report, kept.run))
