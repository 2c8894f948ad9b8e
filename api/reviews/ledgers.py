"""The ledgers of stored gardens, which show each day behind a plan."""

import datetime as dt

import orjson

from api.errors import ZoneNotFound
from api.plans.answer_cache import Answer, Answers, ledger_question
from api.plans.plans import Explained, PlanLife
from api.schemas.ledger import (
    CSV,
    QUANTITIES,
    DaySources,
    PlantLedger,
    ZoneLedger,
    dump_zone_ledger,
    ledger_table,
)
from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.weather import RAIN, Origin
from scheduling.garden.description import Zone
from scheduling.plan.plan import ZonePlan


class Ledgers:
    """Returns the ledger of a zone; each answer is cached until something changes it."""

    def __init__(self, life: PlanLife, answers: Answers) -> None:
        self._life = life
        self._answers = answers

    def ledger(
        self, garden_id: str, zone_id: str, first: dt.date | None, last: dt.date | None, form: str
    ) -> Answer:
        """The rows between two dates, both included, None for an open end, as `json` or `csv`.

        Raises
        ------
        GardenNotFound, ZoneNotFound, WeatherUnavailable
            There is no such garden or zone, or no weather to reckon with.
        """
        seen = self._life.explained(self._life.garden_now(garden_id))
        ledger = zone_ledger(seen, zone_id, first, last)
        is_table = form == CSV
        body = ledger_table(ledger).encode() if is_table else orjson.dumps(dump_zone_ledger(ledger))
        return self._answers.keep(
            garden_id,
            ledger_question(zone_id, first, last, form),
            seen.moment.stored.version,
            seen.weather.version,
            seen.fresh_until,
            body,
            seen.moment.now,
        )


def zone_ledger(
    seen: Explained, zone_id: str, first: dt.date | None = None, last: dt.date | None = None
) -> ZoneLedger:
    """A zone's account between two dates. Raises ZoneNotFound."""
    zone = next((zone for zone in seen.moment.garden.zones if zone.id == zone_id), None)
    if zone is None:
        raise ZoneNotFound(zone_id)
    plan = next(plan for plan in seen.plan.zones if plan.zone == zone_id)
    whole = plant_ledgers(zone, plan)
    plantings = tuple(
        PlantLedger(planting.plant, planting.share, _between(planting.rows, first, last))
        for planting in whole
    )
    return ZoneLedger(
        garden=seen.moment.garden.id,
        zone=zone_id,
        history=_history(zone, whole[0].rows),
        plantings=plantings,
        weather=_sources_by_day(seen, {row.date for row in plantings[0].rows}),
        attribution=seen.weather.origin.attribution,
    )


def plant_ledgers(zone: Zone, plan: ZonePlan) -> tuple[PlantLedger, ...]:
    """All rows of a zone by planting, from a plan made with its explanation."""
    if plan.plants:
        return tuple(PlantLedger(plant.plant, plant.share, plant.ledger or ()) for plant in plan.plants)
    return (PlantLedger(zone.planting.plant, 1.0, plan.ledger or ()),)


def _between(
    rows: tuple[LedgerRow, ...], first: dt.date | None, last: dt.date | None
) -> tuple[LedgerRow, ...]:
    return tuple(
        row for row in rows if (first is None or row.date >= first) and (last is None or row.date <= last)
    )


def _history(zone: Zone, rows: tuple[LedgerRow, ...]) -> str:
    """The ledgers of a stored garden begin with a guess, except for zones whose soil was seen to be full."""
    return "known" if rows and rows[0].date == zone.soil_full_on else "assumed"


def _sources_by_day(seen: Explained, dates: set[dt.date]) -> dict[dt.date, DaySources]:
    demands = seen.weather.demands(seen.moment.garden)
    known = {}
    for day in seen.weather.days:
        if day.date not in dates:
            continue
        demand = demands[day.date]
        estimated = demand.estimated if day.rain_mm is not None else (*demand.estimated, RAIN)
        sources = (
            {}
            if day.origin is Origin.ASSUMED
            else {quantity: day.source_of(quantity) for quantity in QUANTITIES if quantity not in estimated}
        )
        known[day.date] = DaySources(day.origin, sources, tuple(dict.fromkeys(estimated)))
    return known
