"""One zone of a plan in JSON without nesting, for a controller that reads one value at a time."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

from api.errors import ZoneNotFound
from api.schemas.base import Schema
from api.schemas.fields import Day, Id, Instant, Number, ReportId, Text, Truth, Whole, Word
from api.schemas.plan import PHASES
from api.schemas.valves import STATES, KeptValve
from scheduling.plan.final_plan import RUNNING, TO_DO, Report

MOST_LETTERS: Final = 240
"""Of `text`: what home automation keeps of a value is commonly at most 255 letters."""


class FlatZoneSchema(Schema):
    """One zone of a plan without nesting, for a controller that reads one value at a time.

    Where nothing is to come, litres and seconds are 0, and open nothing: on many valves 0 seconds means no
    limit. Moments that do not exist are null.
    """

    garden = Id(required=True, about="Id of the garden.")
    zone = Id(required=True, about="Id of the zone.")
    name = Text(required=True, about="The zone's name; its id where it has none.")
    date = Day(required=True, about="The date of the plan.")
    phase = Word(PHASES, required=True, about="No water flows by a draft, nor by a plan that is over.")
    decision = Word(("water", "wait"), required=True, about="Whether the zone gets water for the date.")
    reason_code = Id(required=True, about="Why; stable.")
    text = Text(MOST_LETTERS, required=True, about="Why, for people; it may improve.")
    volume_l = Number(0, required=True, about="What the plan gives it.")
    delivered_l = Number(0, required=True, about="What has already flowed for the date.")
    remaining_l = Number(0, required=True, about="What the runs to come still give.")
    run_time_s = Whole(0, 10_000_000, required=True, about="How long all runs take together.")
    runs_left = Whole(0, 10_000, required=True, about="How many runs are to come.")
    next_run = ReportId(required=True, allow_none=True, about="Id of the next run.")
    next_start = Instant(required=True, allow_none=True, about="When it begins.")
    next_volume_l = Number(0, required=True, about="A metered valve closes here; 0: there is no next run.")
    next_run_time_s = Whole(0, 10_000_000, required=True, about="A valve without a meter closes here.")
    next_max_open_s = Whole(0, 10_000_000, required=True, about="Any valve closes here at the latest.")
    close_by = Word(("volume", "time"), required=True, about="What closes the valve.")
    running = Truth(required=True, about="Whether a run is under way, by what was reported.")
    running_run = ReportId(required=True, allow_none=True, about="Id of the run that is under way.")
    running_since = Instant(required=True, allow_none=True, about="When it began.")
    shut_by = Instant(required=True, allow_none=True, about="When its valve has to be shut at the latest.")
    store_share = Number(
        0,
        1,
        required=True,
        about="What the roots have of all they can draw, on the morning of the date: 0 at the wilting point, "
        "1 at field capacity.",
    )
    dry_on = Day(
        required=True,
        allow_none=True,
        about="The date on which the easily available water would be used up without any watering, by the "
        "rain that is counted; null: not within two weeks.",
    )
    battery_share = Number(0, 1, required=True, allow_none=True, about="Of its valve, as last told.")
    valve_state = Word(STATES, required=True, allow_none=True, about="Of its valve, as last told.")
    valid_until = Instant(required=True, about="Nobody should act on the plan after this moment.")
    weather_retrieved_at = Instant(required=True, allow_none=True, about="When the forecast was fetched.")
    weather_stale = Truth(required=True, about="Whether the forecast is old.")


def flat_zone(
    plan_body: dict[str, Any],
    zone_id: str,
    now: dt.datetime,
    reports: Sequence[Report] = (),
    valve: KeptValve | None = None,
) -> dict[str, Any]:
    """One zone of a written plan, flat: no nesting, no list, every key always there.

    Parameters
    ----------
    plan_body
        As `dump_plan` wrote it, with the states of its runs.
    now
        A run whose limit has passed is no longer the next one.
    reports
        Those that count for the plan's date: since when a run is under way.
    valve
        The last report of the zone's valve.

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
    water = zone["soil_water"]
    return {
        "garden": plan_body["garden"],
        "zone": zone_id,
        "name": zone["name"],
        "date": plan_body["date"],
        "phase": plan_body["phase"],
        "decision": zone["decision"],
        "reason_code": zone["reasons"][0]["code"],
        "text": shortened(zone["reasons"][0]["text"]),
        "volume_l": zone["volume_l"],
        "delivered_l": zone["delivered_l"],
        "remaining_l": zone["remaining_l"],
        "run_time_s": zone["run_time_s"],
        "runs_left": len(left),
        "next_run": following.get("id"),
        "next_start": following.get("start"),
        "next_volume_l": following.get("volume_l", 0),
        "next_run_time_s": following.get("run_time_s", 0),
        "next_max_open_s": following.get("max_open_s", 0),
        "close_by": zone["close_by"],
        **_running(zone, reports),
        "store_share": round(1.0 - water["depletion_mm"] / water["total_available_mm"], 3) + 0.0,
        # Plans that were stored by an earlier release have none.
        "dry_on": zone.get("dry_on"),
        "battery_share": None if valve is None else valve.battery_share,
        "valve_state": None if valve is None else valve.state,
        "valid_until": plan_body["valid_until"],
        "weather_retrieved_at": plan_body["weather"]["retrieved_at"],
        "weather_stale": plan_body["weather"]["stale"],
    }


def shortened(text: str) -> str:
    """A text with at most as many letters as fit, cut between words."""
    if len(text) <= MOST_LETTERS:
        return text
    return f"{text[: MOST_LETTERS - 2].rsplit(' ', 1)[0]} …"


def _running(zone: dict[str, Any], reports: Sequence[Report]) -> dict[str, Any]:
    """The run that is under way, if there is any."""
    begun = {report.id: report for report in reports if report.zone == zone["zone"]}
    run = next((run for run in zone["runs"] if run["state"] == RUNNING and run["id"] in begun), None)
    if run is None:
        return {"running": False, "running_run": None, "running_since": None, "shut_by": None}
    report = begun[run["id"]]
    timezone = dt.datetime.fromisoformat(run["start"]).tzinfo
    since = report.started_at.astimezone(timezone)
    limit = since + dt.timedelta(seconds=run["max_open_s"])
    shut_by = limit if report.shut_by is None else report.shut_by.astimezone(timezone)
    return {
        "running": True,
        "running_run": run["id"],
        "running_since": since.isoformat(timespec="seconds"),
        "shut_by": shut_by.isoformat(timespec="seconds"),
    }


def _is_open(run: dict[str, Any], now: dt.datetime) -> bool:
    closed_at = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["max_open_s"])
    return bool(run["state"] == TO_DO) and now < closed_at
