"""One zone's part of a plan: litres, runs, and the reasons in words."""

import datetime as dt
from collections.abc import Iterable, Sequence

from scheduling import reasons
from scheduling.balance.garden_series import GardenDays
from scheduling.decision.need import DAYS_LEFT_FOR_RAIN
from scheduling.landscape.application import gross_depth_mm, net_depth_of_volume_mm
from scheduling.plan.evening import wind_notes
from scheduling.plan.notes import notes_on_the_date
from scheduling.plan.plan import MainValve, PlantPlan, Run, SoilWater, ZonePlan
from scheduling.plan.reason_facts import Situation, reason_of, room_left
from scheduling.plan.zone_at_work import Ledgers, Stand, ZoneAtWork
from scheduling.reasons import Decision, Reason
from scheduling.reasons.watering import LessThanAValveTakes, Room
from scheduling.tap.allocation import PacedAllowance
from scheduling.tap.runs import LIMIT_FACTOR, round_up_l
from scheduling.tap.timetable import Placed


def zone_plan(
    work: ZoneAtWork,
    ledgers: Ledgers,
    index: int,
    days: GardenDays,
    lowest_c: float | None,
    allowance: PacedAllowance | None,
    tz: dt.tzinfo,
) -> ZonePlan:
    """Write one zone's part of the plan.

    `ledgers` are those behind it; starts are told in `tz`.
    """
    numbers, verdict, share = work.prepared.numbers, work.chosen, work.share
    zone = numbers.zone
    runs = _runs(zone.id, days.dates[index], () if share is None else share.placed, tz)
    volume_l = total_l(run.volume_l for run in runs)
    wind_m_s = work.permission.least_wind_m_s
    at = Situation(work.prepared, days, index, work.lacking_mm, lowest_c, wind_m_s, allowance)
    codes = [verdict.reason]
    if runs and verdict.net_mm == 0.0:
        codes = [reasons.SOIL_DRYING_OUT]
    if share is not None and share.short_of is not None:
        codes = [*codes, share.short_of] if runs else [share.short_of]
    is_whole = bool(runs) and verdict.net_mm > 0.0 and (share is None or share.short_of is None)
    room = _room(work, at, index, days) if is_whole else None
    why: tuple[Reason, ...] = tuple(reason_of(code, at, room) for code in codes)
    if share is None and verdict.net_mm > 0.0:
        why = (LessThanAValveTakes(),)
    net_mm = net_depth_of_volume_mm(volume_l, zone.area_m2, numbers.efficiency)
    is_mix = len(work.stands) > 1
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
        reasons=why,
        soil_water=_soil_water(work.leader, index),
        net_mm=net_mm,
        gross_mm=gross_depth_mm(net_mm, numbers.efficiency),
        room_mm=verdict.room_mm,
        notes=(*ledgers.notes, *wind_notes(work), *notes_on_the_date(work, index, days, share, net_mm)),
        ledger=None if is_mix else work.leader.rows,
        plants=tuple(_plant(stand, index) for stand in work.stands) if is_mix else (),
        dry_on=_dry_on(work.leader, work.lacking_mm, index, days),
        leader=verdict.stand,
        adjustment_mm=ledgers.followed.adjustment_mm.get(index - 1, 0.0),
        probes=ledgers.followed.standings,
        readings=ledgers.followed.readings,
        windows=work.windows,
        is_pressing=verdict.is_pressing,
    )


def _room(work: ZoneAtWork, at: Situation, index: int, days: GardenDays) -> Room | None:
    """What is left unfilled, and why."""
    soon = work.prepared.days.counted_rain_mm[index : index + DAYS_LEFT_FOR_RAIN]
    mean_mm = work.prepared.numbers.rain_share * days.mean_rain_mm
    return room_left(work.chosen, at, sum(soon), mean_mm)


def _dry_on(stand: Stand, lacking_mm: float, index: int, days: GardenDays) -> dt.date | None:
    """The first date on which a stand that lacks so much would use up what it draws easily."""
    stand = stand._replace(depletion_mm=lacking_mm)
    for day in range(index, len(days.dates) - 1):
        if stand.depletion_mm >= stand.prepared.days.raw_mm[day]:
            return days.dates[day]
        stand = stand.after(day, 0.0)
    return None


def _soil_water(stand: Stand, index: int) -> SoilWater:
    zone = stand.prepared.days
    return SoilWater(stand.depletion_mm, zone.raw_mm[index], zone.taw_mm[index])


def _plant(stand: Stand, index: int) -> PlantPlan:
    numbers = stand.prepared.numbers
    return PlantPlan(numbers.planting.plant, numbers.share, _soil_water(stand, index), stand.rows)


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
