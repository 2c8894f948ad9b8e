"""What the dates after a plan's would bring if nothing new were learned.

For a controller that loses touch: better than nothing, and never better than a new plan.
"""

from collections.abc import Sequence
from dataclasses import replace

from scheduling.balance.garden_series import GardenDays
from scheduling.landscape.application import gross_depth_mm, volume_of_depth_l
from scheduling.plan.evening import decide_evening
from scheduling.plan.plan import DayAhead, OutlookDate, ZonePlan
from scheduling.plan.zone_at_work import Stand, ZoneAtWork, ZoneMorning
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
) -> tuple[tuple[ZonePlan, ...], tuple[OutlookDate, ...]]:
    """The dates after a plan, with the plan carried out and each next one too.

    `twice` says whether each date has a second span of watering hours; their length is not looked at.

    Returns
    -------
    The zones with their accounts of the plan's date and the dates after it, and litres by zone on those.
    """
    given_mm = [work.delivered_mm + plan.net_mm for work, plan in zip(at_work, zones, strict=True)]
    ahead: list[list[DayAhead]] = [[] for _ in zones]
    outlook: list[OutlookDate] = []
    for day in range(index, index + dates + 1):
        mornings = [
            ZoneMorning([stand.after(day, net_mm) for stand in work.stands])
            for work, net_mm in zip(at_work, given_mm, strict=True)
        ]
        for plan, rows, morning, net_mm in zip(zones, ahead, mornings, given_mm, strict=True):
            rows.append(_day_ahead(morning.stands[plan.leader], day, net_mm, days))
        if len(outlook) == dates:
            break
        at_work = decide_evening(day + 1, mornings, days, twice)
        given_mm = [work.given_mm for work in at_work]
        litres = {
            plan.zone: _litres(work.prepared.numbers, work.given_mm)
            for work, plan in zip(at_work, zones, strict=True)
        }
        outlook.append(OutlookDate(days.dates[day + 1], total_l(litres.values()), litres))
    seen = tuple(replace(plan, ahead=tuple(rows)) for plan, rows in zip(zones, ahead, strict=True))
    return seen, tuple(outlook)


def _day_ahead(next_morning: Stand, day: int, net_mm: float, days: GardenDays) -> DayAhead:
    columns = next_morning.prepared.days
    return DayAhead(
        date=days.dates[day],
        rain_mm=columns.counted_rain_mm[day],
        irrigation_mm=net_mm,
        closing_depletion_mm=next_morning.depletion_mm,
        readily_available_mm=columns.raw_mm[day],
        total_available_mm=columns.taw_mm[day],
    )


def _litres(numbers: ZoneNumbers, net_mm: float) -> float:
    gross_mm = gross_depth_mm(net_mm, numbers.efficiency)
    return round_down_l(volume_of_depth_l(gross_mm, numbers.zone.area_m2))
