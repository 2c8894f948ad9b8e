"""What the dates after a plan's would bring if nothing new were learned.

For a controller that loses touch: better than nothing, and never better than a new plan.
"""

from collections.abc import Sequence

from scheduling.balance import close_day
from scheduling.decision import decide, second_run_mm
from scheduling.landscape.application import gross_depth_mm, volume_of_depth_l
from scheduling.plan import OutlookDate, ZonePlan
from scheduling.runs import round_down_l
from scheduling.season import GardenDays
from scheduling.zone_at_work import ZoneAtWork
from scheduling.zone_plan import total_l


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
        numbers, zone = work.prepared.numbers, work.prepared.days
        depletion = work.depletion_mm
        net_mm = work.delivered_mm + plan.net_mm
        for ahead in range(dates):
            day = index + ahead
            depletion = close_day(
                min(depletion, zone.taw_mm[day]),
                zone.counted_rain_mm[day],
                net_mm,
                zone.etc_mm[day],
                zone.taw_mm[day],
                zone.raw_mm[day],
            )[3]
            net_mm = decide(day + 1, depletion, work.prepared, days).net_mm
            if twice:
                net_mm += second_run_mm(day + 1, depletion - net_mm, work.prepared)
            volume_l = volume_of_depth_l(gross_depth_mm(net_mm, numbers.efficiency), numbers.zone.area_m2)
            volumes[ahead][plan.zone] = round_down_l(volume_l)
    return tuple(
        OutlookDate(days.dates[index + ahead + 1], total_l(by_zone.values()), by_zone)
        for ahead, by_zone in enumerate(volumes)
    )
