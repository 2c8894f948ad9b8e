"""A zone in JSON: what grows, what it stands in, how water arrives, where it lies."""

from collections.abc import Mapping
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import (
    Day,
    Items,
    Known,
    Number,
    Part,
    Text,
    Truth,
    Whole,
    Word,
    YearlyDay,
    number,
    one_of,
    shown,
)
from api.schemas.rules import ZoneRulesSchema
from scheduling import catalogue
from scheduling.garden import (
    Container,
    Emitters,
    LandscapeCoefficient,
    Planting,
    Site,
    Soil,
    StageDays,
    Valve,
    Watering,
    Zone,
)

MOST_PLANTS: Final = 12
LONGEST_STAGE_D: Final = 365
LONGEST_SEASON_D: Final = 366
SHARES_MAY_BE_OFF: Final = 0.001
"""Thirds are written 0.333."""
LEAST_RATE_MM_H: Final = 0.1
GREATEST_RATE_MM_H: Final = 3000.0
"""What a zone's flow may come to on its area: from a slow dripper on much ground to a hose in one pot."""


def _given(document: object, *names: str) -> list[str]:
    """Which of some fields a document holds."""
    return [name for name in names if isinstance(document, Mapping) and name in document]


def _at_most_one(document: object, *names: str) -> None:
    given = _given(document, *names)
    if len(given) > 1:
        raise ValidationError(
            f"{given[-1]} says again what {given[0]} says; give only one of {', '.join(names)}.",
            given[-1],
        )


class LandscapeCoefficientSchema(Schema):
    """Kc of mixed ornamental plants: species x density x microclimate."""

    species = Number(0, 0.9, required=True, about="What the plants need, as a share of ETo.")
    density = Number(0.5, 1.3, about="1 by default.")
    microclimate = Number(0.5, 1.4, about="1 by default.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> LandscapeCoefficient:
        return LandscapeCoefficient(**data)


class StageDaysSchema(Schema):
    """Days of the four stages of a season, FAO-56 table 11."""

    initial = Whole(0, LONGEST_STAGE_D, required=True, about="From planting, or leaves opening; at least 1.")
    development = Whole(0, LONGEST_STAGE_D, required=True, about="Until the ground is covered; at least 1.")
    mid_season = Whole(0, LONGEST_STAGE_D, required=True, about="Until leaves turn yellow; at least 1.")
    late_season = Whole(0, LONGEST_STAGE_D, required=True, about="Until harvest or leaf fall; at least 1.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> StageDays:
        return StageDays(**data)


class PlantSchema(Schema):
    """One planting; what is left out comes from the catalogue."""

    plant = Known("plant", catalogue.plant, required=True, about="A name from /v1/catalogue/plants.")
    kc = Number(0.05, 2.5, about="One crop coefficient for the whole year.")
    kc_by_month = Items(Number(0, 2.5), 12, 12, about="January to December, as this garden has them.")
    landscape_coefficient = Part(LandscapeCoefficientSchema)
    root_depth_m = Number(0.02, 3)
    depletion_fraction = Number(0.05, 0.95, about="p of FAO-56, at ETc = 5 mm/day.")
    height_m = Number(0.01, 30)
    planted_on = Day(
        about="Starts the stages of an annual (FAO-56 table 11); all else grows its roots from that day on."
    )
    stage_region = Text(
        64,
        about="Whose lengths of stages: one of the plant's stage_lengths; those that suit best by default.",
    )
    stage_lengths_d = Part(
        StageDaysSchema, about="Your own lengths of stages, in days, in place of the catalogue's."
    )
    leaf_out = YearlyDay(
        about="Day of every year on which a perennial's season begins; as FAO-56 table 11 has it by default."
    )

    kc_method = Word(
        ("single", "dual"),
        about='"dual": what bare soil evaporates is reckoned apart (FAO-56 chapter 7); "single" by default.',
    )
    mulched_share = Number(0, 1, about="Of the ground, under bark, straw or compost; 0 by default.")
    covered_share = Number(
        0, 0.99, about='Of the ground, in the plants\' shade; with "dual", FAO-56 equation 76 by default.'
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_kc_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        _at_most_one(original_data, "kc", "kc_by_month", "landscape_coefficient")

    @validates_schema
    def _leaves_open_every_year(self, data: dict[str, Any], **kwargs: Any) -> None:
        if "leaf_out" not in data or "plant" not in data:
            return
        plant = catalogue.plant(data["plant"])
        if plant.stages is None or plant.habit == "annual":
            why = "is an annual; give planted_on" if plant.habit == "annual" else "has no season"
            raise ValidationError(f"leaf_out is given, but {plant.id} {why}.", "leaf_out")

    @validates_schema(pass_original=True, skip_on_field_errors=True)
    def _stages_can_be(self, data: dict[str, Any], original_data: object, **kwargs: Any) -> None:
        own = data.get("stage_lengths_d")
        if own is None or "plant" not in data:
            return
        plant = catalogue.plant(data["plant"])
        beside = _given(original_data, "kc", "kc_by_month", "landscape_coefficient", "stage_region")
        problem = None
        if plant.stages is None:
            problem = f"stage_lengths_d is given, but {plant.id} has no stages; leave it out."
        elif beside:
            problem = f"stage_lengths_d stands beside {beside[0]}, which leaves it nothing to say; give one."
        elif plant.habit == "annual" and data.get("planted_on") is None:
            problem = "stage_lengths_d is given, but not the day on which they begin; give planted_on."
        elif sum(own) > LONGEST_SEASON_D:
            problem = f"stage_lengths_d come to {sum(own)} days; a season has at most {LONGEST_SEASON_D}."
        if problem is not None:
            raise ValidationError(problem, "stage_lengths_d")
        too_short = {
            name: [f"{name} is {days}; it must be at least 1 day. {_printed(plant, name)}"]
            for name, days in own._asdict().items()
            if days < 1
        }
        if too_short:
            raise ValidationError({"stage_lengths_d": too_short})

    @validates_schema
    def _region_is_the_plants(self, data: dict[str, Any], **kwargs: Any) -> None:
        region = data.get("stage_region")
        if region is None or "plant" not in data:
            return
        known = [lengths.id for lengths in catalogue.plant(data["plant"]).stage_lengths]
        if region in known:
            return
        has = f"it must be {one_of(known)}" if known else f"{data['plant']} has no stages; leave it out"
        raise ValidationError(f"stage_region is {shown(region)}; {has}.", "stage_region")


def _printed(plant: catalogue.Plant, stage: str) -> str:
    """What FAO-56 table 11 has for a stage of a plant, over all regions."""
    days = [
        dict(zip(StageDays._fields, (row.l_ini, row.l_dev, row.l_mid, row.l_late), strict=True))[stage]
        for row in plant.stage_lengths
    ]
    least, most = min(days), max(days)
    return f"FAO-56 table 11 has {least if least == most else f'{least} to {most}'} for {plant.id}."


def _planting(data: Mapping[str, Any]) -> Planting:
    months = data.get("kc_by_month")
    return Planting(**{**data, "kc_by_month": None if months is None else tuple(months)})


class PlantShareSchema(PlantSchema):
    """One of several plantings that have a zone's ground together."""

    share = Number(0.01, 0.99, required=True, about="Of the zone's ground.")


class PlantingSchema(PlantSchema):
    """What grows in a zone: a plant, or several with their shares of the ground."""

    plant = Known("plant", catalogue.plant, about="A name from /v1/catalogue/plants; else plants.")
    plants = Items(
        Part(PlantShareSchema),
        2,
        MOST_PLANTS,
        about="In place of all else: plantings that share ground and valve, each with its own account.",
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_what_grows_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        if not isinstance(original_data, Mapping):
            return
        if "plants" not in original_data:
            if "plant" not in original_data:
                raise ValidationError("plant is missing; give it, or plants with shares.", "plant")
            return
        beside = [name for name in original_data if name != "plants" and name in self.fields]
        if beside:
            raise ValidationError(
                f"{beside[0]} stands beside plants; say it within each of the plants.", beside[0]
            )

    @validates_schema
    def _shares_are_the_whole(self, data: dict[str, Any], **kwargs: Any) -> None:
        shares = [plant["share"] for plant in data.get("plants", ())]
        if shares and abs(sum(shares) - 1.0) > SHARES_MAY_BE_OFF:
            raise ValidationError(
                f"The shares of plants come to {number(round(sum(shares), 4))}; they must come to 1.",
                "plants",
            )

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> tuple[Planting, ...]:
        return tuple(_planting(plant) for plant in data.get("plants", (data,)))


class ContainerSchema(Schema):
    """A pot, trough or planter."""

    volume_l = Number(0.1, 100_000, required=True, about="Litres of substrate.")
    substrate = Known("substrate", catalogue.substrate, about="A name from /v1/catalogue/substrates.")
    capacity_share = Number(0.05, 0.95, about="Water held after draining, as a share of the volume.")
    unavailable_share = Number(0, 0.8, about="Water that roots cannot draw, as a share of the volume.")
    surface_m2 = Number(0.001, 10_000, about="What catches rain; the zone's area by default.")

    @validates_schema
    def _holds_water(self, data: dict[str, Any], **kwargs: Any) -> None:
        capacity, unavailable = data.get("capacity_share"), data.get("unavailable_share")
        if capacity is not None and unavailable is not None and capacity <= unavailable:
            raise ValidationError(
                f"capacity_share is {number(capacity)}; it must be above unavailable_share, "
                f"{number(unavailable)}.",
                "capacity_share",
            )

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Container:
        return Container(**data)


class SoilSchema(Schema):
    """What the plants stand in, said in one way."""

    texture = Known(
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
        points = _given(original_data, "field_capacity", "wilting_point")
        grains = _given(original_data, "sand_pct", "clay_pct", "organic_matter_pct")
        pot = _given(original_data, "container")
        texture = _given(original_data, "texture")
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

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Soil:
        return Soil(**data)


def _grain_sizes(grains: list[str]) -> tuple[tuple[str, list[str]], ...]:
    return ("sand_pct", grains), ("clay_pct", grains)


class EmittersSchema(Schema):
    """Drip points of one kind."""

    count = Whole(1, 100_000, required=True)
    flow_l_h = Number(0.1, 500, required=True, about="Of one emitter.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Emitters:
        return Emitters(**data)


class WateringSchema(Schema):
    """How water arrives."""

    method = Known("method", catalogue.method, required=True, about="A name from /v1/catalogue/methods.")
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
        "Association (2005) reckons with a DU alone; /v1/catalogue/methods has what is usual.",
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
        _at_most_one(original_data, "flow_l_min", "rate_mm_h", "emitters")

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_losses_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        _at_most_one(original_data, "efficiency", "distribution_uniformity", "catch_can_mm")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Watering:
        cans = data.pop("catch_can_mm", None)
        return Watering(**data, catch_can_mm=None if cans is None else tuple(cans))


class SiteSchema(Schema):
    """Where a zone lies."""

    slope_pct = Number(0, 100, about="The steeper, the shorter the runs; 0 by default.")
    rain_share = Number(0, 1, about="Share of the rain that reaches the zone; 0 under a roof, 1 by default.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Site:
        return Site(**data)


class ValveSchema(Schema):
    """What the zone's valve can do by itself."""

    meter = Truth(about="Whether it measures its flow and closes at a volume; true by default.")
    max_open_s = Whole(60, 86_400, about="Longest opening that it allows.")
    min_flow_l_min = Number(0, 500, about="Below this its meter does not count.")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Valve:
        return Valve(**data)


class ZoneSchema(Schema):
    """Ground watered together by one valve."""

    name = Text()
    area_m2 = Number(0.01, 100_000, required=True, about="Of a container zone: its leaf area.")
    priority = Word(("high", "normal", "low"), about='Who is watered first; "normal" by default.')
    planting = Part(PlantingSchema, required=True)
    soil = Part(SoilSchema, required=True)
    watering = Part(WateringSchema, required=True)
    site = Part(SiteSchema)
    rules = Part(ZoneRulesSchema)
    valve = Part(ValveSchema)
    soil_full_on = Day(about="A morning on which the soil was at field capacity.")

    @validates_schema
    def _rate_is_possible(self, data: dict[str, Any], **kwargs: Any) -> None:
        watering, area_m2 = data["watering"], data["area_m2"]
        if watering.flow_l_min is not None:
            field, flow_l_h = "flow_l_min", watering.flow_l_min * 60.0
        elif watering.emitters is not None:
            field, flow_l_h = "emitters", watering.emitters.count * watering.emitters.flow_l_h
        else:
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
        return Zone(id="", planting=planting, others=tuple(others), **data)
