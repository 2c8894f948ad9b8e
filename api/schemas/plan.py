"""A plan in JSON.

The schemas describe it for the contract. The functions write it: plain dictionaries, as a plan is
written once and its bytes are kept.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final, Literal

from api.schemas.base import Schema
from api.schemas.fields import ById, Day, Id, Instant, Items, Number, Part, ReportId, Text, Truth, Whole, Word
from api.schemas.ledger import LedgerRowSchema, dump_row
from api.schemas.planting import MOST_PLANTS
from api.schemas.state import StateSchema, dump_state
from scheduling.garden.reports import DOUBTS, MOST_PROBES
from scheduling.plan.final_plan import TO_DO, RunState
from scheduling.plan.plan import (
    MainValve,
    OutlookDate,
    Plan,
    PlantPlan,
    Run,
    SoilWater,
    WeatherUsed,
    ZonePlan,
)
from scheduling.probes.status import ProbeStanding
from scheduling.reasons import Told
from scheduling.reasons.tables import codes
from scheduling.reasons.words import Words

Status = Literal["draft", "final", "over"]
STATUSES: Final[tuple[Status, ...]] = ("draft", "final", "over")

RUN_STATES: Final[tuple[RunState, ...]] = (
    "to-do", "running", "done", "stopped", "no-water", "lost-contact", "unreported", "withdrawn",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class WeatherOrigin:
    """Where a plan's weather comes from."""

    source: str
    retrieved_at: dt.datetime | None
    stale: bool
    basis: str
    attribution: tuple[str, ...] = ()


def _listed(*kinds: str) -> str:
    return ", ".join(code for kind in kinds for code in codes(kind))


class ReasonSchema(Schema):
    """Why a zone is watered or waits."""

    code = Id(required=True, about=f"Stable; there may be new ones: {_listed('reasons', 'run-reasons')}.")
    text = Text(1000, required=True, about="For people, in the garden's units; it may improve.")


class NoteSchema(Schema):
    """What an owner should know of a zone or a garden; no reason to water or to wait."""

    code = Id(required=True, about=f"Stable; there may be new ones: {_listed('notes')}.")
    text = Text(1000, required=True, about="For people, in the garden's units; it may improve.")


class RunSchema(Schema):
    """One opening of one valve, with limits that the valve itself can enforce."""

    id = ReportId(required=True)
    start = Instant(required=True)
    volume_l = Number(0, required=True, about="A metered valve closes here.")
    run_time_s = Whole(0, 10_000_000, required=True, about="A valve without a meter closes here.")
    max_open_s = Whole(0, 10_000_000, required=True, about="Any valve closes here at the latest.")
    state = Word(
        RUN_STATES,
        required=True,
        about='"withdrawn": taken back before it began; its valve stays shut, and it is in no sum.',
    )
    overdue = Truth(about="Only where it is true: announced, not completed, and beyond max_open_s.")
    planned_l = Number(0, about="Only of a run that was cut since the plan became final: what it was then.")
    reason = Part(ReasonSchema, about="Only of a run that was cut or withdrawn: why.")


class SoilWaterSchema(Schema):
    """The root zone at the start of the date, before any water that belongs to it."""

    depletion_mm = Number(0, required=True)
    readily_available_mm = Number(0, required=True)
    total_available_mm = Number(0, required=True)


class PlantPlanSchema(Schema):
    """One of several plantings of a zone."""

    plant = Id(required=True)
    share = Number(0, 1, required=True, about="Of the zone's ground.")
    soil_water = Part(SoilWaterSchema, required=True)
    ledger = Items(Part(LedgerRowSchema), 0, 100_000, about="With explain=true: the days behind it.")


class ProbeSchema(Schema):
    """A soil probe of a zone, and whether the ledger follows it."""

    probe = Text(required=True)
    standing = Word(("followed", "doubtful"), required=True)
    since = Day(required=True)
    why = Word(DOUBTS, required=True, allow_none=True, about="Why it is not followed; null where it is.")
    text = Text(1000, required=True)
    last_reading = Day(required=True, about="The last morning of which there is a reading.")
    bias_mm = Number(required=True, about="How much drier than it is it is taken to read the soil.")


class ZonePlanSchema(Schema):
    """What one zone gets, and why."""

    zone = Id(required=True)
    name = Text(required=True)
    decision = Word(("water", "wait"), required=True)
    volume_l = Number(0, required=True)
    run_time_s = Whole(0, 10_000_000, required=True)
    delivered_l = Number(0, required=True, about="What has already flowed for this date.")
    remaining_l = Number(0, required=True)
    close_by = Word(("volume", "time"), required=True, about="What closes the valve.")
    runs = Items(Part(RunSchema), 0, 10_000, required=True)
    reasons = Items(Part(ReasonSchema), 1, 100, required=True, about="The one that decided first.")
    soil_water = Part(SoilWaterSchema, required=True)
    net_mm = Number(0, required=True)
    gross_mm = Number(0, required=True)
    room_mm = Number(0, required=True, about="Left free for rain.")
    notes = Items(Part(NoteSchema), 0, 100, required=True)
    ledger = Items(Part(LedgerRowSchema), 0, 100_000, about="With explain=true: the days behind it.")
    plants = Items(
        Part(PlantPlanSchema),
        2,
        MOST_PLANTS,
        about="Where several plantings share the ground; soil_water is then of the one the reason names.",
    )
    adjustment_mm = Number(
        about="With soil probes: by how much they moved the depletion on the day before; above 0, to drier."
    )
    probes = Items(Part(ProbeSchema), 1, MOST_PROBES, about="The zone's soil probes, where it has any.")


class MainValveSchema(Schema):
    """When the main valve is open, and beyond which limits something is stuck or leaking."""

    opens_at = Instant(required=True)
    closes_at = Instant(required=True)
    max_open_s = Whole(0, 10_000_000, required=True)
    max_volume_l = Number(0, required=True)


class PlanWeatherSchema(Schema):
    """The weather that the plan stands on."""

    source = Text(required=True)
    retrieved_at = Instant(required=True, allow_none=True)
    stale = Truth(required=True)
    basis = Text(
        200,
        required=True,
        about='"forecast"; "given": with the request; "kept-days": no source has answered for 72 hours, so '
        "that the mean of the last known days stands for the date, and no rain is counted.",
    )
    sources = ById(
        Text(),
        required=True,
        about="Which source each quantity of the date is from, but for what is estimated.",
    )
    t_min_c = Number(required=True, allow_none=True)
    t_max_c = Number(required=True, allow_none=True)
    lowest_c = Number(
        required=True, allow_none=True, about="From the opening of the hours to the end of the date."
    )
    eto_mm = Number(0, required=True)
    rain_mm = Number(0, required=True, allow_none=True)
    rain_probability = Number(0, 1, required=True, allow_none=True)
    counted_rain_mm = Number(0, required=True, about="What the plan relies on.")
    rain_trust_share = Number(
        0.1,
        1,
        required=True,
        about="Part of it that counts, by what the source's promises of rain have come to; it is taken off.",
    )
    source_eto_mm = Number(
        required=True, allow_none=True, about="What the source itself reckons for eto_mm, where it does."
    )
    estimated = Items(Text(), 0, 20, required=True, about="What was estimated for want of data.")
    attribution = Items(
        Text(500), 0, 20, required=True, about="What the licences of the data ask to be shown."
    )


class OutlookDateSchema(Schema):
    """What a later date would bring if nothing new were learned."""

    date = Day(required=True)
    volume_l = Number(0, required=True)
    zones = ById(Number(0), required=True, about="Litres by zone.")


class PlanSchema(Schema):
    """The zones of a garden for one date."""

    garden = Id(required=True)
    date = Day(required=True)
    status = Word(STATUSES, required=True)
    final_at = Instant(required=True, allow_none=True)
    made_at = Instant(required=True)
    valid_until = Instant(required=True, about="Nobody should act on the plan after this moment.")
    history = Word(("known", "assumed"), required=True, about='"assumed": the ledger began with a guess.')
    volume_l = Number(0, required=True)
    main_valve = Part(MainValveSchema, required=True, allow_none=True)
    weather = Part(PlanWeatherSchema, required=True)
    zones = Items(Part(ZonePlanSchema), 0, 200, required=True)
    state = Part(StateSchema, required=True, about="To be sent back with the next request.")
    outlook = Items(Part(OutlookDateSchema), 0, 14, required=True)
    notes = Items(Part(NoteSchema), 0, 1000, required=True)


def dump_plan(
    plan: Plan,
    *,
    status: Status,
    final_at: dt.datetime | None,
    made_at: dt.datetime,
    valid_until: dt.datetime,
    weather: WeatherOrigin,
    timezone: dt.tzinfo | None = None,
) -> dict[str, Any]:
    """Write a plan as JSON has it.

    Parameters
    ----------
    final_at
        When it stops being a draft; None for a plan that nothing is stored for.
    timezone
        That of the garden: every instant is written with its offset. None: with the offset it has.
    """
    words = Words(plan.date, plan.units)
    return {
        "garden": plan.garden,
        "date": plan.date.isoformat(),
        "status": status,
        "final_at": _instant(final_at, timezone),
        "made_at": _instant(made_at, timezone),
        "valid_until": _instant(valid_until, timezone),
        "history": plan.history,
        "volume_l": tidy_litres(plan.volume_l),
        "main_valve": None if plan.main_valve is None else dump_main_valve(plan.main_valve, timezone),
        "weather": _weather(plan.weather, weather, timezone),
        "zones": [_zone(zone, timezone, status, words) for zone in plan.zones],
        "state": dump_state(plan.state),
        "outlook": [_outlook(date) for date in plan.outlook],
        "notes": [dump_told(note, words) for note in plan.notes],
    }


def _zone(zone: ZonePlan, timezone: dt.tzinfo | None, status: Status, words: Words) -> dict[str, Any]:
    remaining_l = 0.0 if status == "over" else max(0.0, zone.volume_l - zone.delivered_l)
    body = {
        "zone": zone.zone,
        "name": zone.name,
        "decision": zone.decision,
        "volume_l": tidy_litres(zone.volume_l),
        "run_time_s": zone.run_time_s,
        "delivered_l": tidy_litres(zone.delivered_l),
        "remaining_l": tidy_litres(remaining_l),
        "close_by": zone.close_by,
        "runs": [_run(run, timezone) for run in zone.runs],
        "reasons": [dump_told(reason, words) for reason in zone.reasons],
        "soil_water": _soil_water(zone.soil_water),
        "net_mm": round(zone.net_mm, 1),
        "gross_mm": round(zone.gross_mm, 1),
        "room_mm": round(zone.room_mm, 1),
        "notes": [dump_told(note, words) for note in zone.notes],
    }
    if zone.ledger is not None:
        body["ledger"] = [dump_row(row) for row in zone.ledger]
    if zone.plants:
        body["plants"] = [_plant(plant) for plant in zone.plants]
    if zone.probes:
        body["adjustment_mm"] = round(zone.adjustment_mm, 1) + 0.0
        body["probes"] = [_probe(probe, words) for probe in zone.probes]
    return body


def _probe(probe: ProbeStanding, words: Words) -> dict[str, Any]:
    return {
        "probe": probe.probe,
        "standing": probe.standing,
        "since": probe.since.isoformat(),
        "why": probe.why,
        "text": probe.told.sentence(words),
        "last_reading": probe.last_reading.isoformat(),
        "bias_mm": round(probe.bias_mm, 1) + 0.0,
    }


def _plant(plant: PlantPlan) -> dict[str, Any]:
    body = {
        "plant": plant.plant,
        "share": round(plant.share, 3),
        "soil_water": _soil_water(plant.soil_water),
    }
    if plant.ledger is not None:
        body["ledger"] = [dump_row(row) for row in plant.ledger]
    return body


def _soil_water(water: SoilWater) -> dict[str, float]:
    return {
        "depletion_mm": round(water.depletion_mm, 1),
        "readily_available_mm": round(water.readily_available_mm, 1),
        "total_available_mm": round(water.total_available_mm, 1),
    }


def _run(run: Run, timezone: dt.tzinfo | None) -> dict[str, Any]:
    return {
        "id": run.id,
        "start": _instant(run.start, timezone),
        "volume_l": tidy_litres(run.volume_l),
        "run_time_s": run.run_time_s,
        "max_open_s": run.max_open_s,
        "state": TO_DO,
    }


def dump_main_valve(valve: MainValve, timezone: dt.tzinfo | None) -> dict[str, Any]:
    """When the main valve is open, every instant with the offset of a time zone; None: as it has it."""
    return {
        "opens_at": _instant(valve.opens_at, timezone),
        "closes_at": _instant(valve.closes_at, timezone),
        "max_open_s": valve.max_open_s,
        "max_volume_l": tidy_litres(valve.max_volume_l),
    }


def _weather(used: WeatherUsed, origin: WeatherOrigin, timezone: dt.tzinfo | None) -> dict[str, Any]:
    return {
        "source": origin.source,
        "retrieved_at": _instant(origin.retrieved_at, timezone),
        "stale": origin.stale,
        "basis": origin.basis,
        "sources": dict(used.sources),
        "t_min_c": _tenths(used.t_min_c),
        "t_max_c": _tenths(used.t_max_c),
        "lowest_c": _tenths(used.lowest_c),
        "eto_mm": round(used.eto_mm, 1),
        "rain_mm": _tenths(used.rain_mm),
        "rain_probability": None if used.rain_probability is None else round(used.rain_probability, 2),
        "counted_rain_mm": round(used.counted_rain_mm, 1),
        "rain_trust_share": round(used.rain_trust_share, 2),
        "source_eto_mm": _tenths(used.source_eto_mm),
        "estimated": list(used.estimated),
        "attribution": list(origin.attribution),
    }


def _outlook(date: OutlookDate) -> dict[str, Any]:
    return {
        "date": date.date.isoformat(),
        "volume_l": tidy_litres(date.volume_l),
        "zones": {zone: tidy_litres(volume_l) for zone, volume_l in date.zones.items()},
    }


def dump_told(told: Told, words: Words) -> dict[str, str]:
    """Write a reason or a note as JSON has it."""
    return {"code": told.code, "text": told.sentence(words)}


def _instant(instant: dt.datetime | None, timezone: dt.tzinfo | None) -> str | None:
    if instant is None:
        return None
    return (instant if timezone is None else instant.astimezone(timezone)).isoformat(timespec="seconds")


def _tenths(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def tidy_litres(volume_l: float) -> float | int:
    """Litres as they are, whole ones without a point, and without the dust of binary fractions."""
    tidy = round(volume_l, 3)
    return int(tidy) if tidy == int(tidy) else tidy
