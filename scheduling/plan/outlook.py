"""What the dates after a plan's would bring if nothing new were learned.

For a controller that loses touch: better than nothing, and never better than a new plan.
"""

from collections.abc import Sequence

from scheduling.balance.garden_series import GardenDays
from scheduling.landscape.application import gross_depth_mm, volume_of_depth_l
from scheduling.plan.evening import decide_evening
from scheduling.plan.plan import OutlookDate, ZonePlan
from scheduling.plan.zone_at_work import ZoneAtWork, ZoneMorning
from scheduling.plan.zone_plan import total_l
from scheduling.tap.runs import round_down_l
from scheduling.zone.numbers import ZoneNumbers


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
    given_mm = [work.delivered_mm + plan.net_mm for work, plan in zip(at_work, zones, strict=True)]
    outlook = []
    for day in range(index, index + dates):
        mornings = [
            ZoneMorning([stand.after(day, net_mm) for stand in work.stands])
            for work, net_mm in zip(at_work, given_mm, strict=True)
        ]
        at_work = decide_evening(day + 1, mornings, days, twice)
        given_mm = [work.given_mm for work in at_work]
        litres = {
            plan.zone: _litres(work.prepared.numbers, work.given_mm)
            for work, plan in zip(at_work, zones, strict=True)
        }
        outlook.append(OutlookDate(days.dates[day + 1], total_l(litres.values()), litres))
    return tuple(outlook)


def _litres(numbers: ZoneNumbers, net_mm: float) -> float:
    gross_mm = gross_depth_mm(net_mm, numbers.efficiency)
    return round_down_l(volume_of_depth_l(gross_mm, numbers.zone.area_m2))
