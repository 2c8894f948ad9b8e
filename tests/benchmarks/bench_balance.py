"""What the arithmetic costs, as ratios within one run. Prints; asserts no time.

    python tests/benchmarks/bench_balance.py

- The balance, `scheduling.balance.soil_water.carry`, beside the same arithmetic written inline in one loop.
- The reference evapotranspiration of one day beside that of refet's class for one day.
- The plan of 12 zones over 60 past days, with a known opening and with a first guess.

What is compared runs in turn; the median of the rounds counts. Ratios tell, times depend on the machine.
"""

import datetime as dt
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

import refet  # type: ignore[import-untyped]  # noqa: E402

from scheduling.balance.evapotranspiration import Location, daily_demand  # noqa: E402
from scheduling.balance.soil_water import carry  # noqa: E402
from scheduling.balance.weather import Origin, WeatherDay  # noqa: E402
from scheduling.garden.description import Container, Garden, Planting, Soil, Watering, Zone  # noqa: E402
from scheduling.garden.reports import Opening  # noqa: E402
from scheduling.plan.initial_state import History  # noqa: E402
from scheduling.plan.planner import Occasion, make_plan  # noqa: E402
from scheduling.tap.windows import Span  # noqa: E402

ROUNDS = 15
ZONES = 12
PAST_DAYS = 60
ONE_DAY = dt.timedelta(days=1)
FIRST = dt.date(2026, 6, 1)
PLANNED = FIRST + PAST_DAYS * ONE_DAY


def main() -> None:
    print(f"Python {sys.version.split()[0]}; medians of {ROUNDS} rounds, taken in turn")
    balance()
    evapotranspiration()
    plans()


def balance(days: int = 20_000) -> None:
    """A lawn that is watered every third day and gets rain every ninth."""
    rain = [12.0 if day % 9 == 0 else 0.0 for day in range(days)]
    irrigation = [11.0 if day % 3 == 0 else 0.0 for day in range(days)]
    etc = [3.0 + day % 5 for day in range(days)]
    taw = [28.0] * days
    raw = [11.0 + day % 3 for day in range(days)]
    assert carry(5.0, rain, irrigation, etc, taw, raw) == inline(5.0, rain, irrigation, etc, taw, raw)

    called_s, inline_s = in_turn(
        lambda: carry(5.0, rain, irrigation, etc, taw, raw),
        lambda: inline(5.0, rain, irrigation, etc, taw, raw),
    )
    print(
        f"balance: {days / called_s / 1e6:.2f} million zone-days/s; inline {days / inline_s / 1e6:.2f}; "
        f"ratio {called_s / inline_s:.2f}"
    )


def inline(
    depletion: float,
    rain_mm: list[float],
    irrigation_mm: list[float],
    etc_mm: list[float],
    taw_mm: list[float],
    raw_mm: list[float],
) -> float:
    """The arithmetic of `carry` and `close_day` without a call: only what the closing depletion needs."""
    for rain, irrigation, etc, taw, raw in zip(rain_mm, irrigation_mm, etc_mm, taw_mm, raw_mm, strict=True):
        if depletion > taw:
            depletion = taw
        wet = depletion - rain - irrigation
        depletion = wet + (etc if wet <= raw else (taw - wet) / (taw - raw) * etc)
        if depletion > taw:
            depletion = taw
        elif depletion < 0.0:
            depletion = 0.0
    return depletion


def evapotranspiration(calls: int = 200) -> None:
    """One day after another, as a plan asks for them: no day is asked for twice in a round."""
    site = Location(43.61, 48.0)
    days = [a_day(FIRST + number * ONE_DAY) for number in range(calls)]

    def ours() -> None:
        for day in days:
            daily_demand(day, site)

    def theirs() -> None:
        for day in days:
            refet.Daily(
                tmin=day.t_min_c,
                tmax=day.t_max_c,
                tdew=day.t_dew_c,
                rs=day.solar_mj_m2,
                uz=day.wind_m_s,
                zw=2.0,
                elev=48.0,
                lat=43.61,
                doy=day.date.timetuple().tm_yday,
                method="asce",
            ).eto()

    ours_s, theirs_s = in_turn(ours, theirs)
    print(
        f"ETo of one day: {ours_s / calls * 1e6:.1f} us; refet's class for one day "
        f"{theirs_s / calls * 1e6:.1f} us; {theirs_s / ours_s:.0f} times faster"
    )


def plans() -> None:
    """The same garden with a known opening and without one, in units of the bare balance."""
    garden = a_garden()
    weather = [a_day(FIRST + number * ONE_DAY, Origin.ANALYSED) for number in range(PAST_DAYS)]
    weather += [a_day(PLANNED + number * ONE_DAY) for number in range(5)]
    opening = Opening(FIRST, {zone.id: 5.0 for zone in garden.zones}, {})
    closes = dt.datetime.combine(PLANNED, dt.time(6), dt.UTC)
    occasion = Occasion(PLANNED, (Span(closes - dt.timedelta(hours=8), closes),))
    known_s, guessed_s, explained_s = in_turn(
        lambda: make_plan(garden, weather, History(opening), occasion),
        lambda: make_plan(garden, weather, History(), occasion),
        lambda: make_plan(garden, weather, History(opening), replace(occasion, explain=True)),
    )
    print(
        f"plan of {ZONES} zones over {PAST_DAYS} days: {known_s * 1e3:.2f} ms; with a first guess "
        f"{guessed_s / known_s:.2f} times that, with every row {explained_s / known_s:.2f} times"
    )


def a_day(date: dt.date, origin: Origin = Origin.FORECAST) -> WeatherDay:
    """A summer's day, each a little other than the one before, with a shower every tenth."""
    number = date.toordinal()
    return WeatherDay(
        date,
        t_min_c=14.0 + number % 5,
        t_max_c=26.0 + number % 7,
        t_dew_c=11.0 + number % 3,
        wind_m_s=2.0,
        solar_mj_m2=22.0 + number % 4,
        rain_mm=9.0 if number % 10 == 0 else 0.0,
        rain_probability=0.6,
        origin=origin,
    )


def a_garden() -> Garden:
    """Lawns, shrubs, tomatoes and troughs, three of each."""
    lawn = Zone(
        "lawn", 50.0, Planting("turf-cool-season"), Soil(texture="loam"), Watering("overhead-spray", 20.0)
    )
    shrubs = replace(lawn, planting=Planting("shrubs"), watering=Watering("drip-line", 8.0))
    tomatoes = replace(shrubs, planting=Planting("tomato", planted_on=FIRST - 20 * ONE_DAY))
    troughs = Zone(
        "troughs", 2.4, Planting("herbs"), Soil(container=Container(180.0)), Watering("drip-points", 0.8)
    )
    kinds = (lawn, shrubs, tomatoes, troughs)
    zones = tuple(replace(kinds[number % 4], id=f"zone-{number}") for number in range(ZONES))
    return Garden("bench", 43.61, 3.88, "UTC", zones)


def in_turn(*calls: Callable[[], object]) -> list[float]:
    """Median seconds of each, taken in turn so that none has the quieter machine."""
    for call in calls:
        call()
    taken: list[list[float]] = [[] for _ in calls]
    for _ in range(ROUNDS):
        for call, times in zip(calls, taken, strict=True):
            started = time.perf_counter()
            call()
            times.append(time.perf_counter() - started)
    return [statistics.median(times) for times in taken]


if __name__ == "__main__":
    main()
