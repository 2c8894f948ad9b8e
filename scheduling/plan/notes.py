"""What somebody should know who is about to leave: what lasts without water, and what could run dry."""

import datetime as dt
import math
from collections.abc import Iterator, Sequence

from scheduling import catalogue
from scheduling.balance.garden_series import GardenDays
from scheduling.balance.zone_series import ZoneDays
from scheduling.decision.absence import absence_ahead
from scheduling.decision.decision import NOTHING_MM
from scheduling.decision.endurance import LONGEST_LOOKED_AT_D, days_unwatered
from scheduling.decision.need import LEAST_KS, first_day_past_raw
from scheduling.garden.description import Absence
from scheduling.landscape.application import gross_depth_mm
from scheduling.plan.zone_at_work import Stand, ZoneAtWork
from scheduling.reasons import DORMANT, FROST_RISK, HOURS_FULL, SOIL_MOIST, Note
from scheduling.reasons.description_notes import SeasonEnds
from scheduling.reasons.notes import (
    AbsenceAhead,
    CannotLast,
    CouldRunDry,
    CycleAndSoak,
    GroundSaturated,
    HoursTooShort,
    Lasts,
    LeftDry,
    NewlyPlanted,
    NoChanceAhead,
    PlantsDiffer,
    WarmHours,
    WaterAlreadyGiven,
)
from scheduling.tap.allocation import Share
from scheduling.tap.runs import rests_of
from scheduling.zone.climate import Climate
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import DAYS_AHEAD_FOR_A_CHANCE


def absence_notes(
    absence: Sequence[Absence], at_work: Sequence[ZoneAtWork], index: int, days: GardenDays
) -> Iterator[Note]:
    """The garden's note on a date: how long each zone lasts unwatered; none unless somebody leaves soon."""
    away = absence_ahead(absence, days.dates[index])
    if away is None:
        return
    lasting = sorted(
        Lasts(lasts_d, work.prepared.numbers.zone.called)
        for work in at_work
        if (lasts_d := _lasts_d(work, index)) is not None
    )
    if lasting:
        yield AbsenceAhead(away.leaves_on, away.returns_on, tuple(lasting), LONGEST_LOOKED_AT_D)


def could_run_dry(work: ZoneAtWork, index: int, days: GardenDays) -> Iterator[Note]:
    """A zone's note on a date, where it would not outlast somebody's absence by itself."""
    away = absence_ahead(work.prepared.rules.absence, days.dates[index])
    if away is None:
        return
    lasts_d = _lasts_d(work, index)
    if lasts_d is None or lasts_d >= _length_d(away):
        return
    dry_on = away.leaves_on + dt.timedelta(days=lasts_d)
    yield CouldRunDry(away.leaves_on, away.returns_on, dry_on, work.prepared.numbers.zone.is_by_hand)


def _length_d(away: Absence) -> int:
    return (away.returns_on - away.leaves_on).days


def _lasts_d(work: ZoneAtWork, index: int) -> int | None:
    """How long a filled zone lasts in the most demanding of the days ahead; None: all of it sleeps."""
    return min(
        (
            _stand_lasts_d(stand, work.delivered_mm, index)
            for stand in work.stands
            if not stand.prepared.days.dormant[index]
        ),
        default=None,
    )


def _stand_lasts_d(stand: Stand, delivered_mm: float, index: int) -> int:
    zone = stand.prepared.days
    left_mm = (1.0 - stand.prepared.numbers.wetted_share) * stand.lacking_mm(delivered_mm)
    return days_unwatered(left_mm, max(zone.etc_mm[index:]), zone.taw_mm[index], zone.raw_mm[index])


TOLD_BEFORE_THE_END_D = 14
"""How long before the end of a season it is told. Our choice. [d]"""
MUCH_LONGER = 2.0
"""Plantings of which one stands so many times the days of another should not share a valve. Our choice."""


def notes_on_the_date(
    work: ZoneAtWork, index: int, days: GardenDays, share: Share | None, net_mm: float
) -> Iterator[Note]:
    """The notes of one zone; `net_mm` is what it gets. [mm]"""
    numbers = work.prepared.numbers
    if work.delivered_mm > 0.0:
        given_l = gross_depth_mm(work.delivered_mm, numbers.efficiency) * numbers.zone.area_m2
        yield WaterAlreadyGiven(given_l)
    yield from _newly_planted(work, days.dates[index])
    yield from _season_ends(work, days, days.dates[index])
    yield from _plants_differ(work, index)
    if work.prepared.rules.absence:
        yield from could_run_dry(work, index, days)
    yield from _saturated(work, index)
    yield from _cannot_last(work, index, days, net_mm)
    yield from _no_chance_ahead(work, index, days)
    if net_mm == 0.0:
        yield from _left_dry(work, index, days.dates[index])
    if share is not None:
        yield from _runs(work, share)


def _newly_planted(work: ZoneAtWork, date: dt.date) -> Iterator[Note]:
    rules = work.prepared.rules
    ways = (stand.prepared.numbers.growth.establishing for stand in work.stands)
    new = next((way for way in ways if way is not None and way.is_new_on(date)), None)
    if new is None:
        return
    rooted_on = new.planted_on + dt.timedelta(days=new.days)
    has_days = rules.weekdays is not None or rules.odd_even is not None
    any_day_until = None if rules.any_day is None or not has_days else rules.any_day.last
    yield NewlyPlanted(new.planted_on, rooted_on, any_day_until)


def _season_ends(work: ZoneAtWork, days: GardenDays, date: dt.date) -> Iterator[Note]:
    for stand in work.stands:
        note = season_ends(stand.prepared.numbers, date, days.climate)
        if note is not None and note.ends_on < date + dt.timedelta(days=TOLD_BEFORE_THE_END_D):
            yield note


def season_ends(numbers: ZoneNumbers, date: dt.date, climate: Climate) -> SeasonEnds | None:
    """When an annual's season ends, where its owner has not said so; None: there is no such season."""
    ends_on = numbers.growth.ends_on(date, climate)
    if ends_on is None or numbers.planting.season_ends:
        return None
    return SeasonEnds(catalogue.plant(numbers.planting.plant).called, ends_on)


def _plants_differ(work: ZoneAtWork, index: int) -> Iterator[Note]:
    """Plantings of very different need on one valve: what keeps one of them drowns another."""
    lasting = [
        (stand.prepared.days.raw_mm[index] / stand.prepared.days.etc_mm[index], stand.prepared.numbers)
        for stand in work.stands
        if not stand.prepared.days.dormant[index] and stand.prepared.days.etc_mm[index] > 0.0
    ]
    if len(lasting) < 2:
        return
    (soon_d, soonest), (late_d, latest) = min(lasting, key=_days), max(lasting, key=_days)
    if late_d >= MUCH_LONGER * soon_d:
        yield PlantsDiffer(_called(soonest), soon_d, _called(latest), late_d)


def _called(numbers: ZoneNumbers) -> str:
    return catalogue.plant(numbers.planting.plant).called


def _days(lasting: tuple[float, ZoneNumbers]) -> float:
    return lasting[0]


def _saturated(work: ZoneAtWork, index: int) -> Iterator[Note]:
    """Where ground that rain has filled is why a zone waits, or gets no more than it does."""
    fallen_mm, verdict = work.prepared.days.certain_rain_mm[index], work.chosen
    if verdict.reason == SOIL_MOIST and all(
        _is_full(stand, work.delivered_mm, index) for stand in work.stands
    ):
        yield GroundSaturated()
    most_mm = work.prepared.numbers.wetted_share * (work.lacking_mm - fallen_mm)
    if fallen_mm > 0.0 and verdict.net_mm > 0.0 and verdict.net_mm >= most_mm - NOTHING_MM:
        yield GroundSaturated(fallen_mm, verdict.net_mm)


def _is_full(stand: Stand, delivered_mm: float, index: int) -> bool:
    """Whether rain of the date or of the day before leaves a planting's ground nothing to take up."""
    zone = stand.prepared.days
    fallen_mm = zone.certain_rain_mm[index]
    is_wet = fallen_mm > 0.0 or (index > 0 and zone.counted_rain_mm[index - 1] > 0.0)
    return is_wet and stand.lacking_mm(delivered_mm) - fallen_mm <= NOTHING_MM


def _cannot_last(work: ZoneAtWork, index: int, days: GardenDays, net_mm: float) -> Iterator[Note]:
    if not work.chosen.cannot_last:
        return
    past = _first_past_raw(work, index, work.prepared.chances.next_chance[index], net_mm)
    if past is not None:
        yield CannotLast(days.dates[index], days.dates[past])


def _first_past_raw(work: ZoneAtWork, index: int, until: int, net_mm: float) -> int | None:
    """The first day before another on which anything that grows in the zone runs short."""
    each = (
        first_day_past_raw(index, until, stand.lacking_mm(work.delivered_mm), net_mm, stand.prepared.days)
        for stand in work.stands
        if not stand.prepared.days.dormant[index]
    )
    return min((day for day in each if day is not None), default=None)


def _no_chance_ahead(work: ZoneAtWork, index: int, days: GardenDays) -> Iterator[Note]:
    """Where no date from this one on, as far as can be seen, lets a zone be watered that will want it."""
    against = work.prepared.chances.against
    if against[index] is None:
        return
    beyond = index + DAYS_AHEAD_FOR_A_CHANCE + 1
    reasons = against[index:beyond]
    may = next((day for day, reason in enumerate(reasons, start=index) if reason is None), None)
    if DORMANT in reasons:
        return
    # Beyond the forecast no frost is assumed, which is a hope and no chance.
    is_hope = may is not None and may >= days.known and FROST_RISK in reasons
    if may is not None and not is_hope:
        return
    past = _first_past_raw(work, index, index + DAYS_AHEAD_FOR_A_CHANCE, 0.0)
    if past is not None:
        yield NoChanceAhead(None if is_hope else DAYS_AHEAD_FOR_A_CHANCE, days.dates[past])


def _left_dry(work: ZoneAtWork, index: int, date: dt.date) -> Iterator[Note]:
    """Where a zone waits in need, whichever rule or limit makes it wait."""
    left = [
        (ks, least)
        for stand in work.stands
        for ks, least in [(_ks(stand, work.delivered_mm, index), _least_ks(stand.prepared.days, index))]
        if ks < least
    ]
    if left:
        yield LeftDry(date, max(0.0, min(left)[0]))


def _least_ks(zone: ZoneDays, index: int) -> float:
    """Stress that a planting may be left to: 0.7, or as much as its allowed depletion brings."""
    taw_mm, raw_mm, due_mm = zone.taw_mm[index], zone.raw_mm[index], zone.due_mm[index]
    return min(LEAST_KS, (taw_mm - due_mm) / (taw_mm - raw_mm))


def _ks(stand: Stand, delivered_mm: float, index: int) -> float:
    """Share of what a planting wants that it is left with on a date; what sleeps wants nothing."""
    zone = stand.prepared.days
    if zone.dormant[index]:
        return 1.0
    depletion_mm = stand.lacking_mm(delivered_mm) - zone.counted_rain_mm[index]
    return (zone.taw_mm[index] - depletion_mm) / (zone.taw_mm[index] - zone.raw_mm[index])


def _runs(work: ZoneAtWork, share: Share) -> Iterator[Note]:
    """How runs are cut for slow soil, and a dose that no night has room for."""
    numbers = work.prepared.numbers
    if share.short_of == HOURS_FULL and not share.fits_alone:
        yield HoursTooShort(numbers.smallest_depth_mm)
    limit_c = work.prepared.rules.frost_limit_c
    if work.permission.moved_to_warm_hours and share.placed and limit_c is not None:
        yield WarmHours(limit_c)
    longest_s = numbers.longest_run_s
    total_s = sum(run.opening.run_time_s for run in share.placed)
    if len(share.placed) > 1 and longest_s < math.inf and total_s > longest_s:
        rest = rests_of(numbers, [run.opening for run in share.placed]).between_s
        yield CycleAndSoak(numbers.surface_rate_mm_h, numbers.intake_mm_h, longest_s, rest)
