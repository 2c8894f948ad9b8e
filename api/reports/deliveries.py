"""What a report of water means: which run it belongs to, whether it may stand, what it counts for.

A controller that wants to be safe against a second one, a restart or a lost message announces a run
before it opens the valve, and completes it once. Any other report is kept as it comes.
"""

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

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
from api.schemas.plan import WITHDRAWN
from api.store.changes import Change
from api.store.rows import StoredDelivery, StoredGarden
from api.watering_hours import garden_date
from scheduling.errors import InvalidGarden, Problem, UnknownName
from scheduling.garden.description import Zone
from scheduling.garden.reports import Metered

RUNNING = "running"
LOST_CONTACT = "lost-contact"
NO_WATER = "no-water"
LIMITS = ("volume_l", "run_time_s", "max_open_s")
"""What a valve is told of a run: it may have been cut since it was last read."""
UNLIKELY = "unlikely"
"""Field of a report that is kept though it is hard to believe."""

_RUN_ID = re.compile(r"(\d{4}-\d{2}-\d{2})-(.+)-(\d+)")


def run_date(zone_id: str, delivery_id: str) -> dt.date | None:
    """The plan's date in the id of a zone's run; None where an id is no such id."""
    match = _RUN_ID.fullmatch(delivery_id)
    if match is None or match[2] != zone_id:
        return None
    try:
        return dt.date.fromisoformat(match[1])
    except ValueError:
        return None


def run_of(final: dict[str, Any] | None, zone_id: str, run_id: str) -> dict[str, Any] | None:
    """A run of a final plan; None where it has none of that id."""
    if final is None:
        return None
    for zone in final["zones"]:
        if zone["zone"] == zone_id:
            return next((run for run in zone["runs"] if run["id"] == run_id), None)
    return None


def counted_l(body: dict[str, Any], run: dict[str, Any] | None) -> float:
    """What a report counts for: its litres, or as planned while they are not known.

    Where no water came, there is nothing to know. Water that no run planned and nobody measured
    counts for nothing, as its litres had to be given.
    """
    if body["volume_l"] is not None:
        return float(body["volume_l"])
    return 0.0 if run is None or body["outcome"] == NO_WATER else float(run["volume_l"])


def litres_known(body: dict[str, Any]) -> bool:
    """Whether a report tells what flowed; where no water came, there is nothing to tell."""
    return body["volume_l"] is not None or body["outcome"] == NO_WATER


def overdue_at(report: StoredDelivery, run: dict[str, Any]) -> dt.datetime:
    """When an announced run should long be over."""
    begun = dt.datetime.fromisoformat(report.body["started_at"])
    return begun + dt.timedelta(seconds=run["max_open_s"])


def ends_at(run: dict[str, Any]) -> dt.datetime:
    """When a run has reached its limit, even had it begun last of all."""
    start = dt.datetime.fromisoformat(run["start"])
    return start + dt.timedelta(seconds=run["max_open_s"])


class Kept(NamedTuple):
    """A report that is kept."""

    delivery: StoredDelivery
    run: dict[str, Any] | None
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
    report: DeliveryReport,
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
    belongs_to = garden_date(report.started_at, garden.document["timezone"])
    final = change.final(belongs_to if date is None else date)
    if not _is_known(zone_id, garden, final, change):
        raise ZoneNotFound(zone_id)
    _must_have_come("started_at", report.started_at, now)
    _must_have_come("ended_at", report.ended_at, now)
    kept = change.delivery(zone_id, delivery_id)
    if must_be_new and kept is not None:
        raise AlreadyBegun(delivery_id)

    run = None if date is None else run_of(final, zone_id, delivery_id)
    told = _body(report)
    if kept is not None:
        if _as_told(kept.body) == told or (report.outcome == RUNNING and kept.body["outcome"] == RUNNING):
            return Kept(kept, run, is_new=False, is_known=True)
        if kept.body["outcome"] not in (RUNNING, LOST_CONTACT) or report.outcome == RUNNING:
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
    if is_unlikely(report, _zone_of(garden, zone_id), run, now):
        told[UNLIKELY] = True
    if run is None or date is None:
        date = belongs_to
    delivery = StoredDelivery(zone_id, delivery_id, date, told)
    change.put_delivery(delivery)
    return Kept(delivery, run, is_new=kept is None, is_known=False)


def _is_known(zone_id: str, garden: StoredGarden, final: dict[str, Any] | None, change: Change) -> bool:
    """Whether a zone is there, or was: what a zone got before it was taken out is not lost."""
    if zone_id in garden.document["zones"]:
        return True
    was_planned = final is not None and any(zone["zone"] == zone_id for zone in final["zones"])
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


def _may_begin(
    delivery_id: str, final: dict[str, Any] | None, run: dict[str, Any] | None, now: dt.datetime
) -> None:
    if final is None or run is None:
        raise RunNotOpen(delivery_id, "no final plan has this run")
    if run["state"] == WITHDRAWN:
        raise RunNotOpen(delivery_id, f"it was withdrawn. {run['reason']['text']}")
    if now >= dt.datetime.fromisoformat(final["valid_until"]):
        raise RunNotOpen(delivery_id, f"its watering hours ended at {final['valid_until']}")
    if now < dt.datetime.fromisoformat(run["start"]) - CLOCK_TOLERANCE:
        # Sooner, water might flow before the hours open, or beside what another valve needs.
        raise RunNotOpen(delivery_id, f"its start is {run['start']}")
    if now >= ends_at(run):
        # By now it counts as unreported, and would not end within what was planned for it.
        raise RunNotOpen(delivery_id, f"it had to be over by {ends_at(run).isoformat()}")


def _body(report: DeliveryReport) -> dict[str, Any]:
    body: dict[str, Any] = {
        "started_at": report.started_at.isoformat(timespec="seconds"),
        "outcome": report.outcome,
        "volume_l": report.volume_l,
    }
    if report.ended_at is not None:
        body["ended_at"] = report.ended_at.isoformat(timespec="seconds")
    return body


def _as_told(body: dict[str, Any]) -> dict[str, Any]:
    """A kept report without what was added to it."""
    return {name: value for name, value in body.items() if name != UNLIKELY}


def dump_delivery(delivery: StoredDelivery, run: dict[str, Any] | None) -> dict[str, Any]:
    """A report as it is kept, with what the ledger takes it for, and of an announced run its limits."""
    body = {
        "zone": delivery.zone,
        "id": delivery.id,
        "date": delivery.date.isoformat(),
        **delivery.body,
        "counted_l": counted_l(delivery.body, run),
    }
    if run is not None and delivery.body["outcome"] == RUNNING:
        body["run"] = {name: run[name] for name in LIMITS}
    return body


TELLS_ITS_FLOW = frozenset({"done", "stopped"})
"""Outcomes after which litres and time are both known; of a lost contact the end is not."""


def metered_runs(reports: Sequence[StoredDelivery]) -> tuple[Metered, ...]:
    """The runs of plans of which litres, begin and end were reported, in the order in which they flowed.

    Hand watering counts for nothing: who opens a valve by hand may open it half-way.
    """
    runs = sorted(_with_begin(reports), key=lambda run: run[0])
    return tuple(run for _, run in runs)


def _with_begin(reports: Sequence[StoredDelivery]) -> Iterator[tuple[dt.datetime, Metered]]:
    for report in reports:
        body = report.body
        if body["outcome"] not in TELLS_ITS_FLOW or body["volume_l"] is None or "ended_at" not in body:
            continue
        if run_date(report.zone, report.id) is None:
            continue
        begun = dt.datetime.fromisoformat(body["started_at"])
        open_s = int((dt.datetime.fromisoformat(body["ended_at"]) - begun).total_seconds())
        yield begun, Metered(report.zone, report.date, float(body["volume_l"]), open_s)
