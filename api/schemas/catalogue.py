"""The catalogue in JSON."""

from dataclasses import asdict
from typing import Any

from api.schemas.base import Schema
from api.schemas.fields import Id, Items, Number, Part, Text, Truth, Whole
from scheduling.catalogue import Method, Plant, SoilTexture, Substrate


class StagesSchema(Schema):
    """Kc and Kcb over a growing season, FAO-56 tables 11, 12 and 17."""

    kc_ini = Number(0, required=True)
    kc_mid = Number(0, required=True)
    kc_end = Number(0, required=True)
    kcb_ini = Number(0, required=True)
    kcb_mid = Number(0, required=True)
    kcb_end = Number(0, required=True)
    region = Id(required=True, about="Whose lengths these are: an id among the plant's stage_lengths.")
    months = Items(Whole(1, 12), 0, 12, required=True, about="When the season begins, northern hemisphere.")
    l_ini = Whole(0, 1000, required=True, about="Days.")
    l_dev = Whole(0, 1000, required=True, about="Days.")
    l_mid = Whole(0, 1000, required=True, about="Days.")
    l_late = Whole(0, 1000, required=True, about="Days.")


class StageLengthsSchema(Schema):
    """How long the stages of a crop last in one region, a row of FAO-56 table 11."""

    id = Id(required=True)
    crop = Id(required=True, about="What it is about; several plants may share it.")
    region = Text(required=True, about="As printed.")
    planted = Text(required=True, about="As printed.")
    months = Items(Whole(1, 12), 0, 12, required=True, about="The same, northern hemisphere.")
    l_ini = Whole(0, 1000, required=True, about="Days.")
    l_dev = Whole(0, 1000, required=True, about="Days.")
    l_mid = Whole(0, 1000, required=True, about="Days.")
    l_late = Whole(0, 1000, required=True, about="Days.")
    source = Text(1000, required=True)
    note = Text(1000, required=True)


class CoverFactorsSchema(Schema):
    """ML and Fr of Allen and Pereira 2009."""

    multiplier = Number(0, required=True)
    fr_mid = Number(0, required=True)
    fr_end = Number(0, required=True)


class PlantSchema(Schema):
    """A plant; one of kc, kc_by_month and stages is given."""

    id = Id(required=True)
    name = Text(required=True)
    common_names = Items(Text(), 0, 50, required=True, about="Other names, and plants that it stands for.")
    kind = Text(required=True)
    habit = Text(required=True, about="annual, deciduous or evergreen.")
    kc = Number(0, required=True, allow_none=True)
    kc_by_month = Items(
        Number(0), 12, 12, required=True, allow_none=True, about="January to December, northern hemisphere."
    )
    stages = Part(StagesSchema, required=True, allow_none=True)
    kcb = Number(0, required=True, allow_none=True, about="Basal coefficient beside kc.")
    kcb_by_month = Items(
        Number(0), 12, 12, required=True, allow_none=True, about="Basal coefficients beside kc_by_month."
    )
    stage_lengths = Items(
        Part(StageLengthsSchema), 0, 100, required=True, about="All regions there are, the usual one first."
    )
    height_m = Number(0, required=True)
    root_depth_m = Number(0, required=True)
    root_depth_max_m = Number(0, required=True, allow_none=True)
    depletion_fraction = Number(0, 1, required=True)
    establishment = Text(
        required=True, allow_none=True, about="How a new planting takes root; null: an annual."
    )
    picking = Text(
        required=True,
        about="once; or until-frost, on: picked again and again, with Kc mid until frost or season_ends.",
    )
    alive_share = Number(
        0, 1, required=True, allow_none=True, about='Share of ETo that keeps it alive, for aim "alive".'
    )
    cover = Part(
        CoverFactorsSchema,
        required=True,
        allow_none=True,
        about="By which Kc follows from covered_share and height (Allen and Pereira 2009).",
    )
    source = Text(1000, required=True)
    kcb_source = Text(1000, required=True)
    root_source = Text(1000, required=True)
    note = Text(1000, required=True)


class SoilTextureSchema(Schema):
    """A texture class."""

    id = Id(required=True)
    name = Text(required=True)
    sand_share = Number(0, 1, required=True)
    clay_share = Number(0, 1, required=True)
    wilting_point = Number(0, 1, required=True)
    field_capacity = Number(0, 1, required=True)
    saturation = Number(0, 1, required=True)
    ksat_mm_h = Number(0, required=True)
    intake_mm_h = Number(0, required=True)
    ponding_by_slope_mm = Items(Number(0), 4, 4, required=True, about="On slopes up to 3, 6, 12 % and above.")
    rew_mm = Number(0, required=True, about="Readily evaporable water of the top 0.10 m.")
    tew_mm = Number(0, required=True, about="Total evaporable water of the top 0.10 m.")
    source = Text(1000, required=True)
    intake_source = Text(1000, required=True)
    evaporation_source = Text(1000, required=True)
    note = Text(1000, required=True)


class SubstrateSchema(Schema):
    """What fills a container."""

    id = Id(required=True)
    name = Text(required=True)
    capacity_share = Number(0, 1, required=True)
    unavailable_share = Number(0, 1, required=True)
    source = Text(1000, required=True)
    note = Text(1000, required=True)


class MethodSchema(Schema):
    """A way for water to arrive."""

    id = Id(required=True)
    name = Text(required=True)
    efficiency = Number(0, 1, required=True)
    efficiency_best = Number(0, 1, required=True)
    rate_mm_h = Number(0, required=True)
    wetted_share = Number(0, 1, required=True)
    smallest_depth_mm = Number(0, required=True)
    overhead = Truth(required=True)
    air_loss_share = Number(0, 1, required=True, about="Part that never lands; efficiency holds it already.")
    source = Text(1000, required=True)
    note = Text(1000, required=True)


class PlantsSchema(Schema):
    """All plants."""

    plants = Items(Part(PlantSchema), 0, 10_000, required=True)


class SoilsSchema(Schema):
    """All texture classes."""

    soils = Items(Part(SoilTextureSchema), 0, 100, required=True)


class SubstratesSchema(Schema):
    """All container substrates."""

    substrates = Items(Part(SubstrateSchema), 0, 1000, required=True)


class MethodsSchema(Schema):
    """All ways of watering."""

    methods = Items(Part(MethodSchema), 0, 100, required=True)


def dump_entry(entry: Plant | SoilTexture | Substrate | Method) -> dict[str, Any]:
    """Write an entry as JSON has it: its fields as they are."""
    return asdict(entry)
