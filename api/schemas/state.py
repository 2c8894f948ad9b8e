"""Where ledgers begin, in JSON: what a plan answers, a later request sends back, and the store keeps."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from marshmallow import post_load

from api.schemas.base import Schema
from api.schemas.fields import ById, Day, Items, Number, Part, Truth, Whole
from api.schemas.planting import MOST_PLANTS
from scheduling.garden.reports import Opening, StandState


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
        return _opening(data["date"], data["zones"])


def _by_zone(states: Mapping[str, Mapping[str, int]], name: str) -> dict[str, int]:
    return {zone: state[name] for zone, state in states.items() if name in state}


def state_as_written(document: Mapping[str, Any]) -> Opening:
    """Read a state that `dump_state` wrote and the store kept: it was checked when it was made."""
    return _opening(dt.date.fromisoformat(document["date"]), document["zones"])


def _opening(date: dt.date, zones: Mapping[str, Mapping[str, Any]]) -> Opening:
    return Opening(
        date=date,
        depletion_mm={zone: state["depletion_mm"] for zone, state in zones.items()},
        turns_without=_by_zone(zones, "turns_without"),
        turns_after=_by_zone(zones, "turns_after"),
        stands=_stands(zones),
        assumed=frozenset(zone for zone, state in zones.items() if state.get("assumed", False)),
    )


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


def dump_state(state: Opening, digits: int = 2) -> dict[str, Any]:
    """Where each zone's ledger begins, as a later request sends it back; depletions to so many digits."""
    return {
        "date": state.date.isoformat(),
        "zones": {
            zone: {
                "depletion_mm": round(depletion_mm, digits),
                **_stands_told(state.stands.get(zone, ()), digits),
                **({"assumed": True} if zone in state.assumed else {}),
                **({"turns_without": turns} if (turns := state.turns_without.get(zone, 0)) else {}),
                **({"turns_after": turns} if (turns := state.turns_after.get(zone, 0)) else {}),
            }
            for zone, depletion_mm in state.depletion_mm.items()
        },
    }


def _stands_told(stands: Sequence[StandState], digits: int) -> dict[str, Any]:
    """What the depletion alone does not tell of a zone."""
    written = [
        {name: round(value, digits) for name, value in stand._asdict().items() if value is not None}
        for stand in stands
    ]
    if len(written) == 1:
        return {name: value for name, value in written[0].items() if name != "depletion_mm"}
    return {"plants": written} if written else {}
