"""Seasons of probes that fail in the ground, each beside the same season without a probe.

The garden is as its owner described it, so that what is missed or wasted is the probe's doing. The
season, its plans and its readings are those of `tests.benchmarks.bench_feedback`.
"""

import datetime as dt
import random
from collections.abc import Callable
from typing import NamedTuple

import pytest

from scheduling.garden.description import Garden, Rules
from scheduling.garden.reports import MorningReading
from tests.benchmarks import bench_feedback as bench

FAILS_ON = 60
SEEDS = range(4)
Fails = Callable[[float, int, float], float]
"""What a probe reads, by the true content, the days since it failed, and a morning's noise. [m3/m3]"""


class Got(NamedTuple):
    """A season of the plants, and its water."""

    adequacy: float
    volume_l: float


class _FailingSeason(bench._Season):
    """A season whose probe fails on a day; None: there is no probe."""

    fails: Fails | None = None

    def read(self, day: int, date: dt.date, lacks_mm: float) -> None:
        if self.fails is None or self.missing[day]:
            return
        numbers = self.real.numbers
        mm_of_content = self.real.days.taw_mm[day] / (numbers.capacity_share - numbers.unavailable_share)
        noise = 0.4 * self.noise[day]
        content = numbers.capacity_share - lacks_mm / mm_of_content + self.truth.bias + noise
        if day >= FAILS_ON:
            content = type(self).fails(content, day - FAILS_ON, noise)  # type: ignore[misc]
        self.readings.append(MorningReading(numbers.zone.id, "probe", date, round(content, 4)))


def season(seed: int, fails: Fails | None) -> Got:
    rng = random.Random(seed)
    zone, weather = bench.ZONES[seed % 2], bench.seattle(2012 + seed % 4)
    assert zone.watering.flow_l_min is not None
    truth = bench.Truth(zone, zone.watering.flow_l_min, 1.0, 1.0, rng.gauss(0.0, 0.02), bench.DAYS, None)
    rules = Rules(frost_limit_c=5.0, watering_days=bench.WATERING_DAYS)
    garden = Garden("bench", 47.61, -122.33, "UTC", (zone,), elevation_m=50.0, rules=rules)
    kind = type("Season", (_FailingSeason,), {"fails": staticmethod(fails) if fails else None})
    of = kind(garden, truth, weather, rng, True)
    outcome = of.through()
    etc_mm = sum(of.real.days.etc_mm[bench.SPRING_DAYS : bench.DAYS])
    return Got(1.0 - outcome.missed_mm / etc_mm, outcome.given_l)


def lost_contact_wet(_content: float, _days: int, noise: float) -> float:
    return 0.40 + noise


def stuck_with_noise(_content: float, _days: int, noise: float) -> float:
    return 0.20 + 0.4 * noise


def flickers(content: float, days: int, noise: float) -> float:
    return content if days % 3 == 0 else stuck_with_noise(content, days, noise)


def drifts_dry(content: float, days: int, _noise: float) -> float:
    return content - 0.0005 * days


def works(content: float, _days: int, _noise: float) -> float:
    return content


def long(fails: Fails, most_share: float) -> object:
    return pytest.param(fails, most_share, marks=pytest.mark.long)


# A slow drift to dry looks like thirstier plants: it is bounded, not found.
# The shares are our own limits, for lawn and bed together: a probe that flickers costs the bed alone more.
@pytest.mark.parametrize(
    ("fails", "most_share"),
    [
        (lost_contact_wet, 1.15),
        long(stuck_with_noise, 1.15),
        long(flickers, 1.15),
        long(works, 1.15),
        long(drifts_dry, 1.2),
    ],
)
def test_a_probe_that_fails_harms_no_plants_and_wastes_little(fails: Fails, most_share: float) -> None:
    with_it = [season(seed, fails) for seed in SEEDS]
    without = [season(seed, None) for seed in SEEDS]
    assert sum(got.adequacy for got in with_it) / len(SEEDS) >= 0.97
    assert sum(got.volume_l for got in with_it) <= most_share * sum(got.volume_l for got in without)
