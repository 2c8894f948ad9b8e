"""Gardens, zones and days to test with: round numbers that can be reckoned in the head.

The lawn stands on a store of 40 mm, of which 20 mm are readily available on a day of 5 mm; its surface
lets water in as sand does, so that runs of up to an hour need no rest.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.stand import PreparedZone, prepare_stands
from scheduling.balance.weather import HourAhead, Origin, WeatherDay
from scheduling.balance.zone_series import ZoneDays
from scheduling.garden.description import (
    Container,
    Emitters,
    Garden,
    Planting,
    Site,
    Soil,
    Watering,
    Zone,
)
from scheduling.garden.reports import Delivery, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, make_plan
from scheduling.tap.windows import Span
from scheduling.zone.climate import Climate
from scheduling.zone.from_catalogue import numbers_of
from scheduling.zone.rules import Chances, zone_rules

ONE_DAY = dt.timedelta(days=1)
JULY_1 = dt.date(2026, 7, 1)
"""A Wednesday."""

LAWN = Zone(
    id="lawn",
    area_m2=50.0,
    planting=Planting("turf-cool-season", kc=1.0, root_depth_m=0.2, depletion_fraction=0.5),
    soil=Soil(field_capacity=0.30, wilting_point=0.10, texture="sand"),
    watering=Watering("overhead-spray", flow_l_min=20.0, efficiency=0.8, smallest_depth_mm=3.0),
)
SHRUBS = Zone(
    id="shrubs",
    area_m2=20.0,
    planting=Planting("shrubs", kc=0.5, root_depth_m=0.4, depletion_fraction=0.5),
    soil=Soil(texture="loam"),
    watering=Watering("drip-line", flow_l_min=4.0, efficiency=0.9, wetted_share=0.4),
)
TROUGHS = Zone(
    id="troughs",
    area_m2=2.4,
    planting=Planting("herbs"),
    soil=Soil(container=Container(180.0, capacity_share=0.5, unavailable_share=0.2, surface_m2=2.4)),
    watering=Watering("drip-points", emitters=Emitters(24, 2.0)),
    site=Site(rain_share=0.2),
)
POTS = Zone(
    id="pots",
    area_m2=2.0,
    planting=Planting("container-flowering", kc=1.0, depletion_fraction=0.4),
    soil=Soil(container=Container(50.0, capacity_share=0.5, unavailable_share=0.3)),
    watering=Watering("drip-points", emitters=Emitters(20, 2.0)),
    site=Site(rain_share=0.0),
)
"""A store of 5 mm: a summer's day takes most of it."""


def a_garden(*zones: Zone, **fields: Any) -> Garden:
    """A garden in Greenwich, so that clock time is UTC in winter and nothing hangs on the sun."""
    return Garden(
        **{
            "id": "test-garden",
            "latitude": 45.0,
            "longitude": 0.0,
            "timezone": "UTC",
            "elevation_m": 0.0,
            "zones": zones,
            **fields,
        }
    )


def night_before(date: dt.date, tz: dt.tzinfo = dt.UTC, opens_h: int = 22, closes_h: int = 6) -> Span:
    """Hours from the evening before a date to its morning."""
    return Span(
        dt.datetime.combine(date - ONE_DAY, dt.time(opens_h), tz),
        dt.datetime.combine(date, dt.time(closes_h), tz),
    )


def summer_day(date: dt.date, **fields: Any) -> WeatherDay:
    """A dry day of which everything is known, about 5.5 mm in July."""
    return WeatherDay(
        **{
            "date": date,
            "t_min_c": 15.0,
            "t_max_c": 28.0,
            "t_dew_c": 12.0,
            "wind_m_s": 2.0,
            "solar_mj_m2": 24.0,
            "rain_mm": 0.0,
            "origin": Origin.ANALYSED,
            **fields,
        }
    )


def summer_days(first: dt.date, count: int, **fields: Any) -> list[WeatherDay]:
    """So many such days in a row."""
    return [summer_day(first + ahead * ONE_DAY, **fields) for ahead in range(count)]


def a_case(
    etc_mm: Sequence[float] = (5.0,) * 20,
    *,
    taw_mm: float | Sequence[float] = 40.0,
    raw_mm: float | Sequence[float] = 20.0,
    counted_mm: Sequence[float] = (),
    certain_mm: Sequence[float] = (),
    next_chance: int = 1,
    against: str | None = None,
    mean_rain_mm: float = 0.0,
    known: int | None = None,
    zone: Zone = LAWN,
) -> tuple[PreparedZone, GardenDays]:
    """A zone on its first day, column by column; the next chance to water is so many days off.

    Counted rain is what is forecast; certain rain, which has fallen, comes on top of it. The forecast
    reaches over `known` days, None: all of them.
    """
    count = len(etc_mm)
    garden = a_garden(zone)
    certain = _filled(certain_mm, count)
    counted = [fallen + more for fallen, more in zip(certain, _filled(counted_mm, count), strict=True)]
    days = GardenDays(
        dates=[JULY_1 + ahead * ONE_DAY for ahead in range(count)],
        eto_mm=list(etc_mm),
        certain_rain_mm=certain,
        counted_rain_mm=counted,
        forecast_rain_mm=_filled(counted_mm, count),
        lowest_c=[15.0] * count,
        estimated=[()] * count,
        climate=Climate(),
        mean_rain_mm=mean_rain_mm,
        known=count if known is None else known,
    )
    columns = ZoneDays(
        kc=[1.0] * count,
        etc_mm=list(etc_mm),
        taw_mm=[taw_mm] * count if isinstance(taw_mm, float) else list(taw_mm),
        raw_mm=[raw_mm] * count if isinstance(raw_mm, float) else list(raw_mm),
        certain_rain_mm=certain,
        counted_rain_mm=counted,
        dormant=[False] * count,
        runoff_mm=[0.0] * count,
    )
    chances = Chances([against] + [None] * (count - 1), [next_chance] + [0] * (count - 1))
    numbers = numbers_of(zone, garden)
    return PreparedZone(numbers, zone_rules(garden, zone.rules, zone.id), columns, chances), days


def _filled(values: Sequence[float], count: int) -> list[float]:
    return [*values, *[0.0] * (count - len(values))]


def carried_out(plan: Plan) -> tuple[Delivery, ...]:
    """What has flowed when a plan was followed."""
    return tuple(Delivery(zone.zone, plan.date, zone.volume_l) for zone in plan.zones if zone.volume_l > 0.0)


def evening_by_evening(
    garden: Garden,
    weather: Sequence[WeatherDay],
    opening: Opening,
    until: dt.date,
    *,
    days_before: int = 60,
    days_ahead: int = 5,
    hours: int = 1,
    by_hour: Callable[[dt.date], tuple[HourAhead, ...]] | None = None,
) -> Iterator[Plan]:
    """A plan for each date from that of the opening on, each carried out, each told to the next.

    Each evening knows the weather up to that evening, and what comes within some days as a certain forecast.
    """
    state, date = opening, opening.date
    deliveries: tuple[Delivery, ...] = ()
    place = {day.date: index for index, day in enumerate(weather)}
    while date <= until:
        today = place[date]
        known = [*weather[max(0, today - days_before) : today]]
        ahead = [
            replace(day, origin=Origin.FORECAST, rain_probability=1.0)
            for day in weather[today : today + days_ahead]
        ]
        spans = (night_before(date), Span(_noon(date), _noon(date) + dt.timedelta(hours=2)))[:hours]
        winds = by_hour(date) if by_hour is not None else ()
        occasion = Occasion(date, spans, explain=True, by_hour=winds)
        plan = make_plan(garden, [*known, *ahead], History(state, False, deliveries), occasion)
        yield plan
        state, deliveries, date = plan.state, carried_out(plan), date + ONE_DAY


def _noon(date: dt.date) -> dt.datetime:
    return dt.datetime.combine(date, dt.time(12), dt.UTC)


def closing_mm(row: LedgerRow) -> float:
    """The depletion that a day's own water leaves: FAO-56 equation 85, and what was measured."""
    return (
        row.opening_depletion_mm
        - row.infiltrated_rain_mm
        - row.irrigation_mm
        + row.etc_adj_mm
        + row.drainage_mm
        + row.adjustment_mm
    )


def rows_by_zone(plans: Sequence[Plan]) -> Mapping[str, list[LedgerRow]]:
    """The ledger of each zone, put together from what each evening added to it."""
    rows: dict[str, list[LedgerRow]] = {}
    for plan in plans:
        for zone in plan.zones:
            rows.setdefault(zone.zone, []).extend(zone.ledger or ())
    return rows


def all_full_on(garden: Garden, date: dt.date) -> Opening:
    """A morning on which no zone lacks water."""
    return Opening(date, {zone.id: 0.0 for zone in garden.zones}, {})


def with_rules(zone: Zone, **fields: Any) -> Zone:
    """The zone with some rules of its own."""
    return replace(zone, rules=replace(zone.rules, **fields))


def with_watering(zone: Zone, **fields: Any) -> Zone:
    """The zone watered in another way."""
    return replace(zone, watering=replace(zone.watering, **fields))


def with_valve(zone: Zone, **fields: Any) -> Zone:
    """The zone with another valve."""
    return replace(zone, valve=replace(zone.valve, **fields))


def with_site(zone: Zone, **fields: Any) -> Zone:
    """The zone in another place."""
    return replace(zone, site=replace(zone.site, **fields))


def with_planting(zone: Zone, **fields: Any) -> Zone:
    """The zone with other plants."""
    return replace(zone, planting=replace(zone.planting, **fields))


def prepare_zone(
    zone: Zone, garden: Garden, days: GardenDays, decides_from: int = 0, lowest_on: Any = None
) -> PreparedZone:
    """The only planting of a zone, made ready."""
    (only,) = prepare_stands(zone, garden, days, decides_from, lowest_on or {})
    return only
