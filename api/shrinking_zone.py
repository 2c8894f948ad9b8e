"""One zone of a final plan while it shrinks: its runs taken back or cut, its sums and reasons kept true."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from api.deliveries import RUNNING, counted_l, ends_at, litres_known, overdue_at
from api.schemas.plan import TO_DO, WITHDRAWN
from api.store.rows import StoredDelivery
from api.watering_hours import Hours
from scheduling.garden import Garden
from scheduling.metering import METER_ERROR_SHARE
from scheduling.plan import ZonePlan
from scheduling.runs import LIMIT_ALLOWANCE_S, LIMIT_FACTOR, round_down_l
from scheduling.supply import AllowanceLeft
from scheduling.weather import HourAhead

SMALLEST_PART: Final = 0.1
"""Less of a run than this is withdrawn rather than cut; our choice."""
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
        self.reasons: list[Why] = []
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

    @property
    def beside_told(self) -> str:
        """The same in a sentence."""
        return f"{self.beside_l:.10g} l have flowed for this date beside the plan."

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
