"""One zone's part of a plan: litres, runs, and the reasons in words."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduling import decision
from scheduling.balance import LedgerRow
from scheduling.decision import Verdict
from scheduling.landscape.application import gross_depth_mm, net_depth_of_volume_mm
from scheduling.need import first_day_past_raw
from scheduling.plan import Decision, MainValve, Note, Reason, Run, SoilWater, ZonePlan
from scheduling.prepared import PreparedZone
from scheduling.runs import LIMIT_FACTOR, Placed, round_up_l
from scheduling.season import GardenDays
from scheduling.supply import Share
from scheduling.wording import LESS_THAN_A_VALVE_TAKES, Situation, day_name, sentence


@dataclass(slots=True)
class ZoneAtWork:
    """One zone while a plan is being made."""

    prepared: PreparedZone
    depletion_mm: float
    """On the morning of the plan's date, before any water that belongs to it."""
    delivered_mm: float
    """Net depth already delivered for that date."""
    assumed: bool
    notes: list[Note]
    rows: tuple[LedgerRow, ...] | None
    verdict: Verdict | None = None
    second_mm: float = 0.0

    @property
    def lacking_mm(self) -> float:
        """Depletion less what has already been delivered for the date."""
        return max(0.0, self.depletion_mm - self.delivered_mm)

    @property
    def chosen(self) -> Verdict:
        """The verdict, once there is one."""
        assert self.verdict is not None
        return self.verdict


def zone_plan(
    work: ZoneAtWork,
    index: int,
    days: GardenDays,
    shares: Sequence[dict[str, Share]],
    lowest_c: float | None,
    tz: dt.tzinfo,
) -> ZonePlan:
    """Write one zone's part of the plan.

    `shares` says what each span of the watering hours gives to whom; starts are told in `tz`.
    """
    numbers, verdict = work.prepared.numbers, work.chosen
    zone = numbers.zone
    got = [span[zone.id] for span in shares if zone.id in span]
    runs = _runs(zone.id, days.dates[index], [placed for share in got for placed in share.placed], tz)
    volume_l = total_l(run.volume_l for run in runs)
    at = Situation(work.prepared, days, index, work.lacking_mm, lowest_c)
    codes = [verdict.reason]
    if runs and verdict.net_mm == 0.0:
        codes = [decision.SOIL_DRYING_OUT]
    if any(share.cut for share in got):
        codes = [*codes, decision.HOURS_FULL] if runs else [decision.HOURS_FULL]
    reasons = tuple(Reason(code, sentence(code, at)) for code in codes)
    if not runs and not got and verdict.net_mm > 0.0:
        reasons = (Reason(decision.SOIL_MOIST, LESS_THAN_A_VALVE_TAKES),)
    net_mm = net_depth_of_volume_mm(volume_l, zone.area_m2, numbers.efficiency)
    choice: Decision = "water" if runs else "wait"
    return ZonePlan(
        zone=zone.id,
        name=zone.name or zone.id,
        decision=choice,
        volume_l=volume_l,
        run_time_s=sum(run.run_time_s for run in runs),
        delivered_l=0.0,
        close_by=numbers.close_by,
        runs=runs,
        reasons=reasons,
        soil_water=SoilWater(
            work.depletion_mm, work.prepared.days.raw_mm[index], work.prepared.days.taw_mm[index]
        ),
        net_mm=net_mm,
        gross_mm=gross_depth_mm(net_mm, numbers.efficiency),
        room_mm=verdict.room_mm,
        notes=(*work.notes, *_notes_on_the_date(work, index, days, net_mm)),
        ledger=work.rows,
    )


def _runs(zone_id: str, date: dt.date, placed: Sequence[Placed], tz: dt.tzinfo) -> tuple[Run, ...]:
    return tuple(
        Run(
            id=f"{date}-{zone_id}-{number}",
            start=dt.datetime.fromtimestamp(run.start_s, tz),
            volume_l=run.opening.volume_l,
            run_time_s=run.opening.run_time_s,
            max_open_s=run.opening.max_open_s,
        )
        for number, run in enumerate(placed, start=1)
    )


def _notes_on_the_date(work: ZoneAtWork, index: int, days: GardenDays, net_mm: float) -> list[Note]:
    notes = []
    numbers = work.prepared.numbers
    if work.delivered_mm > 0.0:
        given_l = gross_depth_mm(work.delivered_mm, numbers.efficiency) * numbers.zone.area_m2
        notes.append(Note("already-delivered", f"{given_l:.3g} l given for this date are taken off."))
    if work.chosen.cannot_last:
        next_chance = work.prepared.chances.next_chance[index]
        past = first_day_past_raw(index, next_chance, work.lacking_mm, net_mm, work.prepared.days)
        if past is not None:
            day = day_name(days.dates[past], days.dates[index])
            notes.append(
                Note(
                    "cannot-last",
                    f"Even filled up, the zone runs short of water on {day}, before its next chance.",
                )
            )
    return notes


def main_valve_of(zones: Sequence[ZonePlan]) -> MainValve | None:
    """Limits for a valve ahead of all zones; None where nothing runs."""
    runs = [run for plan in zones for run in plan.runs]
    if not runs:
        return None
    # Not the runs' own order: in one time zone, instants compare by their clock times, which an
    # autumn night has twice.
    opens_at = min((run.start for run in runs), key=dt.datetime.timestamp)
    closes_at = max(run.start.timestamp() + run.run_time_s for run in runs)
    limit = max(run.start.timestamp() + run.max_open_s for run in runs)
    return MainValve(
        opens_at=opens_at,
        closes_at=dt.datetime.fromtimestamp(closes_at, opens_at.tzinfo),
        max_open_s=int(limit - opens_at.timestamp()),
        max_volume_l=round_up_l(LIMIT_FACTOR * sum(run.volume_l for run in runs)),
    )


def total_l(volumes_l: Iterable[float]) -> float:
    """A sum of litres as a person would write it, without the last bits of binary fractions."""
    return round(sum(volumes_l), 2)
