"""Lets soil probes correct a zone's ledger, as far as each is to be believed.

Once a day, what a probe read before sunrise is compared with the ledger's depletion after the
night's water. Readings that cannot be true are not used, and their probe is reported.

A probe speaks for its zone; where several plantings share the zone, for the one with the largest
share of the ground (the first of equals). With the dual crop coefficient it speaks for the whole
root zone, not for the top layer that the sun dries. Where water wets a part of the ground only, no
place is like the zone, so its probe counts for less.
"""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from scheduling.absence import absence_on
from scheduling.ledger import NOTHING_ADJUSTED, Start
from scheduling.plan import JudgedReading, Note, ProbeStanding
from scheduling.prepared import PreparedZone
from scheduling.probe_filter import ProbeFilter
from scheduling.probe_readings import Doubt, Movements, ProbeRecord, Told, impossible, told_by
from scheduling.reports import MorningReading
from scheduling.season import GardenDays

AT_ODDS: Final = "at-odds"

# How far a ledger errs. All are our choices, no source.
DEMAND_ERROR_SHARE: Final = 0.3
"""Of a day's ETc: plants and their places differ more than tables tell."""
RAIN_ERROR_SHARE: Final = 0.2
"""Of a day's rain: a gauge in the wind, a shower next door."""
WATER_ERROR_SHARE: Final = 0.15
"""Of a day's watering: more than a meter's, as efficiency is hardly known."""
FULL_ERROR_SHARE: Final = 0.05
"""Of TAW: after soaking rain the soil is full within so much."""
OPENING_ERROR_SHARE: Final = 0.5
"""Of RAW: a ledger begins half-way between full and thirsty, or with a guess."""
MOST_ERROR_SHARE: Final = 0.5
"""Of TAW: no depletion is further off than that from the middle of its store."""

# What a probe does not see as the zone does. Our choices, no source.
SCALE_ERROR_SHARE: Final = 0.1
"""Of the depletion: soil and roots under a probe are not those of the whole zone."""
UNSETTLED_SHARE: Final = 0.3
"""Of a date's rain and water: some comes after the reading, and what came has not spread yet."""

BELIEVED_ERRORS: Final = 3.0
"""A reading that is further off than so many standard errors is not used."""
READINGS_TO_RETURN: Final = 3
"""A probe in doubt is followed again after so many good readings in a row."""
TOLD_FROM_MM: Final = 0.5
"""Smaller corrections go without saying."""
MOST_PROBES: Final = 8
"""Of one zone, the first by name; more say nothing new."""


class Followed(NamedTuple):
    """What the probes of a zone did to its ledger."""

    adjustment_mm: Mapping[int, float]
    """By day: the correction of the depletion after the night's water; above 0 the soil is drier."""
    standings: tuple[ProbeStanding, ...]
    readings: tuple[JudgedReading, ...]


NOTHING_FOLLOWED: Final = Followed(NOTHING_ADJUSTED, (), ())


@dataclass(slots=True)
class _Probe:
    """A probe while its readings are gone through."""

    name: str
    place: int
    """In the filter."""
    since: dt.date
    doubt: Doubt | None = None
    good: int = READINGS_TO_RETURN
    """Believed readings in a row; a new probe need not earn its trust."""
    steady: int = 0
    """Readings in a row that moved as soil may, wherever they stood."""
    record: ProbeRecord = field(default_factory=ProbeRecord)


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
    return _Following(prepared, start, irrigation_mm).through(in_order, until)


class _Following:
    """One zone's ledger on its way through the days, with the probes that correct it."""

    def __init__(self, prepared: PreparedZone, start: Start, irrigation_mm: Mapping[int, float]) -> None:
        self._prepared = prepared
        self._start = start
        self._irrigation_mm = irrigation_mm
        error_mm = OPENING_ERROR_SHARE * prepared.days.raw_mm[start.day]
        if start.depletion_mm == 0.0:
            error_mm = FULL_ERROR_SHARE * prepared.days.taw_mm[start.day]
        self._filter = ProbeFilter(error_mm * error_mm)
        self._movements = Movements(start.day)
        self._probes: dict[str, _Probe] = {}
        self._judged: list[JudgedReading] = []

    def through(self, readings: Mapping[int, Sequence[MorningReading]], until: int) -> Followed:
        """Take in all readings before a day."""
        adjustments: dict[int, float] = {}
        depletion_mm = self._start.depletion_mm
        for day in range(self._start.day, until):
            opening_mm = min(depletion_mm, self._prepared.days.taw_mm[day])
            adjustment_mm = 0.0
            for reading in readings.get(day, ()):
                after_mm = opening_mm + adjustment_mm - self._irrigation_mm.get(day, 0.0)
                adjustment_mm += self._take_in(reading, day, after_mm)
            if adjustment_mm != 0.0:
                adjustments[day] = adjustment_mm
            depletion_mm = self._close(day, opening_mm + adjustment_mm)
        standings = tuple(self._standing(probe) for probe in self._probes.values())
        return Followed(adjustments, standings, tuple(self._judged))

    def _close(self, day: int, opening_mm: float) -> float:
        """Carry the depletion and its error across a day."""
        zone, irrigation = self._prepared.days, self._irrigation_mm.get(day, 0.0)
        taw, raw, etc, rain = (
            zone.taw_mm[day],
            zone.raw_mm[day],
            zone.etc_mm[day],
            zone.counted_rain_mm[day],
        )
        ks, etc_adj, drainage, closing_mm = zone.close(day, opening_mm, irrigation)
        self._movements.close(rain + irrigation, etc, closing_mm - opening_mm)
        new_mm2 = (
            (DEMAND_ERROR_SHARE * etc_adj) ** 2
            + (RAIN_ERROR_SHARE * rain) ** 2
            + (WATER_ERROR_SHARE * irrigation) ** 2
        )
        # Thirsty plants use the less the drier it is: what is wrong today is less so tomorrow.
        left = max(0.0, 1.0 - etc / (taw - raw)) if ks < 1.0 else 1.0
        most_mm2 = (MOST_ERROR_SHARE * taw) ** 2
        self._filter.pass_on(left, new_mm2, most_mm2)
        if drainage > 0.0:
            left = self._left_of_error(-drainage)
            self._filter.pass_on(left, (1.0 - left) * (FULL_ERROR_SHARE * taw) ** 2, most_mm2)
        return closing_mm

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
        weight = self._left_of_error(after_mm)
        doubt = probe.record.doubt(reading, told, day, water_mm, self._movements)
        doubt = impossible(reading, day, self._prepared) or doubt
        probe.steady = probe.steady + 1 if doubt is None else 0
        if doubt is None:
            doubt = self._at_odds(probe, told, lacks_mm, noise_mm2, weight)
        found_mm = told.lacks_mm - lacks_mm - self._filter.bias_mm(probe.place)
        nobody_sees = absence_on(self._prepared.rules.absence, reading.date) is not None
        is_used = _is_trusted(probe, doubt, reading.date, nobody_sees)
        correction_mm = 0.0
        if is_used:
            gain = self._filter.believe(probe.place, found_mm, noise_mm2, weight).gain
            corrected_mm = lacks_mm + max(0.0, gain) * found_mm
            correction_mm = min(max(corrected_mm, 0.0), zone.taw_mm[day]) - lacks_mm
        code = None if doubt is None else doubt.code
        self._judged.append(JudgedReading(probe.name, reading.date, is_used, code, found_mm))
        return correction_mm

    def _probe(self, reading: MorningReading, told: Told) -> _Probe:
        probe = self._probes.get(reading.probe)
        if probe is None:
            place = self._filter.add_probe(told.bias_variance_mm2)
            probe = self._probes[reading.probe] = _Probe(reading.probe, place, reading.date)
        return probe

    def _at_odds(
        self, probe: _Probe, told: Told, lacks_mm: float, noise_mm2: float, weight: float
    ) -> Doubt | None:
        """Whether the ledger and the probe cannot both be right; None: they can.

        A probe that has moved as soil does for some days, only elsewhere, was put elsewhere: it is
        taken as a new one, if such a one could read so.
        """
        believed = self._filter
        found_mm = told.lacks_mm - lacks_mm
        spread_mm2 = believed.spread_mm2(probe.place, noise_mm2, weight)
        limit_mm = BELIEVED_ERRORS * math.sqrt(spread_mm2)
        if abs(found_mm - believed.bias_mm(probe.place)) <= limit_mm:
            return None
        as_new_mm2 = weight * weight * believed.variance_mm2 + told.bias_variance_mm2 + noise_mm2
        if probe.steady >= READINGS_TO_RETURN and abs(found_mm) <= BELIEVED_ERRORS * math.sqrt(as_new_mm2):
            believed.forget(probe.place, told.bias_variance_mm2)
            probe.good = READINGS_TO_RETURN
            return None
        way = "drier" if found_mm > 0.0 else "wetter"
        text = f"it reads {abs(found_mm):.1f} mm {way} than the ledger, which neither's usual error explains"
        return Doubt(AT_ODDS, text)

    def _standing(self, probe: _Probe) -> ProbeStanding:
        bias_mm = self._filter.bias_mm(probe.place)
        if probe.doubt is not None:
            text = f"Not followed since {probe.since}: {probe.doubt.text}."
        else:
            way = "drier" if bias_mm > 0.0 else "wetter"
            text = f"Followed since {probe.since}; taken to read {abs(bias_mm):.1f} mm {way} than it is."
        return ProbeStanding(
            zone=self._prepared.numbers.zone.id,
            probe=probe.name,
            standing="followed" if probe.doubt is None else "doubtful",
            since=probe.since,
            why=None if probe.doubt is None else probe.doubt.code,
            text=text,
            last_reading=probe.record.last_date,
            bias_mm=bias_mm,
        )


def probe_notes(followed: Followed, day: int, date: dt.date) -> list[Note]:
    """What the owner should know of a zone's probes: what they moved on a day, and which are not followed."""
    notes = []
    moved_mm = followed.adjustment_mm.get(day, 0.0)
    if abs(moved_mm) >= TOLD_FROM_MM:
        names = " and ".join(one.probe for one in followed.readings if one.date == date and one.is_used)
        way = "drier" if moved_mm > 0.0 else "wetter"
        notes.append(
            Note(
                "moved-by-probe",
                f"By {names} the soil is {abs(moved_mm):.1f} mm {way} on {date} than reckoned.",
            )
        )
    for probe in followed.standings:
        if probe.standing == "doubtful":
            notes.append(Note("probe-doubtful", f"Probe {probe.probe}: {probe.text}"))
    return notes


def _is_trusted(probe: _Probe, doubt: Doubt | None, date: dt.date, nobody_sees: bool) -> bool:
    """Whether a reading is used; keeps its probe's standing.

    While nobody is there to look at it, a probe in doubt does not return, however well it reads.
    """
    if doubt is not None:
        if probe.doubt is None:
            probe.since = date
        probe.doubt, probe.good = doubt, 0
        return False
    probe.good += 1
    if probe.good < READINGS_TO_RETURN or (probe.doubt is not None and nobody_sees):
        return False
    if probe.doubt is not None:
        probe.doubt, probe.since = None, date
    return True
