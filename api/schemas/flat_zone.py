"""One zone of a plan in JSON without nesting, for a controller that reads one value at a time."""

import datetime as dt
from typing import Any

from api.errors import ZoneNotFound
from api.schemas.base import Schema
from api.schemas.fields import Day, Id, Instant, Number, ReportId, Text, Truth, Whole, Word
from api.schemas.plan import PHASES
from scheduling.plan.final_plan import TO_DO


class FlatZoneSchema(Schema):
    """One zone of a plan without nesting, for a controller that reads one value at a time."""

    date = Day(required=True)
    phase = Word(PHASES, required=True)
    decision = Word(("water", "wait"), required=True)
    reason = Id(required=True)
    text = Text(1000, required=True)
    volume_l = Number(0, required=True)
    delivered_l = Number(0, required=True)
    remaining_l = Number(0, required=True)
    run_time_s = Whole(0, 10_000_000, required=True)
    runs_left = Whole(0, 10_000, required=True)
    next_run = ReportId(required=True, allow_none=True)
    next_start = Instant(required=True, allow_none=True)
    next_volume_l = Number(0, required=True, allow_none=True)
    next_run_time_s = Whole(0, 10_000_000, required=True, allow_none=True)
    next_max_open_s = Whole(0, 10_000_000, required=True, allow_none=True)
    close_by = Word(("volume", "time"), required=True)
    valid_until = Instant(required=True)
    weather_retrieved_at = Instant(required=True, allow_none=True)
    weather_stale = Truth(required=True)


def flat_zone(plan_body: dict[str, Any], zone_id: str, now: dt.datetime) -> dict[str, Any]:
    """One zone of a written plan, flat: no nesting, no list, every key always there.

    Parameters
    ----------
    plan_body
        As `dump_plan` wrote it, with the states of its runs.
    now
        A run whose limit has passed is no longer the next one.

    Raises
    ------
    ZoneNotFound
        Where the plan has no such zone.
    """
    zone = next((zone for zone in plan_body["zones"] if zone["zone"] == zone_id), None)
    if zone is None:
        raise ZoneNotFound(zone_id)
    left = [] if plan_body["phase"] == "over" else [run for run in zone["runs"] if _is_open(run, now)]
    following = left[0] if left else {}
    return {
        "date": plan_body["date"],
        "phase": plan_body["phase"],
        "decision": zone["decision"],
        "reason": zone["reasons"][0]["code"],
        "text": zone["reasons"][0]["text"],
        "volume_l": zone["volume_l"],
        "delivered_l": zone["delivered_l"],
        "remaining_l": zone["remaining_l"],
        "run_time_s": zone["run_time_s"],
        "runs_left": len(left),
        "next_run": following.get("id"),
        "next_start": following.get("start"),
        "next_volume_l": following.get("volume_l"),
        "next_run_time_s": following.get("run_time_s"),
        "next_max_open_s": following.get("max_open_s"),
        "close_by": zone["close_by"],
        "valid_until": plan_body["valid_until"],
        "weather_retrieved_at": plan_body["weather"]["retrieved_at"],
        "weather_stale": plan_body["weather"]["stale"],
    }


def _is_open(run: dict[str, Any], now: dt.datetime) -> bool:
    closed_at = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["max_open_s"])
    return bool(run["state"] == TO_DO) and now < closed_at
