"""Reports of water that flowed, in JSON."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, validates_schema

from api.schemas.base import Schema
from api.schemas.batch import CONFLICT, KEPT, KNOWN, MOST_IN_A_BATCH, REFUSED
from api.schemas.fields import Day, Id, Instant, Items, Number, Part, ReportId, Text, Truth, Whole, Word
from api.schemas.problem import ProblemSchema
from scheduling.plan.final_plan import Outcome

OUTCOMES: Final[tuple[Outcome, ...]] = ("running", "done", "stopped", "no-water", "lost-contact")
RESULTS: Final = (KEPT, KNOWN, CONFLICT, REFUSED)
MOST_LITRES: Final = 10_000_000.0


@dataclass(frozen=True, slots=True)
class DeliveryReport:
    """What a controller says about one opening of a valve."""

    started_at: dt.datetime | None
    """None: when its turn was granted, or now."""
    outcome: Outcome
    volume_l: float | None = None
    """None: not known, or not yet."""
    ended_at: dt.datetime | None = None


class DeliverySchema(Schema):
    """One opening of a valve: announced as `running`, then completed once."""

    started_at = Instant(about="When it began; if not given, when its turn was granted, else now.")
    outcome = Word(OUTCOMES, required=True, about='"running" announces; the others complete.')
    volume_l = Number(
        0,
        MOST_LITRES,
        allow_none=True,
        about="What flowed; null where it is not known. Left out while running.",
    )
    ended_at = Instant()

    @validates_schema(pass_original=True)
    def _is_whole(self, data: dict[str, Any], original_data: Mapping[str, Any], **kwargs: Any) -> None:
        running = data["outcome"] == "running"
        if running and data.get("volume_l") is not None:
            raise ValidationError("volume_l is known only when the run has ended; leave it out.", "volume_l")
        if running and "ended_at" in data:
            raise ValidationError("ended_at is known only when the run has ended; leave it out.", "ended_at")
        if not running and "volume_l" not in original_data:
            raise ValidationError("volume_l is missing; give the litres, or null for unknown.", "volume_l")
        if "ended_at" in data and "started_at" not in data:
            raise ValidationError("ended_at is given without started_at; give both or neither.", "ended_at")
        if "ended_at" in data and data["ended_at"] < data["started_at"]:
            raise ValidationError("ended_at is before started_at; it must not be.", "ended_at")


class RunLimitsSchema(Schema):
    """The limits of an announced run as they stand, for the valve."""

    volume_l = Number(0, required=True, about="A metered valve closes here.")
    run_time_s = Whole(0, 10_000_000, required=True, about="A valve without a meter closes here.")
    max_open_s = Whole(0, 10_000_000, required=True, about="Any valve closes here at the latest.")


class StoredDeliverySchema(Schema):
    """A report as it is kept."""

    zone = Id(required=True)
    id = ReportId(required=True)
    date = Day(required=True, about="The plan's date that the water counts for.")
    started_at = Instant(required=True)
    outcome = Word(OUTCOMES, required=True)
    volume_l = Number(0, MOST_LITRES, required=True, allow_none=True)
    ended_at = Instant(allow_none=True)
    unlikely = Truth(about="Only where it is true: more water than this valve should be able to pass.")
    counted_l = Number(
        0, MOST_LITRES, about="What the ledger takes it for: as planned, while it is not known."
    )
    shut_by = Instant(about="Of a turn that nobody has closed: when its valve is shut at the latest.")
    run = Part(
        RunLimitsSchema,
        about="Of an announced run: open the valve with these, it may have been cut since it was read.",
    )


class DeliveryListSchema(Schema):
    """Reports of a garden between two dates, in the order of their dates, zones and ids."""

    deliveries = Items(Part(StoredDeliverySchema), 0, 500, required=True)
    next = Text(240, required=True, allow_none=True, about="Give it as after to read on; null at the end.")


class NamedDeliverySchema(DeliverySchema):
    """A report with what else is told by its address."""

    zone = Id(required=True)
    id = ReportId(required=True)


class DeliveryBatchSchema(Schema):
    """Reports of a controller that was offline, in the order in which they happened."""

    deliveries = Items(Part(NamedDeliverySchema), 1, MOST_IN_A_BATCH, required=True)


class BatchAnswerSchema(Schema):
    """What became of one report of a batch."""

    zone = Id(required=True, allow_none=True, about="Null where it cannot be read.")
    id = ReportId(required=True, allow_none=True)
    result = Word(
        RESULTS,
        required=True,
        about='"kept": new, or completed; "known": the same was kept before; "conflict": something else is '
        'kept under this id; "refused": it cannot be.',
    )
    delivery = Part(StoredDeliverySchema, required=True, allow_none=True, about="As it is kept.")
    problem = Part(ProblemSchema, required=True, allow_none=True, about="Pointers are those of the batch.")


class BatchAnswersSchema(Schema):
    """What became of each report of a batch, in their order."""

    deliveries = Items(Part(BatchAnswerSchema), 1, MOST_IN_A_BATCH, required=True)


class GivenDeliverySchema(Schema):
    """Water that flowed, given with a request that nothing is stored for."""

    zone = Id(required=True)
    date = Day(about="The plan's date that it belongs to.")
    started_at = Instant(about="Instead of date: the plan's date follows from it.")
    volume_l = Number(0, MOST_LITRES, required=True)

    @validates_schema(pass_original=True, skip_on_field_errors=False)
    def _has_one_time(self, data: Any, original_data: object, **kwargs: Any) -> None:
        if not isinstance(original_data, Mapping):
            return
        if "date" in original_data and "started_at" in original_data:
            raise ValidationError(
                "started_at says again what date says; give only one of them.", "started_at"
            )
        if "date" not in original_data and "started_at" not in original_data:
            raise ValidationError("date is missing; give it, or started_at.", "date")
