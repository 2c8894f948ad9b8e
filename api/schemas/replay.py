"""What `POST /v1/replay` is asked with and answers: a past season of a garden."""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema, load
from api.schemas.fields import ById, Day, Id, Instant, Items, Number, Part, Text, Whole, Word, nearest
from api.schemas.garden import GardenSchema
from api.schemas.ledger import LedgerRowSchema, dump_row
from api.schemas.plan import NoteSchema, WeatherOrigin, dump_told
from api.schemas.planting import MOST_PLANTS
from api.schemas.weather import MOST_DAYS, WeatherDaySchema, twice_given
from scheduling.balance.weather import WeatherDay
from scheduling.garden.description import Garden, WaterSupply
from scheduling.reasons.words import Words
from scheduling.review.replay import Replay, Timer, ZoneReplay
from scheduling.review.season_account import Account
from scheduling.review.tariff import costs_of_zones, tariffs_of

Knowledge = Literal["perfect", "none"]
FORECASTS: Final[tuple[Knowledge, ...]] = ("perfect", "none")

MOST_ZONES: Final = 12
"""Zones of one request; the command has no such limit, nor one for the days."""
MOST_EVERY_DAYS: Final = 366


@dataclass(frozen=True, slots=True)
class ReplayRequest:
    """A season that is to be replayed."""

    garden: Garden
    weather: tuple[WeatherDay, ...] | None
    """In the order of their dates; None: the garden's weather source is asked."""
    first: dt.date | None = None
    """None: the first day of `weather`."""
    last: dt.date | None = None
    """None: the last day of `weather`, or else yesterday."""
    forecast: Knowledge = "perfect"
    timers: Mapping[str, Timer] | None = None
    """By zone id."""


# In


class PastDaySchema(WeatherDaySchema):
    """One local calendar day that is over; what is left out is estimated where FAO-56 has an estimate."""

    class Meta(WeatherDaySchema.Meta):
        exclude = ("rain_probability",)


class TimerSchema(Schema):
    """The same water on the same days, whatever the weather."""

    makes = Timer

    every_days = Whole(1, MOST_EVERY_DAYS, about="1 is daily, the default; the first day is watered.")
    volume_l = Number(0.01, 1_000_000, about="At each watering.")
    run_time_s = Number(1, 86_400, about="At each watering, in place of volume_l.")

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_how_much_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        if not isinstance(original_data, Mapping):
            return
        given = [name for name in ("volume_l", "run_time_s") if name in original_data]
        if len(given) == 2:
            raise ValidationError("run_time_s says again what volume_l says; give one.", "run_time_s")
        if not given:
            raise ValidationError("The timer gives no water; give it volume_l or run_time_s.")


class TimersSchema(Schema):
    """Fixed timers to compare with: `all` for every zone but those that have one of their own."""

    all = Part(TimerSchema)
    zones = ById(Part(TimerSchema), 0, MOST_ZONES, about="By id.")

    @validates_schema
    def _has_one(self, data: dict[str, Any], **kwargs: Any) -> None:
        if not data.get("zones") and "all" not in data:
            raise ValidationError("There is no timer here; give all, or zones with a timer by id.")


class ReplayRequestSchema(Schema):
    """A garden, and the days of its past."""

    garden = Part(GardenSchema, required=True, about=f"Of at most {MOST_ZONES} zones.")
    weather = Items(
        Part(PastDaySchema), 1, MOST_DAYS, about="Used in place of the garden's weather source, without gaps."
    )
    first = Day(data_key="from", about="First day; by default that of weather. Needed without weather.")
    last = Day(data_key="to", about="Last day; by default that of weather, else yesterday.")
    forecast = Word(FORECASTS, about='Whether evenings knew the days to come; "perfect" by default.')
    timer = Part(TimersSchema)

    @validates_schema(skip_on_field_errors=False)
    def _dates_agree(self, data: dict[str, Any], **kwargs: Any) -> None:
        if wrong := twice_given(data.get("weather", ())):
            raise ValidationError({"weather": wrong})
        first, last = data.get("first"), data.get("last")
        if first is not None and last is not None and first > last:
            raise ValidationError(f"to is {last}; it must not be before from, {first}.", "to")

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_which_days(self, data: Any, original_data: object, **kwargs: Any) -> None:
        if isinstance(original_data, Mapping) and not {"weather", "from"} & set(original_data):
            raise ValidationError("Which days? Give weather, or from and to.")

    @validates_schema
    def _zones_are_there(self, data: dict[str, Any], **kwargs: Any) -> None:
        zones = [zone.id for zone in data["garden"].zones]
        if len(zones) > MOST_ZONES:
            sentence = (
                f"zones has {len(zones)} entries; a replay over HTTP takes at most {MOST_ZONES}. "
                "The command `rootledger replay` takes them all."
            )
            raise ValidationError({"garden": {"zones": [sentence]}})
        wrong = {
            zone: [f'"{zone}" is no zone of the garden.{nearest(zone, zones)}']
            for zone in data.get("timer", {}).get("zones", ())
            if zone not in zones
        }
        if wrong:
            raise ValidationError({"timer": {"zones": wrong}})

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> ReplayRequest:
        garden: Garden = data["garden"]
        weather = data.get("weather")
        return ReplayRequest(
            garden=garden,
            weather=None if weather is None else tuple(sorted(weather, key=lambda day: day.date)),
            first=data.get("first"),
            last=data.get("last"),
            forecast=data.get("forecast", FORECASTS[0]),
            timers=timers_for(garden, data["timer"].get("all"), data["timer"].get("zones", {}))
            if "timer" in data
            else None,
        )


_REQUEST: Final = ReplayRequestSchema()


def load_replay_request(document: object) -> ReplayRequest:
    """Read a request for a replay. Raises InvalidRequest with every problem at once."""
    request: ReplayRequest = load(_REQUEST, document)
    return request


def timers_for(garden: Garden, for_all: Timer | None, by_zone: Mapping[str, Timer]) -> dict[str, Timer]:
    """Each zone's own timer, else the one for all; zones without either are left out."""
    chosen = {zone.id: by_zone.get(zone.id, for_all) for zone in garden.zones}
    return {zone: timer for zone, timer in chosen.items() if timer is not None}


# Out


class DifferenceSchema(Schema):
    """The plans' water less the timer's: below 0 where the plans took less."""

    volume_l = Number(required=True)
    cost = Number(required=True, allow_none=True)


class AccountSchema(Schema):
    """What a season did with a zone's water; depths over the zone's area.

    closing_depletion = opening_depletion - infiltrated_rain - irrigation + etc_adj + fallow_et + drainage
    + adjustment.
    """

    rain_mm = Number(0, required=True, about="What fell on the zone.")
    runoff_mm = Number(0, required=True)
    infiltrated_rain_mm = Number(0, required=True, about="What counted: light rain does not.")
    irrigation_mm = Number(0, required=True, about="What reached the roots.")
    irrigation_gross_mm = Number(0, required=True)
    volume_l = Number(0, required=True)
    cost = Number(0, required=True, allow_none=True, about="null where the garden has no price_per_m3.")
    runs = Whole(0, 10_000_000, required=True)
    etc_mm = Number(0, required=True, about="What the plants wanted in their season.")
    etc_adj_mm = Number(0, required=True, about="What they got of it.")
    fallow_et_mm = Number(0, required=True, about="What evaporated outside their season.")
    stress_mm = Number(0, required=True, about="etc - etc_adj.")
    stress_days = Whole(0, 1_000_000, required=True, about="Days that close above RAW.")
    days_below_ks_90 = Whole(0, 1_000_000, required=True, about="Days that close with Ks below 0.9.")
    ks_min = Number(0, 1, required=True, about="The lowest Ks with which a day closes.")
    drainage_mm = Number(0, required=True)
    opening_depletion_mm = Number(0, required=True)
    adjustment_mm = Number(required=True)
    closing_depletion_mm = Number(0, required=True)
    adequacy = Number(0, 1, required=True, about="etc_adj / etc; 1 where nothing was wanted.")
    excess = Number(
        -1, required=True, allow_none=True, about="irrigation / least - 1; null where the least is nothing."
    )


_ACCOUNT: Final = AccountSchema()
DIGITS: Final = {"ks_min": 3, "adequacy": 4}
"""Of an account's shares; depths, litres and money have 2."""


class PlantReplaySchema(AccountSchema):
    """One of several plantings of a zone; excess is beside what the whole zone needed."""

    plant = Id(required=True)
    share = Number(0, 1, required=True, about="Of the zone's ground.")
    ledger = Items(Part(LedgerRowSchema), 0, 100_000, about="With explain=true.")


class ZoneReplaySchema(AccountSchema):
    """One zone as it was planned, beside a timer and the clairvoyant."""

    zone = Id(required=True)
    name = Text(required=True)
    least_mm = Number(
        0,
        required=True,
        about="The clairvoyant's water: who knows everything, and waters every day just so that it closes "
        "at RAW.",
    )
    least_volume_l = Number(0, required=True)
    timer = Part(AccountSchema, required=True, allow_none=True)
    difference = Part(DifferenceSchema, required=True, allow_none=True)
    notes = Items(Part(NoteSchema), 0, 100, required=True)
    ledger = Items(Part(LedgerRowSchema), 0, 100_000, about="With explain=true.")
    plants = Items(
        Part(PlantReplaySchema),
        2,
        MOST_PLANTS,
        about="Where several plantings share the ground; depths above are by their shares, days of want "
        "those of the one that had most.",
    )


class ReplayWeatherSchema(Schema):
    """The weather that was replayed."""

    source = Text(required=True)
    retrieved_at = Instant(required=True, allow_none=True)
    attribution = Items(Text(1000), 0, 20, required=True)
    estimated = ById(Whole(1, 1_000_000), 0, 20, required=True, about="What was estimated, on how many days.")


class ReplaySchema(Schema):
    """A season of a garden."""

    garden = Id(required=True)
    first = Day(required=True, data_key="from")
    last = Day(required=True, data_key="to")
    days = Whole(1, 1_000_000, required=True)
    forecast = Word(FORECASTS, required=True)
    weather = Part(ReplayWeatherSchema, required=True)
    zones = Items(Part(ZoneReplaySchema), 1, MOST_ZONES, required=True)
    volume_l = Number(0, required=True)
    least_volume_l = Number(0, required=True)
    cost = Number(0, required=True, allow_none=True)
    currency = Text(3, required=True, allow_none=True)
    difference = Part(
        DifferenceSchema, required=True, allow_none=True, about="Over the zones that have a timer."
    )


def dump_replay(season: Replay, request: ReplayRequest, weather: WeatherOrigin) -> dict[str, Any]:
    """Write a season as JSON has it: depths to 0.01 mm, litres to 0.01 l, money to 0.01."""
    garden = request.garden
    words = Words(units=garden.units)
    supply = garden.water_supply
    retrieved_at = weather.retrieved_at
    names = {zone.id: zone.name or zone.id for zone in garden.zones}
    costs, timer_costs = _costs(season, supply)
    zones = [
        _zone(zone, words, names[zone.zone], costs.get(zone.zone), timer_costs.get(zone.zone))
        for zone in season.zones
    ]
    planned_l = sum(zone.planned.volume_l for zone in season.zones)
    timed = [(zone.planned.volume_l, zone.timer.volume_l) for zone in season.zones if zone.timer is not None]
    less_l = sum(planned - by_timer for planned, by_timer in timed)
    less_cost = sum(costs[zone] - cost for zone, cost in timer_costs.items()) if costs else None
    return {
        "garden": garden.id,
        "from": season.first.isoformat(),
        "to": season.last.isoformat(),
        "days": (season.last - season.first).days + 1,
        "forecast": request.forecast,
        "weather": {
            "source": weather.source,
            "retrieved_at": None if retrieved_at is None else retrieved_at.isoformat(timespec="seconds"),
            "attribution": list(weather.attribution),
            "estimated": dict(season.estimated),
        },
        "zones": zones,
        "volume_l": _hundredths(planned_l),
        "least_volume_l": _hundredths(sum(zone.least_volume_l for zone in season.zones)),
        "cost": _money(sum(costs.values()) if costs else None),
        "currency": supply.currency,
        "difference": _difference(less_l, less_cost) if timed else None,
    }


def _costs(season: Replay, supply: WaterSupply) -> tuple[dict[str, float], dict[str, float]]:
    """What each zone's water costs by the plans, and by the timers; empty without a price."""
    tariffs = tariffs_of(supply)
    if tariffs is None:
        return {}, {}
    by_plans = costs_of_zones(tariffs, {zone.zone: zone.litres for zone in season.zones})
    by_timers = costs_of_zones(
        tariffs, {zone.zone: zone.timer_litres for zone in season.zones if zone.timer is not None}
    )
    planned, timed = (
        {zone: math.fsum(costs.values()) for zone, costs in by_zone.items()}
        for by_zone in (by_plans, by_timers)
    )
    return planned, timed


def _zone(
    zone: ZoneReplay, words: Words, name: str, cost: float | None, timer_cost: float | None
) -> dict[str, Any]:
    timer = zone.timer
    less_cost = None if cost is None or timer_cost is None else cost - timer_cost
    body = {
        "zone": zone.zone,
        "name": name,
        **_account(zone.planned, zone.least_mm, cost),
        "least_mm": _hundredths(zone.least_mm),
        "least_volume_l": _hundredths(zone.least_volume_l),
        "timer": None if timer is None else _account(timer, zone.least_mm, timer_cost),
        "difference": (
            None if timer is None else _difference(zone.planned.volume_l - timer.volume_l, less_cost)
        ),
        "notes": [dump_told(note, words) for note in zone.notes],
    }
    if zone.ledger:
        body["ledger"] = [dump_row(row) for row in zone.ledger]
    if zone.plants:
        body["plants"] = [
            {
                "plant": plant.plant,
                "share": round(plant.share, 3),
                **_account(plant.planned, zone.least_mm, cost),
                **({"ledger": [dump_row(row) for row in plant.ledger]} if plant.ledger else {}),
            }
            for plant in zone.plants
        ]
    return body


def _account(account: Account, least_mm: float, cost: float | None) -> dict[str, Any]:
    excess = account.excess_over(least_mm)
    body = {"cost": _money(cost), "excess": None if excess is None else round(excess, 4) + 0.0}
    for name, field in _ACCOUNT.fields.items():
        if name not in body:
            value = getattr(account, name)
            body[name] = value if isinstance(field, Whole) else round(value, DIGITS.get(name, 2)) + 0.0
    return {name: body[name] for name in _ACCOUNT.fields}


def _difference(volume_l: float, cost: float | None) -> dict[str, Any]:
    return {"volume_l": _hundredths(volume_l), "cost": _money(cost)}


def _money(amount: float | None) -> float | None:
    return None if amount is None else _hundredths(amount)


def _hundredths(value: float) -> float:
    return round(value, 2) + 0.0  # + 0.0 makes 0.0 of -0.0
