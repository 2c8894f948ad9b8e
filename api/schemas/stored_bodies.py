"""The JSON that the store keeps of final plans, reports and first guesses: read and written here.

Each body has a `format`, the number of its shape. A body without one was written before there were numbers,
and has the shape of number 1.
"""

import datetime as dt
import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, ParamSpec, TypeAlias, TypeVar

from api.errors import StoredUnreadable, UnknownFormat
from api.schemas.moisture import KeptReading, Morning, Reading
from api.schemas.plan import dump_main_valve, tidy_litres
from api.schemas.state import dump_state, state_as_written
from api.schemas.valves import KeptValve
from scheduling.garden.reports import MorningReading, Opening
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


def _check_format(body: JsonObject, garden_id: str, what: str, *named: object) -> None:
    """Raise UnknownFormat for a body of another format; `named` is put into the words that say what it is."""
    if body.get("format", 1) not in FORMATS:
        raise UnknownFormat(garden_id, what.format(*named), body["format"])


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


Read = TypeVar("Read")
Given = ParamSpec("Given")


def _of_a_garden(read: Callable[Given, Read]) -> Callable[Given, Read]:
    """Let a reader, whose last argument is a garden's id, raise StoredUnreadable for a damaged body."""

    @functools.wraps(read)
    def reading(*given: Given.args, **named: Given.kwargs) -> Read:
        try:
            return read(*given, **named)
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            raise StoredUnreadable(f"A record of the garden {given[-1]!r}") from error

    return reading


def read_plan(document: JsonObject) -> KeptPlan:
    """Read a plan as `dump_plan` writes it, or as it was stored."""
    valve, since = document["main_valve"], document.get("turns_since")
    valid_until = _instant(document["valid_until"])
    until = None if since is None else valid_until
    plan = FinalPlan(
        date=dt.date.fromisoformat(document["date"]),
        made_at=_instant(document["made_at"]),
        valid_until=valid_until,
        volume_l=document["volume_l"],
        main_valve=None
        if valve is None
        else MainValve(
            _instant(valve["opens_at"]),
            _instant(valve["closes_at"]),
            valve["max_open_s"],
            valve["max_volume_l"],
        ),
        zones=tuple([_zone(zone, until) for zone in document["zones"]]),
        turns_since=None if since is None else _instant(since),
    )
    return KeptPlan(plan, document)


def _zone(zone: Mapping[str, Any], until: dt.datetime | None) -> FinalZone:
    return FinalZone(
        zone["zone"],
        zone["decision"],
        zone["volume_l"],
        zone["run_time_s"],
        zone["net_mm"],
        zone["gross_mm"],
        tuple([_run(run, until) for run in zone["runs"]]),
        tuple([Why(reason["code"], reason["text"]) for reason in zone["reasons"]]),
    )


def _run(run: Mapping[str, Any], until: dt.datetime | None) -> FinalRun:
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
        until,
    )


@_of_a_garden
def read_final(date: dt.date, body: JsonObject, garden_id: str) -> KeptPlan:
    """Read a stored final plan. Raises UnknownFormat."""
    _check_format(body, garden_id, "the final plan of {}", date)
    if body.get("format", 1) == 1:
        body = {RENAMED.get(name, name): value for name, value in body.items()}
    return read_plan(body)


def final_body(kept: KeptPlan) -> JsonObject:
    """A final plan as it is stored."""
    return _numbered(_written(kept, None))


def with_turns(kept: KeptPlan, since: dt.datetime, garden_id: str) -> KeptPlan:
    """A final plan whose runs wait for turns, from the moment on at which somebody asked for one."""
    body = {**final_body(kept), "turns_since": since.isoformat(timespec="seconds")}
    return read_final(kept.plan.date, body, garden_id)


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
    if seen is not None:
        written.pop("turns_since", None)
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


@_of_a_garden
def read_delivery(zone: str, report_id: str, date: dt.date, body: JsonObject, garden_id: str) -> Report:
    """Read a stored report of water. Raises UnknownFormat."""
    _check_format(body, garden_id, 'the delivery "{}"', report_id)
    volume_l, ended_at, shut_by = body["volume_l"], body.get("ended_at"), body.get("shut_by")
    return Report(
        zone,
        report_id,
        date,
        _instant(body["started_at"]),
        body["outcome"],
        None if volume_l is None else float(volume_l),
        None if ended_at is None else _instant(ended_at),
        body.get("unlikely", False),
        None if shut_by is None else _instant(shut_by),
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
    if report.shut_by is not None:
        body["shut_by"] = report.shut_by.isoformat(timespec="seconds")
    return body


def delivery_body(report: Report) -> JsonObject:
    """A report of water as it is stored."""
    return _numbered(dump_report(report))


# Own weather


@_of_a_garden
def read_observation(
    date: dt.date, body: JsonObject, garden_id: str
) -> tuple[Mapping[str, float], dt.datetime]:
    """Read a stored observation: its values, and when they were measured. Raises UnknownFormat."""
    _check_format(body, garden_id, "the observation of {}", date)
    values = {name: value for name, value in body.items() if name not in ("format", "measured_at")}
    return values, _instant(body["measured_at"])


def dump_observed(values: Mapping[str, float], measured_at: dt.datetime) -> JsonObject:
    """What was measured of a day, and when."""
    return {**values, "measured_at": measured_at.isoformat(timespec="seconds")}


def observation_body(values: Mapping[str, float], measured_at: dt.datetime) -> JsonObject:
    """An observation as it is stored."""
    return _numbered(dump_observed(values, measured_at))


# Soil probes


@_of_a_garden
def read_reading(
    zone: str, reading_id: str, night: dt.date | None, body: JsonObject, garden_id: str
) -> KeptReading:
    """Read a stored reading of a probe. Raises UnknownFormat."""
    _check_format(body, garden_id, 'the reading "{}"', reading_id)
    measured_at = _instant(body["measured_at"])
    values = {name: value for name, value in body.items() if name not in ("format", "measured_at")}
    return KeptReading(zone, reading_id, night, Reading(measured_at, **values))


def dump_reading(reading: Reading) -> JsonObject:
    """What a probe read; what it did not say is left out."""
    return {"measured_at": reading.measured_at.isoformat(), "probe": reading.probe, **_read_values(reading)}


def reading_body(reading: Reading) -> JsonObject:
    """A reading as it is stored."""
    return _numbered(dump_reading(reading))


@_of_a_garden
def read_morning(night: dt.date, zone: str, probe: str, body: JsonObject, garden_id: str) -> Morning:
    """Read what is stored of a morning. Raises UnknownFormat."""
    _check_format(body, garden_id, 'the morning of {} in zone "{}"', night, zone)
    values = {name: value for name, value in body.items() if name not in ("format", "read_at")}
    read_at = body.get("read_at")
    return Morning(
        MorningReading(zone, probe, night, **values), None if read_at is None else _instant(read_at)
    )


def morning_body(morning: Morning) -> JsonObject:
    """A morning as it is stored."""
    body = _read_values(morning.reading)
    if morning.read_at is not None:
        body["read_at"] = morning.read_at.isoformat()
    return _numbered(body)


def _read_values(reading: Reading | MorningReading) -> JsonObject:
    values = {
        "water_content": reading.water_content,
        "store_share": reading.store_share,
        "depth_m": reading.depth_m,
        "error_share": reading.error_share,
    }
    return {name: value for name, value in values.items() if value is not None}


# Valves


@_of_a_garden
def read_valve(zone: str, told_at: dt.datetime, body: JsonObject, garden_id: str) -> KeptValve:
    """Read the stored state of a valve. Raises UnknownFormat."""
    _check_format(body, garden_id, 'the valve of zone "{}"', zone)
    return KeptValve(zone, told_at, body.get("battery_share"), body.get("state"))


def valve_body(valve: KeptValve) -> JsonObject:
    """The state of a valve as it is stored."""
    values = {"battery_share": valve.battery_share, "state": valve.state}
    return _numbered({name: value for name, value in values.items() if value is not None})


# First guesses


@_of_a_garden
def read_opening(body: JsonObject, garden_id: str) -> Opening:
    """Read a stored first guess of where the ledgers begin. Raises UnknownFormat."""
    _check_format(body, garden_id, "the first guess of its soil")
    return state_as_written(body)


def opening_body(opening: Opening) -> JsonObject:
    """A first guess as it is stored."""
    return _numbered(dump_state(opening, digits=9))
