"""What the dates after a plan's would bring if nothing new were learned.

For a controller that loses touch: better than nothing, and never better than a new plan.
"""

from collections.abc import Sequence

from scheduling.balance.garden_series import GardenDays
from scheduling.decision.decision import decide_together, second_run_mm
from scheduling.landscape.application import gross_depth_mm, volume_of_depth_l
from scheduling.plan.plan import OutlookDate, ZonePlan
from scheduling.plan.zone_at_work import ZoneAtWork
from scheduling.plan.zone_plan import total_l
from scheduling.tap.runs import round_down_l


def outlook_after(
    at_work: Sequence[ZoneAtWork],
    zones: Sequence[ZonePlan],
    index: int,
    dates: int,
    days: GardenDays,
    twice: bool,
) -> tuple[OutlookDate, ...]:
    """Litres of each zone on the dates after a plan, with the plan carried out and each next one too.

    `twice` says whether each date has a second span of watering hours; their length is not looked at.
    """
    volumes: list[dict[str, float]] = [{} for _ in range(dates)]
    for work, plan in zip(at_work, zones, strict=True):
        numbers = work.prepared.numbers
        stands = [stand.prepared for stand in work.stands]
        depletions = [stand.depletion_mm for stand in work.stands]
        net_mm = work.delivered_mm + plan.net_mm
        for ahead in range(dates):
            day = index + ahead
            stands = [stand.with_water({day: net_mm}, day) for stand in stands]
            depletions = [
                stand.days.close(day, min(depletion, stand.days.taw_mm[day]), net_mm)[3]
                for depletion, stand in zip(depletions, stands, strict=True)
            ]
            verdict = decide_together(day + 1, depletions, stands, days)
            net_mm = verdict.net_mm
            if twice:
                left_mm = depletions[verdict.stand] - net_mm
                net_mm += second_run_mm(day + 1, left_mm, stands[verdict.stand])
            volume_l = volume_of_depth_l(gross_depth_mm(net_mm, numbers.efficiency), numbers.zone.area_m2)
            volumes[ahead][plan.zone] = round_down_l(volume_l)
    return tuple(
        OutlookDate(days.dates[index + ahead + 1], total_l(by_zone.values()), by_zone)
        for ahead, by_zone in enumerate(volumes)
    )
