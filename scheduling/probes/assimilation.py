"""Lets soil probes correct a zone's ledger, as far as each is to be believed.

Once a day, what a probe read before sunrise is compared with the ledger's depletion after the
night's water. Readings that cannot be true are not used, and their probe is reported.

A probe speaks for its zone; where several plantings share the zone, for the one with the largest
share of the ground (the first of equals). With the dual crop coefficient it speaks for the whole
root zone, not for the top layer that the sun dries. Where water wets a part of the ground only, no
place is like the zone, so its probe counts for less.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.ledger import Start
from scheduling.balance.stand import PreparedZone
from scheduling.decision.absence import absence_on
from scheduling.garden.reports import MOST_PROBES, MorningReading
from scheduling.probes.kalman import ProbeFilter
from scheduling.probes.quality_control import (
    LEAST_SLOPE,
    Movements,
    Told,
    barely_moves,
    impossible,
    slope_of,
    stuck_days,
    told_by,
)
from scheduling.probes.status import NOTHING_FOLLOWED, READINGS_TO_RETURN, Followed, JudgedReading, Probe
from scheduling.reasons.probe_notes import AtOdds, Doubt

# How far a ledger errs. All are our choices, no source.
DEMAND_ERROR_SHARE: Final = 0.25
"""Of ETc, season long: plants and their places differ more than tables tell."""
MOST_DEMAND_ERROR_SHARE: Final = 0.5
"""Of ETc: more is no plant's doing."""
DEMAND_LASTS_D: Final = 60.0
"""What is learned of the demand is forgotten in about so many days: leaves and seasons change."""
DAILY_ERROR_SHARE: Final = 0.1
"""Of a day's ETc: what changes from day to day."""
RAIN_ERROR_SHARE: Final = 0.2
"""Of a day's rain: a gauge in the wind, a shower next door."""
WATER_ERROR_SHARE: Final = 0.1
"""Of a day's watering: more than a meter's, as efficiency is hardly known."""
FULL_ERROR_SHARE: Final = 0.05
"""Of TAW: after soaking rain the soil is full within so much."""
OPENING_ERROR_SHARE: Final = 0.29
"""Of RAW: a ledger begins anywhere between full and thirsty; 1 / sqrt(12)."""
MOST_ERROR_SHARE: Final = 0.5
"""Of TAW: no depletion is further off than that from the middle of its store."""

# What a probe does not see as the zone does. Our choices, no source.
SCALE_ERROR_SHARE: Final = 0.1
"""Of the depletion: soil and roots under a probe are not those of the whole zone."""
UNSETTLED_SHARE: Final = 0.3
"""Of a date's rain and water: some comes after the reading, and what came has not spread yet."""

MOST_USED_SHARE: Final = 1.2
"""Of ETc: a probe never makes a ledger drier than plants that use so much could have made it."""
BELIEVED_ERRORS: Final = 3.0
"""A reading that is further off than so many standard errors is not used."""
WELL_KNOWN: Final = 0.1
"""A bias is well known whose variance is below such a part of what it is for any probe."""

_DEMAND_KEPT: Final = math.exp(-1.0 / DEMAND_LASTS_D)


def readings_by_zone(readings: Sequence[MorningReading]) -> Mapping[str, Sequence[MorningReading]]:
    """Readings by the id of their zone."""
    by_zone: dict[str, list[MorningReading]] = {}
    for reading in readings:
        by_zone.setdefault(reading.zone, []).append(reading)
    return by_zone


def spoken_for(stands: Sequence[PreparedZone]) -> int:
    """Place of the planting that a zone's probes speak for: the one with most of the ground."""
    return max(range(len(stands)), key=lambda place: stands[place].numbers.share)


def follow(
    readings: Iterable[MorningReading],
    start: Start,
    until: int,
    irrigation_mm: Mapping[int, float],
    prepared: PreparedZone,
    garden: GardenDays,
) -> Followed:
    """Go through a zone's days with its readings, up to the morning of a day.

    Parameters
    ----------
    readings : iterable of MorningReading
        Of this zone, in any order; of several for one probe and date the last one counts.
    start : Start
        Where the ledger begins.
    until : int
        The first day whose reading is not used, as its own water and ETc are still to come.
    irrigation_mm : mapping
        Net watering by day.
    prepared : PreparedZone
        The planting that the probes speak for; its columns know the watering.
    """
    by_day: dict[int, dict[str, MorningReading]] = {}
    for reading in readings:
        day = garden.index(reading.date)
        if start.day <= day < until:
            by_day.setdefault(day, {})[reading.probe] = reading
    if not by_day:
        return NOTHING_FOLLOWED
    names = sorted({name for told in by_day.values() for name in told})[:MOST_PROBES]
    in_order = {day: [told[name] for name in names if name in told] for day, told in by_day.items()}
    return _Following(prepared, start, irrigation_mm, in_order, until).through(until)


class _Following:
    """One zone's ledger on its way through the days, with the probes that correct it."""

    def __init__(
        self,
        prepared: PreparedZone,
        start: Start,
        irrigation_mm: Mapping[int, float],
        readings: Mapping[int, Sequence[MorningReading]],
        until: int,
    ) -> None:
        self._prepared = prepared
        self._start = start
        self._irrigation_mm = irrigation_mm
        self._readings = readings
        error_mm = OPENING_ERROR_SHARE * prepared.days.raw_mm[start.day]
        if start.depletion_mm == 0.0:
            error_mm = FULL_ERROR_SHARE * prepared.days.taw_mm[start.day]
        self._filter = ProbeFilter(error_mm * error_mm, DEMAND_ERROR_SHARE * DEMAND_ERROR_SHARE)
        self._movements = Movements(start.day)
        self._probes: dict[str, Probe] = {}
        self._judged: list[JudgedReading] = []
        self._mornings = self._uncorrected_mm(1.0, start.depletion_mm, until)
        driest_mm = min(prepared.days.taw_mm[start.day], start.depletion_mm + 2.0 * error_mm)
        self._driest = self._uncorrected_mm(MOST_USED_SHARE, driest_mm, until)

    def through(self, until: int) -> Followed:
        """Take in all readings before a day."""
        adjustments: dict[int, float] = {}
        taw_mm = self._prepared.days.taw_mm
        depletion_mm, learned_mm = self._start.depletion_mm, 0.0
        for day in range(self._start.day, until):
            opening_mm = min(depletion_mm, taw_mm[day])
            # What was learned of the demand moves the ledger on days without a reading too.
            adjustment_mm = min(max(opening_mm + learned_mm, 0.0), taw_mm[day]) - opening_mm
            for reading in self._readings.get(day, ()):
                come_mm = reading.water_share * self._irrigation_mm.get(day, 0.0)
                after_mm = opening_mm + adjustment_mm - come_mm
                adjustment_mm += self._take_in(reading, day, after_mm)
            found_mm = opening_mm + adjustment_mm
            kept_mm = min(found_mm, self._driest[day - self._start.day])
            if kept_mm != found_mm:
                self._filter.hold(kept_mm - found_mm)
                adjustment_mm = kept_mm - opening_mm
            if adjustment_mm != 0.0:
                adjustments[day] = adjustment_mm
            depletion_mm, used_mm = self._close(day, opening_mm + adjustment_mm)
            learned_mm = self._filter.demand_share * used_mm
        zone_id = self._prepared.numbers.zone.id
        standings = tuple(
            probe.standing(zone_id, self._filter.bias_mm(probe.place)) for probe in self._probes.values()
        )
        return Followed(adjustments, standings, tuple(self._judged))

    def _uncorrected_mm(self, used_share: float, depletion_mm: float, until: int) -> list[float]:
        """Depletion of each morning by the balance alone, were so much of ETc used. [mm]"""
        zone = self._prepared.days
        if used_share != 1.0:
            zone = replace(zone, etc_mm=[used_share * etc for etc in zone.etc_mm])
        mornings = []
        for day in range(self._start.day, until):
            mornings.append(depletion_mm)
            opening_mm = min(depletion_mm, zone.taw_mm[day])
            depletion_mm = zone.close(day, opening_mm, self._irrigation_mm.get(day, 0.0))[3]
        return mornings

    def _close(self, day: int, opening_mm: float) -> tuple[float, float]:
        """Carry the depletion and its error across a day; also the ETc that is off as the demand is."""
        zone, irrigation = self._prepared.days, self._irrigation_mm.get(day, 0.0)
        taw, raw, etc = zone.taw_mm[day], zone.raw_mm[day], zone.etc_mm[day]
        rain = zone.counted_rain_mm[day]
        ks, etc_adj, drainage, closing_mm = zone.close(day, opening_mm, irrigation)
        self._movements.close(rain + irrigation, etc)
        new_mm2 = (
            (DAILY_ERROR_SHARE * etc_adj) ** 2
            + (RAIN_ERROR_SHARE * rain) ** 2
            + (WATER_ERROR_SHARE * irrigation) ** 2
        )
        # Thirsty plants use the less the drier it is: what is wrong today is less so tomorrow.
        left = max(0.0, 1.0 - etc / (taw - raw)) if ks < 1.0 else 1.0
        most_mm2 = (MOST_ERROR_SHARE * taw) ** 2
        self._filter.use(etc_adj)
        self._filter.pass_on(left, new_mm2, most_mm2)
        self._filter.forget_demand(_DEMAND_KEPT)
        if drainage <= 0.0:
            return closing_mm, etc_adj
        left = self._left_of_error(-drainage)
        self._filter.pass_on(left, (1.0 - left) * (FULL_ERROR_SHARE * taw) ** 2, most_mm2)
        return closing_mm, left * etc_adj

    def _left_of_error(self, depletion_mm: float) -> float:
        """How much of the ledger's error is still in the soil once a surplus has drained.

        All of it where there was no surplus; next to nothing where it was well above the error:
        whatever was missing before, the soil is full.
        """
        if depletion_mm >= 0.0:
            return 1.0
        error_mm = self._filter.error_mm
        return math.erfc(-depletion_mm / error_mm / math.sqrt(2.0)) if error_mm > 0.0 else 0.0

    def _take_in(self, reading: MorningReading, day: int, after_mm: float) -> float:
        """Judge a reading, and say by how much it corrects the depletion after the night's water. [mm]"""
        zone, numbers = self._prepared.days, self._prepared.numbers
        told = told_by(reading, day, self._prepared)
        probe = self._probe(reading, told)
        water_mm = self._irrigation_mm.get(day, 0.0) + zone.counted_rain_mm[day]
        lacks_mm = max(0.0, after_mm)
        noise_mm2 = (
            told.noise_mm**2
            + (SCALE_ERROR_SHARE * lacks_mm) ** 2
            + (UNSETTLED_SHARE * water_mm) ** 2
            + ((1.0 - numbers.wetted_share) / 2.0 * lacks_mm) ** 2
        )
        if probe.is_new:
            # However long nobody looked at the ledger: a probe that nobody knows gets half a say at most.
            self._filter.bound(told.bias_variance_mm2)
        weight = self._left_of_error(after_mm)
        jumped = probe.record.jumped(reading, told, day, water_mm, self._movements)
        out_of_reach, stuck = impossible(reading, day, self._prepared), probe.stuck.get(day)
        flat = self._barely_moves(probe, told, day, stuck) if out_of_reach is None else None
        doubt = out_of_reach or stuck or jumped or flat
        if jumped is not None:
            probe.has_jumped = True
            probe.moved = probe.moved[-1:]
        nobody_sees = absence_on(self._prepared.rules.absence, reading.date) is not None
        if doubt is None:
            doubt = self._at_odds(probe, told, lacks_mm, noise_mm2, weight)
            moves = slope_of(probe.moved, told.step_mm)
            is_lasting = probe.odds >= READINGS_TO_RETURN and moves is not None and moves >= LEAST_SLOPE
            if (
                is_lasting
                and not nobody_sees
                and self._is_settled(probe, told, lacks_mm, noise_mm2, weight, day)
            ):
                doubt = None
        found_mm = told.lacks_mm - lacks_mm - self._filter.bias_mm(probe.place)
        is_used = probe.is_trusted(doubt, reading.date, nobody_sees)
        correction_mm = 0.0
        if is_used:
            gain = self._filter.believe(probe.place, found_mm, noise_mm2, weight).gain
            probe.is_new = probe.has_jumped = False
            wanted_mm = lacks_mm + max(0.0, gain) * found_mm
            corrected_mm = min(max(wanted_mm, 0.0), zone.taw_mm[day])
            if corrected_mm != wanted_mm:
                self._filter.hold(corrected_mm - wanted_mm)
            self._filter.bound_demand(MOST_DEMAND_ERROR_SHARE)
            correction_mm = corrected_mm - lacks_mm
        code = None if doubt is None else doubt.code
        self._judged.append(JudgedReading(probe.name, reading.date, is_used, code, found_mm))
        return correction_mm

    def _barely_moves(self, probe: Probe, told: Told, day: int, stuck: Doubt | None) -> Doubt | None:
        """Book how a probe moved beside the plain ledger, and say whether that is too little.

        A probe that repeated itself has to be seen to dry and to wet from then on.
        """
        night_mm = self._irrigation_mm.get(day, 0.0)
        probe.moved.append((self._mornings[day - self._start.day] - night_mm, told.lacks_mm))
        slope = slope_of(probe.moved, told.step_mm)
        flat = barely_moves(probe.moved, told.step_mm)
        if flat is not None or stuck is not None:
            probe.must_move = True
        elif slope is not None and slope >= LEAST_SLOPE:
            probe.must_move = False
        return flat

    def _probe(self, reading: MorningReading, told: Told) -> Probe:
        probe = self._probes.get(reading.probe)
        if probe is None:
            place = self._filter.add_probe(told.bias_variance_mm2)
            own = {
                day: one for day, told in self._readings.items() for one in told if one.probe == reading.probe
            }
            stuck = stuck_days(own, self._mornings, self._start.day, self._prepared)
            probe = Probe(reading.probe, place, reading.date, stuck=stuck)
            self._probes[probe.name] = probe
        return probe

    def _at_odds(
        self, probe: Probe, told: Told, lacks_mm: float, noise_mm2: float, weight: float
    ) -> Doubt | None:
        """Whether the ledger and the probe cannot both be right; None: they can."""
        spread_mm2 = self._filter.spread_mm2(probe.place, noise_mm2, weight)
        found_mm = told.lacks_mm - lacks_mm
        if abs(found_mm - self._filter.bias_mm(probe.place)) <= BELIEVED_ERRORS * math.sqrt(spread_mm2):
            probe.odds = 0
            return None
        probe.odds += 1
        return AtOdds(found_mm)

    def _is_settled(
        self, probe: Probe, told: Told, lacks_mm: float, noise_mm2: float, weight: float, day: int
    ) -> bool:
        """Give up what the ledger or the probe was taken for, after days of moving alike yet apart.

        A probe that had not jumped, and whose bias is well known, is right: something came to the
        ledger's soil, or left it, that nobody reported. Any other was put elsewhere, or never known:
        it is taken as a new one, if such a one could read so. False where neither will do.
        """
        known = self._filter.bias_variance_mm2(probe.place) < WELL_KNOWN * told.bias_variance_mm2
        if known and not probe.has_jumped:
            self._filter.lose((MOST_ERROR_SHARE * self._prepared.days.taw_mm[day]) ** 2)
        else:
            as_new_mm2 = weight * weight * self._filter.variance_mm2 + told.bias_variance_mm2 + noise_mm2
            if abs(told.lacks_mm - lacks_mm) > BELIEVED_ERRORS * math.sqrt(as_new_mm2):
                return False
            self._filter.forget(probe.place, told.bias_variance_mm2)
            self._filter.bound(told.bias_variance_mm2)
        probe.odds, probe.good = 0, READINGS_TO_RETURN
        return True
