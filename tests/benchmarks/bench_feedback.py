"""What reports are worth: a ledger with and without them, beside a garden that is not as it was declared.

    python tests/benchmarks/bench_feedback.py [seeds]

For each seed a true garden is drawn whose soil (both water points), plant factor, flow and rain are
each 20 to 30 % above or below what its owner declared, and evening by evening a whole plan is made
for the declared one; what it gives falls on the true one. Seattle, April to mid-August of 2012-2015
(NOAA, in vega_datasets: temperatures, wind, rain).

- Without feedback, valves close by time, deliveries count as planned, rain is the weather source's.
- With feedback, valves close by their meter (3 % off, the same all season), what they report enters the
  ledger and teaches the flow; rain is the owner's gauge's (5 % off from day to day); a soil probe reads
  the true water content with a bias (standard deviation 0.03 m3/m3), noise (0.01), one morning in ten
  missing, two weeks of silence, and in every third garden ten days of being stuck.

Printed for each kind of zone: the ledger's mean error (mm, over all mornings), the missed ET (mm per
season), the water given, and the plans that broke a limit. Prints; asserts nothing.
"""

import datetime as dt
import functools
import random
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from scheduling.balance.evapotranspiration import site_of  # noqa: E402
from scheduling.balance.garden_series import garden_days  # noqa: E402
from scheduling.balance.soil_water import close_day  # noqa: E402
from scheduling.balance.stand import prepare_stands  # noqa: E402
from scheduling.balance.weather import Origin, WeatherDay  # noqa: E402
from scheduling.garden.description import (  # noqa: E402
    WEEKDAYS,
    Garden,
    Planting,
    Rules,
    Soil,
    Watering,
    Weekday,
    Zone,
)
from scheduling.garden.reports import Delivery, Metered, MorningReading, Opening  # noqa: E402
from scheduling.plan.initial_state import History  # noqa: E402
from scheduling.plan.plan import Plan, Run  # noqa: E402
from scheduling.plan.planner import Occasion, guess_opening, make_plan  # noqa: E402
from scheduling.tap.windows import Span  # noqa: E402
from scheduling.zone.metering import learned_flows  # noqa: E402
from tests.reference.seattle import seattle_days  # noqa: E402

SEEDS = 200
PROCESSES = 2
FIRST, SPRING_DAYS, DAYS = (4, 1), 45, 140
"""The season's first day; how long nobody waters; its length with these."""
WET_SPRING_SHARE = 0.3
"""What is missing at most on the first day, of RAW: Seattle's winters are wet."""
WATERING_DAYS: tuple[Weekday, ...] = ("mon", "wed", "fri", "sun")
DAYS_AHEAD = 4
ONE_DAY = dt.timedelta(days=1)
OFF_BY = (0.2, 0.3)
METER_ERROR, GAUGE_ERROR = 0.03, 0.05
PROBE_BIAS, PROBE_NOISE = 0.03, 0.01
"""In m3/m3."""
MISSING_SHARE, SILENT_DAYS, STUCK_DAYS, STUCK_EVERY = 0.1, 14, 10, 3


class Kind(NamedTuple):
    """A zone as declared."""

    zone: Zone
    field_capacity: float
    wilting_point: float


LAWN = Zone(
    "lawn",
    60.0,
    Planting("turf-cool-season", kc=0.9, root_depth_m=0.25),
    Soil(field_capacity=0.28, wilting_point=0.14, texture="loam"),
    Watering("overhead-rotor", flow_l_min=12.0, efficiency=0.8),
)
BED = Zone(
    "bed",
    20.0,
    Planting("shrubs", kc=0.6, root_depth_m=0.45),
    Soil(field_capacity=0.26, wilting_point=0.12, texture="loam"),
    Watering("micro-spray", flow_l_min=6.0, efficiency=0.85),
)
ZONES = (LAWN, BED)


@dataclass(frozen=True, slots=True)
class Truth:
    """How a garden really is."""

    zone: Zone
    flow_l_min: float
    rain_factor: float
    """What falls for each mm that the weather source tells."""
    meter_factor: float
    bias: float
    """Of the probe. [m3/m3]"""
    silent_from: int
    stuck_from: int | None


@dataclass(slots=True)
class Outcome:
    """A season of one zone."""

    errors_mm: list[float] = field(default_factory=list)
    missed_mm: float = 0.0
    given_l: float = 0.0
    broken: list[str] = field(default_factory=list)

    @property
    def error_mm(self) -> float:
        """Mean distance of the ledger's depletion from the true one."""
        return sum(self.errors_mm) / len(self.errors_mm)


def main() -> None:
    """Print a table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else SEEDS
    began = time.perf_counter()
    with ProcessPoolExecutor(PROCESSES) as pool:
        pairs = list(pool.map(both, range(seeds), chunksize=5))
    print(f"{seeds} gardens, {DAYS} days each; {time.perf_counter() - began:.0f} s")
    print(f"{'zone':8}{'':12}{'error mm':>10}{'missed mm':>11}{'litres':>9}{'plans outside limits':>22}")
    for place, zone in enumerate((*ZONES, None)):
        chosen = [pair for seed, pair in enumerate(pairs) if zone is None or seed % len(ZONES) == place]
        without, with_it = ([pair[side] for pair in chosen] for side in (0, 1))
        name = "all" if zone is None else zone.id
        for side, outcomes in (("without", without), ("with", with_it)):
            print(
                f"{name:8}{side:12}{mean_error_mm(outcomes):10.2f}{mean_missed_mm(outcomes):11.2f}"
                f"{sum(one.given_l for one in outcomes) / len(outcomes):9.0f}"
                f"{sum(len(one.broken) for one in outcomes):22}"
            )
        print(
            f"{'':8}{'ratio':12}{mean_error_mm(with_it) / mean_error_mm(without):10.2f}"
            f"{mean_missed_mm(with_it) / mean_missed_mm(without):11.2f}"
        )
    for text in sorted({text for pair in pairs for one in pair for text in one.broken}):
        print(text)


def mean_error_mm(outcomes: Sequence[Outcome]) -> float:
    """Over all seasons."""
    return sum(one.error_mm for one in outcomes) / len(outcomes)


def mean_missed_mm(outcomes: Sequence[Outcome]) -> float:
    """Over all seasons."""
    return sum(one.missed_mm for one in outcomes) / len(outcomes)


def both(seed: int) -> tuple[Outcome, Outcome]:
    """One garden without feedback and with it."""
    return season(seed, feedback=False), season(seed, feedback=True)


def true_garden(declared: Zone, rng: random.Random) -> Truth:
    """Draw how a zone really is."""

    def factor() -> float:
        return 1.0 + rng.choice((-1.0, 1.0)) * rng.uniform(*OFF_BY)

    soil, planting = declared.soil, declared.planting
    in_soil, of_plant = factor(), factor()
    assert soil.field_capacity is not None
    assert soil.wilting_point is not None
    assert planting.kc is not None
    assert declared.watering.flow_l_min is not None
    zone = replace(
        declared,
        planting=replace(planting, kc=planting.kc * of_plant),
        soil=replace(
            soil, field_capacity=soil.field_capacity * in_soil, wilting_point=soil.wilting_point * in_soil
        ),
    )
    return Truth(
        zone=zone,
        flow_l_min=declared.watering.flow_l_min * factor(),
        rain_factor=factor(),
        meter_factor=1.0 + rng.choice((-1.0, 1.0)) * METER_ERROR,
        bias=rng.gauss(0.0, PROBE_BIAS),
        silent_from=rng.randrange(SPRING_DAYS, DAYS - SILENT_DAYS),
        stuck_from=rng.randrange(SPRING_DAYS, DAYS - STUCK_DAYS) if rng.randrange(STUCK_EVERY) == 0 else None,
    )


@functools.cache
def seattle(year: int) -> list[WeatherDay]:
    """As the weather source tells it."""
    first = dt.date(year, *FIRST)
    days = seattle_days(Origin.ANALYSED)
    return [day for day in days if first <= day.date < first + (DAYS + DAYS_AHEAD) * ONE_DAY]


def season(seed: int, *, feedback: bool) -> Outcome:
    """Plan a season evening by evening, and let it happen."""
    rng = random.Random(seed)
    declared = ZONES[seed % len(ZONES)]
    weather = seattle(2012 + seed // len(ZONES) % 4)
    truth = true_garden(declared, rng)
    garden = Garden(
        "bench",
        47.61,
        -122.33,
        "UTC",
        (declared,),
        elevation_m=50.0,
        rules=Rules(frost_limit_c=5.0, watering_days=WATERING_DAYS),
    )
    return _Season(garden, truth, weather, rng, feedback).through()


class _Season:
    """A season while it goes on."""

    def __init__(
        self,
        garden: Garden,
        truth: Truth,
        weather: Sequence[WeatherDay],
        rng: random.Random,
        feedback: bool,
    ) -> None:
        self.garden, self.truth, self.told, self.rng, self.feedback = garden, truth, weather, rng, feedback
        fell = [replace(day, rain_mm=(day.rain_mm or 0.0) * truth.rain_factor) for day in weather]
        last = weather[-1].date
        days = garden_days(fell, site_of(garden), last, last)
        real = replace(garden, zones=(truth.zone,))
        (self.real,) = prepare_stands(truth.zone, real, days, 0, {})
        gauge = [rng.gauss(1.0, GAUGE_ERROR) for _ in fell]
        self.known = list(weather)
        if feedback:
            self.known = [
                replace(day, rain_mm=(day.rain_mm or 0.0) * off, origin=Origin.MEASURED)
                for day, off in zip(fell, gauge, strict=True)
            ]
        self.noise = [rng.gauss(0.0, PROBE_NOISE) for _ in fell]
        self.missing = [rng.random() < MISSING_SHARE for _ in fell]
        self.depletion_mm = rng.uniform(0.0, WET_SPRING_SHARE) * self.real.days.raw_mm[0]
        self.opening: Opening | None = None
        self.deliveries: list[Delivery] = []
        self.metered: list[Metered] = []
        self.readings: list[MorningReading] = []
        self.outcome = Outcome()

    def through(self) -> Outcome:
        """Each date: the plan of the evening before, the night's water, the reading, the day."""
        zone = self.garden.zones[0]
        numbers = self.real.numbers
        first = self.told[0].date
        self.opening = guess_opening(self.garden, self.told, first)
        for day in range(DAYS):
            date = first + day * ONE_DAY
            litres = 0.0
            if day >= SPRING_DAYS and WEEKDAYS[date.weekday()] in WATERING_DAYS:
                plan = self.plan(day, date)
                self.check(plan)
                self.outcome.errors_mm.append(abs(plan.zones[0].soil_water.depletion_mm - self.depletion_mm))
                litres = sum(self.runs(run, date) for run in plan.zones[0].runs)
                self.outcome.given_l += litres
                if not self.feedback and plan.zones[0].volume_l:
                    self.deliveries.append(Delivery(zone.id, date, plan.zones[0].volume_l))
            net_mm = litres / zone.area_m2 * numbers.efficiency
            self.read(day, date, max(0.0, self.depletion_mm - net_mm))
            self.happen(day, net_mm)
        return self.outcome

    def plan(self, day: int, date: dt.date) -> Plan:
        """What is planned on the evening before a date, with what is known by then."""
        ahead = [
            replace(later, origin=Origin.FORECAST, rain_probability=0.7)
            for later in self.told[day : day + DAYS_AHEAD]
        ]
        history = History(
            self.opening,
            False,
            tuple(self.deliveries),
            tuple(self.readings),
            learned_flows(self.garden, self.metered, date),
        )
        opens = dt.datetime.combine(date - ONE_DAY, dt.time(22), dt.UTC)
        self.hours = Span(opens, opens + dt.timedelta(hours=8))
        return make_plan(self.garden, [*self.known[:day], *ahead], history, Occasion(date, (self.hours,)))

    def runs(self, run: Run, date: dt.date) -> float:
        """Litres that a run really brings; with feedback, its report."""
        truth, zone = self.truth, self.garden.zones[0]
        if not self.feedback:
            return run.run_time_s / 60.0 * truth.flow_l_min
        seconds = min(run.volume_l / truth.meter_factor / truth.flow_l_min * 60.0, float(run.max_open_s))
        litres = seconds / 60.0 * truth.flow_l_min
        counted_l = litres * truth.meter_factor
        self.deliveries.append(Delivery(zone.id, date, counted_l))
        self.metered.append(Metered(zone.id, date, counted_l, round(seconds)))
        return litres

    def read(self, day: int, date: dt.date, lacks_mm: float) -> None:
        """What the probe reads before sunrise."""
        truth = self.truth
        is_silent = truth.silent_from <= day < truth.silent_from + SILENT_DAYS
        if not self.feedback or self.missing[day] or is_silent:
            return
        numbers = self.real.numbers
        mm_of_content = self.real.days.taw_mm[day] / (numbers.capacity_share - numbers.unavailable_share)
        content = numbers.capacity_share - lacks_mm / mm_of_content + truth.bias + self.noise[day]
        stuck = truth.stuck_from
        if stuck is not None and stuck < day < stuck + STUCK_DAYS and self.readings:
            content = self.readings[-1].water_content or content
        self.readings.append(MorningReading(numbers.zone.id, "probe", date, round(content, 4)))

    def happen(self, day: int, net_mm: float) -> None:
        """The true garden's day."""
        zone = self.real.days
        _, etc_adj_mm, _, self.depletion_mm = close_day(
            min(self.depletion_mm, zone.taw_mm[day]),
            zone.counted_rain_mm[day],
            net_mm,
            zone.etc_mm[day],
            zone.taw_mm[day],
            zone.raw_mm[day],
        )
        if day >= SPRING_DAYS:
            self.outcome.missed_mm += zone.etc_mm[day] - etc_adj_mm

    def check(self, plan: Plan) -> None:
        """Note where a plan breaks a limit of its own."""
        one, lowest_c = plan.zones[0], plan.weather.lowest_c
        water = one.soil_water
        promises = {
            "the ledger left its store": 0.0 <= water.depletion_mm <= water.total_available_mm + 1e-9,
            "more was given than is missing": one.net_mm <= water.depletion_mm + 1e-6,
            "water in frost": not one.runs or lowest_c is None or lowest_c >= 5.0,
            "a run outside of the hours": all(
                self.hours.opens <= run.start
                and run.start + dt.timedelta(seconds=run.run_time_s) <= self.hours.closes
                for run in one.runs
            ),
            "a limit below its run": all(run.max_open_s >= run.run_time_s for run in one.runs),
        }
        self.outcome.broken.extend(text for text, is_kept in promises.items() if not is_kept)


if __name__ == "__main__":
    main()
