"""One evening: what is decided for every zone of a garden on a date, and how they share the tap.

A plan, the outlook beyond it, the first guess of a past that nobody knows and the replay of a season
all decide here; they differ in what an evening knows.
"""

from collections.abc import Iterator, Sequence

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.weather import HourAhead
from scheduling.decision.decision import Verdict, decide_together, second_run_mm
from scheduling.garden.description import WaterSupply
from scheduling.plan.zone_at_work import ZoneAtWork, ZoneMorning
from scheduling.reasons import TOO_WINDY, Note
from scheduling.reasons.notes import WindUnknown, WindyButNeeded
from scheduling.tap.allocation import PacedAllowance, share_water
from scheduling.tap.permission import in_the_calmest_hours, out_of_the_wind
from scheduling.tap.runs import openings_of


def decide_evening(
    index: int,
    zones: Sequence[ZoneMorning],
    days: GardenDays,
    twice: bool = False,
    by_hour: Sequence[HourAhead] = (),
    supply: WaterSupply | None = None,
    allowance: PacedAllowance | None = None,
) -> list[ZoneAtWork]:
    """Decide on all zones and a date, in their order.

    Parameters
    ----------
    index : int
        The date, in the columns.
    twice : bool
        Whether the date has a second span of watering hours.
    by_hour : sequence of HourAhead
        The wind by the hour, where it is known.
    supply : WaterSupply
        The tap that they share; None: it is not looked at, as if each had one of its own.
    allowance : PacedAllowance
        What the date may take of it; None: no limit.
    """
    at_work = [_settled(index, zone, days, twice, by_hour) for zone in zones]
    if supply is None:
        return at_work
    wishes = [work.wish(index) for work in at_work if work.given_mm > 0.0]
    if allowance is None:
        shares = share_water(wishes, supply)
    else:
        period_l = allowance.left_l if allowance.is_paced else None
        shares = share_water(wishes, supply, allowance.date_l, period_l)
    return [
        work._replace(share=shares.get(work.prepared.numbers.zone.id)) if work.given_mm > 0.0 else work
        for work in at_work
    ]


def _settled(
    index: int, zone: ZoneMorning, days: GardenDays, twice: bool, by_hour: Sequence[HourAhead]
) -> ZoneAtWork:
    """Decide on one zone, and let the wind have its say."""
    stands, permission, delivered_mm, turns_without = zone
    lacking_mm = [stand.lacking_mm(delivered_mm) for stand in stands]
    verdict = decide_together(index, lacking_mm, [stand.prepared for stand in stands], days)
    second_mm = 0.0
    if twice:
        leader = stands[verdict.stand]
        left_mm = leader.depletion_mm - delivered_mm - verdict.net_mm
        second_mm = second_run_mm(index, left_mm, leader.prepared)
    work = ZoneAtWork(stands, delivered_mm, turns_without, permission, verdict, second_mm)
    return _out_of_the_wind(work, by_hour) if permission.windows and work.given_mm > 0.0 else work


def _out_of_the_wind(work: ZoneAtWork, by_hour: Sequence[HourAhead]) -> ZoneAtWork:
    numbers, verdict = work.prepared.numbers, work.chosen
    permission = out_of_the_wind(work.permission, numbers, work.prepared.rules, by_hour)
    if permission is work.permission:
        return work
    if permission.least_wind_m_s is None:
        return work._replace(permission=permission)
    if not verdict.is_pressing:
        waits = Verdict(TOO_WINDY, 0.0, verdict.room_mm, verdict.cannot_last, stand=verdict.stand)
        return work._replace(permission=permission, chosen=waits, second_mm=0.0)
    calmest, wind_m_s = in_the_calmest_hours(
        permission, numbers, openings_of(numbers, work.given_mm), by_hour
    )
    return work._replace(permission=calmest, windy_windows=permission.windows, calmest_m_s=wind_m_s)


def wind_notes(work: ZoneAtWork) -> Iterator[Note]:
    """What a zone's owner is told of its wind limit, where it was not kept."""
    limit_m_s = work.prepared.rules.wind_limit_m_s or 0.0
    if work.permission.wind_is_unknown:
        yield WindUnknown(limit_m_s)
    if work.calmest_m_s is not None:
        yield WindyButNeeded(limit_m_s, work.calmest_m_s)
