"""What the owner's own gauge or station measured of a day, in JSON."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, validates_schema

from api.schemas.base import Schema
from api.schemas.batch import MOST_IN_A_BATCH, result_field
from api.schemas.fields import Day, Instant, Items, Number, Part, Text, Truth, number
from api.schemas.problem import ProblemSchema
from api.schemas.weather import PAIRS
from api.weather.series.own_weather import QUANTITY_OF

HEIGHT: Final = "wind_height_m"


@dataclass(frozen=True, slots=True)
class ObservationReport:
    """What was measured of a day."""

    values: Mapping[str, float]
    measured_at: dt.datetime | None = None
    """When the instruments were read; None: when it was reported."""

    @classmethod
    def read(cls, measured_at: dt.datetime | None = None, **values: float) -> "ObservationReport":
        """From the fields that `ObservationSchema` loads."""
        return cls(values, measured_at)


class ObservationSchema(Schema):
    """A day's weather by own instruments: any of these, at least one.

    A gauge that is read at 8 in the morning holds the rain of the day before: report it for that date.
    """

    rain_mm = Number(0, 1000, about="Of the whole day.")
    t_min_c = Number(-60, 60)
    t_max_c = Number(-60, 60)
    t_dew_c = Number(-70, 40)
    rh_min_pct = Number(0, 100)
    rh_max_pct = Number(0, 100)
    rh_mean_pct = Number(0, 100)
    wind_m_s = Number(0, 60, about="Mean of the day, at wind_height_m.")
    wind_height_m = Number(0.5, 200, about="Above the ground; 2 by default.")
    wind_max_m_s = Number(0, 120)
    solar_mj_m2 = Number(0, 50, about="Solar radiation of the day.")
    sunshine_h = Number(0, 24)
    measured_at = Instant(
        about="When the instruments were read; now, if not given. More than an hour before the day ends, "
        "only rain_mm counts, as the least that fell."
    )

    @validates_schema
    def _can_be(self, data: dict[str, Any], **kwargs: Any) -> None:
        if not any(name in data for name in QUANTITY_OF):
            raise ValidationError(f"Nothing is observed; give at least one of {', '.join(QUANTITY_OF)}.")
        wrong: dict[str, list[str]] = {
            lower: [f"{lower} is {number(data[lower])}; it must not be above {upper}, {number(data[upper])}."]
            for lower, upper in PAIRS
            if lower in data and upper in data and data[lower] > data[upper]
        }
        if HEIGHT in data and "wind_m_s" not in data:
            wrong[HEIGHT] = [f"{HEIGHT} says where wind_m_s was measured, which is missing."]
        if wrong:
            raise ValidationError(wrong)


class DatedObservationSchema(ObservationSchema):
    """An observation with the date that else is part of its address."""

    date = Day(required=True)


class ObservationBatchSchema(Schema):
    """Observations of many days, such as a season's notebook."""

    observations = Items(Part(DatedObservationSchema), 1, MOST_IN_A_BATCH, required=True)


class StoredObservationSchema(Schema):
    """An observation as it is kept."""

    date = Day(required=True)
    rain_mm = Number(0, 1000)
    t_min_c = Number(-60, 60)
    t_max_c = Number(-60, 60)
    t_dew_c = Number(-70, 40)
    rh_min_pct = Number(0, 100)
    rh_max_pct = Number(0, 100)
    rh_mean_pct = Number(0, 100)
    wind_m_s = Number(0, 60)
    wind_height_m = Number(0.5, 200)
    wind_max_m_s = Number(0, 120)
    solar_mj_m2 = Number(0, 50)
    sunshine_h = Number(0, 24)
    measured_at = Instant(required=True)
    covers_day = Truth(
        required=True,
        about="Whether it was measured when the day was over, or in its last hour; if not, only rain_mm "
        "counts, as the least that fell.",
    )
    doubts = Items(Text(300), 0, 20, required=True, about="What is hard to believe of it; it counts anyway.")


class ObservationListSchema(Schema):
    """Observations of a garden by date."""

    observations = Items(Part(StoredObservationSchema), 0, 500, required=True)
    next = Day(required=True, allow_none=True, about="Give it as after to read on; null at the end.")


class ObservationAnswerSchema(Schema):
    """What became of one observation of a batch."""

    date = Day(required=True, allow_none=True, about="Null where it cannot be read.")
    result = result_field()
    observation = Part(StoredObservationSchema, required=True, allow_none=True, about="As it is kept.")
    problem = Part(ProblemSchema, required=True, allow_none=True, about="Pointers are those of the batch.")


class ObservationAnswersSchema(Schema):
    """What became of each observation of a batch, in their order."""

    observations = Items(Part(ObservationAnswerSchema), 1, MOST_IN_A_BATCH, required=True)
