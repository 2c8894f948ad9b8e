"""A garden in JSON."""

import dataclasses
import datetime as dt
import functools
import itertools
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import orjson
from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema, problems_of
from api.schemas.fields import (
    ById,
    Day,
    Id,
    Items,
    Number,
    Part,
    Pattern,
    Text,
    TimeZone,
    Truth,
    Whole,
    Word,
    shown,
)
from api.schemas.rules import GardenRulesSchema, unknown_zones
from api.schemas.zone import ZoneSchema
from api.watering_hours import never_open
from api.weather.sources.registry import WEATHER_SOURCES, why_not
from scheduling.errors import InvalidGarden, Problem
from scheduling.garden.description import Absence, Allowance, Garden, Price, PriceStep, WaterSupply
from scheduling.reasons.words import UNITS
from scheduling.zone.from_catalogue import all_numbers
from scheduling.zone.rules import dateless_rules

MOST_ZONES: Final = 200
MOST_ABSENCES: Final = 50
NAMELESS: Final = "garden"
"""Id of a garden that is only asked about."""


class AllowanceSchema(Schema):
    """Litres that may flow, by the dates of plans."""

    makes = Allowance

    day = Number(1, 10_000_000, about="For the plan of a date.")
    week = Number(1, 10_000_000, about="From Monday to Sunday.")
    month = Number(1, 10_000_000, about="Of a calendar month.")


class PriceStepSchema(Schema):
    """Another price for what a calendar month takes beyond a volume."""

    makes = PriceStep

    above_m3 = Number(0.001, 1_000_000, required=True, about="What the garden takes in a calendar month.")
    price_per_m3 = Number(0, 10_000, required=True, about="Of what flows beyond it.")


STEPS: Final = Items(
    Part(PriceStepSchema), 1, 20, about="Where the price changes with what a month takes, lowest first."
)
SEWER_SHARE: Final = Number(
    0,
    1,
    about="Share of the water that is billed as waste water too; all of it where sewer_price_per_m3 is "
    "given, else none.",
)
SEWER_PRICE: Final = Number(0, 10_000, about="Of waste water; that of the water where left out.")
ONE_PRICE: Final = ("price_per_m3", "price_steps", "sewer_share", "sewer_price_per_m3")
"""Fields of a price that never changes."""


class PriceSchema(Schema):
    """What water costs from a date on."""

    makes = Price

    begins_on = Day(
        data_key="from", about="The first day of this price; none for the days before the others."
    )
    price_per_m3 = Number(0, 10_000, required=True, about="Of the first litres of a month.")
    steps = STEPS
    sewer_share = SEWER_SHARE
    sewer_price_per_m3 = SEWER_PRICE

    @validates_schema
    def _rises(self, data: dict[str, Any], **kwargs: Any) -> None:
        _steps_rise("steps", data.get("steps", ()))


def _steps_rise(name: str, steps: Sequence[PriceStep]) -> None:
    """Refuse steps that are not in the order of their volumes."""
    for number, (step, following) in enumerate(itertools.pairwise(steps), start=1):
        if following.above_m3 <= step.above_m3:
            sentence = (
                f"above_m3 is {following.above_m3:g}; it must be above that of the step before, "
                f"{step.above_m3:g}."
            )
            raise ValidationError({name: {number: {"above_m3": [sentence]}}})


class WaterSupplySchema(Schema):
    """The tap that all zones share."""

    makes = WaterSupply

    flow_l_min = Number(0.1, 10_000, about="What it gives at most.")
    zones_at_once = Whole(
        1, 50, about="Valves open at the same time, where flow_l_min serves them; 1 by default."
    )
    gap_s = Whole(0, 3600, about="Rest before a valve takes the place of another; 120 by default.")
    allowance_l = Part(AllowanceSchema)
    prices = Items(
        Part(PriceSchema),
        1,
        50,
        about="Prices through the years: one without from, for the days before the others.",
    )
    price_per_m3 = Number(0, 10_000, about="What water costs, where it never changes; else prices.")
    price_steps = STEPS
    sewer_share = SEWER_SHARE
    sewer_price_per_m3 = SEWER_PRICE
    currency = Pattern("[A-Z]{3}", "three capital letters (ISO 4217)", about="Of these prices.")

    @validates_schema
    def _prices_agree(self, data: dict[str, Any], **kwargs: Any) -> None:
        beside = [name for name in ONE_PRICE if name in data]
        if "prices" in data and beside:
            raise ValidationError(f"{beside[0]} is given beside prices; put it into one of them.", beside[0])
        for name in ONE_PRICE[1:]:
            if name in data and "price_per_m3" not in data:
                raise ValidationError(f"{name} needs price_per_m3 beside it.", name)
        _steps_rise("price_steps", data.get("price_steps", ()))
        days = [price.begins_on for price in data.get("prices", ())]
        if days and days.count(None) != 1:
            sentence = "prices has {} prices without from; it must be one, for the days before the others."
            raise ValidationError(sentence.format(days.count(None) or "no"), "prices")
        twice = next((day for day in days if days.count(day) > 1), None)
        if twice is not None:
            raise ValidationError(f"prices has two prices from {twice}; give one of them.", "prices")

    def made_of(self, data: dict[str, Any]) -> dict[str, Any]:
        """A price that never changes is a list of one; others are put in the order of their dates."""
        given = {name: data.pop(name) for name in ONE_PRICE if name in data}
        if given:
            data["prices"] = (Price(given.pop("price_per_m3"), steps=given.pop("price_steps", ()), **given),)
        if "prices" in data:
            first = dt.date.min
            data["prices"] = tuple(sorted(data["prices"], key=lambda price: price.begins_on or first))
        return data


class AbsenceSchema(Schema):
    """Days for which nobody is there."""

    makes = Absence

    leaves_on = Day(required=True, data_key="from", about="The day of leaving.")
    returns_on = Day(required=True, data_key="to", about="The day of coming home.")

    @validates_schema
    def _runs_forward(self, data: dict[str, Any], **kwargs: Any) -> None:
        if data["returns_on"] <= data["leaves_on"]:
            raise ValidationError(
                f"to is {data['returns_on']}, the day of coming home; it must be after from, "
                f"{data['leaves_on']}, the day of leaving.",
                "to",
            )


class GardenSchema(Schema):
    """One place with one water supply, its rules and its zones."""

    id = Id(about="As in the garden's address; it may be left out.")
    name = Text()
    latitude = Number(-90, 90, required=True)
    longitude = Number(-180, 180, required=True)
    elevation_m = Number(-430, 6000, about="As the weather source has it, where this is left out.")
    timezone = TimeZone(required=True, about="IANA name, as Europe/Paris.")
    coastal = Truth(about="Near a coast: other radiation from temperature.")
    arid = Truth(about="Dry surroundings: another dew point from the minimum temperature.")
    weather_sources = Items(
        Word(WEATHER_SOURCES), 1, len(WEATHER_SOURCES), unique=True, about="First choice first."
    )
    plan_without_forecast = Truth(
        about="Whether to plan, by the mean of the last known days and without rain, where no source has "
        "answered for 72 hours; true by default."
    )
    trust_since = Day(
        about="Rain that a source promised before it and that did not come no longer counts against it."
    )
    units = Word(UNITS, about="Those of sentences: metric by default, or us; numbers in JSON stay as named.")
    unreported_watering = Word(
        ("auto", "as-planned", "none"),
        about='How runs count that nobody reported. "auto", the default: as planned until a zone has its '
        "first turn or report of a run, and as nothing from then on.",
    )
    water_supply = Part(WaterSupplySchema)
    rules = Part(GardenRulesSchema)
    absence = Items(
        Part(AbsenceSchema),
        0,
        MOST_ABSENCES,
        about="When nobody is there: all is filled up before, and no plan needs a hand or an eye.",
    )
    zones = ById(
        Part(ZoneSchema), 1, MOST_ZONES, required=True, about="By id, so that one zone can be patched."
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _pauses_name_zones(self, data: Any, original_data: object, **kwargs: Any) -> None:
        if not isinstance(original_data, Mapping) or not isinstance(original_data.get("zones"), Mapping):
            return
        if wrong := unknown_zones(original_data, original_data["zones"]):
            raise ValidationError({"rules": {"pauses": wrong}})

    @validates_schema
    def _sources_reach_the_place(self, data: Mapping[str, Any], **kwargs: Any) -> None:
        wrong = {
            number: [sentence]
            for number, name in enumerate(data.get("weather_sources", ()))
            if (sentence := why_not(name, data["latitude"], data["longitude"], data["timezone"])) is not None
        }
        if wrong:
            raise ValidationError({"weather_sources": wrong})

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Garden:
        zones = tuple(dataclasses.replace(zone, id=zone_id) for zone_id, zone in data.pop("zones").items())
        garden = Garden(id=data.pop("id", NAMELESS), zones=zones, **data)
        if problems := (*never_open(garden), *dateless_rules(garden)):
            raise ValidationError(_messages(problems))
        try:
            all_numbers(garden)
        except InvalidGarden as invalid:
            raise ValidationError(_messages(dict.fromkeys(invalid.problems))) from invalid
        return garden


def _messages(problems: Iterable[Problem]) -> dict[str, Any]:
    """Problems with pointers as marshmallow nests them, so that they fit into whatever holds a garden."""
    messages: dict[str, Any] = {}
    for pointer, detail in problems:
        *parts, last = pointer.removeprefix("/").split("/")
        place = messages
        for part in parts:
            place = place.setdefault(part, {})
        place.setdefault(last, []).append(detail)
    return messages


_SCHEMA: Final = GardenSchema()


def load_garden(document: object, garden_id: str | None = None) -> Garden:
    """Read a garden document.

    Parameters
    ----------
    document
        What stood in the JSON.
    garden_id
        Id in the garden's address; the document may repeat it, or leave it out.

    Raises
    ------
    InvalidGarden
        With every problem of the document at once, each with its pointer.
    """
    try:
        garden: Garden = _SCHEMA.load(document)  # type: ignore[arg-type]
    except ValidationError as error:
        raise InvalidGarden(problems_of(error)) from None
    if garden_id is None:
        return garden
    if isinstance(document, Mapping) and "id" in document and garden.id != garden_id:
        sentence = f'id is {shown(garden.id)}; it must be "{garden_id}" as in the address, or be left out.'
        raise InvalidGarden((Problem("/id", sentence),))
    return dataclasses.replace(garden, id=garden_id)


def stored_garden(document: Mapping[str, Any], garden_id: str) -> Garden:
    """Read a document that was checked when it was stored; equal ones are read once.

    Reading one of twelve zones takes 1.5 ms, half of a plan made anew (measured).

    Raises
    ------
    InvalidGarden
        Where a later release has become stricter than the one that stored it.
    """
    return _loaded_once(orjson.dumps(document), garden_id)


@functools.lru_cache(maxsize=256)
def _loaded_once(document: bytes, garden_id: str) -> Garden:
    return load_garden(orjson.loads(document), garden_id)
