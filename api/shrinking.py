"""How a final plan shrinks: runs that have not begun are withdrawn or cut by what is known since.

Nothing is ever added or enlarged, and what was withdrawn does not come back. A run that is announced
or reported is never touched: its water flows, or has flowed.
"""

import copy
import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from api.deliveries import counted_l, ends_at
from api.schemas.plan import TO_DO, WITHDRAWN
from api.store.rows import StoredDelivery
from api.watering_hours import Hours
from scheduling import catalogue
from scheduling.decision import (
    ALLOWANCE_SPENT,
    HOURS_FULL,
    RAIN_EXPECTED,
    RAIN_NOT_ENOUGH,
    SOIL_MOIST,
    TOO_WINDY,
)
from scheduling.garden import Garden
from scheduling.plan import ZonePlan
from scheduling.rules import FROST_RISK, NOT_A_WATERING_DAY, PAUSED, rule_against, zone_rules
from scheduling.runs import LIMIT_ALLOWANCE_S, LIMIT_FACTOR, round_down_l, round_up_l
from scheduling.supply import RANK, AllowanceLeft
from scheduling.weather import HourAhead
from scheduling.windows import HOUR_S, Window, permitted

ZONE_REMOVED: Final = "zone-removed"
FORBIDDEN_HOURS: Final = "forbidden-hours"
OUTSIDE_HOURS: Final = "outside-hours"
ALREADY_DELIVERED: Final = "already-delivered"
LESS_NEEDED: Final = "less-needed"

WORTH_A_CUT: Final = 0.05
"""A newer forecast asks for a little more or less each hour: below this share nothing is cut; our choice."""
SMALLEST_PART: Final = 0.1
"""Less of a run than this is withdrawn rather than cut; our choice."""
SLACK_S: Final = 60
"""Starts are whole minutes, and hours may be left in the middle of one."""
DUST_L: Final = 0.005

Plan = dict[str, Any]


class Why(NamedTuple):
    """Why a run is cut or withdrawn."""

    code: str
    text: str

    def dumped(self) -> dict[str, str]:
        """As a reason in JSON."""
        return {"code": self.code, "text": self.text}


@dataclass(frozen=True, slots=True)
class Known:
    """What is known at a moment of a date that has its final plan."""

    garden: Garden
    hours: Hours
    reports: Sequence[StoredDelivery]
    """Those of the date."""
    now: dt.datetime
    wanted: Mapping[str, ZonePlan] | None = None
    """By zone: what it would get by now, had nothing of this plan flowed and nobody else a wish; None
    where there is no weather to tell."""
    allowance: AllowanceLeft | None = None
    """What the tightest allowance leaves for runs that have not begun."""
    by_hour: Sequence[HourAhead] = ()


def shrunk(final: Plan, known: Known) -> Plan | None:
    """A final plan with what is known since taken off; None where that changes nothing."""
    reports = {(report.zone, report.id): report for report in known.reports}
    plan = copy.deepcopy(final)
    zones = [_ZoneOfPlan(zone, reports, known) for zone in plan["zones"]]
    for zone in zones:
        _by_rules(zone, known)
        _by_water(zone)
    _by_allowance(zones, known)
    changed = [zone for zone in zones if zone.reasons]
    if not changed:
        return None
    for zone in changed:
        zone.sum_up()
    _sum_up(plan, known.hours.opens.tzinfo)
    return plan


def open_runs(zone: Plan, reports: Mapping[tuple[str, str], StoredDelivery], now: dt.datetime) -> list[Plan]:
    """The runs of a zone that have not begun and still may, in their order."""
    return [
        run
        for run in zone["runs"]
        if run["state"] == TO_DO and (zone["zone"], run["id"]) not in reports and now < ends_at(run)
    ]


def has_open_runs(final: Plan, known_reports: Sequence[StoredDelivery], now: dt.datetime) -> bool:
    """Whether anything is left of a final plan that might shrink."""
    reports = {(report.zone, report.id): report for report in known_reports}
    return any(open_runs(zone, reports, now) for zone in final["zones"])


class _ZoneOfPlan:
    """One zone of the plan while it shrinks."""

    def __init__(
        self, body: Plan, reports: Mapping[tuple[str, str], StoredDelivery], known: Known
    ) -> None:
        self.body = body
        self.id: str = body["zone"]
        self.zone = next((zone for zone in known.garden.zones if zone.id == self.id), None)
        self.wanted = None if known.wanted is None else known.wanted.get(self.id)
        self.open = open_runs(body, reports, known.now)
        self.reasons: list[Why] = []
        self.planned_l = sum(run.get("planned_l", run["volume_l"]) for run in body["runs"])
        """What it was to get when the plan became final."""
        self.given_l = 0.0
        """What its runs have given, by their reports, or count for without."""
        own = {run["id"] for run in body["runs"]}
        self.beside_l = sum(
            counted_l(report.body, None)
            for (zone_id, report_id), report in reports.items()
            if zone_id == self.id and report_id not in own
        )
        """What has flowed for the date beside them."""
        for run in body["runs"]:
            report = reports.get((self.id, run["id"]))
            if report is not None:
                self.given_l += counted_l(report.body, run)
            elif run["state"] == TO_DO and known.now >= ends_at(run):
                self.given_l += run["volume_l"] if known.garden.unreported_watering == "as-planned" else 0.0

    @property
    def left_l(self) -> float:
        """What its runs that have not begun would give."""
        return float(sum(run["volume_l"] for run in self.open))

    def withdraw(self, run: Plan, why: Why) -> None:
        """Take a run back."""
        run["state"] = WITHDRAWN
        run["reason"] = why.dumped()
        self.open.remove(run)
        self._remember(why)

    def withdraw_all(self, why: Why) -> None:
        """Take back whatever has not begun."""
        for run in list(self.open):
            self.withdraw(run, why)

    def cut_to(self, left_l: float, why: Why) -> None:
        """Leave so much to the runs that have not begun; the last ones go first."""
        over_l = self.left_l - max(0.0, left_l)
        for run in reversed(list(self.open)):
            if over_l <= DUST_L:
                return
            over_l -= run["volume_l"] - self._cut(run, run["volume_l"] - over_l, why)

    def _cut(self, run: Plan, volume_l: float, why: Why) -> float:
        """Leave so much of one run; what is left of it."""
        planned_l = run.get("planned_l", run["volume_l"])
        part_l = round_down_l(max(0.0, volume_l))
        run_time_s = int(run["run_time_s"] * part_l / run["volume_l"])
        if part_l < SMALLEST_PART * planned_l or run_time_s == 0:
            self.withdraw(run, why)
            return 0.0
        limit_s = math.ceil(LIMIT_FACTOR * run_time_s + LIMIT_ALLOWANCE_S)
        run |= {
            "volume_l": _litres(part_l),
            "run_time_s": run_time_s,
            "max_open_s": min(run["max_open_s"], limit_s),
            "planned_l": planned_l,
            "reason": why.dumped(),
        }
        self._remember(why)
        return part_l

    def _remember(self, why: Why) -> None:
        if why not in self.reasons:
            self.reasons.append(why)

    def sum_up(self) -> None:
        """Bring the zone's sums and reasons into line with its runs."""
        stand = [run for run in self.body["runs"] if run["state"] != WITHDRAWN]
        volume_l = sum(run["volume_l"] for run in stand)
        part = volume_l / self.body["volume_l"] if self.body["volume_l"] else 0.0
        codes = {why.code for why in self.reasons}
        told = [why.dumped() for why in self.reasons]
        before = [reason for reason in self.body["reasons"] if reason["code"] not in codes]
        self.body |= {
            "decision": "water" if stand else "wait",
            "volume_l": _litres(volume_l),
            "run_time_s": sum(run["run_time_s"] for run in stand),
            "net_mm": round(self.body["net_mm"] * part, 1),
            "gross_mm": round(self.body["gross_mm"] * part, 1),
            # Where nothing is left to come, what took it back is the first to be told.
            "reasons": [*before, *told] if self.open else [*told, *before],
        }


def _by_rules(zone: _ZoneOfPlan, known: Known) -> None:
    """Withdraw what rules speak against: of the document, of cold and wind, or that of need."""
    if not zone.open:
        return
    if zone.zone is None:
        zone.withdraw_all(Why(ZONE_REMOVED, "The zone was taken out of the garden."))
        return
    wanted = zone.wanted
    against = _against(zone, known)
    if against is not None:
        zone.withdraw_all(against)
        return
    hours, bans = known.hours, known.hours.bans.of(zone.id)
    spans = [*hours.spans, *([] if hours.warm is None else [hours.warm])]
    within_hours = [window for span in spans for window in permitted(span, ())]
    within_bans = [window for span in spans for window in permitted(span, bans)]
    windows = None if wanted is None else [window for of_span in wanted.windows for window in of_span]
    for run in list(zone.open):
        if not _lies_in(run, within_hours):
            text = "The watering hours were changed, and it lies outside of them."
            zone.withdraw(run, Why(OUTSIDE_HOURS, text))
        elif not _lies_in(run, within_bans):
            zone.withdraw(run, Why(FORBIDDEN_HOURS, "No water may flow then: forbidden_hours were set."))
        elif windows is not None and not _lies_in(run, windows):
            by_the_hour = _by_the_hour(zone, run, known)
            if by_the_hour is not None:
                zone.withdraw(run, by_the_hour)


def _against(zone: _ZoneOfPlan, known: Known) -> Why | None:
    """What speaks against the zone's being watered on the date at all."""
    wanted = zone.wanted
    if wanted is not None:
        first = wanted.reasons[0]
        if wanted.decision == "water" or first.code == HOURS_FULL:
            # The hours have to do for the runs as they are; where they were changed, runs lie outside.
            return None
        if zone.beside_l and first.code in (SOIL_MOIST, RAIN_EXPECTED):
            return Why(ALREADY_DELIVERED, f"{_beside(zone)} {first.text}")
        return Why(first.code, first.text)
    assert zone.zone is not None
    rules = zone_rules(known.garden, zone.zone.rules, zone.id)
    code = rule_against(rules, known.hours.date, False, None)
    texts = {
        PAUSED: f"A pause covers {known.hours.date}.",
        NOT_A_WATERING_DAY: f"{known.hours.date} is not a watering day any more.",
    }
    return None if code is None else Why(code, texts[code])


def _by_the_hour(zone: _ZoneOfPlan, run: Plan, known: Known) -> Why | None:
    """Why cold or wind speak against the hours of a run, though there are others; None: plants first."""
    assert zone.zone is not None
    assert zone.wanted is not None
    begins = dt.datetime.fromisoformat(run["start"]).timestamp()
    ends = begins + run["run_time_s"]
    rules = zone_rules(known.garden, zone.zone.rules, zone.id)
    winds = [
        hour.wind_2m_m_s
        for hour in known.by_hour
        if hour.wind_2m_m_s is not None and begins < hour.start_s + HOUR_S and hour.start_s < ends
    ]
    limit_m_s, wind_m_s = rules.wind_limit_m_s, max(winds, default=0.0)
    is_overhead = catalogue.method(zone.zone.watering.method).overhead
    if is_overhead and limit_m_s is not None and wind_m_s > limit_m_s:
        if zone.wanted.is_pressing:
            return None
        text = f"Wind of {wind_m_s:.1f} m/s at 2 m is forecast for its time, above {limit_m_s:g} m/s."
        return Why(TOO_WINDY, text)
    return Why(FROST_RISK, "Its time, or the three hours after it, may be too cold by the newest forecast.")


def _lies_in(run: Plan, windows: Sequence[Window]) -> bool:
    opens = dt.datetime.fromisoformat(run["start"]).timestamp()
    closes = opens + run["run_time_s"]
    return any(first - SLACK_S <= opens and closes <= last + SLACK_S for first, last in windows)


def _by_water(zone: _ZoneOfPlan) -> None:
    """Take off what has flowed beyond the plan or beside it, and what is no longer needed."""
    over_l = zone.given_l + zone.left_l - zone.planned_l
    if zone.open and over_l > DUST_L:
        text = f"Its runs have given {over_l:.3g} l more than they were to."
        zone.cut_to(zone.left_l - over_l, Why(ALREADY_DELIVERED, text))
    wanted = zone.wanted
    if wanted is None or not zone.open or any(reason.code == HOURS_FULL for reason in wanted.reasons):
        return
    if wanted.volume_l >= (1.0 - WORTH_A_CUT) * (zone.given_l + zone.left_l):
        return
    if zone.beside_l:
        why = Why(ALREADY_DELIVERED, f"{_beside(zone)} {_enough(wanted)}")
    elif wanted.reasons[0].code == RAIN_NOT_ENOUGH:
        why = Why(RAIN_NOT_ENOUGH, wanted.reasons[0].text)
    else:
        why = Why(LESS_NEEDED, f"By what is known now, {_enough(wanted)}")
    zone.cut_to(wanted.volume_l - zone.given_l, why)


def _beside(zone: _ZoneOfPlan) -> str:
    return f"{zone.beside_l:.10g} l have flowed for this date beside the plan."


def _enough(wanted: ZonePlan) -> str:
    return f"{wanted.volume_l:.10g} l are enough."


def _by_allowance(zones: Sequence[_ZoneOfPlan], known: Known) -> None:
    """Cut what an allowance has no litres for any more, low priority first."""
    if known.allowance is None:
        return
    over_l = sum(zone.left_l for zone in zones) - known.allowance.left_l
    period = {"day": "the date", "week": "the week", "month": "the month"}[known.allowance.period]
    text = f"{known.allowance.allowed_l:.10g} l are allowed for {period}; {known.allowance.left_l:.10g} l are left."
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
    plan["volume_l"] = _litres(volume_l)
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
        "max_volume_l": _litres(round_up_l(LIMIT_FACTOR * volume_l)),
    }


def _litres(volume_l: float) -> float | int:
    tidy = round(volume_l, 3)
    return int(tidy) if tidy == int(tidy) else tidy
