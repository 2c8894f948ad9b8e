"""Puts the parts together: a garden, its weather and its reports become the plan for one date."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from scheduling import decision
from scheduling.demand import HUMIDITY, SOLAR_RADIATION, WIND, Site
from scheduling.errors import OpeningAfterPlan, WeatherGap
from scheduling.garden import Garden, Zone
from scheduling.landscape.application import net_depth_of_volume_mm
from scheduling.ledger import (
    OPENING_SHARE_OF_RAW,
    Start,
    depletion_on,
    first_guess,
    ledger_rows,
    opening_guess_mm,
)
from scheduling.outlook import outlook_after
from scheduling.permission import DateHours, Permission, permission_of
from scheduling.plan import Note, Plan, WeatherUsed, ZonePlan
from scheduling.prepared import PreparedZone, prepare_zone
from scheduling.reports import Delivery, Opening
from scheduling.rules import DAYS_AHEAD_FOR_A_CHANCE, zone_rules
from scheduling.runs import Span
from scheduling.season import ONE_DAY, RAIN, GardenDays, garden_days
from scheduling.second_opinion import second_opinion
from scheduling.supply import allowance_left, share_water
from scheduling.weather import HourAhead, Origin, WeatherDay
from scheduling.windows import Bans
from scheduling.zone_at_work import ZoneAtWork, settle
from scheduling.zone_plan import main_valve_of, total_l, zone_plan

OUTLOOK_DAYS = 3
TEMPERATURE = "temperature"
"""Never estimated: without it there is no day."""


@dataclass(frozen=True, slots=True)
class Occasion:
    """The plan that is asked for."""

    date: dt.date
    hours: tuple[Span | None, ...]
    """Spans in which water may still flow for the date, in order; None for one that is over, and
    nothing at all where they are closed."""
    tz: dt.tzinfo = dt.UTC
    """Time zone in which starts are told."""
    lowest_c: float | None = None
    """Lowest temperature from the opening of the hours to the end of the date; None: the date's."""
    explain: bool = False
    bans: Bans = field(default_factory=Bans)
    """Hours of the clock in which no water flows."""
    by_hour: tuple[HourAhead, ...] = ()
    """Temperature and wind by the hour, in order, where the forecast has them."""
    warm_hours: Span | None = None
    """Where to look for warm hours, for zones with `frost_warm_hours`."""

    @property
    def date_hours(self) -> DateHours:
        """What is known of the hours of the date."""
        return DateHours(self.hours, self.bans, self.by_hour, self.warm_hours)


@dataclass(frozen=True, slots=True)
class History:
    """Where the ledgers begin, and what has flowed since."""

    opening: Opening | None = None
    """Depletions to start from; None: a first guess, as if this tool's plans had been carried out."""
    opening_is_guess: bool = False
    """True where `opening` is itself a first guess, reckoned earlier."""
    deliveries: tuple[Delivery, ...] = ()
    """What has flowed or is planned to. Those before the ledgers begin count for allowances alone."""


def make_plan(garden: Garden, weather: Sequence[WeatherDay], history: History, occasion: Occasion) -> Plan:
    """Plan one date for all zones of a garden.

    Parameters
    ----------
    garden : Garden
        As described.
    weather : sequence of WeatherDay
        Consecutive days from where the ledgers begin to the plan's date, and what is forecast
        beyond it.
    history : History
        Where the ledgers begin, and what has been delivered.
    occasion : Occasion
        The date, its watering hours and what is asked.

    Raises
    ------
    WeatherGap, WeatherIncomplete
        The weather does not carry the ledgers to the date.
    OpeningAfterPlan
        The ledgers begin after the date.
    InvalidGarden, UnknownName
        A zone whose numbers cannot be.
    """
    days = _days_for(garden, weather, occasion.date)
    opening = history.opening
    if opening is not None:
        if opening.date > occasion.date:
            raise OpeningAfterPlan(opening.date, occasion.date)
        if opening.date < days.dates[0]:
            raise WeatherGap(opening.date, days.dates[0] - ONE_DAY)
        days = days.since(_first_ledger(garden, opening))
    index = days.index(occasion.date)
    lowest_c = occasion.lowest_c if occasion.lowest_c is not None else days.lowest_c[index]
    turns = opening.turns_for(occasion.date) if opening is not None else {}

    decides_from = index if opening is not None else 0
    hours = occasion.date_hours
    at_work = []
    for zone in garden.zones:
        permission = permission_of(zone.id, zone_rules(garden, zone.rules, zone.id), lowest_c, hours)
        frost_to_fear_c = None if permission.moved_to_warm_hours else lowest_c
        prepared = prepare_zone(zone, garden, days, decides_from, {index: frost_to_fear_c})
        at_work.append(_carry_to(index, prepared, days, history, permission, occasion.explain))
    twice = len(occasion.hours) > 1
    for work in at_work:
        settle(work, index, days, twice, occasion.by_hour)

    supply = garden.water_supply
    allowance = allowance_left(supply.allowance_l, _litres_by_date(history.deliveries), occasion.date)
    wishes = [work.wish(index, turns) for work in at_work]
    shares = share_water(wishes, supply, math.inf if allowance is None else allowance.left_l)
    zones = tuple(
        zone_plan(
            work, index, days, shares.get(work.prepared.numbers.zone.id), lowest_c, allowance, occasion.tz
        )
        for work in at_work
    )
    used = _weather_used(weather, days, index, lowest_c)
    asked = dict(used.sources).get(TEMPERATURE, "")
    other = second_opinion(occasion.date, used.eto_mm, used.source_eto_mm, asked)
    return Plan(
        garden=garden.id,
        date=occasion.date,
        history="assumed" if any(work.assumed for work in at_work) else "known",
        volume_l=total_l(plan.volume_l for plan in zones),
        main_valve=main_valve_of(zones),
        weather=used,
        zones=zones,
        state=_state(at_work, zones, turns, occasion.date),
        outlook=outlook_after(at_work, zones, index, OUTLOOK_DAYS, days, twice),
        notes=(*_garden_notes(occasion), *((other,) if other is not None else ())),
    )


def guess_opening(garden: Garden, weather: Sequence[WeatherDay], date: dt.date) -> Opening:
    """First guess of every zone's depletion on the morning of a date; raises as `make_plan` does."""
    days = _days_for(garden, weather, date)
    until = days.index(date)
    depletion_mm = {}
    for zone in garden.zones:
        prepared = prepare_zone(zone, garden, days, 0, {})
        irrigation = first_guess(until, prepared, days)
        start = Start(0, opening_guess_mm(prepared.days))
        depletion_mm[zone.id] = depletion_on(until, start, irrigation, prepared.days)
    return Opening(date, depletion_mm, {})


def _first_ledger(garden: Garden, opening: Opening) -> dt.date:
    """The first date that any zone's ledger can begin on, where an opening is given."""
    full = [zone.soil_full_on for zone in garden.zones if zone.soil_full_on is not None]
    return min((opening.date, *full))


def site_of(garden: Garden) -> Site:
    """Where a garden's weather happens; at sea level where nothing says how high it lies."""
    return Site(garden.latitude, garden.elevation_m or 0.0, garden.coastal, garden.arid)


def _days_for(garden: Garden, weather: Sequence[WeatherDay], date: dt.date) -> GardenDays:
    site = site_of(garden)
    until = date + dt.timedelta(days=OUTLOOK_DAYS + DAYS_AHEAD_FOR_A_CHANCE)
    return garden_days(weather, site, date, until)


def _litres_by_date(deliveries: Sequence[Delivery]) -> dict[dt.date, float]:
    litres: dict[dt.date, float] = {}
    for delivery in deliveries:
        litres[delivery.date] = litres.get(delivery.date, 0.0) + delivery.volume_l
    return litres


def _carry_to(
    index: int,
    prepared: PreparedZone,
    days: GardenDays,
    history: History,
    permission: Permission,
    explain: bool,
) -> ZoneAtWork:
    """Carry one zone's ledger to the plan's date."""
    zone = prepared.numbers.zone
    notes = list(prepared.numbers.notes)
    irrigation: dict[int, float] = {}
    for delivery in history.deliveries:
        if delivery.zone == zone.id:
            day = days.index(delivery.date)
            net_mm = net_depth_of_volume_mm(delivery.volume_l, zone.area_m2, prepared.numbers.efficiency)
            irrigation[day] = irrigation.get(day, 0.0) + net_mm

    delivered_mm = irrigation.get(index, 0.0)
    start, assumed = _start(zone, prepared, days, history, index, notes)
    if start is None:
        start = Start(0, opening_guess_mm(prepared.days))
        irrigation = first_guess(index, prepared, days)
    depletion_mm = depletion_on(index, start, irrigation, prepared.days)
    rows = ledger_rows(index, start, irrigation, prepared, days) if explain else None
    return ZoneAtWork(prepared, depletion_mm, delivered_mm, assumed, notes, rows, permission)


def _start(
    zone: Zone, prepared: PreparedZone, days: GardenDays, history: History, index: int, notes: list[Note]
) -> tuple[Start | None, bool]:
    """Where a zone's ledger begins, and whether that is a guess; None: guess from the first day on."""
    opening = history.opening
    full_on = zone.soil_full_on
    if full_on is not None and (opening is None or full_on >= opening.date or history.opening_is_guess):
        day = days.index(full_on)
        if 0 <= day <= index:
            return Start(day, 0.0), False
        where = "before the weather at hand begins" if day < 0 else "after the plan's date"
        notes.append(Note("soil-full-on-unused", f"soil_full_on {full_on} lies {where}: it is not used."))
    if opening is None:
        return None, True
    depletion_mm = opening.depletion_mm.get(zone.id)
    day = days.index(opening.date)
    if depletion_mm is None:
        notes.append(
            Note("opening-assumed", f"No depletion was given for {opening.date}: half of RAW is taken.")
        )
        return Start(day, OPENING_SHARE_OF_RAW * prepared.days.raw_mm[day]), True
    taw_mm = prepared.days.taw_mm[day]
    return Start(day, min(depletion_mm, taw_mm)), history.opening_is_guess


def _state(
    at_work: Sequence[ZoneAtWork], zones: Sequence[ZonePlan], turns: dict[str, int], date: dt.date
) -> Opening:
    """What the next plan starts from: depletions, and who went without for want of hours or litres."""
    depletion_mm = {work.prepared.numbers.zone.id: work.depletion_mm for work in at_work}
    before, after = {}, {}
    for plan in zones:
        turns_before = turns.get(plan.zone, 0)
        if turns_before:
            before[plan.zone] = turns_before
        if plan.reasons[0].code in (decision.HOURS_FULL, decision.ALLOWANCE_SPENT):
            after[plan.zone] = turns_before + 1
        elif turns_before and plan.decision == "wait":
            after[plan.zone] = turns_before
    return Opening(date, depletion_mm, before, after)


def _weather_used(
    weather: Sequence[WeatherDay], days: GardenDays, index: int, lowest_c: float | None
) -> WeatherUsed:
    day = next(day for day in weather if day.date == days.dates[index])
    return WeatherUsed(
        t_min_c=day.t_min_c,
        t_max_c=day.t_max_c,
        lowest_c=lowest_c,
        eto_mm=days.eto_mm[index],
        rain_mm=day.rain_mm,
        rain_probability=day.rain_probability,
        counted_rain_mm=days.counted_rain_mm[index],
        estimated=days.estimated[index],
        rain_trust_share=day.rain_trust_share,
        source_eto_mm=day.source_eto_mm,
        sources=tuple(
            (quantity, day.source_of(quantity))
            for quantity in (TEMPERATURE, HUMIDITY, WIND, SOLAR_RADIATION, RAIN)
            if day.origin is not Origin.ASSUMED and quantity not in days.estimated[index]
        ),
    )


def _garden_notes(occasion: Occasion) -> tuple[Note, ...]:
    notes = []
    if not any(occasion.hours):
        notes.append(Note("hours-closed", f"There are no watering hours left for {occasion.date}."))
    return tuple(notes)
