"""What a soil probe's reading says in the ledger's words, and which readings cannot be true."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import linear_regression, pstdev
from typing import Final, NamedTuple

from scheduling.balance.stand import PreparedZone
from scheduling.garden.reports import MorningReading
from scheduling.reasons.probe_notes import (
    BarelyMoves,
    BecameDrier,
    BecameWetter,
    BelowRoots,
    Doubt,
    NoSoilHolds,
    ReadTheSame,
)

# What is not said of a probe. Common practice, no source, but where another is named.
USUAL_ERROR_OF_CONTENT: Final = 0.04
"""Of low-cost probes without a calibration of their own; makers print 0.03 to 0.05. [m3/m3]"""
USUAL_ERROR_OF_SHARE: Final = 0.2
"""Of a share of the store: the same over a store of 0.2. [1]"""
NOISE_SHARE: Final = 1.0 / 3.0
"""Part of a stated error that changes from morning to morning; the rest stays, as a bias."""
CAPACITY_ERROR: Final = 0.03
"""How far a soil's field capacity may be from its class's. Our choice, no source. [m3/m3]"""

SAME_READINGS: Final = 4
"""Before so many equal readings nobody says that a probe is stuck."""
SAME_WITHIN: Final = 0.0005
STEP: Final = 0.01
"""Finest step of a coarse probe. [m3/m3]"""
STEPS_THAT_SHOW: Final = 3.0
"""A ledger that moves by so many of them should move a reading."""
LEAST_CONTENT: Final = 0.01
"""Below it a probe hangs in the air. [m3/m3]"""
LARGEST_CONTENT: Final = 0.75
"""Above it there is no soil left between the water. [m3/m3]"""
LARGEST_CONTENT_OF_SUBSTRATE: Final = 0.95
"""Peat holds more. [m3/m3]"""
LEAST_SHARE: Final = -0.5
LARGEST_SHARE: Final = 2.0
"""Of the store: soil drier than the wilting point, and soil that is flooded."""
READINGS_THAT_SHOW: Final = 10
"""Over so many readings a probe is seen to move as the soil does, or not."""
LEAST_SLOPE: Final = 0.25
"""A probe moves at least by such a part of what the ledger does that no probe corrects. Our choice; in
simulated seasons dead probes moved less, and working ones in gardens described 25 % wrongly moved more."""
LEAST_SPREAD_STEPS: Final = 1.0
"""The ledger must have moved by so much, as a standard deviation in steps, to judge a probe by it."""
LONGEST_SILENCE_D: Final = 4
"""After a longer one, a reading is compared with the ledger alone."""
NOISE_BELIEVED: Final = 3.0
"""Between two readings noise makes no more than so many of its standard errors."""
WATER_BELIEVED: Final = 2.0
"""Under a probe no more than so many times the zone's water arrives, or is used."""


class Told(NamedTuple):
    """A reading in the ledger's words."""

    lacks_mm: float
    """Depletion that it tells; below 0 where the soil holds more than it can keep."""
    noise_mm: float
    """Standard error of what changes from morning to morning."""
    bias_variance_mm2: float
    """Of what stays: the probe's own bias, and how little the soil's field capacity is known."""
    step_mm: float


@dataclass(slots=True)
class Movements:
    """What the ledger did, in running sums up to the morning of each day."""

    first: int
    """Place of the first day in the columns."""
    water_mm: list[float] = field(default_factory=lambda: [0.0])
    """Rain and watering."""
    used_mm: list[float] = field(default_factory=lambda: [0.0])
    """ETc."""

    def close(self, water_mm: float, etc_mm: float) -> None:
        """Book a day."""
        self.water_mm.append(self.water_mm[-1] + water_mm)
        self.used_mm.append(self.used_mm[-1] + etc_mm)

    def between(self, sums: list[float], begin: int, end: int) -> float:
        """What came from the morning of one day to that of another."""
        return sums[end - self.first] - sums[begin - self.first]


@dataclass(slots=True)
class ProbeRecord:
    """What a probe has read so far, as far as it matters for the next reading."""

    last_date: dt.date = dt.date.min
    _last_day: int | None = None
    _last_lacks_mm: float = 0.0

    def jumped(
        self, reading: MorningReading, told: Told, day: int, water_mm: float, movements: Movements
    ) -> Doubt | None:
        """Book a reading, and say whether it moved as neither water nor plants can have made it.

        `water_mm` is what rain and watering bring on the day itself.
        """
        doubt = self._jumped(told, day, water_mm, movements)
        self.last_date, self._last_day, self._last_lacks_mm = reading.date, day, told.lacks_mm
        return doubt

    def _jumped(self, told: Told, day: int, water_mm: float, movements: Movements) -> Doubt | None:
        last = self._last_day
        if last is None or day - last > LONGEST_SILENCE_D:
            return None
        # Water of the last reading's day may have come after it, and that of today before this one.
        came_mm = water_mm + movements.between(movements.water_mm, last, day)
        used_mm = movements.between(movements.used_mm, last, day)
        noise_mm = NOISE_BELIEVED * math.sqrt(2.0) * told.noise_mm + told.step_mm
        change_mm = told.lacks_mm - self._last_lacks_mm
        if change_mm < -(WATER_BELIEVED * came_mm + noise_mm):
            return BecameWetter(-change_mm)
        drains_mm = max(0.0, -self._last_lacks_mm)
        if change_mm > WATER_BELIEVED * used_mm + drains_mm + noise_mm:
            return BecameDrier(change_mm)
        return None


def slope_of(moved: Sequence[tuple[float, float]], step_mm: float) -> float | None:
    """By how much a probe moved for each mm that the ledger did; None where that moved too little to say.

    `moved` has the ledger's depletion, uncorrected, and the probe's, reading by reading.
    """
    if len(moved) < READINGS_THAT_SHOW:
        return None
    last = moved[-READINGS_THAT_SHOW:]
    if pstdev([ledger_mm for ledger_mm, _ in last]) < LEAST_SPREAD_STEPS * step_mm:
        return None
    return linear_regression(*zip(*last, strict=True)).slope


def barely_moves(moved: Sequence[tuple[float, float]], step_mm: float) -> Doubt | None:
    """Whether a probe hardly moves while the soil dries and is wetted."""
    slope = slope_of(moved, step_mm)
    return BarelyMoves(slope) if slope is not None and slope < LEAST_SLOPE else None


def stuck_days(
    readings: Mapping[int, MorningReading], morning_mm: Sequence[float], first: int, prepared: PreparedZone
) -> dict[int, Doubt]:
    """The days on which a probe only repeated itself, while the soil's water moved.

    Only many equal readings show it, and all but the first of them are doubted then. `morning_mm` is
    the depletion of each morning from day `first` on, as no probe has corrected it.
    """
    stuck: dict[int, Doubt] = {}
    days = sorted(readings)
    begin = 0
    for end in range(1, len(days) + 1):
        begun = value_of(readings[days[begin]])
        if end < len(days) and abs(value_of(readings[days[end]]) - begun) <= SAME_WITHIN:
            continue
        same = days[begin:end]
        if len(same) >= SAME_READINGS:
            levels = morning_mm[same[0] - first : same[-1] - first + 1]
            range_mm = max(levels) - min(levels)
            step_mm = told_by(readings[same[0]], same[0], prepared).step_mm
            if range_mm > STEPS_THAT_SHOW * step_mm:
                doubt = ReadTheSame(readings[same[0]].date, range_mm)
                stuck.update(dict.fromkeys(same[1:], doubt))
        begin = end
    return stuck


def value_of(reading: MorningReading) -> float:
    """The number that was read; not a number where there is none."""
    value = reading.store_share if reading.water_content is None else reading.water_content
    return math.nan if value is None else value


def told_by(reading: MorningReading, day: int, prepared: PreparedZone) -> Told:
    """A reading as a depletion; of a probe that reads impossible things, one that is impossible too."""
    numbers, taw_mm = prepared.numbers, prepared.days.taw_mm[day]
    mm_of_content = taw_mm / (numbers.capacity_share - numbers.unavailable_share)
    error = reading.error_share
    if reading.water_content is not None:
        error_mm = mm_of_content * (USUAL_ERROR_OF_CONTENT if error is None else error)
        lacks_mm = mm_of_content * (numbers.capacity_share - reading.water_content)
        capacity_error_mm = mm_of_content * CAPACITY_ERROR
    else:
        error_mm = taw_mm * (USUAL_ERROR_OF_SHARE if error is None else error)
        lacks_mm = taw_mm * (1.0 - value_of(reading))
        capacity_error_mm = 0.0
    bias_variance_mm2 = error_mm * error_mm + capacity_error_mm * capacity_error_mm
    step_mm = mm_of_content * STEP
    # No probe is better than a coarse step lets it be: what is rounded errs by a step / sqrt(12).
    noise_mm = max(NOISE_SHARE * error_mm, step_mm / math.sqrt(12.0))
    return Told(lacks_mm, noise_mm, bias_variance_mm2, step_mm)


def impossible(reading: MorningReading, day: int, prepared: PreparedZone) -> Doubt | None:
    """What no soil can hold, and what no root can reach."""
    numbers, content = prepared.numbers, reading.water_content
    in_ground = numbers.container_mm is None
    if content is not None:
        most = LARGEST_CONTENT if in_ground else LARGEST_CONTENT_OF_SUBSTRATE
        if not LEAST_CONTENT <= content <= most:
            return NoSoilHolds(content, is_of_store=False)
    elif not LEAST_SHARE <= value_of(reading) <= LARGEST_SHARE:
        return NoSoilHolds(value_of(reading), is_of_store=True)
    if in_ground and reading.depth_m is not None and numbers.available_mm_per_m:
        roots_m = prepared.days.taw_mm[day] / numbers.available_mm_per_m
        if reading.depth_m > roots_m + 0.005:
            return BelowRoots(reading.depth_m, roots_m)
    return None
