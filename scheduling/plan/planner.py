"""Puts the parts together: a garden, its weather and its reports become the plan for one date."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from scheduling.balance.evapotranspiration import second_opinion, site_of
from scheduling.balance.garden_series import ONE_DAY, GardenDays, garden_days_once
from scheduling.balance.ledger import (
    NOTHING_ADJUSTED,
    Start,
    depletion_on,
    knowing_its_water,
    ledger_rows,
    opening_guess_mm,
)
from scheduling.balance.stand import PreparedZone, prepare_stands, prepared_of, rules_of
from scheduling.balance.weather import (
    HUMIDITY,
    RAIN,
    SOLAR_RADIATION,
    TEMPERATURE,
    WIND,
    HourAhead,
    Origin,
    WeatherDay,
)
from scheduling.balance.zone_series import zone_days_once
from scheduling.errors import OpeningAfterPlan, WeatherGap
from scheduling.garden.description import Garden
from scheduling.garden.reports import Delivery, MorningReading, Opening
from scheduling.landscape.application import net_depth_of_volume_mm
from scheduling.plan.evening import decide_evening
from scheduling.plan.initial_state import History, first_guess, first_ledger, opening_of, starts_of
from scheduling.plan.notes import absence_notes
from scheduling.plan.outlook import outlook_after
from scheduling.plan.plan import Plan, WeatherUsed
from scheduling.plan.reason_facts import rounded_down
from scheduling.plan.zone_at_work import Ledgers, Stand, ZoneAtWork, ZoneMorning
from scheduling.plan.zone_plan import main_valve_of, total_l, zone_plan
from scheduling.probes.assimilation import follow, readings_by_zone, spoken_for
from scheduling.probes.status import NOTHING_FOLLOWED, probe_notes
from scheduling.reasons import Note
from scheduling.reasons.weather_notes import NoHoursLeft
from scheduling.tap.allocation import paced_allowance
from scheduling.tap.permission import DateHours, permission_of
from scheduling.tap.windows import Bans, Span
from scheduling.zone.from_catalogue import stands_of
from scheduling.zone.rules import DAYS_AHEAD_FOR_A_CHANCE

OUTLOOK_DAYS = 3


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
    opening = history.opening
    since = None if opening is None else first_ledger(garden, opening)
    days = _days_for(garden, weather, occasion.date, since)
    if opening is not None:
        if opening.date > occasion.date:
            raise OpeningAfterPlan(opening.date, occasion.date)
        if opening.date < days.dates[0]:
            raise WeatherGap(opening.date, days.dates[0] - ONE_DAY)
    index = days.index(occasion.date)
    lowest_c = occasion.lowest_c if occasion.lowest_c is not None else days.lowest_c[index]
    turns = opening.turns_for(occasion.date) if opening is not None else {}

    decides_from = index if opening is not None else 0
    hours = occasion.date_hours
    ledgers, mornings = [], []
    moisture = readings_by_zone(history.moisture)
    for zone in garden.zones:
        numbers = stands_of(zone, garden, history.flows.get(zone.id))
        rules = rules_of(numbers, garden)
        permission = permission_of(zone.id, rules, lowest_c, hours)
        feared_c = {index: None if permission.moved_to_warm_hours else lowest_c}
        stands = prepared_of(numbers, rules, days, decides_from, feared_c, zone_days_once)
        readings = moisture.get(zone.id, ())
        told = _carry_to(index, stands, days, history, readings, occasion.explain)
        ledgers.append(told)
        without = turns.get(zone.id, 0)
        mornings.append(ZoneMorning(told.stands, permission, told.delivered_mm, without))

    supply, twice = garden.water_supply, len(occasion.hours) > 1
    allowance = paced_allowance(
        supply.allowance_l,
        _litres_by_date(history.deliveries),
        occasion.date,
        (morning.stands[0].prepared.rules for morning in mornings),
    )
    decided = decide_evening(index, mornings, days, twice, occasion.by_hour, supply, allowance)
    at_work = [work.on_wet_ground(index) for work in decided]
    zones = tuple(
        zone_plan(work, told, index, days, lowest_c, allowance, occasion.tz)
        for work, told in zip(at_work, ledgers, strict=True)
    )
    zones, outlook = outlook_after(at_work, zones, index, OUTLOOK_DAYS, days, twice)
    used = _weather_used(weather, days, index, lowest_c)
    other = second_opinion(occasion.date, used.eto_mm, used.source_eto_mm)
    return Plan(
        garden=garden.id,
        date=occasion.date,
        history="assumed" if any(told.assumed for told in ledgers) else "known",
        volume_l=total_l(plan.volume_l for plan in zones),
        main_valve=main_valve_of(zones),
        weather=used,
        zones=zones,
        state=_state(ledgers, at_work, occasion.date, index),
        outlook=outlook,
        notes=(
            *_garden_notes(occasion),
            *(absence_notes(garden.absence, at_work, index, days) if garden.absence else ()),
            *((other,) if other is not None else ()),
        ),
        units=garden.units,
    )


def guess_opening(garden: Garden, weather: Sequence[WeatherDay], date: dt.date) -> Opening:
    """First guess of every zone's depletion on the morning of a date; raises as `make_plan` does."""
    days = _days_for(garden, weather, date)
    until = days.index(date)
    zones = {
        zone.id: first_guess(until, prepare_stands(zone, garden, days, 0, {}), days).stands
        for zone in garden.zones
    }
    return opening_of(date, until, zones)


def _days_for(
    garden: Garden, weather: Sequence[WeatherDay], date: dt.date, since: dt.date | None = None
) -> GardenDays:
    until = date + dt.timedelta(days=OUTLOOK_DAYS + DAYS_AHEAD_FOR_A_CHANCE)
    return garden_days_once(tuple(weather), site_of(garden), date, until, since)


def _litres_by_date(deliveries: Sequence[Delivery]) -> dict[dt.date, float]:
    litres: dict[dt.date, float] = {}
    for delivery in deliveries:
        litres[delivery.date] = litres.get(delivery.date, 0.0) + delivery.volume_l
    return litres


def _carry_to(
    index: int,
    stands: Sequence[PreparedZone],
    days: GardenDays,
    history: History,
    readings: Sequence[MorningReading],
    explain: bool,
) -> Ledgers:
    """Carry one zone's ledgers to the plan's date; `readings` are those of its soil probes."""
    numbers = stands[0].numbers
    zone = numbers.zone
    notes = list(dict.fromkeys(note for stand in stands for note in stand.numbers.notes))
    irrigation: dict[int, float] = {}
    for delivery in history.deliveries:
        if delivery.zone == zone.id:
            day = days.index(delivery.date)
            net_mm = net_depth_of_volume_mm(delivery.volume_l, zone.area_m2, numbers.efficiency)
            irrigation[day] = irrigation.get(day, 0.0) + net_mm

    delivered_mm = irrigation.get(index, 0.0)
    starts, assumed = starts_of(zone, stands, days, history, index, notes)
    if starts is None:
        irrigation = {**first_guess(index, stands, days).irrigation_mm, index: delivered_mm}
        starts = [Start(0, opening_guess_mm(stand.days)) for stand in stands]
    followed, place = NOTHING_FOLLOWED, 0
    if readings:
        place = spoken_for(stands)
        knowing = knowing_its_water(stands[place], starts[place], irrigation)
        followed = follow(readings, starts[place], index, irrigation, knowing, days)
        notes.extend(probe_notes(followed, index - 1, days.dates[index] - ONE_DAY))
    on_morning = []
    for number, (prepared, start) in enumerate(zip(stands, starts, strict=True)):
        corrected = followed.adjustment_mm if number == place else NOTHING_ADJUSTED
        knowing = knowing_its_water(prepared, start, irrigation)
        depletion_mm = depletion_on(index, start, irrigation, knowing.days, corrected)
        rows = ledger_rows(index, start, irrigation, knowing, days, corrected) if explain else None
        on_morning.append(Stand(knowing, depletion_mm, rows))
    return Ledgers(on_morning, delivered_mm, assumed, notes, followed)


def _state(ledgers: Sequence[Ledgers], at_work: Sequence[ZoneAtWork], date: dt.date, index: int) -> Opening:
    """What the next plan starts from: depletions, and who went without for want of hours or litres."""
    by_zone = {work.prepared.numbers.zone.id: work for work in at_work}
    before = {zone: work.turns_without for zone, work in by_zone.items() if work.turns_without}
    after = {zone: work.turns_after for zone, work in by_zone.items() if work.turns_after}
    stands = {zone: work.stands for zone, work in by_zone.items()}
    assumed = frozenset(zone for zone, told in zip(by_zone, ledgers, strict=True) if told.assumed)
    return replace(opening_of(date, index, stands, before, after), assumed=assumed)


def _weather_used(
    weather: Sequence[WeatherDay], days: GardenDays, index: int, lowest_c: float | None
) -> WeatherUsed:
    day = next(day for day in weather if day.date == days.dates[index])
    return WeatherUsed(
        t_min_c=day.t_min_c,
        t_max_c=day.t_max_c,
        lowest_c=None if lowest_c is None else rounded_down(lowest_c),
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
    return () if any(occasion.hours) else (NoHoursLeft(occasion.date),)
