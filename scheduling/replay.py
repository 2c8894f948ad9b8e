"""A past season, planned evening by evening with only what was known then.

Each evening plans the next date with the ledger as it stands, the hours shared as always; then
the day comes as it really was. Beside it run a fixed timer, where one is given, and the
clairvoyant: who knows everything, may water every day, and gives just enough to close at RAW.
"""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduling.balance import LedgerRow, close_day
from scheduling.decision import decide, second_run_mm
from scheduling.foresight import Foresight, mean_of_last_days
from scheduling.garden import Garden
from scheduling.landscape.application import net_depth_of_volume_mm
from scheduling.landscape.counted_rain import counted_depth_mm
from scheduling.ledger import opening_guess_mm
from scheduling.planner import site_of
from scheduling.prepared import PreparedZone, prepare_zone
from scheduling.rules import DAYS_AHEAD_FOR_A_CHANCE, chances_of
from scheduling.runs import Span, ValveOpening, openings_of
from scheduling.season import (
    DAYS_COUNTED_AHEAD,
    LEAST_DAYS_OF_MEAN_RAIN,
    GardenDays,
    garden_days,
    zone_days,
)
from scheduling.supply import Dose, share_hours
from scheduling.weather import WeatherDay

WINDOW_DAYS = DAYS_AHEAD_FOR_A_CHANCE + 1
"""Days an evening looks over: the plan's date and as many as a next chance may be away."""


@dataclass(frozen=True, slots=True)
class Timer:
    """A fixed timer for one zone: the same litres on the same days, whatever the weather."""

    volume_l: float
    every_days: int = 1
    """1 is daily; counted from the first date of the replay."""


@dataclass(frozen=True, slots=True)
class Account:
    """What a season did with one zone's water. Depths over the zone's area. [mm]"""

    rain_mm: float
    irrigation_mm: float
    irrigation_gross_mm: float
    volume_l: float
    runs: int
    etc_mm: float
    etc_adj_mm: float
    drainage_mm: float
    runoff_mm: float
    stress_days: int
    """Days that close above RAW."""
    days_below_ks_90: int
    ks_min: float

    @property
    def stress_mm(self) -> float:
        """Evapotranspiration that was missed for want of water."""
        return self.etc_mm - self.etc_adj_mm

    @property
    def adequacy(self) -> float:
        """Share of the wanted evapotranspiration that took place; 1 where none was wanted."""
        return self.etc_adj_mm / self.etc_mm if self.etc_mm > 0.0 else 1.0


@dataclass(frozen=True, slots=True)
class ZoneReplay:
    """One zone through the season."""

    zone: str
    planned: Account
    timer: Account | None
    least_mm: float
    """The clairvoyant's water."""
    ledger: tuple[LedgerRow, ...]
    """Empty unless asked for."""

    @property
    def excess(self) -> float | None:
        """Water above the clairvoyant's least, as a share of it; None where that is nothing."""
        return self.planned.irrigation_mm / self.least_mm - 1.0 if self.least_mm > 0.0 else None


class _Tally:
    """One zone's account while the season runs."""

    def __init__(self, opening_mm: float) -> None:
        self.depletion_mm = opening_mm
        self.rain = self.net = self.gross = self.etc = self.etc_adj = self.drainage = 0.0
        self.runs = self.stress_days = self.days_below_ks_90 = 0
        self.ks_min = 1.0
        self.rows: list[LedgerRow] = []

    def close(self, day: int, net_mm: float, prepared: PreparedZone, season: GardenDays, keep: bool) -> None:
        """Let a day come as it was."""
        zone = prepared.days
        taw, raw, etc, rain = zone.taw_mm[day], zone.raw_mm[day], zone.etc_mm[day], zone.certain_rain_mm[day]
        opening = self.depletion_mm
        adjustment = min(0.0, taw - opening)
        ks, etc_adj, drainage, closing = close_day(opening + adjustment, rain, net_mm, etc, taw, raw)
        gross = net_mm / prepared.numbers.efficiency
        fallen = prepared.numbers.rain_share * season.certain_rain_mm[day]
        self.depletion_mm = closing
        self.rain += fallen
        self.net += net_mm
        self.gross += gross
        self.drainage += drainage
        if not zone.dormant[day]:  # a fallow bed wants for nothing
            self.etc += etc
            self.etc_adj += etc_adj
            self.stress_days += closing > raw
            self.days_below_ks_90 += ks < 0.9
            self.ks_min = min(self.ks_min, ks)
        if keep:
            self.rows.append(
                LedgerRow(
                    season.dates[day], opening, fallen, 0.0, rain, gross, net_mm, season.eto_mm[day],
                    zone.kc[day], ks, etc, etc_adj, drainage, adjustment, closing, taw, raw,
                )
            )  # fmt: skip

    def account(self, area_m2: float) -> Account:
        """What came of it."""
        return Account(
            rain_mm=self.rain,
            irrigation_mm=self.net,
            irrigation_gross_mm=self.gross,
            volume_l=self.gross * area_m2,
            runs=self.runs,
            etc_mm=self.etc,
            etc_adj_mm=self.etc_adj,
            drainage_mm=self.drainage,
            runoff_mm=0.0,
            stress_days=self.stress_days,
            days_below_ks_90=self.days_below_ks_90,
            ks_min=self.ks_min,
        )


def replay(
    garden: Garden,
    weather: Sequence[WeatherDay],
    foresight: Foresight,
    hours_on: Callable[[dt.date], tuple[Span, ...]],
    timers: Mapping[str, Timer] | None = None,
    explain: bool = False,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> tuple[ZoneReplay, ...]:
    """Replay a season for all zones of a garden.

    Parameters
    ----------
    weather : sequence of WeatherDay
        Consecutive days that are over. Ledgers open on the first, half of RAW missing.
    foresight : Foresight
        What each evening knew of the days to come.
    hours_on : callable
        The watering hours of a date.
    timers : mapping
        A fixed timer by zone id, to compare with.
    progress : callable
        Told after each day how many are done, of how many.

    Raises
    ------
    WeatherGap, WeatherIncomplete
        A day is missing, or lacks what no estimate can stand in for.
    """
    last = weather[-1].date if weather else dt.date.min
    season = garden_days(weather, site_of(garden), last, last)
    prepared = [prepare_zone(zone, garden, season, 0, {}) for zone in garden.zones]
    planned = [_Tally(opening_guess_mm(zone.days)) for zone in prepared]
    timed = {
        place: _Tally(opening_guess_mm(zone.days))
        for place, zone in enumerate(prepared)
        if timers and zone.numbers.zone.id in timers
    }
    turns: dict[str, int] = {}
    fallen_mm = 0.0
    for day in range(season.known):
        evening = _evening(day, season, foresight, fallen_mm)
        water = _planned(day, evening, prepared, planned, hours_on, turns, garden.water_supply.gap_s)
        for place, (zone, tally) in enumerate(zip(prepared, planned, strict=True)):
            openings = water.get(zone.numbers.zone.id, ())
            tally.runs += len(openings)
            tally.close(
                day, _net_mm(zone, sum(opening.volume_l for opening in openings)), zone, season, explain
            )
            if place in timed and timers is not None:
                timer = timers[zone.numbers.zone.id]
                due = day % timer.every_days == 0 and not zone.days.dormant[day]
                timed[place].runs += due
                timed[place].close(day, _net_mm(zone, timer.volume_l) if due else 0.0, zone, season, False)
        fallen_mm += season.certain_rain_mm[day]
        progress(day + 1, season.known)
    return tuple(
        ZoneReplay(
            zone=zone.numbers.zone.id,
            planned=tally.account(zone.numbers.zone.area_m2),
            timer=timed[place].account(zone.numbers.zone.area_m2) if place in timed else None,
            least_mm=clairvoyant_mm(zone),
            ledger=tuple(tally.rows),
        )
        for place, (zone, tally) in enumerate(zip(prepared, planned, strict=True))
    )


def clairvoyant_mm(prepared: PreparedZone) -> float:
    """Water of who knows everything and waters every day just so that it closes at RAW. [mm]"""
    zone = prepared.days
    depletion = opening_guess_mm(zone)
    total = 0.0
    for day in range(len(zone.etc_mm)):
        depletion = min(depletion, zone.taw_mm[day])
        rain, etc, raw = zone.certain_rain_mm[day], zone.etc_mm[day], zone.raw_mm[day]
        net = 0.0 if zone.dormant[day] else max(0.0, depletion - rain + etc - raw)
        total += net
        depletion = close_day(depletion, rain, net, etc, zone.taw_mm[day], raw)[3]
    return total


def _net_mm(zone: PreparedZone, volume_l: float) -> float:
    return net_depth_of_volume_mm(volume_l, zone.numbers.zone.area_m2, zone.numbers.efficiency)


def _evening(day: int, season: GardenDays, foresight: Foresight, fallen_mm: float) -> GardenDays:
    """The days to come as an evening expects them: the forecast, then the mean of the last week."""
    ahead = foresight.ahead(day, season)
    beyond = WINDOW_DAYS - len(ahead)
    counted = [
        counted_depth_mm(expected.rain_mm, expected.rain_probability) if place <= DAYS_COUNTED_AHEAD else 0.0
        for place, expected in enumerate(ahead)
    ]
    nothing = [0.0] * beyond
    first = season.dates[day]
    return GardenDays(
        dates=[first + dt.timedelta(days=place) for place in range(WINDOW_DAYS)],
        eto_mm=[expected.eto_mm for expected in ahead] + [mean_of_last_days(day, season)] * beyond,
        certain_rain_mm=[0.0] * WINDOW_DAYS,
        counted_rain_mm=counted + nothing,
        forecast_rain_mm=[expected.rain_mm for expected in ahead] + nothing,
        lowest_c=[expected.lowest_c for expected in ahead] + [None] * beyond,
        estimated=[()] * WINDOW_DAYS,
        climate=season.climate,
        mean_rain_mm=fallen_mm / max(day, LEAST_DAYS_OF_MEAN_RAIN),
        known=len(ahead),
    )


def _planned(
    day: int,
    evening: GardenDays,
    prepared: Sequence[PreparedZone],
    tallies: Sequence[_Tally],
    hours_on: Callable[[dt.date], tuple[Span, ...]],
    turns: dict[str, int],
    gap_s: int,
) -> dict[str, list[ValveOpening]]:
    """What the evening's plan gives, by zone: the openings of its valve."""
    wishes: list[tuple[PreparedZone, float, float, float]] = []
    for season_zone, tally in zip(prepared, tallies, strict=True):
        columns = zone_days(season_zone.numbers, evening)
        chances = chances_of(season_zone.rules, columns, evening, 0, {})
        zone = replace(season_zone, days=columns, chances=chances)
        depletion = min(tally.depletion_mm, columns.taw_mm[0])
        first_mm = decide(0, depletion, zone, evening).net_mm
        second_mm = second_run_mm(0, depletion - first_mm, zone)
        if first_mm > 0.0 or second_mm > 0.0:
            wishes.append((zone, first_mm, second_mm, depletion / columns.raw_mm[0]))
    given: dict[str, list[ValveOpening]] = {}
    if not wishes:
        return given
    for which, span in enumerate(hours_on(evening.dates[0])[:2]):
        doses = []
        for zone, first_mm, second_mm, thirst in wishes:
            net_mm = second_mm if which else first_mm
            openings = openings_of(zone.numbers, net_mm) if net_mm > 0.0 else ()
            if openings:
                doses.append(Dose(zone.numbers, openings, thirst, turns.get(zone.numbers.zone.id, 0)))
        for zone_id, share in share_hours(doses, span, gap_s).items():
            given.setdefault(zone_id, []).extend(placed.opening for placed in share.placed)
    for zone, first_mm, _, _ in wishes:
        zone_id = zone.numbers.zone.id
        if first_mm > 0.0:
            turns[zone_id] = 0 if given.get(zone_id) else turns.get(zone_id, 0) + 1
    return given
