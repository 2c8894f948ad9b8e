"""What soil probes read, in JSON."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, validates_schema

from api.schemas.base import Schema
from api.schemas.batch import MOST_IN_A_BATCH, result_field
from api.schemas.fields import Day, Id, Instant, Items, Number, Part, ReportId, Text
from api.schemas.problem import ProblemSchema
from scheduling.garden.reports import MorningReading

THE_PROBE: Final = "probe"
"""Of a zone that has one only."""
DEEPEST_M: Final = 5.0
LEAST_SHARE: Final = -1.0
LARGEST_SHARE: Final = 5.0
"""Sand that is flooded holds several times what it can keep."""
LARGEST_ERROR_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True)
class Reading:
    """What a probe read at a moment: either the water content or the share of the store."""

    measured_at: dt.datetime
    probe: str = THE_PROBE
    water_content: float | None = None
    """Water as a share of the soil's volume. [m3/m3]"""
    store_share: float | None = None
    """0 at the wilting point, 1 at field capacity."""
    depth_m: float | None = None
    error_share: float | None = None
    """Standard error, in the reading's own unit; None: a usual one."""

    @property
    def quantity(self) -> str:
        """The name of what it read."""
        return "store_share" if self.water_content is None else "water_content"


@dataclass(frozen=True, slots=True)
class KeptReading:
    """A reading as it is kept."""

    zone: str
    id: str
    """The reporter's own."""
    night: dt.date | None
    """The date whose morning it belongs to; None for what was measured by day."""
    reading: Reading


@dataclass(frozen=True, slots=True)
class Morning:
    """What the readings of one probe and one night say, and when they were taken."""

    reading: MorningReading
    read_at: dt.datetime | None
    """The middle one of its readings; None where that was not kept."""


class ReadingSchema(Schema):
    """One reading: how much water the soil holds, or how full its store is."""

    measured_at = Instant(required=True)
    water_content = Number(0, 1, about="Water as a share of the soil's volume, m3/m3.")
    store_share = Number(
        LEAST_SHARE,
        LARGEST_SHARE,
        about="What plants can use of what the roots' soil can hold: 0 at the wilting point, 1 at field "
        "capacity, beyond it in drier or flooded soil.",
    )
    depth_m = Number(highest=DEEPEST_M, above=0, about="How deep it sits; in the roots, if not given.")
    error_share = Number(
        highest=LARGEST_ERROR_SHARE,
        above=0,
        about="Standard error of the reading, in its own unit; a usual one, if not given.",
    )
    probe = Id(about=f'Which probe of the zone, where it has several; "{THE_PROBE}" if not given.')

    @validates_schema
    def _has_one_value(self, data: dict[str, Any], **kwargs: Any) -> None:
        if "water_content" in data and "store_share" in data:
            raise ValidationError(
                "store_share says again what water_content says; give only one of them.", "store_share"
            )
        if "water_content" not in data and "store_share" not in data:
            raise ValidationError("water_content is missing; give it, or store_share.", "water_content")


class NamedReadingSchema(ReadingSchema):
    """A reading with what else is told by its address."""

    zone = Id(required=True)
    id = ReportId(required=True)


class ReadingBatchSchema(Schema):
    """Readings of probes that were out of reach."""

    moisture = Items(Part(NamedReadingSchema), 1, MOST_IN_A_BATCH, required=True)


class StoredReadingSchema(Schema):
    """A reading as it is kept."""

    zone = Id(required=True)
    id = ReportId(required=True)
    measured_at = Instant(required=True)
    morning = Day(
        required=True,
        allow_none=True,
        about="The date whose morning it counts for: that of the sunrise that came within 4 hours. Null: it "
        "was measured by day, and counts for none.",
    )
    probe = Id(required=True)
    water_content = Number(0, 1)
    store_share = Number(LEAST_SHARE, LARGEST_SHARE)
    depth_m = Number(0, DEEPEST_M)
    error_share = Number(0, LARGEST_ERROR_SHARE)
    doubts = Items(Text(300), 0, 20, required=True, about="What is hard to believe of it.")


class ReadingListSchema(Schema):
    """Readings of a garden by moment, zone and id."""

    moisture = Items(Part(StoredReadingSchema), 0, 500, required=True)
    next = Text(240, required=True, allow_none=True, about="Give it as after to read on; null at the end.")


class ReadingAnswerSchema(Schema):
    """What became of one reading of a batch."""

    zone = Id(required=True, allow_none=True, about="Null where it cannot be read.")
    id = ReportId(required=True, allow_none=True)
    result = result_field()
    reading = Part(StoredReadingSchema, required=True, allow_none=True, about="As it is kept.")
    problem = Part(ProblemSchema, required=True, allow_none=True, about="Pointers are those of the batch.")


class ReadingAnswersSchema(Schema):
    """What became of each reading of a batch, in their order."""

    moisture = Items(Part(ReadingAnswerSchema), 1, MOST_IN_A_BATCH, required=True)
