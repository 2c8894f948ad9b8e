"""Giving turns: leave to open one valve for one run now, kept before it is answered."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final
from zoneinfo import ZoneInfo

import orjson

from api.errors import GardenNotFound, KeyUsedOtherwise, ZoneNotFound
from api.plans.answer_cache import Answers, turn_question
from api.plans.garden_now import GardenNow
from api.plans.plan_revision import LookedAt
from api.plans.plans import PlanLife
from api.reports.deliveries import row_of, row_of_turn, turn_of
from api.schemas.stored_bodies import KeptPlan, final_body, with_turns
from api.schemas.turns import KeptTurn, granted_body, refused_body
from api.schemas.valves import OPEN
from api.store.rows import StoredDelivery
from api.store.store import Store
from api.watering_hours import Hours, next_hours
from scheduling.garden.description import Zone
from scheduling.plan.final_plan import RUNNING, FinalPlan, FinalZone, Report
from scheduling.plan.revision import Known, Shorten, apply
from scheduling.plan.turns import (
    DRAFT,
    STAYS_OPEN,
    TAP_BUSY,
    TURN_OVER,
    Asked,
    Refused,
    Tap,
    Turn,
    ZoneAtTap,
    grant,
)
from scheduling.reasons.runs import TurnCameLate
from scheduling.tap.runs import ValveOpening, rests_of
from scheduling.tap.windows import Windows, permitted, without
from scheduling.zone.from_catalogue import stands_of
from scheduling.zone.metering import learned_flows

MOST_TRIES: Final = 5
"""How often to decide anew where reports, edits or other turns come meanwhile."""
SOON: Final = dt.timedelta(seconds=60)
"""When to ask again where so much comes at once that nothing can be decided."""


@dataclass(frozen=True, slots=True)
class TurnAnswer:
    """What somebody who asks for a turn is told."""

    body: bytes
    delivery: str | None = None
    """Address of the delivery, of a granted turn; None: there is no turn."""


class Turns:
    """Gives turns to whoever opens the valves of stored gardens; for any number of threads."""

    def __init__(
        self, store: Store, plans: PlanLife, answers: Answers, clock: Callable[[], dt.datetime]
    ) -> None:
        self._store = store
        self._plans = plans
        self._answers = answers
        self._clock = clock

    def ask(self, garden_id: str, zones: tuple[str, ...] | None, key: str | None, at: str) -> TurnAnswer:
        """Give the turn that is due, or say why there is none.

        Parameters
        ----------
        zones
            Those whose valves can be opened, in order; None: all.
        key
            The Idempotency-Key; None: none.
        at
            Address of the garden's deliveries.

        Raises
        ------
        GardenNotFound, ZoneNotFound
            There is no such garden, or it has no such zone.
        KeyUsedOtherwise
            The key was used with another body.
        WeatherUnavailable
            The plan has to be made, and there is no weather for it.
        """
        if key is not None and (again := self._asked_before(garden_id, zones, key)) is not None:
            return again
        question = turn_question(zones)
        known = self._answers.read(garden_id, question, self._clock())
        if known is not None:
            return TurnAnswer(known.body)
        begins: str | None = None
        for _ in range(MOST_TRIES):
            seen, hours, looked_at = self._plans.final_now(garden_id, begins)
            _must_be_there(zones, seen)
            if looked_at is None:
                text = f"The plan is a draft until {hours.final_at:%H:%M}. No water flows by it."
                return self._refuse(seen, hours, question, Refused(DRAFT, text, hours.final_at))
            if looked_at.final.plan.turns_since is None:
                self._begin_the_night(seen, looked_at.final)
                continue
            asked = _asked(seen, hours, looked_at.final, zones)
            decided = grant(asked)
            if isinstance(decided, Refused):
                return self._refuse(seen, hours, question, decided, looked_at.final.plan.valid_until)
            if decided.zone != begins:
                begins = decided.zone  # what is in doubt of its earlier runs counts from now on
                continue
            if key is not None and (again := self._asked_before(garden_id, zones, key)) is not None:
                return again
            kept = _kept(decided, asked, looked_at.final, zones, key, f"{at}/{decided.zone}/{decided.run}")
            if self._keep(kept, looked_at, hours):
                return TurnAnswer(orjson.dumps(kept.answer), kept.answer["delivery"])
        busy = Refused(TAP_BUSY, "Too much comes at once; ask again in a minute.", None)
        return TurnAnswer(orjson.dumps(refused_body(garden_id, busy, _local(seen) + SOON)))

    def _asked_before(self, garden_id: str, zones: tuple[str, ...] | None, key: str) -> TurnAnswer | None:
        """The answer to a question whose key has had its turn; None where it has not."""
        row = self._store.turn_of_key(garden_id, key)
        if row is None:
            return None
        kept = turn_of(row, garden_id)
        if kept.zones != zones:
            raise KeyUsedOtherwise(key)
        report = self._store.report(StoredDelivery, garden_id, row.zone, row.run)
        is_open = report is not None and report.body["outcome"] == RUNNING
        now = self._clock()
        if is_open and now <= kept.turn.open_by:
            return TurnAnswer(orjson.dumps(kept.answer), kept.answer["delivery"])
        text = (
            "The turn of this key is over: it was reported, or its valve had to be open by "
            f"{kept.turn.open_by:%H:%M:%S}. Ask with a new key."
        )
        next_at = now.astimezone(kept.turn.open_by.tzinfo)
        return TurnAnswer(orjson.dumps(refused_body(garden_id, Refused(TURN_OVER, text, next_at), next_at)))

    def _refuse(
        self,
        seen: GardenNow,
        hours: Hours,
        question: str,
        refused: Refused,
        ends: dt.datetime | None = None,
    ) -> TurnAnswer:
        """Say why there is no turn, and keep that as an answer to a poll is kept."""
        next_at = refused.next_at
        if next_at is None or (ends is not None and next_at >= ends):
            next_at = next_hours(seen.garden, ends or hours.ends).final_at
        body = orjson.dumps(refused_body(seen.stored.id, refused, next_at))
        fresh_until = next_at if ends is None else min(next_at, ends)
        if fresh_until > seen.now:
            self._answers.keep(
                seen.stored.id, question, seen.stored.version, None, fresh_until, body, seen.now
            )
        return TurnAnswer(body)

    def _begin_the_night(self, seen: GardenNow, final: KeptPlan) -> None:
        """Keep that turns are asked for in a night: from now on its runs wait for them."""
        with self._store.changing(seen.stored.id) as change:
            if change.garden is None:
                raise GardenNotFound(seen.stored.id)
            if change.garden.version == seen.stored.version:
                change.replace_final(final.plan.date, final_body(with_turns(final, seen.now, seen.stored.id)))

    def _keep(self, kept: KeptTurn, looked_at: LookedAt, hours: Hours) -> bool:
        """Keep a turn and what it counts for; False where anything has changed since it was decided."""
        turn, seen, final = kept.turn, looked_at.seen, looked_at.final
        plan = _with_limits(final.plan, turn, seen, hours)
        report = Report(turn.zone, turn.run, turn.date, turn.granted_at, RUNNING, shut_by=turn.shut_by)
        with self._store.changing(seen.stored.id) as change:
            if change.garden is None:
                raise GardenNotFound(seen.stored.id)
            if change.garden.version != seen.stored.version:
                return False
            change.keep_turn(row_of_turn(kept))
            change.put_report(row_of(report))
            if plan is not final.plan:
                change.replace_final(turn.date, final_body(replace(final, plan=plan)))
        return True


def _must_be_there(zones: Sequence[str] | None, seen: GardenNow) -> None:
    known = [zone.id for zone in seen.garden.zones]
    for zone in zones or ():
        if zone not in known:
            raise ZoneNotFound(zone, known)


def _local(seen: GardenNow) -> dt.datetime:
    """The moment in the garden's time zone, its offset fixed; whole seconds, as answers have them."""
    local = seen.now.astimezone(ZoneInfo(seen.garden.timezone)).replace(microsecond=0)
    return dt.datetime.fromisoformat(local.isoformat())


def _kept(
    turn: Turn,
    asked: Asked,
    final: KeptPlan,
    zones: tuple[str, ...] | None,
    key: str | None,
    delivery: str,
) -> KeptTurn:
    described = next(zone for zone in final.document["zones"] if zone["zone"] == turn.zone)
    still_open = [other.shut_by for other in asked.turns if other.ended_at > asked.moment]
    answer = granted_body(
        final.document["garden"],
        turn,
        described["name"] or turn.zone,
        described["close_by"],
        delivery,
        max([turn.shut_by, *still_open]),
    )
    return KeptTurn(turn, key, zones, answer)


def _with_limits(plan: FinalPlan, turn: Turn, seen: GardenNow, hours: Hours) -> FinalPlan:
    """A plan whose run has the limits of its turn."""
    run = plan.run(turn.zone, turn.run)
    assert run is not None
    if (turn.volume_l, turn.max_open_s) == (run.volume_l, run.max_open_s):
        return plan
    if turn.volume_l == run.volume_l:
        return _with_max_open(plan, turn)
    known = Known(
        seen.garden,
        hours.date,
        hours.spans,
        hours.bans,
        hours.opens.tzinfo,
        seen.reports_of(hours.date),
        seen.now,
    )
    why = known.why(TurnCameLate(turn.volume_l, run.volume_l))
    shorter = Shorten(turn.zone, turn.run, turn.volume_l, turn.run_time_s, turn.max_open_s, why)
    return apply(plan, [shorter], known)


def _with_max_open(plan: FinalPlan, turn: Turn) -> FinalPlan:
    def changed(zone: FinalZone) -> FinalZone:
        runs = (run._replace(max_open_s=turn.max_open_s) if run.id == turn.run else run for run in zone.runs)
        return zone._replace(runs=tuple(runs)) if zone.id == turn.zone else zone

    return replace(plan, zones=tuple(changed(zone) for zone in plan.zones))


# What the decision goes by


def _asked(seen: GardenNow, hours: Hours, final: KeptPlan, zones: tuple[str, ...] | None) -> Asked:
    garden, plan = seen.garden, final.plan
    reports = seen.reports_of(plan.date)
    turns = [turn_of(row, seen.stored.id).turn for row in seen.turns]
    learned = learned_flows(garden, seen.record(plan.date).metered(), plan.date)
    planned = {zone.id: zone for zone in plan.zones}
    at_tap = {}
    for zone in garden.zones:
        numbers = stands_of(zone, garden, learned.get(zone.id))[0]
        runs = planned[zone.id].runs if zone.id in planned else ()
        openings = [ValveOpening(run.volume_l, run.run_time_s, run.max_open_s) for run in runs]
        at_tap[zone.id] = ZoneAtTap(
            _windows(zone, hours, planned.get(zone.id)),
            numbers.flow_l_min,
            rests_of(numbers, openings).between_s,
        )
    for zone_id, until in _open_by_their_word(seen, turns, reports).items():
        if zone_id in at_tap:
            at_tap[zone_id] = replace(at_tap[zone_id], says_open_until=until)
    supply = garden.water_supply
    may_open = {zone.id for zone in garden.zones if not zone.is_by_hand}
    return Asked(
        plan,
        reports,
        turns,
        at_tap,
        may_open if zones is None else may_open & set(zones),
        Tap(supply.flow_l_min, supply.zones_at_once, supply.gap_s),
        _local(seen),
    )


def _windows(zone: Zone, hours: Hours, planned: FinalZone | None) -> Windows:
    """When water may flow to a zone: the hours less bans, and the own time of runs that warm hours moved."""
    bans = hours.bans.of(zone.id)
    within = [window for span in hours.spans for window in permitted(span, bans)]
    barred = [(ban.opens.timestamp(), ban.closes.timestamp()) for ban in bans]
    for run in () if planned is None else planned.runs:
        start_s, end_s = run.start.timestamp(), run.own_limit.timestamp()
        if not any(opens <= start_s < closes for opens, closes in within):
            within += without(((int(start_s), int(end_s)),), barred)
    return tuple(sorted(within))


def _open_by_their_word(
    seen: GardenNow, turns: Sequence[Turn], reports: Sequence[Report]
) -> Mapping[str, dt.datetime]:
    """Valves that say they are open though none of their runs is under way, and until when that holds."""
    found = {}
    for valve in seen.measured.valves:
        until = valve.told_at + STAYS_OPEN
        if valve.state != OPEN or seen.now >= until:
            continue
        own = [turn for turn in turns if turn.zone == valve.zone]
        is_its_turn = any(turn.closed_at is None and seen.now < turn.shut_by for turn in own)
        was_shut_since = any(turn.closed_at is not None and turn.closed_at >= valve.told_at for turn in own)
        ended_since = any(
            report.zone == valve.zone
            and report.outcome not in (RUNNING, "lost-contact")
            and max(report.started_at, report.ended_at or report.started_at) >= valve.told_at
            for report in reports
        )
        if not (is_its_turn or was_shut_since or ended_since):
            found[valve.zone] = until
    return found
