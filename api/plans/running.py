"""A final plan as it stands at a moment: what its reports say of each run, and what remains."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from api.reports.deliveries import RUNNING, counted_l, ends_at, overdue_at
from api.schemas.plan import TO_DO, WITHDRAWN
from api.store.rows import StoredDelivery

UNREPORTED = "unreported"


@dataclass(frozen=True, slots=True)
class Standing:
    """A plan with the state of its runs."""

    body: dict[str, Any]
    changes_at: dt.datetime | None
    """When the clock alone changes it next; None: never again."""


def overlay(plan: dict[str, Any], reports: Sequence[StoredDelivery], now: dt.datetime) -> Standing:
    """Lay reports over a plan; the plan itself stays as it is.

    A run that is reported has its report's outcome as state; one that is not is `to-do` until its
    limit has passed and `unreported` from then on. An announced run counts as delivered in full at
    once, and is `overdue` where it is not completed by its limit. A withdrawn run stays so unless
    water of it is reported all the same. Water without a run's id counts as delivered too, and leaves
    the runs as they are.
    """
    hours_end = dt.datetime.fromisoformat(plan["valid_until"])
    is_over = now >= hours_end
    body = {
        **plan,
        "status": "over" if is_over else plan["status"],
        "zones": [{**zone, "runs": [{**run} for run in zone["runs"]]} for zone in plan["zones"]],
    }
    moments = [hours_end]
    by_id = {(report.zone, report.id): report for report in reports}
    for zone in body["zones"]:
        delivered_l = remaining_l = 0.0
        for run in zone["runs"]:
            report = by_id.pop((zone["zone"], run["id"]), None)
            limit = ends_at(run)
            if report is not None:
                run["state"] = report.body["outcome"]
                delivered_l += counted_l(report.body, run)
                if run["state"] == RUNNING:
                    late_at = overdue_at(report, run)
                    moments.append(late_at)
                    if now >= late_at:
                        run["overdue"] = True
            elif run["state"] == WITHDRAWN:
                continue
            elif now >= limit:
                run["state"] = UNREPORTED
            elif run["state"] == TO_DO:
                moments.append(limit)
                remaining_l += run["volume_l"]
        delivered_l += sum(
            counted_l(report.body, None) for (name, _), report in by_id.items() if name == zone["zone"]
        )
        zone["delivered_l"] = _litres(delivered_l)
        zone["remaining_l"] = 0 if is_over else _litres(remaining_l)
    coming = [moment for moment in moments if moment > now]
    return Standing(body, min(coming) if coming else None)


def _litres(volume_l: float) -> float | int:
    tidy = round(volume_l, 3)
    return int(tidy) if tidy == int(tidy) else tidy
