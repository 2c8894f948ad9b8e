"""One zone of a final plan while it shrinks: its runs taken back or cut, its sums and reasons kept true."""

import copy
import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from api.errors import GardenNotFound
from api.plans.plan_maker import LEAST_LIFE, Again, PlanMaker, weather_holds_until
from api.plans.running import overlay
from api.reports.deliveries import RUNNING, counted_l, ends_at, litres_known, overdue_at
from api.schemas.plan import TO_DO, WITHDRAWN, dump_told
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store
from api.watering_hours import Hours
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.fetching import ACCEPTABLE_S
from scheduling import catalogue
from scheduling.balance.weather import HourAhead
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.garden.description import Allowance, Garden
from scheduling.plan.plan import ZonePlan
from scheduling.reasons import (
    HOURS_FULL,
    NOT_A_WATERING_DAY,
    PAUSED,
    RAIN_EXPECTED,
    RAIN_NOT_ENOUGH,
    SOIL_MOIST,
    Reason,
    RunReason,
)
from scheduling.reasons.runs import (
    AllowanceLeftOver,
    AlreadyDelivered,
    DeliveredBeside,
    ForbiddenHours,
    FrostAtItsTime,
    LessNeeded,
    NoWateringDaySince,
    OutsideHours,
    PausedSince,
    WindAtItsTime,
    ZoneRemoved,
)
from scheduling.reasons.words import Words
from scheduling.tap.allocation import RANK, AllowanceLeft, allowance_left
from scheduling.tap.runs import LIMIT_ALLOWANCE_S, LIMIT_FACTOR, round_down_l, round_up_l
from scheduling.tap.windows import HOUR_S, Window, permitted
from scheduling.zone.metering import METER_ERROR_SHARE
from scheduling.zone.rules import rule_against, zone_rules

SMALLEST_PART: Final = 0.1
"""Less of a run than this is withdrawn rather than cut; our choice."""
DUST_L: Final = 0.005

Plan = dict[str, Any]


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
    begins: str | None = None
    """The zone of which a run is about to be opened."""


def open_runs(zone: Plan, reports: Mapping[tuple[str, str], StoredDelivery], now: dt.datetime) -> list[Plan]:
    """The runs of a zone that have not begun and still may, in their order."""
    return [
        run
        for run in zone["runs"]
        if run["state"] == TO_DO and (zone["zone"], run["id"]) not in reports and now < ends_at(run)
    ]


class ZoneOfPlan:
    """One zone of the plan while it shrinks."""

    def __init__(self, body: Plan, reports: Mapping[tuple[str, str], StoredDelivery], known: Known) -> None:
        self.body = body
        self.id: str = body["zone"]
        self.zone = next((zone for zone in known.garden.zones if zone.id == self.id), None)
        self.wanted = None if known.wanted is None else known.wanted.get(self.id)
        self.open = open_runs(body, reports, known.now)
        self.reasons: list[Reason] = []
        self._words = Words(known.hours.date, known.garden.units)
        self.planned_l = sum(run.get("planned_l", run["volume_l"]) for run in body["runs"])
        """What it was to get when the plan became final."""
        self.given_l = 0.0
        """What its runs have given, by their reports, or count for without."""
        self.unreported_l = 0.0
        """The part of it that nobody has reported."""
        self.doubtful_l = 0.0
        """What those may have given beyond it that were announced, and whose litres are still to be told.
        Of a run that flows as it should, that is of no account before the next one begins."""
        as_planned = known.garden.unreported_watering == "as-planned"
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
                counted = counted_l(report.body, run)
                self.given_l += counted
                if not litres_known(report.body) and self._is_in_doubt(report, run, known):
                    self.doubtful_l += METER_ERROR_SHARE * counted
            elif run["state"] == TO_DO and known.now >= ends_at(run):
                self.unreported_l += run["volume_l"] if as_planned else 0.0
        self.given_l += self.unreported_l

    def _is_in_doubt(self, report: StoredDelivery, run: Plan, known: Known) -> bool:
        """Whether what a run gave should have been told by now, or is wanted before the next one."""
        flows = report.body["outcome"] == RUNNING and known.now < overdue_at(report, run)
        return not flows or known.begins == self.id

    @property
    def left_l(self) -> float:
        """What its runs that have not begun would give."""
        return float(sum(run["volume_l"] for run in self.open))

    def withdraw(self, run: Plan, why: Reason) -> None:
        """Take a run back."""
        run["state"] = WITHDRAWN
        run["reason"] = dump_told(why, self._words)
        self.open.remove(run)
        self._remember(why)

    def withdraw_all(self, why: Reason) -> None:
        """Take back whatever has not begun."""
        for run in list(self.open):
            self.withdraw(run, why)

    def cut_to(self, left_l: float, why: Reason) -> None:
        """Leave so much to the runs that have not begun; the last ones go first."""
        over_l = self.left_l - max(0.0, left_l)
        for run in reversed(list(self.open)):
            if over_l <= DUST_L:
                return
            over_l -= run["volume_l"] - self._cut(run, run["volume_l"] - over_l, why)

    def _cut(self, run: Plan, volume_l: float, why: Reason) -> float:
        """Leave so much of one run; what is left of it."""
        planned_l: float = run["planned_l"] if "planned_l" in run else run["volume_l"]
        part_l = round_down_l(max(0.0, volume_l))
        run_time_s = int(run["run_time_s"] * part_l / run["volume_l"])
        if part_l < SMALLEST_PART * planned_l or run_time_s == 0:
            self.withdraw(run, why)
            return 0.0
        limit_s = math.ceil(LIMIT_FACTOR * run_time_s + LIMIT_ALLOWANCE_S)
        run |= {
            "volume_l": tidy_litres(part_l),
            "run_time_s": run_time_s,
            "max_open_s": min(run["max_open_s"], limit_s),
            "planned_l": tidy_litres(planned_l),
            "reason": dump_told(why, self._words),
        }
        self._remember(why)
        return part_l

    def _remember(self, why: Reason) -> None:
        if why not in self.reasons:
            self.reasons.append(why)

    def sum_up(self) -> None:
        """Bring the zone's sums and reasons into line with its runs."""
        stand = [run for run in self.body["runs"] if run["state"] != WITHDRAWN]
        volume_l = sum(run["volume_l"] for run in stand)
        part = volume_l / self.body["volume_l"] if self.body["volume_l"] else 0.0
        codes = {why.code for why in self.reasons}
        told = [dump_told(why, self._words) for why in self.reasons]
        before = [reason for reason in self.body["reasons"] if reason["code"] not in codes]
        self.body |= {
            "decision": "water" if stand else "wait",
            "volume_l": tidy_litres(volume_l),
            "run_time_s": sum(run["run_time_s"] for run in stand),
            "net_mm": round(self.body["net_mm"] * part, 1),
            "gross_mm": round(self.body["gross_mm"] * part, 1),
            # Where nothing is left to come, what took it back is the first to be told.
            "reasons": [*before, *told] if self.open else [*told, *before],
        }


def tidy_litres(volume_l: float) -> float | int:
    """Litres as JSON has them, whole ones without a point."""
    tidy = round(volume_l, 3)
    return int(tidy) if tidy == int(tidy) else tidy


SLACK_S: Final = 60
"""Starts are whole minutes, and hours may be left in the middle of one."""


def by_rules(zone: ZoneOfPlan, known: Known) -> None:
    """Withdraw what rules speak against: of the document, of cold and wind, or that of need."""
    if not zone.open:
        return
    if zone.zone is None:
        zone.withdraw_all(ZoneRemoved())
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
            zone.withdraw(run, OutsideHours())
        elif not _lies_in(run, within_bans):
            zone.withdraw(run, ForbiddenHours())
        elif windows is not None and not _lies_in(run, windows):
            by_the_hour = _by_the_hour(zone, run, known)
            if by_the_hour is not None:
                zone.withdraw(run, by_the_hour)


def _against(zone: ZoneOfPlan, known: Known) -> Reason | None:
    """What speaks against the zone's being watered on the date at all."""
    wanted = zone.wanted
    if wanted is not None:
        first = wanted.reasons[0]
        if wanted.decision == "water" or first.code == HOURS_FULL:
            # The hours have to do for the runs as they are; where they were changed, runs lie outside.
            return None
        if zone.beside_l and first.code in (SOIL_MOIST, RAIN_EXPECTED):
            return DeliveredBeside(zone.beside_l, None)
        return first
    assert zone.zone is not None
    rules = zone_rules(known.garden, zone.zone.rules, zone.id)
    code = rule_against(rules, known.hours.date, False, None)
    changed: dict[str, type[PausedSince | NoWateringDaySince]] = {
        PAUSED: PausedSince,
        NOT_A_WATERING_DAY: NoWateringDaySince,
    }
    return None if code is None else changed[code](known.hours.date)


def _by_the_hour(zone: ZoneOfPlan, run: Plan, known: Known) -> RunReason | None:
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
        return WindAtItsTime(wind_m_s, limit_m_s)
    return FrostAtItsTime()


def _lies_in(run: Plan, windows: Sequence[Window]) -> bool:
    opens = dt.datetime.fromisoformat(run["start"]).timestamp()
    closes = opens + run["run_time_s"]
    return any(first - SLACK_S <= opens and closes <= last + SLACK_S for first, last in windows)


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
        zone.cut_to(zone.left_l - over_l, AlreadyDelivered(over_l, is_certain=not zone.doubtful_l))
    wanted = zone.wanted
    if wanted is None or not zone.open or any(reason.code == HOURS_FULL for reason in wanted.reasons):
        return
    if wanted.volume_l >= (1.0 - WORTH_A_CUT) * (zone.given_l + zone.left_l):
        return
    if zone.beside_l:
        why: Reason = DeliveredBeside(zone.beside_l, wanted.volume_l)
    elif wanted.reasons[0].code == RAIN_NOT_ENOUGH:
        why = wanted.reasons[0]
    else:
        why = LessNeeded(wanted.volume_l)
    zone.cut_to(wanted.volume_l - zone.given_l, why)


def _by_allowance(zones: Sequence[ZoneOfPlan], known: Known) -> None:
    """Cut what an allowance has no litres for any more, low priority first."""
    if known.allowance is None:
        return
    over_l = sum(zone.left_l + zone.unreported_l for zone in zones) - known.allowance.left_l
    left_l = max(0.0, known.allowance.left_l - sum(zone.unreported_l for zone in zones))
    why = AllowanceLeftOver(known.allowance.allowed_l, left_l, known.allowance.period)
    described = [(RANK[zone.zone.priority], zone.id, zone) for zone in zones if zone.zone is not None]
    for _, _, zone in sorted(described, key=lambda entry: entry[:2], reverse=True):
        if over_l > DUST_L and zone.open:
            before_l = zone.left_l
            zone.cut_to(before_l - over_l, why)
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


MOST_REMEMBERED = 1000
"""Gardens whose last look a process remembers."""


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A final plan that was held against what is known since."""

    final: dict[str, Any]
    stored: StoredGarden
    """The garden as it then stands."""
    date: dt.date
    seen_at: dt.datetime
    place_version: int | None = None
    """Of the weather it was held against; None where that has no part in it."""
    until: dt.datetime | None = None
    """When the clock alone asks for another look; None: never again."""


class SecondLook:
    """Holds final plans against what is known since; for any number of threads."""

    def __init__(self, store: Store, maker: PlanMaker) -> None:
        self._store = store
        self._maker = maker
        self._last: dict[str, LookedAt] = {}

    def at(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any],
        now: dt.datetime,
        begins: str | None = None,
    ) -> LookedAt | None:
        """Hold a final plan against what is known now, and keep what is left of it.

        `begins` is the zone of which a run is about to be opened. None where a report, an edit or
        somebody else's look came meanwhile.
        """
        reports = self._store.deliveries(stored.id, hours.date, hours.date)
        ends = dt.datetime.fromisoformat(final["valid_until"])
        still_open = open_zones(final, reports, now)
        if now >= ends or not still_open:
            return LookedAt(final, stored, hours.date, now)
        if begins is None and (last := self._still_holds(stored, hours.date, now)) is not None:
            return last
        known, looked_at = self._known(stored, garden, hours, final, reports, still_open, now)
        smaller = shrunk(final, replace(known, begins=begins))
        if smaller is not None:
            with self._store.changing(stored.id) as change:
                if change.garden is None:
                    raise GardenNotFound(stored.id)
                if change.garden.version != stored.version:
                    return None
                final = change.replace_final(hours.date, smaller)
                looked_at = replace(looked_at, final=final, stored=change.garden)
        if len(self._last) >= MOST_REMEMBERED:
            self._last.clear()
        self._last[stored.id] = looked_at
        return looked_at

    def _still_holds(self, stored: StoredGarden, date: dt.date, now: dt.datetime) -> LookedAt | None:
        """The last look of this process, where nothing has changed since: zones are polled one by one."""
        last = self._last.get(stored.id)
        if last is None or last.date != date or last.stored.version != stored.version or last.until is None:
            return None
        if not last.seen_at <= now < last.until:
            return None
        if last.place_version is None or last.place_version != self._store.place_version(stored.place_key):
            return None
        return last

    def _known(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any],
        reports: Sequence[StoredDelivery],
        still_open: Collection[str],
        now: dt.datetime,
    ) -> tuple[Known, LookedAt]:
        """What is known now of a date that has its final plan."""
        known = Known(garden, hours, reports, now, allowance=self._allowance(stored, garden, hours, now))
        looked_at = LookedAt(final, stored, hours.date, now, None, now + LEAST_LIFE)
        zones = tuple(zone for zone in garden.zones if zone.id in still_open)
        if not zones:
            return known, looked_at
        enough = replace(
            garden.water_supply, flow_l_min=None, zones_at_once=len(zones), gap_s=0, allowance_l=Allowance()
        )
        again = Again(
            replace(garden, zones=zones, water_supply=enough),
            dt.datetime.fromisoformat(final["made_at"]),
            {(zone["zone"], run["id"]) for zone in final["zones"] for run in zone["runs"]},
        )
        try:
            plan, weather, changes_at = self._maker.plan(
                stored, garden, hours, now, newest_within_s=ACCEPTABLE_S, again=again
            )
        except (WeatherUnavailable, WeatherGap, WeatherIncomplete):
            # The rules that need no weather hold all the same.
            return known, looked_at
        wanted = {zone.zone: zone for zone in plan.zones}
        moments = (overlay(final, reports, now).changes_at, *changes_at)
        coming = (moment for moment in moments if moment is not None and moment > now)
        until = min([weather_holds_until(weather, now), *coming])
        return (
            replace(known, wanted=wanted, by_hour=weather.by_hour(hours)),
            replace(looked_at, place_version=weather.version, until=until),
        )

    def _allowance(
        self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime
    ) -> AllowanceLeft | None:
        allowance = garden.water_supply.allowance_l
        if allowance == Allowance():
            return None
        return allowance_left(allowance, self._maker.used_l(stored, garden, hours.date, now), hours.date)
