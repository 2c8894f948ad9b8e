"""How a final plan shrinks: runs that have not begun are withdrawn or cut by what is known since.

Nothing is ever added or enlarged, and what was withdrawn does not come back. A run that is announced
or reported is never touched: its water flows, or has flowed.
"""

import copy
import datetime as dt
from collections.abc import Sequence
from typing import Final

from api.schemas.plan import WITHDRAWN
from api.shrinking_rules import ALREADY_DELIVERED, FORBIDDEN_HOURS, OUTSIDE_HOURS, ZONE_REMOVED, by_rules
from api.shrinking_zone import DUST_L, Known, Plan, Why, ZoneOfPlan, open_runs, tidy_litres
from api.store.rows import StoredDelivery
from scheduling.decision import ALLOWANCE_SPENT, HOURS_FULL, RAIN_NOT_ENOUGH
from scheduling.plan import ZonePlan
from scheduling.runs import LIMIT_FACTOR, round_up_l
from scheduling.supply import RANK

LESS_NEEDED: Final = "less-needed"
REASONS: Final = (ALREADY_DELIVERED, FORBIDDEN_HOURS, LESS_NEEDED, OUTSIDE_HOURS, ZONE_REMOVED)
"""Those that only a final plan has, beside those that any plan may have."""

WORTH_A_CUT: Final = 0.05
"""A newer forecast asks for a little more or less each hour: below this share nothing is cut; our choice."""


def shrunk(final: Plan, known: Known) -> Plan | None:
    """A final plan with what is known since taken off; None where that changes nothing."""
    reports = {(report.zone, report.id): report for report in known.reports}
    plan = copy.deepcopy(final)
    zones = [ZoneOfPlan(zone, reports, known) for zone in plan["zones"]]
    for zone in zones:
        by_rules(zone, known)
        _by_water(zone)
    _by_allowance(zones, known)
    changed = [zone for zone in zones if zone.reasons]
    if not changed:
        return None
    for zone in changed:
        zone.sum_up()
    _sum_up(plan, known.hours.opens.tzinfo)
    return plan


def open_zones(final: Plan, known_reports: Sequence[StoredDelivery], now: dt.datetime) -> set[str]:
    """The zones of a final plan of which runs may still begin: whatever else is in it stays."""
    reports = {(report.zone, report.id): report for report in known_reports}
    return {zone["zone"] for zone in final["zones"] if open_runs(zone, reports, now)}


def _by_water(zone: ZoneOfPlan) -> None:
    """Take off what has flowed beyond the plan or beside it, and what is no longer needed."""
    over_l = zone.given_l + zone.doubtful_l + zone.left_l - zone.planned_l
    if zone.open and over_l > DUST_L:
        may = "may have given up to" if zone.doubtful_l else "have given"
        text = f"Its runs {may} {over_l:.3g} l more than they were to."
        zone.cut_to(zone.left_l - over_l, Why(ALREADY_DELIVERED, text))
    wanted = zone.wanted
    if wanted is None or not zone.open or any(reason.code == HOURS_FULL for reason in wanted.reasons):
        return
    if wanted.volume_l >= (1.0 - WORTH_A_CUT) * (zone.given_l + zone.left_l):
        return
    if zone.beside_l:
        why = Why(ALREADY_DELIVERED, f"{zone.beside_told} {_enough(wanted)}")
    elif wanted.reasons[0].code == RAIN_NOT_ENOUGH:
        why = Why(RAIN_NOT_ENOUGH, wanted.reasons[0].text)
    else:
        why = Why(LESS_NEEDED, f"By what is known now, {_enough(wanted)}")
    zone.cut_to(wanted.volume_l - zone.given_l, why)


def _enough(wanted: ZonePlan) -> str:
    return f"{wanted.volume_l:.10g} l are enough."


def _by_allowance(zones: Sequence[ZoneOfPlan], known: Known) -> None:
    """Cut what an allowance has no litres for any more, low priority first."""
    if known.allowance is None:
        return
    over_l = sum(zone.left_l + zone.unreported_l for zone in zones) - known.allowance.left_l
    period = {"day": "the date", "week": "the week", "month": "the month"}[known.allowance.period]
    left_l = max(0.0, known.allowance.left_l - sum(zone.unreported_l for zone in zones))
    text = f"{known.allowance.allowed_l:.10g} l are allowed for {period}; {left_l:.10g} l are left."
    described = [(RANK[zone.zone.priority], zone.id, zone) for zone in zones if zone.zone is not None]
    for _, _, zone in sorted(described, key=lambda entry: entry[:2], reverse=True):
        if over_l > DUST_L and zone.open:
            before_l = zone.left_l
            zone.cut_to(before_l - over_l, Why(ALLOWANCE_SPENT, text))
            over_l -= before_l - zone.left_l


def _sum_up(plan: Plan, tz: dt.tzinfo | None) -> None:
    """Bring the plan's sums and the limits of the main valve into line with its runs."""
    runs = [run for zone in plan["zones"] for run in zone["runs"] if run["state"] != WITHDRAWN]
    volume_l = sum(run["volume_l"] for run in runs)
    plan["volume_l"] = tidy_litres(volume_l)
    if not runs:
        plan["main_valve"] = None
        return
    starts = {run["id"]: dt.datetime.fromisoformat(run["start"]).timestamp() for run in runs}
    opens = min(starts.values())
    closes = max(starts[run["id"]] + run["run_time_s"] for run in runs)
    limit = max(starts[run["id"]] + run["max_open_s"] for run in runs)
    plan["main_valve"] = {
        "opens_at": dt.datetime.fromtimestamp(opens, tz).isoformat(timespec="seconds"),
        "closes_at": dt.datetime.fromtimestamp(closes, tz).isoformat(timespec="seconds"),
        "max_open_s": int(limit - opens),
        "max_volume_l": tidy_litres(round_up_l(LIMIT_FACTOR * volume_l)),
    }
