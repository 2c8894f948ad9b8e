"""Real seasons through the replay: how well the plants were served, and with how much water.

    python tests/benchmarks/bench_seasons.py

Seattle 2012-2015 (NOAA, in vega_datasets: temperatures, wind, rain) and the typical year of Greensboro,
NC (TMY3, among pvlib's data: hourly, with radiation; its rain is in 0.1 mm), each from April to October.
Six kinds of zone, each alone on its tap, under three kinds of foresight: perfect, none, and forecasts that
are wrong (hits 82 %, false alarms 13 %, depths lognormal, ETo within 12 %).

Printed per season: adequacy (etc_adj / etc), water above the clairvoyant's least in % and mm, missed ET,
what of that falls on dates with a frost in which the rules let no water flow (where the ground was full the
evening before, no plan could do better; where it is above 1 mm, a line marked * is the same zone without a
frost rule, and where temperatures are known by the hour, one marked + with runs moved to warm hours), days
that close below Ks 0.9, litres, the clairvoyant's litres,
runs; then the fixed timer that is best in hindsight: the least water among those with an adequacy of 0.99,
else the best adequacy. Last, the time that ten years of 12 zones take. Prints; asserts nothing.
"""

import csv
import datetime as dt
import itertools
import math
import random
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from importlib import resources
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from scheduling.balance.evapotranspiration import site_of  # noqa: E402
from scheduling.balance.garden_series import GardenDays, garden_days  # noqa: E402
from scheduling.balance.stand import PreparedZone, prepare_stands  # noqa: E402
from scheduling.balance.weather import HourAhead, Origin, WeatherDay  # noqa: E402
from scheduling.garden.description import Container, Garden, Planting, Site, Soil, Watering, Zone  # noqa: E402
from scheduling.landscape.application import net_depth_of_volume_mm  # noqa: E402
from scheduling.review.foresight import DayAhead, Foresight, NoForecast, Perfect  # noqa: E402
from scheduling.review.replay import (  # noqa: E402
    Timer,
    ZoneReplay,
    replay,
)
from scheduling.review.season_account import Account, Tally  # noqa: E402
from scheduling.tap.permission import DateHours  # noqa: E402
from scheduling.tap.windows import Span  # noqa: E402
from scheduling.zone.rules import DEFAULT_FROST_LIMIT_C  # noqa: E402
from tests.reference.seattle import seattle_days  # noqa: E402

SEASON_MONTHS = range(4, 11)
ADEQUATE = 0.99
TOLD_FROST_MM = 1.0
TIMER_DAYS = range(1, 11)
TIMER_SHARES_OF_TAW = [0.04 * step for step in range(1, 26)]
HEADER = (
    f"{'zone':12}{'adequacy':>9}{'excess':>8}{'+mm':>7}{'missed':>8}{'frost':>7}{'Ks<0.9':>7}{'litres':>8}{'least':>8}"
    f"{'runs':>6}   best timer: adequacy, litres"
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a season was, and what fell."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    seasons: tuple[tuple[WeatherDay, ...], ...]
    temperatures_c: dict[dt.datetime, float] = field(default_factory=dict)
    """By the hour; empty where only days are known."""

    def garden(self, *zones: Zone) -> Garden:
        """A garden there; hours are told in UTC, as nothing here hangs on the clock."""
        return Garden("bench", self.latitude, self.longitude, "UTC", zones, elevation_m=self.elevation_m)


class Candidate(NamedTuple):
    """A fixed timer, and what came of it over all seasons."""

    timer: Timer
    adequacy: float
    volume_l: float


class Wrong:
    """Forecasts that are wrong, the same ones every time."""

    HIT = 0.82
    FALSE_ALARM = 0.13
    SAID_OF_RAIN = 0.7
    SAID_OF_NONE = 0.1

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def ahead(self, index: int, season: GardenDays) -> list[DayAhead]:
        """Five days, each wrong in its own way."""
        return [self._day(day, season) for day in range(index, min(index + 5, season.known))]

    def _day(self, day: int, season: GardenDays) -> DayAhead:
        eto_mm = season.eto_mm[day] * self._random.uniform(0.88, 1.12)
        rain_mm = self._rain_mm(season.certain_rain_mm[day])
        chance = self.SAID_OF_RAIN if rain_mm else self.SAID_OF_NONE
        return DayAhead(eto_mm, rain_mm, chance, season.lowest_c[day])

    def _rain_mm(self, real_mm: float) -> float:
        if real_mm > 0.2:
            return (
                real_mm * math.exp(self._random.gauss(0.0, 0.5)) if self._random.random() < self.HIT else 0.0
            )
        return math.exp(self._random.gauss(1.2, 0.8)) if self._random.random() < self.FALSE_ALARM else 0.0


def main() -> None:
    """Print every table, then the time of a long replay."""
    weather = seattle_days()
    for place in places(weather):
        timers = {zone.id: best_timer(place, zone) for zone in zones()}
        for name, foresight in (("perfect", Perfect()), ("none", NoForecast()), ("wrong", Wrong(1))):
            print(f"\n{place.name}, forecast {name}; per season\n{HEADER}")
            missed_mm = {zone.id: print_row(place, zone, foresight, timers) for zone in zones()}
            for zone in zones():
                if missed_mm[zone.id] > TOLD_FROST_MM:
                    exempt = replace(zone, rules=replace(zone.rules, exempt=("frost",)))
                    print_row(place, exempt, foresight, timers, "*")
                    if place.temperatures_c:
                        warm = replace(zone, rules=replace(zone.rules, frost_warm_hours=True))
                        print_row(place, warm, foresight, timers, "+")
    print(f"\nTen years x 12 zones: {ten_years_s(weather):.1f} s")


def places(seattle: Sequence[WeatherDay]) -> Iterator[Place]:
    """Those whose weather is installed."""
    yield Place("Seattle 2012-2015", 47.61, -122.33, 50.0, tuple(seasons(seattle)))
    greensboro = greensboro_days()
    if greensboro is None:
        print("pvlib is not installed: Greensboro is left out.")
    else:
        days, temperatures_c = greensboro
        yield Place("Greensboro, typical year", 36.1, -79.95, 270.0, tuple(seasons(days)), temperatures_c)


def seasons(days: Sequence[WeatherDay]) -> Iterator[tuple[WeatherDay, ...]]:
    """April to October of each year."""
    for _, year in itertools.groupby(days, key=lambda day: day.date.year):
        yield tuple(day for day in year if day.date.month in SEASON_MONTHS)


def greensboro_days() -> tuple[list[WeatherDay], dict[dt.datetime, float]] | None:
    """Hours made days of, and their temperatures; None where pvlib is not installed.

    Its months come from several years. An hour is stamped by its end, local standard time.
    """
    try:
        text = resources.files("pvlib").joinpath("data/723170TYA.CSV").read_text("utf-8")
    except ModuleNotFoundError:
        return None
    rows = list(csv.DictReader(text.splitlines()[1:]))
    days = [_greensboro_day(rows[first : first + 24]) for first in range(0, len(rows), 24)]
    temperatures_c = {
        dt.datetime.combine(day.date, dt.time(hour), dt.UTC): float(rows[24 * number + hour]["Dry-bulb (C)"])
        for number, day in enumerate(days)
        for hour in range(24)
    }
    return days, temperatures_c


def _greensboro_day(hours: Sequence[dict[str, str]]) -> WeatherDay:
    def values(column: str) -> list[float]:
        return [float(hour[column]) for hour in hours]

    month, day, _ = hours[0]["Date (MM/DD/YYYY)"].split("/")
    return WeatherDay(
        date=dt.date(2025, int(month), int(day)),
        t_min_c=min(values("Dry-bulb (C)")),
        t_max_c=max(values("Dry-bulb (C)")),
        t_dew_c=sum(values("Dew-point (C)")) / 24.0,
        wind_m_s=sum(values("Wspd (m/s)")) / 24.0,
        wind_height_m=10.0,
        solar_mj_m2=sum(values("GHI (W/m^2)")) * 0.0036,
        rain_mm=sum(max(0.0, depth) for depth in values("Lprecip depth (mm)")) / 10.0,
        origin=Origin.MEASURED,
    )


def zones() -> tuple[Zone, ...]:
    """The six kinds."""
    spray, loam = Watering("overhead-spray", flow_l_min=15.0), Soil("loam")
    trough, pot = Soil(container=Container(180.0)), Soil(container=Container(25.0))
    may_1 = dt.date(2000, 5, 1)
    return (
        Zone("turf-loam", 60.0, Planting("turf-cool-season"), loam, spray),
        Zone("turf-sand", 60.0, Planting("turf-cool-season"), Soil("sand"), spray),
        Zone("shrubs-drip", 30.0, Planting("shrubs"), loam, drip(6.0)),
        Zone("tomatoes", 10.0, Planting("tomato", planted_on=may_1), Soil("sandy-loam"), drip(3.0)),
        Zone("troughs", 2.4, Planting("herbs"), trough, drip_points(0.8), site=Site(rain_share=0.2)),
        Zone("pots", 1.0, Planting("container-flowering"), pot, drip_points(0.5), site=Site(rain_share=0.5)),
    )


def drip(flow_l_min: float) -> Watering:
    """A drip line."""
    return Watering("drip-line", flow_l_min=flow_l_min)


def drip_points(flow_l_min: float) -> Watering:
    """Drippers in containers."""
    return Watering("drip-points", flow_l_min=flow_l_min)


def planted_in(zone: Zone, year: int) -> Zone:
    """The zone with its annuals planted on their day of that year."""
    planted_on = zone.planting.planted_on
    if planted_on is None:
        return zone
    return replace(zone, planting=replace(zone.planting, planted_on=planted_on.replace(year=year)))


def hours_of(place: Place, date: dt.date) -> DateHours:
    """Ten at night to six in the morning, and what is known of the hours up to 15:00 and after."""
    opens = dt.datetime.combine(date - dt.timedelta(days=1), dt.time(22), dt.UTC)
    night = Span(opens, opens + dt.timedelta(hours=8))
    hours = (opens + dt.timedelta(hours=number) for number in range(24))
    by_hour = tuple(
        HourAhead(int(hour.timestamp()), place.temperatures_c[hour], None)
        for hour in hours
        if hour in place.temperatures_c
    )
    return DateHours((night,), by_hour=by_hour, warm=Span(opens, opens + dt.timedelta(hours=17)))


def season_of(place: Place, zone: Zone, days: Sequence[WeatherDay], foresight: Foresight) -> ZoneReplay:
    """One zone through one season."""
    garden = place.garden(planted_in(zone, days[0].date.year))
    return replay(garden, days, foresight, lambda date: hours_of(place, date), explain=True).zones[0]


def missed_in_frost_mm(got: ZoneReplay, days: Sequence[WeatherDay]) -> float:
    """ET missed on dates that are too cold to water; a fallow bed's is nobody's."""
    cold = {day.date for day in days if day.t_min_c is not None and day.t_min_c < DEFAULT_FROST_LIMIT_C}
    missed_mm = sum(one.etc_mm - one.etc_adj_mm for one in got.ledger if one.date in cold)
    return min(missed_mm, got.planned.stress_mm)


def best_timer(place: Place, zone: Zone) -> Candidate:
    """The fixed timer that would have been best over all seasons, had anybody known."""
    ready = list(prepared_seasons(place, zone))
    numbers = ready[0][0].numbers
    taw_mm = max(ready[0][0].days.taw_mm)
    best: Candidate | None = None
    for every_days, share in itertools.product(TIMER_DAYS, TIMER_SHARES_OF_TAW):
        volume_l = share * taw_mm / numbers.efficiency * numbers.zone.area_m2
        got = tried(Timer(every_days, volume_l), ready)
        if best is None or is_better(got, best):
            best = got
    assert best is not None
    return best


def prepared_seasons(place: Place, zone: Zone) -> Iterator[tuple[PreparedZone, GardenDays]]:
    """What a timer needs to be tried again and again."""
    for days in place.seasons:
        garden = place.garden(planted_in(zone, days[0].date.year))
        season = garden_days(days, site_of(garden), days[-1].date, days[-1].date)
        yield prepare_stands(garden.zones[0], garden, season, 0, {})[0], season


def tried(timer: Timer, ready: Sequence[tuple[PreparedZone, GardenDays]]) -> Candidate:
    """A timer through all seasons."""
    accounts = [timed(timer, zone, season) for zone, season in ready]
    adequacy = sum(one.etc_adj_mm for one in accounts) / sum(one.etc_mm for one in accounts)
    return Candidate(timer, adequacy, sum(one.volume_l for one in accounts))


def timed(timer: Timer, zone: PreparedZone, season: GardenDays) -> Account:
    """A timer through one season, from half of RAW as the replay opens."""
    numbers = zone.numbers
    net_mm = net_depth_of_volume_mm(
        timer.litres(numbers.flow_l_min), numbers.zone.area_m2, numbers.efficiency
    )
    tally = Tally(0.5 * zone.days.raw_mm[0])
    for day in range(season.known):
        due = day % timer.every_days == 0 and not zone.days.dormant[day]
        tally.close(day, net_mm if due else 0.0, zone, season)
    return tally.account(zone)


def is_better(one: Candidate, other: Candidate) -> bool:
    """Adequate before not; among the adequate the lesser water, among the others the better served."""
    both_adequate = one.adequacy >= ADEQUATE and other.adequacy >= ADEQUATE
    return one.volume_l < other.volume_l if both_adequate else one.adequacy > other.adequacy


def print_row(
    place: Place, zone: Zone, foresight: Foresight, timers: dict[str, Candidate], mark: str = ""
) -> float:
    """Print a zone's line, and return what it missed in frost a season. [mm]"""
    got = [season_of(place, zone, days, foresight) for days in place.seasons]
    frost_mm = sum(map(missed_in_frost_mm, got, place.seasons)) / len(got)
    print(row(zone, got, frost_mm, timers, f"{zone.id} {mark}".strip()))
    return frost_mm


def row(
    zone: Zone, got: Sequence[ZoneReplay], frost_mm: float, timers: dict[str, Candidate], name: str
) -> str:
    """One line of a table, per season."""
    count = len(got)
    accounts = [one.planned for one in got]
    etc_mm = sum(one.etc_mm for one in accounts)
    missed_mm = sum(one.stress_mm for one in accounts)
    water_mm, least_mm = sum(one.irrigation_mm for one in accounts), sum(one.least_mm for one in got)
    timer = timers[zone.id]
    excess = f"{(water_mm / least_mm - 1.0) * 100.0:.1f}%" if least_mm else "-"
    return (
        f"{name:12}{1.0 - missed_mm / etc_mm:9.4f}{excess:>8}{(water_mm - least_mm) / count:7.1f}"
        f"{missed_mm / count:8.1f}{frost_mm:7.1f}{sum(one.days_below_ks_90 for one in accounts) / count:7.1f}"
        f"{sum(one.volume_l for one in accounts) / count:8.0f}"
        f"{sum(one.least_volume_l for one in got) / count:8.0f}"
        f"{sum(one.runs for one in accounts) / count:6.0f}   every {timer.timer.every_days} d, "
        f"{timer.timer.volume_l:.0f} l: {timer.adequacy:.4f}, {timer.volume_l / count:.0f}"
    )


def ten_years_s(weather: Sequence[WeatherDay]) -> float:
    """How long 12 zones take through ten years. [s]"""
    ten_years = [
        replace(day, date=day.date.replace(year=day.date.year + later))
        for later in (0, 4, 8)
        for day in weather
    ][:3653]
    twelve = [replace(zone, id=f"{zone.id}-{copy}") for copy in (1, 2) for zone in zones()]
    seattle = Place("Seattle", 47.61, -122.33, 50.0, ())
    began = time.perf_counter()
    replay(seattle.garden(*twelve), ten_years, Perfect(), lambda date: hours_of(seattle, date))
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
