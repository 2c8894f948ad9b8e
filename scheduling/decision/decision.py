"""Whether a zone is watered on a date, how much, and for which reason.

The reasons stand in order of precedence, those of `rules` first: the first that holds decides.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.decision.absence import absence_filled_for, as_nobody_sees_it
from scheduling.decision.need import Need, need_on
from scheduling.reasons import (
    BEFORE_ABSENCE,
    RAIN_EXPECTED,
    RAIN_NOT_ENOUGH,
    SOIL_DRYING_OUT,
    SOIL_MOIST,
    WATERS,
)

SECOND_RUN_SHARE_OF_TAW = 0.5
"""A zone that uses more than this share of its store in a day is watered twice, where hours allow."""
NOTHING_MM = 0.005
"""Depletion that no valve can make up and no plant notices."""


class Verdict(NamedTuple):
    """What is decided for one zone and one date."""

    reason: str
    net_mm: float
    """Depth to bring to the roots, 0 to wait."""
    room_mm: float
    """Depth left for rain; of a zone that waits, what would be left."""
    cannot_last: bool
    """Even the most that the wetted ground takes does not last to the next chance."""
    is_pressing: bool = False
    """Without water, Ks would fall below 0.7 before the next chance."""
    stand: int = 0
    """The planting that it speaks of, by its place among the zone's."""


class Weighed(NamedTuple):
    """One planting on a date that no rule speaks against."""

    reason: str
    need: Need
    refill_mm: float
    """What it would be filled by on a day without rain, for its own sake."""
    cannot_last: bool

    @property
    def wants_water(self) -> bool:
        """Whether it can not wait."""
        return self.reason in WATERS


def decide(index: int, depletion_mm: float, zone: PreparedZone, garden: GardenDays) -> Verdict:
    """Decide on a zone of one planting and one date.

    `depletion_mm` is Dr at the start of the date, less what has already been delivered for it.
    """
    against = zone.chances.against[index]
    if against is not None:
        return Verdict(against, 0.0, 0.0, False)
    reason, need, refill_mm, cannot_last = weighed = weigh(index, depletion_mm, zone, garden)
    if not weighed.wants_water:
        return Verdict(reason, 0.0, need.room_mm, cannot_last)
    wanted = max(need.least_mm, zone.numbers.smallest_depth_mm)
    if reason != RAIN_NOT_ENOUGH:
        wanted = max(refill_mm, wanted)
    net = min(need.cap_mm, wanted)
    return Verdict(reason, net, depletion_mm - net, cannot_last, need.unstressed_mm > 0.0)


def weigh(index: int, depletion_mm: float, zone: PreparedZone, garden: GardenDays) -> Weighed:
    """What speaks for watering one planting, and what for waiting."""
    if zone.rules.absence:
        zone = as_nobody_sees_it(index, zone, garden)
    rules, numbers = zone.rules, zone.numbers
    if index in zone.days.ensembles:
        # Rain comes before the day's ETc, so that is room too (see `scheduling.balance.soil_water`).
        free_mm = depletion_mm + zone.days.etc_mm[index]
        zone = replace(zone, days=zone.days.with_free_storage(index, free_mm))
    need = need_on(index, zone.chances.next_chance[index], depletion_mm, zone, garden)
    cannot_last = need.cap_mm < need.least_mm - NOTHING_MM
    fill_share = numbers.zone.watering.fill_share
    refill = depletion_mm - need.room_mm if fill_share is None else fill_share * depletion_mm
    if rules.absence and absence_filled_for(index, zone, garden) is not None:
        missing_mm = depletion_mm - zone.days.certain_rain_mm[index]
        if missing_mm >= numbers.smallest_depth_mm:
            return Weighed(BEFORE_ABSENCE, need, missing_mm, cannot_last)
    if depletion_mm <= NOTHING_MM or (need.dry_mm == 0.0 and need.unstressed_mm == 0.0):
        return Weighed(SOIL_MOIST, need, refill, cannot_last)
    rain_day = rules.counts_forecast_rain and zone.days.counted_rain_mm[index] >= rules.rain_day_mm
    if need.unstressed_mm == 0.0 and (need.at_raw_mm == 0.0 or rain_day):
        return Weighed(RAIN_EXPECTED, need, refill, False)
    return Weighed(RAIN_NOT_ENOUGH if rain_day else SOIL_DRYING_OUT, need, refill, cannot_last)


def decide_together(
    index: int, depletions_mm: Sequence[float], stands: Sequence[PreparedZone], garden: GardenDays
) -> Verdict:
    """Decide on one zone and one date over all that grows in it; depletions as for `decide`.

    With a dual crop coefficient what is given wets the surface, and some of it evaporates: where
    dry ground says water, it is decided once more on ground that got it.
    """
    verdict = _decide_together(index, depletions_mm, stands, garden)
    if verdict.net_mm == 0.0 or all(stand.days.top_layer is None for stand in stands):
        return verdict
    wet = [watered(stand, index, verdict.net_mm) for stand in stands]
    on_wet_ground = _decide_together(index, depletions_mm, wet, garden)
    # Drip on ground that rain wetted all over counts as wetting its own share alone (FAO-56 page
    # 149), so that less would evaporate than if nothing were given: no reason to give nothing.
    return on_wet_ground if on_wet_ground.net_mm > 0.0 else verdict


def watered(stand: PreparedZone, index: int, net_mm: float) -> PreparedZone:
    """A stand whose surface got so much more on a date."""
    layer = stand.days.top_layer
    if layer is None:
        return stand
    return stand.with_water({index: layer.irrigation_mm[index] + net_mm}, index)


def _decide_together(
    index: int, depletions_mm: Sequence[float], stands: Sequence[PreparedZone], garden: GardenDays
) -> Verdict:
    if len(stands) == 1:
        return decide(index, depletions_mm[0], stands[0], garden)
    return decide_mix(index, depletions_mm, stands, garden)


def decide_mix(
    index: int, depletions_mm: Sequence[float], stands: Sequence[PreparedZone], garden: GardenDays
) -> Verdict:
    """Decide on several plantings that one valve waters.

    All get water as soon as one of them needs it: what each would be refilled by, in the mean over
    the ground, and never less than lasts the thirstiest to its next chance. What sleeps does not
    count. Where all are alike it is as if there were one.
    """
    awake = [place for place, stand in enumerate(stands) if not stand.days.dormant[index]]
    thirst = {place: depletions_mm[place] / stands[place].days.due_mm[index] for place in awake}
    against = stands[0].chances.against[index]
    if against is not None:
        return Verdict(against, 0.0, 0.0, False, stand=max(awake, key=lambda place: thirst[place], default=0))
    each = {place: weigh(index, depletions_mm[place], stands[place], garden) for place in awake}
    ground = sum(stands[place].numbers.share for place in awake)
    share = {place: stands[place].numbers.share / ground for place in awake}
    cannot_last = any(weighed.cannot_last for weighed in each.values())

    for reason in (BEFORE_ABSENCE, SOIL_DRYING_OUT, RAIN_NOT_ENOUGH, RAIN_EXPECTED, SOIL_MOIST):
        speaking = [place for place in awake if each[place].reason == reason]
        if speaking:
            break
    if not each[speaking[0]].wants_water:
        room = sum(share[place] * each[place].need.room_mm for place in awake)
        thirstiest = max(speaking, key=lambda place: thirst[place])
        return Verdict(reason, 0.0, room, cannot_last, stand=thirstiest)

    leader = max(speaking, key=lambda place: (each[place].need.least_mm, thirst[place]))
    thirsty = [place for place in awake if each[place].wants_water]
    least = max(min(each[place].need.least_mm, each[place].need.cap_mm) for place in thirsty)
    mean_mm = sum(share[place] * depletions_mm[place] for place in awake)
    takes_mm = sum(share[place] * each[place].need.cap_mm for place in awake)
    refill = 0.0
    if reason == BEFORE_ABSENCE:  # until the driest is full
        refill = max(each[place].refill_mm for place in speaking)
        takes_mm = max(each[place].need.cap_mm for place in awake)
    elif reason == SOIL_DRYING_OUT:
        refill = sum(share[place] * each[place].refill_mm for place in awake)
    net = min(max(takes_mm, least), max(refill, least, stands[0].numbers.smallest_depth_mm))
    pressing = any(each[place].need.unstressed_mm > 0.0 for place in thirsty)
    return Verdict(reason, net, max(0.0, mean_mm - net), cannot_last, pressing, leader)


def second_run_mm(index: int, left_mm: float, zone: PreparedZone) -> float:
    """Net depth of a second run on a date, for a store that the day's ETc nearly empties. [mm]

    Half of the day's ETc, or less where that, the first run and counted rain would be too much.
    `left_mm` is the depletion that the first run leaves; below 0 once a second run has been
    delivered.
    """
    etc_mm = zone.days.etc_mm[index]
    if zone.chances.against[index] is not None or etc_mm <= SECOND_RUN_SHARE_OF_TAW * zone.days.taw_mm[index]:
        return 0.0
    half_mm = 0.5 * etc_mm
    return max(0.0, min(half_mm, left_mm + half_mm - zone.days.counted_rain_mm[index]))
