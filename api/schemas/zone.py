"""A zone in JSON: what grows, what it stands in, how water arrives, where it lies."""

from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import (
    CatalogueName,
    Day,
    Items,
    Number,
    Part,
    Text,
    Truth,
    Whole,
    Word,
    number,
)
from api.schemas.planting import PlantingSchema, at_most_one, given
from api.schemas.rules import ZoneRulesSchema
from scheduling import catalogue
from scheduling.garden.description import Container, Emitters, Site, Soil, Valve, Watering, Zone
from scheduling.zone.soil import canopy_m2

LEAST_RATE_MM_H: Final = 0.1
GREATEST_RATE_MM_H: Final = 3000.0
"""What a zone's flow may come to on its area: from a slow dripper on much ground to a hose in one pot."""


class ContainerSchema(Schema):
    """A pot, trough or planter."""

    makes = Container

    count = Whole(1, 10_000, about="How many of them the valve waters; 1 by default.")
    volume_l = Number(0.1, 100_000, required=True, about="Litres of substrate in one.")
    diameter_m = Number(0.03, 20, about="Of the open top of one; by its volume by default.")
    substrate = CatalogueName("substrate", catalogue.substrate, about="A name from /v1/catalogue/substrates.")
    capacity_share = Number(0.05, 0.95, about="Water held after draining, as a share of the volume.")
    unavailable_share = Number(0, 0.8, about="Water that roots cannot draw, as a share of the volume.")
    surface_m2 = Number(0.001, 10_000, about="Open top of one, which catches rain, in place of diameter_m.")
    spread_m = Number(
        0.03, 20, about="Width of the plant in one; 1.5 times the top's by default. Not beside area_m2."
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_the_top_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        at_most_one(original_data, "diameter_m", "surface_m2")

    @validates_schema
    def _holds_water(self, data: dict[str, Any], **kwargs: Any) -> None:
        capacity, unavailable = data.get("capacity_share"), data.get("unavailable_share")
        if capacity is not None and unavailable is not None and capacity <= unavailable:
            raise ValidationError(
                f"capacity_share is {number(capacity)}; it must be above unavailable_share, "
                f"{number(unavailable)}.",
                "capacity_share",
            )


class SoilSchema(Schema):
    """What the plants stand in, said in one way."""

    makes = Soil

    texture = CatalogueName(
        "soil",
        catalogue.soil,
        about="A name from /v1/catalogue/soils; beside own water points it says how fast water goes in.",
    )
    field_capacity = Number(0.02, 0.6, about="Water by volume.")
    wilting_point = Number(0.005, 0.5, about="Water by volume.")
    sand_pct = Number(0, 100)
    clay_pct = Number(0, 100)
    organic_matter_pct = Number(0, 8)
    container = Part(ContainerSchema)

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _is_said_in_one_way(self, data: Any, original_data: object, **kwargs: Any) -> None:
        points = given(original_data, "field_capacity", "wilting_point")
        grains = given(original_data, "sand_pct", "clay_pct", "organic_matter_pct")
        pot = given(original_data, "container")
        texture = given(original_data, "texture")
        ways = [way for way in (points, grains, pot) if way] or [texture]
        if not ways[0]:
            raise ValidationError(
                "soil says nothing; give one of texture, field_capacity with wilting_point, "
                "sand_pct with clay_pct, or container."
            )
        if len(ways) > 1:
            raise ValidationError(
                f"{ways[1][0]} describes the soil a second time, beside {ways[0][0]}; give one.",
                ways[1][0],
            )
        if texture and not points:
            other = next((way[0] for way in (grains, pot) if way), None)
            if other is not None:
                raise ValidationError(
                    f"texture describes the soil a second time, beside {other}; give one.",
                    "texture",
                )
        for needed, beside in (("field_capacity", points), ("wilting_point", points), *_grain_sizes(grains)):
            if beside and needed not in beside:
                raise ValidationError(
                    f"{needed} is missing; {beside[0]} does not say enough alone.",
                    needed,
                )

    @validates_schema
    def _numbers_agree(self, data: dict[str, Any], **kwargs: Any) -> None:
        capacity, wilting = data.get("field_capacity"), data.get("wilting_point")
        if capacity is not None and wilting is not None and capacity <= wilting:
            raise ValidationError(
                f"field_capacity is {number(capacity)}; it must be above wilting_point, {number(wilting)}.",
                "field_capacity",
            )
        sand, clay = data.get("sand_pct", 0.0), data.get("clay_pct", 0.0)
        if sand + clay > 100.0:
            raise ValidationError(
                f"clay_pct is {number(clay)}; with sand_pct, {number(sand)}, it must not pass 100.",
                "clay_pct",
            )


def _grain_sizes(grains: list[str]) -> tuple[tuple[str, list[str]], ...]:
    return ("sand_pct", grains), ("clay_pct", grains)


class EmittersSchema(Schema):
    """Drip points of one kind."""

    makes = Emitters

    count = Whole(1, 100_000, required=True)
    flow_l_h = Number(0.1, 500, required=True, about="Of one emitter.")


class WateringSchema(Schema):
    """How water arrives."""

    makes = Watering

    method = CatalogueName(
        "method", catalogue.method, required=True, about="A name from /v1/catalogue/methods."
    )
    flow_l_min = Number(0.01, 500, about="Through the zone's valve.")
    rate_mm_h = Number(0.1, 500, about="What falls on the zone.")
    emitters = Part(EmittersSchema)
    efficiency = Number(0.1, 1, about="Share of the water that reaches the roots.")
    distribution_uniformity = Number(
        0.1, 1, about="Low-quarter DU, in place of efficiency: runs are 1 / (0.4 + 0.6 DU) as long."
    )
    catch_can_mm = Items(
        Number(0, 500), 4, 500, about="Depths in catch cans of one run, from which DU is reckoned."
    )
    air_loss_share = Number(
        0,
        0.5,
        about="Of overhead water, what wind and evaporation take before it lands, beside a uniformity: an "
        "efficiency holds it already. 0 by default, as the Irrigation "
        "Association (2005, from memory) reckons with a DU alone; /v1/catalogue/methods has what is usual.",
    )
    wetted_share = Number(0.05, 1, about="Share of the ground that gets wet.")
    smallest_depth_mm = Number(0.1, 50, about="Smaller needs are raised to this.")
    leaching_share = Number(
        0,
        0.5,
        about="Of a container: the part of each watering that is to drain and carry salts away; 0.1 to 0.15 "
        "is common.",
    )
    fill_share = Number(0.3, 1, about="How much of the depletion to refill; replaces the room for rain.")

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_the_flow_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        at_most_one(original_data, "flow_l_min", "rate_mm_h", "emitters")

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_losses_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        at_most_one(original_data, "efficiency", "distribution_uniformity", "catch_can_mm")


class SiteSchema(Schema):
    """Where a zone lies."""

    makes = Site

    slope_pct = Number(0, 100, about="The steeper, the shorter the runs; 0 by default.")
    rain_share = Number(0, 1, about="Share of the rain that reaches the zone; 0 under a roof, 1 by default.")


class ValveSchema(Schema):
    """What the zone's valve can do by itself."""

    makes = Valve

    meter = Truth(about="Whether it measures its flow and closes at a volume; true by default.")
    max_open_s = Whole(60, 86_400, about="Longest opening that it allows.")
    min_flow_l_min = Number(0, 500, about="Below this its meter does not count.")


class ZoneSchema(Schema):
    """Ground watered together by one valve."""

    name = Text()
    area_m2 = Number(
        0.01,
        100_000,
        about="Of containers: their leaf area; by diameter_m and spread_m by default. Needed of all else.",
    )
    priority = Word(("high", "normal", "low"), about='Who is watered first; "normal" by default.')
    planting = Part(PlantingSchema, required=True)
    soil = Part(SoilSchema, required=True)
    watering = Part(WateringSchema, required=True)
    site = Part(SiteSchema)
    rules = Part(ZoneRulesSchema)
    valve = Part(ValveSchema)
    soil_full_on = Day(about="A morning on which the soil was at field capacity.")

    @validates_schema(skip_on_field_errors=True)
    def _has_an_area(self, data: dict[str, Any], **kwargs: Any) -> None:
        container = data["soil"].container
        if "area_m2" not in data and container is None:
            raise ValidationError("area_m2 is missing.", "area_m2")
        if "area_m2" in data and container is not None and container.spread_m is not None:
            raise ValidationError(
                {"soil": {"container": {"spread_m": ["spread_m says again what area_m2 says; give one."]}}}
            )

    @validates_schema
    def _rate_is_possible(self, data: dict[str, Any], **kwargs: Any) -> None:
        watering, area_m2 = data["watering"], _area_m2(data)
        if watering.flow_l_min is not None:
            field, flow_l_h = "flow_l_min", watering.flow_l_min * 60.0
        elif watering.emitters is not None:
            field, flow_l_h = "emitters", watering.emitters.count * watering.emitters.flow_l_h
        else:
            return
        if area_m2 is None:
            return
        rate_mm_h = flow_l_h / area_m2
        if not LEAST_RATE_MM_H <= rate_mm_h <= GREATEST_RATE_MM_H:
            sentence = (
                f"{field} comes to {number(round(rate_mm_h, 3))} mm/h on {number(area_m2)} m²; "
                f"it must come to {number(LEAST_RATE_MM_H)} to {number(GREATEST_RATE_MM_H)} mm/h."
            )
            raise ValidationError({"watering": {field: [sentence]}})

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Zone:
        # The id is the key under which the zone stands; the garden's schema puts it in.
        planting, *others = data.pop("planting")
        area_m2 = _area_m2(data)
        assert area_m2 is not None  # `_has_an_area`
        return Zone(id="", planting=planting, others=tuple(others), **{**data, "area_m2": area_m2})


def _area_m2(data: dict[str, Any]) -> float | None:
    """A zone's area as given, else the leaf area of its containers."""
    container = data["soil"].container
    if "area_m2" in data or container is None:
        return data.get("area_m2")
    return canopy_m2(container)
