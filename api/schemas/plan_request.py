"""What `POST /v1/plan` is asked with: a garden, and whatever else is known."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import ValidationError, post_load, validates_schema

from api.errors import InvalidRequest
from api.schemas.base import Schema, problems_of
from api.schemas.deliveries import GivenDeliverySchema
from api.schemas.fields import ById, Day, Items, Number, Part, Truth, Whole, nearest
from api.schemas.garden import GardenSchema
from api.schemas.weather import MOST_DAYS, WeatherDaySchema, twice_given
from api.schemas.zone import MOST_PLANTS
from api.watering_hours import garden_date
from scheduling.garden import Garden
from scheduling.reports import Delivery, Opening, StandState
from scheduling.weather import WeatherDay

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


class StandStateSchema(Schema):
    """What one planting lacks to field capacity."""

    depletion_mm = Number(0, 5000, required=True)
    surface_depletion_mm = Number(
        0, 100, about="With the dual coefficient, what the top layer lacks where it was wetted last."
    )
    surface_wetted_share = Number(0.01, 1, about="How much of the ground that is.")


class ZoneStateSchema(StandStateSchema):
    """What one zone lacks to field capacity; of several plantings, by their shares of the ground."""

    plants = Items(
        Part(StandStateSchema), 2, MOST_PLANTS, about="Each of several plantings, in the zone's order."
    )
    assumed = Truth(about="Whether it goes back to a first guess of what the soil held; false by default.")
    turns_without = Whole(
        0, 1000, about="Plans in a row, before this date's, that left it without for want of hours or litres."
    )
    turns_after = Whole(0, 1000, about="The same with this date's plan.")


class StateSchema(Schema):
    """Where each zone's ledger begins: before any water that belongs to the date."""

    date = Day(required=True)
    zones = ById(Part(ZoneStateSchema), 0, 200, required=True)

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> Opening:
        return Opening(
            date=data["date"],
            depletion_mm={zone: state["depletion_mm"] for zone, state in data["zones"].items()},
            turns_without=_by_zone(data["zones"], "turns_without"),
            turns_after=_by_zone(data["zones"], "turns_after"),
            stands=_stands(data["zones"]),
            assumed=_assumed(data["zones"]),
        )


def _by_zone(states: Mapping[str, Mapping[str, int]], name: str) -> dict[str, int]:
    return {zone: state[name] for zone, state in states.items() if name in state}


def state_as_written(document: Mapping[str, Any]) -> Opening:
    """Read a state that `dump_state` wrote and the store kept: it was checked when it was made."""
    zones: Mapping[str, Any] = document["zones"]
    return Opening(
        dt.date.fromisoformat(document["date"]),
        {zone: state["depletion_mm"] for zone, state in zones.items()},
        _by_zone(zones, "turns_without"),
        _by_zone(zones, "turns_after"),
        _stands(zones),
        _assumed(zones),
    )


def _assumed(zones: Mapping[str, Mapping[str, Any]]) -> frozenset[str]:
    """Zones that say of themselves that a guess is at their bottom."""
    return frozenset(zone for zone, state in zones.items() if state.get("assumed", False))


def _stands(zones: Mapping[str, Mapping[str, Any]]) -> dict[str, tuple[StandState, ...]]:
    """What more than a depletion is told of some zones."""
    told = {
        zone: state.get("plants", [state])
        for zone, state in zones.items()
        if "plants" in state or "surface_depletion_mm" in state
    }
    return {zone: tuple(_stand(state) for state in states) for zone, states in told.items()}


def _stand(state: Mapping[str, Any]) -> StandState:
    return StandState(**{name: state[name] for name in StandState._fields if name in state})


class PlanRequestSchema(Schema):
    """A garden, and what is known about its days."""

    garden = Part(GardenSchema, required=True)
    date = Day(about="The plan's date; by default that of the hours that are open, else the next to open.")
    weather = Items(
        Part(WeatherDaySchema), 1, MOST_DAYS, about="Used in place of the garden's weather source."
    )
    state = Part(StateSchema, about="As the answer to an earlier request gave it.")
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
            for zone in original_data.get("state", {}).get("zones", ())
            if zone not in known
        }
        deliveries = {
            place: {"zone": [f'zone is "{zone}", which is no zone of the garden.{nearest(zone, known)}']}
            for place, zone in enumerate(given["zone"] for given in data.get("deliveries", ()))
            if zone not in known
        }
        if state or deliveries:
            raise ValidationError({"state": {"zones": state}, "deliveries": deliveries})

    @post_load
    def _made(self, data: dict[str, Any], **kwargs: Any) -> PlanRequest:
        garden: Garden = data["garden"]
        weather = data.get("weather")
        return PlanRequest(
            garden=garden,
            date=data.get("date"),
            weather=None if weather is None else tuple(sorted(weather, key=lambda day: day.date)),
            opening=data.get("state"),
            deliveries=tuple(_delivery(given, garden.timezone) for given in data.get("deliveries", ())),
        )


_REQUEST: Final = PlanRequestSchema()


def load_plan_request(document: object) -> PlanRequest:
    """Read a request for a plan. Raises InvalidRequest with every problem at once."""
    try:
        request: PlanRequest = _REQUEST.load(document)  # type: ignore[arg-type]
    except ValidationError as error:
        raise InvalidRequest(*problems_of(error)) from None
    return request


def _delivery(given: Mapping[str, Any], timezone: str) -> Delivery:
    date = given["date"] if "date" in given else garden_date(given["started_at"], timezone)
    return Delivery(zone=given["zone"], date=date, volume_l=given["volume_l"])
