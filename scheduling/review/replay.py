"""A fixed timer: what plans are compared with."""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from scheduling import catalogue
from scheduling.balance.evapotranspiration import site_of
from scheduling.balance.garden_series import GardenDays, garden_days
from scheduling.balance.ledger import opening_guess_mm
from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.stand import PreparedZone, prepare_stands, prepared_of
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.garden.description import Garden
from scheduling.landscape.application import gross_depth_mm, net_depth_of_volume_mm, volume_of_depth_l
from scheduling.plan.evening import decide_evening
from scheduling.plan.zone_at_work import Stand, ZoneMorning
from scheduling.reasons import Note
from scheduling.reasons.notes import SeasonNotReplayed, WarmHoursUnknown, WindUnknownInThePast
from scheduling.review.foresight import Foresight, clairvoyant_mm, evening_before
from scheduling.review.season_account import Account, Tally, together
from scheduling.tap.allocation import paced_allowance
from scheduling.tap.permission import DateHours, permission_of
from scheduling.zone.metering import LearnedFlow
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import DAYS_AHEAD_FOR_A_CHANCE, ZoneRules, is_paused
from scheduling.zone.surface_layer import WET


@dataclass(frozen=True, slots=True)
class Timer:
    """A fixed timer for one zone: the same water on the same days, whatever the weather.

    It waters outside the planting's season, and while a pause stops the plans, no more than its owner would.
    """

    every_days: int = 1
    """1 is daily; counted from the first date of the replay, which is watered."""
    volume_l: float | None = None
    """Litres at each watering, or else:"""
    run_time_s: float | None = None
    """Seconds at the zone's flow."""

    def litres(self, flow_l_min: float) -> float:
        """What one watering passes. [l]"""
        if self.volume_l is not None:
            return self.volume_l
        return (self.run_time_s or 0.0) / 60.0 * flow_l_min


WINDOW_DAYS = DAYS_AHEAD_FOR_A_CHANCE + 1
"""Days an evening looks over: the plan's date and as many as a next chance may be away."""

NOTHING_LEARNED: Final[Mapping[str, LearnedFlow]] = MappingProxyType({})
HoursOn = Callable[[dt.date], DateHours]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class StandReplay:
    """One planting of a zone through the season."""

    plant: str
    share: float
    planned: Account
    ledger: tuple[LedgerRow, ...]
    """Empty unless requested."""


@dataclass(frozen=True, slots=True)
class ZoneReplay:
    """One zone through the season."""

    zone: str
    planned: Account
    timer: Account | None
    least_mm: float
    """The clairvoyant's water. Who lets days close above RAW may well use less."""
    least_volume_l: float
    ledger: tuple[LedgerRow, ...]
    """Empty unless requested, and if each of several plantings has its own."""
    notes: tuple[Note, ...] = ()
    """What is odd about the zone's numbers."""
    plants: tuple[StandReplay, ...] = ()
    """Where several plantings share the ground, each of them."""
    litres: Mapping[dt.date, float] = field(default_factory=dict)
    """What its valve passed, by date."""
    timer_litres: Mapping[dt.date, float] = field(default_factory=dict)
    """What it would have passed by the timer."""

    @property
    def excess(self) -> float | None:
        """Water above the clairvoyant's least, as a share of it; None where that is nothing."""
        return self.planned.excess_over(self.least_mm)


@dataclass(frozen=True, slots=True)
class Replay:
    """A season of a garden."""

    first: dt.date
    last: dt.date
    zones: tuple[ZoneReplay, ...]
    estimated: dict[str, int]
    """What FAO-56's substitutes stood for, and on how many days."""


@dataclass(slots=True)
class _StandInSeason:
    """One planting of a zone while the season runs."""

    prepared: PreparedZone
    planned: Tally
    timed: Tally


@dataclass(slots=True)
class _ZoneInSeason:
    """One zone while the season runs."""

    stands: tuple[_StandInSeason, ...]
    timer: Timer | None
    turns_without: int = 0
    hours_unknown_on: int = 0
    """Dates of frost on which the rule needs warm hours but no hourly values are known."""
    wind_unknown_on: int = 0
    """Dates of which the wind by the hour was not known, though the owner has set a limit."""
    litres: dict[dt.date, float] = field(default_factory=dict)
    timer_litres: dict[dt.date, float] = field(default_factory=dict)

    @property
    def numbers(self) -> ZoneNumbers:
        """What is the same for all that grows in it."""
        return self.stands[0].prepared.numbers

    @property
    def rules(self) -> ZoneRules:
        """Likewise."""
        return self.stands[0].prepared.rules

    def net_mm(self, volume_l: float) -> float:
        """Depth that so many litres bring to the roots."""
        return net_depth_of_volume_mm(volume_l, self.numbers.zone.area_m2, self.numbers.efficiency)


def replay(
    garden: Garden,
    weather: Sequence[WeatherDay],
    foresight: Foresight,
    hours_on: HoursOn,
    timers: Mapping[str, Timer] | None = None,
    explain: bool = False,
    progress: Progress | None = None,
    flows: Mapping[str, LearnedFlow] = NOTHING_LEARNED,
) -> Replay:
    """Replay a season for all zones of a garden.

    Parameters
    ----------
    weather : sequence of WeatherDay
        Consecutive days; all are taken as over, whatever is said of their origin. Ledgers open
        on the first with half of RAW missing, or full where `soil_full_on` is that day.
    foresight : Foresight
        What each evening knew of the days to come.
    hours_on : callable
        The watering hours of a date, and the hours in which no water may flow. Where they tell
        temperatures and wind by the hour too, an evening with a forecast knows them.
    timers : mapping
        A fixed timer by zone id, to compare with.
    progress : callable
        Told after each day how many are done, of how many.
    flows : mapping
        By zone id, the flow that its meter tells; without one, that of its description.

    Raises
    ------
    WeatherGap, WeatherIncomplete
        A day is missing, or lacks a value that cannot be estimated.
    ValueError
        There is no day at all.
    InvalidGarden, UnknownName
        A zone whose numbers cannot be.
    """
    season = _season(garden, weather)
    zones = [
        _in_season(
            prepare_stands(zone, garden, season, 0, {}, flows.get(zone.id)),
            season,
            (timers or {}).get(zone.id),
            explain,
        )
        for zone in garden.zones
    ]
    supply, fallen_mm = garden.water_supply, 0.0
    used_l: dict[dt.date, float] = {}
    for day in range(season.known):
        evening = evening_before(day, season, foresight, fallen_mm, WINDOW_DAYS)
        date = evening.dates[0]
        hours = hours_on(date) if evening.known else replace(hours_on(date), by_hour=())
        mornings = [_on_morning(zone, evening, hours) for zone in zones]
        rules = (zone.stands[0].prepared.rules for zone in zones)
        allowance = paced_allowance(supply.allowance_l, used_l, date, rules)
        twice = len(hours.spans) > 1
        decided = decide_evening(0, mornings, evening, twice, hours.by_hour, supply, allowance)
        for zone, work in zip(zones, decided, strict=True):
            zone.turns_without = work.turns_after
            zone.wind_unknown_on += work.permission.wind_is_unknown
            openings = () if work.share is None else [run.opening for run in work.share.placed]
            volume_l = sum(opening.volume_l for opening in openings)
            if volume_l > 0.0:
                zone.litres[date] = volume_l
                used_l[date] = used_l.get(date, 0.0) + volume_l
            net_mm = zone.net_mm(volume_l)
            for stand in zone.stands:
                stand.planned.runs += len(openings)
                stand.planned.close(day, net_mm, stand.prepared, season)
            _run_timer(day, zone, season)
        fallen_mm += season.certain_rain_mm[day]
        if progress is not None:
            progress(day + 1, season.known)
    return Replay(
        first=season.dates[0],
        last=season.dates[-1],
        zones=tuple(_told(zone) for zone in zones),
        estimated=dict(Counter(name for names in season.estimated for name in names)),
    )


def _season(garden: Garden, weather: Sequence[WeatherDay]) -> GardenDays:
    """The days as they were: all over, all rain fallen."""
    if not weather:
        raise ValueError("There are no days of weather; a replay needs at least one.")
    over = [replace(day, origin=Origin.ANALYSED) if day.origin is Origin.FORECAST else day for day in weather]
    last = over[-1].date
    return garden_days(over, site_of(garden), last, last)


def _in_season(
    stands: Sequence[PreparedZone], season: GardenDays, timer: Timer | None, explain: bool
) -> _ZoneInSeason:
    is_full = stands[0].numbers.zone.soil_full_on == season.dates[0]
    surface = WET if is_full else None
    in_season = []
    for stand in stands:
        opening_mm = 0.0 if is_full else opening_guess_mm(stand.days)
        planned, timed = Tally(opening_mm, explain, surface), Tally(opening_mm, surface=surface)
        in_season.append(_StandInSeason(stand, planned, timed))
    return _ZoneInSeason(tuple(in_season), timer)


def _run_timer(day: int, zone: _ZoneInSeason, season: GardenDays) -> None:
    if zone.timer is None:
        return
    is_fallow = all(stand.prepared.days.dormant[day] for stand in zone.stands)
    rests = is_fallow or is_paused(zone.rules, season.dates[day])
    due = day % zone.timer.every_days == 0 and not rests
    volume_l = zone.timer.litres(zone.numbers.flow_l_min) if due else 0.0
    if due:
        zone.timer_litres[season.dates[day]] = volume_l
    net_mm = zone.net_mm(volume_l)
    for stand in zone.stands:
        stand.timed.runs += due
        stand.timed.close(day, net_mm, stand.prepared, season)


def _told(zone: _ZoneInSeason) -> ZoneReplay:
    numbers, described = zone.numbers, zone.numbers.zone
    shares = [stand.prepared.numbers.share for stand in zone.stands]
    planned = [stand.planned.account(stand.prepared) for stand in zone.stands]
    timed = [stand.timed.account(stand.prepared) for stand in zone.stands]
    least_mm = clairvoyant_mm(
        [_as_it_dried(stand) for stand in zone.stands], [stand.planned.opening_mm for stand in zone.stands]
    )
    ledgers = [tuple(stand.planned.rows) for stand in zone.stands]
    is_mix = len(zone.stands) > 1
    return ZoneReplay(
        zone=described.id,
        planned=together(planned, shares),
        timer=None if zone.timer is None else together(timed, shares),
        least_mm=least_mm,
        least_volume_l=volume_of_depth_l(gross_depth_mm(least_mm, numbers.efficiency), described.area_m2),
        ledger=() if is_mix else ledgers[0],
        notes=tuple(
            dict.fromkeys(
                note
                for stand in zone.stands
                for note in (*stand.prepared.numbers.notes, *_fallow_note(stand.prepared))
            )
        )
        + _hours_notes(zone),
        plants=tuple(
            StandReplay(stand.prepared.numbers.planting.plant, share, account, rows)
            for stand, share, account, rows in zip(zone.stands, shares, planned, ledgers, strict=True)
        )
        if is_mix
        else (),
        litres=zone.litres,
        timer_litres=zone.timer_litres,
    )


def _as_it_dried(stand: _StandInSeason) -> PreparedZone:
    """The stand with the surface evaporation caused by the planned watering."""
    full = stand.planned.opening_mm == 0.0
    return stand.prepared.with_water(stand.planned.net_by_day, 0, WET if full else None)


def _fallow_note(prepared: PreparedZone) -> tuple[Note, ...]:
    """That nothing grew, where nothing did: it is likely not what was meant."""
    if not all(prepared.days.dormant):
        return ()
    planting = prepared.numbers.planting
    plant = catalogue.plant(planting.plant).called if prepared.numbers.share < 1.0 else None
    return (SeasonNotReplayed(plant, planting.known_planting),)


def _hours_notes(zone: _ZoneInSeason) -> tuple[Note, ...]:
    """That rules that go by the hour could not act, where they could not."""
    notes: list[Note] = []
    if zone.hours_unknown_on:
        notes.append(WarmHoursUnknown(zone.hours_unknown_on))
    if zone.wind_unknown_on:
        notes.append(WindUnknownInThePast(zone.rules.wind_limit_m_s or 0.0, zone.wind_unknown_on))
    return tuple(notes)


def _on_morning(zone: _ZoneInSeason, evening: GardenDays, hours: DateHours) -> ZoneMorning:
    """One zone as an evening sees it."""
    rules, lowest_c = zone.rules, evening.lowest_c[0]
    permission = permission_of(zone.numbers.zone.id, rules, lowest_c, hours)
    feared_c = None if permission.moved_to_warm_hours else lowest_c
    limit_c = rules.frost_limit_c
    if rules.frost_warm_hours and not hours.by_hour and limit_c is not None:
        zone.hours_unknown_on += feared_c is not None and feared_c < limit_c
    numbers = [stand.prepared.numbers for stand in zone.stands]
    stands = []
    for prepared, in_season in zip(
        prepared_of(numbers, rules, evening, 0, {0: feared_c}), zone.stands, strict=True
    ):
        surface = in_season.planned.surface
        seen = prepared if surface is None else prepared.with_water({}, 0, surface)
        stands.append(Stand(seen, min(in_season.planned.depletion_mm, seen.days.taw_mm[0])))
    return ZoneMorning(stands, permission, turns_without=zone.turns_without)
