"""What grows in a zone, in JSON: a plant, or several with their shares of the ground."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import (
    CatalogueName,
    Days,
    Items,
    Number,
    Part,
    Text,
    Whole,
    Word,
    YearlyDay,
    number,
    one_of,
    shown,
)
from scheduling import catalogue
from scheduling.garden.description import A_LEAP_YEAR, LandscapeCoefficient, Planting, StageDays

MOST_PLANTS: Final = 12
LONGEST_STAGE_D: Final = 365
LONGEST_SEASON_D: Final = 366
SHARES_MAY_BE_OFF: Final = 0.001
"""Thirds are written 0.333."""


def given(document: object, *names: str) -> list[str]:
    """Which of some fields a document holds."""
    return [name for name in names if isinstance(document, Mapping) and name in document]


def at_most_one(document: object, *names: str) -> None:
    """Raises ValidationError where a document holds several of some fields that say the same."""
    told = given(document, *names)
    if len(told) > 1:
        raise ValidationError(
            f"{told[-1]} says again what {told[0]} says; give only one of {', '.join(names)}.",
            told[-1],
        )


class LandscapeCoefficientSchema(Schema):
    """Kc of mixed ornamental plants: species x density x microclimate."""

    makes = LandscapeCoefficient

    species = Number(0, 0.9, required=True, about="What the plants need, as a share of ETo.")
    density = Number(0.5, 1.3, about="1 by default.")
    microclimate = Number(0.5, 1.4, about="1 by default.")


class StageDaysSchema(Schema):
    """Days of the four stages of a season, FAO-56 table 11."""

    makes = StageDays

    initial = Whole(0, LONGEST_STAGE_D, required=True, about="From planting, or leaves opening; at least 1.")
    development = Whole(0, LONGEST_STAGE_D, required=True, about="Until the ground is covered; at least 1.")
    mid_season = Whole(0, LONGEST_STAGE_D, required=True, about="Until leaves turn yellow; at least 1.")
    late_season = Whole(0, LONGEST_STAGE_D, required=True, about="Until harvest or leaf fall; at least 1.")


class PlantSchema(Schema):
    """One planting; what is left out comes from the catalogue."""

    makes = Planting

    plant = CatalogueName("plant", catalogue.plant, required=True, about="A name from /v1/catalogue/plants.")
    kc = Number(0.05, 2.5, about="One crop coefficient for the whole year.")
    kc_by_month = Items(Number(0, 2.5), 12, 12, about="January to December, as this garden has them.")
    landscape_coefficient = Part(LandscapeCoefficientSchema)
    root_depth_m = Number(0.02, 3)
    depletion_fraction = Number(0.05, 0.95, about="p of FAO-56, at ETc = 5 mm/day.")
    allowed_depletion = Number(
        0.1,
        0.9,
        about="Share of the total available water that may be used before water is due (management allowed "
        "depletion); by depletion_fraction and the demand by default.",
    )
    aim = Word(
        ("thriving", "alive"),
        about='"alive": the least water that is known to keep established plants; "thriving" by default.',
    )
    height_m = Number(0.01, 30)
    planted_on = Days(
        about="Starts the stages of an annual (FAO-56 table 11); all else grows its roots from that day on. "
        "An annual's may be a list, or a day of every year, --MM-DD."
    )
    season_ends = Days(
        about="Last day of an annual's or a deciduous plant's season, --MM-DD for every year, or a list. "
        "Earlier than its stages it cuts them short; later, the mid-season lasts longer. What is picked "
        "again and again keeps its mid-season until then."
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
        0,
        0.99,
        about="Of the ground, in the plants' shade around noon. With dual, FAO-56 equation 76 by default; of "
        "fruit trees, olives, citrus and vines it also sets Kc (Allen and Pereira 2009).",
    )

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _says_kc_once(self, data: Any, original_data: object, **kwargs: Any) -> None:
        at_most_one(original_data, "kc", "kc_by_month", "landscape_coefficient")

    @validates_schema(pass_original=True, skip_on_field_errors=True)
    def _aims_at_one_thing(self, data: dict[str, Any], original_data: object, **kwargs: Any) -> None:
        if data.get("aim") == "alive" and given(original_data, "allowed_depletion"):
            raise ValidationError(
                'aim is "alive", which has an allowed depletion of its own; give one of aim and '
                "allowed_depletion.",
                "aim",
            )

    @validates_schema
    def _leaves_open_every_year(self, data: dict[str, Any], **kwargs: Any) -> None:
        if "leaf_out" not in data or "plant" not in data:
            return
        plant = catalogue.plant(data["plant"])
        if plant.stages is None or plant.habit == "annual":
            why = "is an annual; give planted_on" if plant.habit == "annual" else "has no season"
            raise ValidationError(f"leaf_out is given, but {plant.id} {why}.", "leaf_out")

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Any:
        return planting_of(data)

    @validates_schema
    def _is_planted_when_it_can_be(self, data: dict[str, Any], **kwargs: Any) -> None:
        planted = data.get("planted_on")
        if planted is None or "plant" not in data:
            return
        is_yearly = [isinstance(day, tuple) for day in planted]
        problem = None
        if len(planted) > 1 and any(is_yearly):
            problem = "planted_on has a day of every year beside others; give that day alone, or dates."
        elif catalogue.plant(data["plant"]).habit != "annual" and (len(planted) > 1 or any(is_yearly)):
            problem = f"planted_on must be one date: {data['plant']} is no annual, and is planted once."
        elif len(set(planted)) < len(planted):
            problem = "planted_on has a date twice; two plantings cannot stand on the same ground."
        if problem is not None:
            raise ValidationError(problem, "planted_on")

    @validates_schema
    def _seasons_end_after_they_begin(self, data: dict[str, Any], **kwargs: Any) -> None:
        ends = data.get("season_ends")
        if ends is None or "plant" not in data:
            return
        plant, planted = catalogue.plant(data["plant"]), data.get("planted_on", ())
        dated = [day for day in ends if isinstance(day, dt.date)]
        problem = None
        if plant.stages is None or plant.habit == "evergreen":
            problem = f"season_ends is given, but {plant.id} has no season that ends; leave it out."
        elif plant.habit == "annual" and not planted:
            problem = "season_ends is given, but not the day on which the season begins; give planted_on."
        elif dated and (plant.habit != "annual" or isinstance(planted[0], tuple)):
            problem = "season_ends is a date, and the season comes again every year; give --MM-DD."
        elif dated and min(dated) < planted[0]:
            problem = f"season_ends is {min(dated)}; it must not be before planted_on, {planted[0]}."
        if problem is not None:
            raise ValidationError(problem, "season_ends")

    @validates_schema(pass_original=True, skip_on_field_errors=True)
    def _stages_can_be(self, data: dict[str, Any], original_data: object, **kwargs: Any) -> None:
        own = data.get("stage_lengths_d")
        if own is None or "plant" not in data:
            return
        plant = catalogue.plant(data["plant"])
        beside = given(original_data, "kc", "kc_by_month", "landscape_coefficient", "stage_region")
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


def planting_of(data: dict[str, Any]) -> Planting:
    """A planting, with the several ways of saying when it was planted told apart."""
    planted = data.pop("planted_on", ())
    if planted and isinstance(planted[0], tuple):
        month, day = planted[0]
        return Planting(**data, planted_on=dt.date(A_LEAP_YEAR, month, day), planted_yearly=True)
    return Planting(**data, planted_on=planted[0] if planted else None, planted_again=planted[1:])


def _printed(plant: catalogue.Plant, stage: str) -> str:
    """What FAO-56 table 11 has for a stage of a plant, over all regions."""
    days = [
        dict(zip(StageDays._fields, (row.l_ini, row.l_dev, row.l_mid, row.l_late), strict=True))[stage]
        for row in plant.stage_lengths
    ]
    least, most = min(days), max(days)
    return f"FAO-56 table 11 has {least if least == most else f'{least} to {most}'} for {plant.id}."


class PlantShareSchema(PlantSchema):
    """One of several plantings that have a zone's ground together."""

    share = Number(0.01, 0.99, required=True, about="Of the zone's ground.")


class PlantingSchema(PlantSchema):
    """What grows in a zone: a plant, or several with their shares of the ground."""

    plant = CatalogueName("plant", catalogue.plant, about="A name from /v1/catalogue/plants; else plants.")
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
        shares = [plant.share for plant in data.get("plants", ())]
        if shares and abs(sum(shares) - 1.0) > SHARES_MAY_BE_OFF:
            raise ValidationError(
                f"The shares of plants come to {number(round(sum(shares), 4))}; they must come to 1.",
                "plants",
            )

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> tuple[Planting, ...]:
        return data["plants"] if "plants" in data else (planting_of(data),)
