"""The JSON that the store keeps of final plans, reports of water and first guesses: read and written here.

Each body has a `format`, the number of its shape. A body without one was written before there were numbers,
and has the shape of number 1.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from api.errors import UnknownFormat
from api.schemas.plan import dump_main_valve, tidy_litres
from api.schemas.state import dump_state, state_as_written
from scheduling.garden.reports import Opening
from scheduling.plan.final_plan import (
    WITHDRAWN,
    FinalPlan,
    FinalRun,
    FinalZone,
    Report,
    Standing,
    Why,
    standing,
)
from scheduling.plan.plan import MainValve

FORMAT: Final = 2
FORMATS: Final = (1, FORMAT)
"""Those that are read. Number 1 of a final plan had `status` for `phase`, and `state` for `carry_over`."""
RENAMED: Final = {"status": "phase", "state": "carry_over"}

_instant: Final = dt.datetime.fromisoformat

JsonObject: TypeAlias = dict[str, Any]


def _numbered(body: JsonObject) -> JsonObject:
    return {"format": FORMAT, **body}


def _is_unknown(body: JsonObject) -> bool:
    return bool(body.get("format", 1) not in FORMATS)


# Final plans


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan that was written once, and what has become of its runs."""

    plan: FinalPlan
    document: JsonObject
    """As it was written when it was made; whatever a revision changes is in `plan`."""

    @property
    def carried(self) -> Opening:
        """What the plan of a later date goes on from."""
        return state_as_written(self.document["carry_over"])

    def shown(self, reports: Sequence[Report], now: dt.datetime) -> tuple[JsonObject, dt.datetime | None]:
        """The plan as an answer has it at a moment, and when the clock alone changes it next."""
        seen = standing(self.plan, reports, now)
        return _written(self, seen), seen.changes_at


def read_plan(document: JsonObject) -> KeptPlan:
    """Read a plan as `dump_plan` writes it, or as it was stored."""
    valve = document["main_valve"]
    plan = FinalPlan(
        date=dt.date.fromisoformat(document["date"]),
        made_at=_instant(document["made_at"]),
        valid_until=_instant(document["valid_until"]),
        volume_l=document["volume_l"],
        main_valve=None
        if valve is None
        else MainValve(
            _instant(valve["opens_at"]),
            _instant(valve["closes_at"]),
            valve["max_open_s"],
            valve["max_volume_l"],
        ),
        zones=tuple([_zone(zone) for zone in document["zones"]]),
    )
    return KeptPlan(plan, document)


def _zone(zone: Mapping[str, Any]) -> FinalZone:
    return FinalZone(
        zone["zone"],
        zone["decision"],
        zone["volume_l"],
        zone["run_time_s"],
        zone["net_mm"],
        zone["gross_mm"],
        tuple([_run(run) for run in zone["runs"]]),
        tuple([Why(reason["code"], reason["text"]) for reason in zone["reasons"]]),
    )


def _run(run: Mapping[str, Any]) -> FinalRun:
    why = run.get("reason")
    return FinalRun(
        run["id"],
        _instant(run["start"]),
        run["volume_l"],
        run["run_time_s"],
        run["max_open_s"],
        run["state"] == WITHDRAWN,
        run.get("planned_l"),
        None if why is None else Why(why["code"], why["text"]),
    )


def read_final(date: dt.date, body: JsonObject, garden_id: str) -> KeptPlan:
    """Read a stored final plan. Raises UnknownFormat."""
    if _is_unknown(body):
        raise UnknownFormat(garden_id, f"the final plan of {date}", body["format"])
    if body.get("format", 1) == 1:
        body = {RENAMED.get(name, name): value for name, value in body.items()}
    return read_plan(body)


def final_body(kept: KeptPlan) -> JsonObject:
    """A final plan as it is stored."""
    return _numbered(_written(kept, None))


def _written(kept: KeptPlan, seen: Standing | None) -> JsonObject:
    """A plan with what has become of its runs; `seen` adds the moment at which it is read."""
    plan, document = kept.plan, kept.document
    zones = [
        _written_zone(zone, written) for zone, written in zip(plan.zones, document["zones"], strict=True)
    ]
    if seen is not None:
        for of_zone, body in zip(seen.zones, zones, strict=True):
            for of_run, run in zip(of_zone.runs, body["runs"], strict=True):
                run["state"] = of_run.state
                if of_run.is_overdue:
                    run["overdue"] = True
            body["delivered_l"] = tidy_litres(of_zone.delivered_l)
            body["remaining_l"] = tidy_litres(of_zone.remaining_l)
    written = {
        **document,
        "phase": "over" if seen is not None and seen.is_over else document["phase"],
        "volume_l": tidy_litres(plan.volume_l),
        "main_valve": None if plan.main_valve is None else dump_main_valve(plan.main_valve, None),
        "zones": zones,
    }
    written.pop("format", None)
    return written


def _written_zone(zone: FinalZone, document: JsonObject) -> JsonObject:
    return {
        **document,
        "decision": zone.decision,
        "volume_l": tidy_litres(zone.volume_l),
        "run_time_s": zone.run_time_s,
        "runs": [_written_run(run) for run in zone.runs],
        "reasons": [why._asdict() for why in zone.reasons],
        "net_mm": zone.net_mm,
        "gross_mm": zone.gross_mm,
    }


def _written_run(run: FinalRun) -> JsonObject:
    body = {
        "id": run.id,
        "start": run.start.isoformat(timespec="seconds"),
        **run_limits(run),
        "state": run.state(None, run.start),
    }
    if run.planned_l is not None:
        body["planned_l"] = tidy_litres(run.planned_l)
    if run.why is not None:
        body["reason"] = run.why._asdict()
    return body


def run_limits(run: FinalRun) -> JsonObject:
    """What a valve has to know of a run: it may have been cut since it was last read."""
    return {
        "volume_l": tidy_litres(run.volume_l),
        "run_time_s": run.run_time_s,
        "max_open_s": run.max_open_s,
    }


# Reports of water


def read_delivery(zone: str, report_id: str, date: dt.date, body: JsonObject, garden_id: str) -> Report:
    """Read a stored report of water. Raises UnknownFormat."""
    if _is_unknown(body):
        raise UnknownFormat(garden_id, f"the delivery {report_id!r}", body["format"])
    volume_l, ended_at = body["volume_l"], body.get("ended_at")
    return Report(
        zone,
        report_id,
        date,
        _instant(body["started_at"]),
        body["outcome"],
        None if volume_l is None else float(volume_l),
        None if ended_at is None else _instant(ended_at),
        body.get("unlikely", False),
    )


def dump_report(report: Report) -> JsonObject:
    """What somebody reported, and whether it is hard to believe."""
    body: JsonObject = {
        "started_at": report.started_at.isoformat(timespec="seconds"),
        "outcome": report.outcome,
        "volume_l": report.volume_l,
    }
    if report.ended_at is not None:
        body["ended_at"] = report.ended_at.isoformat(timespec="seconds")
    if report.unlikely:
        body["unlikely"] = True
    return body


def delivery_body(report: Report) -> JsonObject:
    """A report of water as it is stored."""
    return _numbered(dump_report(report))


# First guesses


def read_opening(body: JsonObject, garden_id: str) -> Opening:
    """Read a stored first guess of where the ledgers begin. Raises UnknownFormat."""
    if _is_unknown(body):
        raise UnknownFormat(garden_id, "the first guess of its soil", body["format"])
    return state_as_written(body)


def opening_body(opening: Opening) -> JsonObject:
    """A first guess as it is stored."""
    return _numbered(dump_state(opening, digits=9))
