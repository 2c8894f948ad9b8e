"""What `POST /v1/plan` is asked with: a garden, and whatever else is known."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.schemas.base import Schema, load
from api.schemas.deliveries import GivenDeliverySchema
from api.schemas.fields import Day, Items, Part, nearest
from api.schemas.garden import GardenSchema
from api.schemas.state import StateSchema
from api.schemas.weather import MOST_DAYS, WeatherDaySchema, twice_given
from api.watering_hours import garden_date
from scheduling.balance.weather import WeatherDay
from scheduling.garden.description import Garden
from scheduling.garden.reports import Delivery, Opening

MOST_DELIVERIES: Final = 2000


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """A plan that is asked for without anything being stored."""

    garden: Garden
    date: dt.date | None
    """None: the next date whose watering hours have not ended."""
    weather: tuple[WeatherDay, ...] | None
    """In the order of their dates; None: the garden's weather source is asked."""
    opening: Opening | None
    deliveries: tuple[Delivery, ...]


class PlanRequestSchema(Schema):
    """A garden, and what is known about its days."""

    garden = Part(GardenSchema, required=True)
    date = Day(about="The plan's date; by default that of the hours that are open, else the next to open.")
    weather = Items(
        Part(WeatherDaySchema), 1, MOST_DAYS, about="Used in place of the garden's weather source."
    )
    carry_over = Part(StateSchema, about="As the answer to an earlier request gave it.")
    deliveries = Items(
        Part(GivenDeliverySchema),
        0,
        MOST_DELIVERIES,
        about="Water that flowed on the date of state or later.",
    )

    @validates_schema(skip_on_field_errors=False)
    def _dates_are_given_once(self, data: dict[str, Any], **kwargs: Any) -> None:
        if wrong := twice_given(data.get("weather", ())):
            raise ValidationError({"weather": wrong})

    @validates_schema(pass_original=True)
    def _zones_are_there(self, data: dict[str, Any], original_data: Mapping[str, Any], **kwargs: Any) -> None:
        known = [zone.id for zone in data["garden"].zones]
        state = {
            zone: [f'"{zone}" is no zone of the garden.{nearest(zone, known)}']
            for zone in original_data.get("carry_over", {}).get("zones", ())
            if zone not in known
        }
        deliveries = {
            place: {"zone": [f'zone is "{zone}", which is no zone of the garden.{nearest(zone, known)}']}
            for place, zone in enumerate(given["zone"] for given in data.get("deliveries", ()))
            if zone not in known
        }
        if state or deliveries:
            raise ValidationError({"carry_over": {"zones": state}, "deliveries": deliveries})

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> PlanRequest:
        garden: Garden = data["garden"]
        weather = data.get("weather")
        return PlanRequest(
            garden=garden,
            date=data.get("date"),
            weather=None if weather is None else tuple(sorted(weather, key=lambda day: day.date)),
            opening=data.get("carry_over"),
            deliveries=tuple(_delivery(given, garden.timezone) for given in data.get("deliveries", ())),
        )


_REQUEST: Final = PlanRequestSchema()


def load_plan_request(document: object) -> PlanRequest:
    """Read a request for a plan. Raises InvalidRequest with every problem at once."""
    request: PlanRequest = load(_REQUEST, document)
    return request


def _delivery(given: Mapping[str, Any], timezone: str) -> Delivery:
    date = given["date"] if "date" in given else garden_date(given["started_at"], timezone)
    return Delivery(zone=given["zone"], date=date, volume_l=given["volume_l"])
