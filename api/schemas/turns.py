"""Turns in JSON: what is asked, what is answered, and what the store keeps of a granted one."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from api.errors import UnknownFormat
from api.schemas.base import Schema, load
from api.schemas.fields import Id, Instant, Items, Number, Part, ReportId, Text, Truth, Whole, Word
from api.schemas.plan import tidy_litres
from api.schemas.stored_bodies import JsonObject
from scheduling.plan.turns import WHY_NOT, Refused, Turn
from scheduling.reasons import CloseBy

FORMAT: Final = 1
MOST_ZONES: Final = 200


class AskForATurnSchema(Schema):
    """A question for a turn; with `{}`, for any zone."""

    zones = Items(Id(), 1, MOST_ZONES, about="The zones whose valves can be opened; all, if not given.")


class MainValveTurnSchema(Schema):
    """What a main valve ahead of all others has to do."""

    open = Truth(required=True)
    shut_by = Instant(required=True, about="When it is shut, whatever else happens.")


class TurnSchema(Schema):
    """A turn, or why there is none; the keys are the same, and a refused one has null limits."""

    granted = Truth(required=True, about="true: open this valve now, with these limits.")
    garden = Id(required=True)
    zone = Id(required=True, allow_none=True)
    run = ReportId(required=True, allow_none=True)
    volume_l = Number(0, required=True, allow_none=True, about="A metered valve closes here.")
    run_time_s = Whole(
        0, 10_000_000, required=True, allow_none=True, about="A valve without a meter closes here."
    )
    max_open_s = Whole(
        0, 10_000_000, required=True, allow_none=True, about="Any valve closes here at the latest."
    )
    close_by = Word(("volume", "time"), required=True, allow_none=True, about="What closes the valve.")
    open_by = Instant(required=True, allow_none=True, about="Later the valve stays shut.")
    shut_by = Instant(required=True, allow_none=True, about="By then the valve is shut.")
    delivery = Text(400, required=True, allow_none=True, about="Address of the report that closes the turn.")
    main_valve = Part(MainValveTurnSchema, required=True, allow_none=True)
    why = Word(WHY_NOT, required=True, allow_none=True, about="Why there is no turn; null where there is.")
    text = Text(1000, required=True, about="The same for people; it may improve.")
    next_at = Instant(required=True, allow_none=True, about="When to ask again at the latest.")


_QUESTION: Final = AskForATurnSchema()


def load_question(document: object) -> tuple[str, ...] | None:
    """The zones that are asked for, in order; None for all. Raises InvalidRequest."""
    zones = load(_QUESTION, document).get("zones")
    return None if zones is None else tuple(sorted(set(zones)))


@dataclass(frozen=True, slots=True)
class KeptTurn:
    """A turn that was granted, and how it was answered."""

    turn: Turn
    key: str | None
    zones: tuple[str, ...] | None
    """Those that were asked for."""
    answer: JsonObject


def granted_body(
    garden_id: str, turn: Turn, name: str, close_by: CloseBy, delivery: str, main_shut_by: dt.datetime
) -> JsonObject:
    """The answer that grants a turn. `main_shut_by` is when the last open valve is shut."""
    return {
        "granted": True,
        "garden": garden_id,
        "zone": turn.zone,
        "run": turn.run,
        "volume_l": tidy_litres(turn.volume_l),
        "run_time_s": turn.run_time_s,
        "max_open_s": turn.max_open_s,
        "close_by": close_by,
        "open_by": _seconds(turn.open_by),
        "shut_by": _seconds(turn.shut_by),
        "delivery": delivery,
        "main_valve": {"open": True, "shut_by": _seconds(main_shut_by)},
        "why": None,
        "text": f"Open the valve of {name} by {turn.open_by:%H:%M:%S}, for {turn.volume_l:.10g} l.",
        "next_at": None,
    }


def refused_body(garden_id: str, refused: Refused, next_at: dt.datetime | None) -> JsonObject:
    """The answer that grants none."""
    nothing = dict.fromkeys(
        (
            "zone",
            "run",
            "volume_l",
            "run_time_s",
            "max_open_s",
            "close_by",
            "open_by",
            "shut_by",
            "delivery",
            "main_valve",
        )
    )
    return {
        "granted": False,
        "garden": garden_id,
        **nothing,
        "why": refused.why,
        "text": refused.text,
        "next_at": None if next_at is None else _seconds(next_at),
    }


def _seconds(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="seconds")


def turn_body(kept: KeptTurn) -> JsonObject:
    """A turn as it is stored."""
    return {
        "format": FORMAT,
        "granted_at": _seconds(kept.turn.granted_at),
        "zones": kept.zones,
        "answer": kept.answer,
    }


def read_turn(
    zone: str,
    run: str,
    date: dt.date,
    key: str | None,
    closed_at: dt.datetime | None,
    body: JsonObject,
    garden_id: str,
) -> KeptTurn:
    """Read a stored turn. Raises UnknownFormat."""
    if body["format"] != FORMAT:
        raise UnknownFormat(garden_id, f"the turn of {run!r}", body["format"])
    answer, zones = body["answer"], body["zones"]
    turn = Turn(
        zone=zone,
        run=run,
        date=date,
        granted_at=dt.datetime.fromisoformat(body["granted_at"]),
        open_by=dt.datetime.fromisoformat(answer["open_by"]),
        shut_by=dt.datetime.fromisoformat(answer["shut_by"]),
        volume_l=answer["volume_l"],
        run_time_s=answer["run_time_s"],
        max_open_s=answer["max_open_s"],
        closed_at=closed_at,
    )
    return KeptTurn(turn, key, None if zones is None else tuple(zones), answer)
