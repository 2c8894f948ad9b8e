"""A plan's life: draft, final, over; what was delivered of it, and what remains.

Nothing here runs by itself: reading drives time. The first reading after a plan's hour of decision
makes it final, and the row that keeps it is its state from then on.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

import orjson

from api.answers import Answer, Answers
from api.deliveries import counted_l, ends_at, run_of
from api.errors import DateBeyondPlans, GardenNotFound, NoPlanWasMade
from api.measured import Measurements
from api.metered import metered_runs
from api.planning import (
    Weather,
    anchor_before,
    dump,
    ends_of,
    fetched_weather,
    opening_guess,
    place_of,
    plan_date,
    plan_for_request,
)
from api.running import overlay
from api.schemas.garden import stored_garden
from api.schemas.plan import dump_state, flat_zone
from api.schemas.plan_request import PlanRequest, state_as_written
from api.store.rows import StoredDelivery, StoredFinal, StoredGarden
from api.store.store import Store
from api.visitors import Visitors
from api.watering_hours import Hours, garden_date, hours_of, next_hours
from api.weather.forecasts import ACCEPTABLE_S, FRESH_S, Forecasts
from api.weather_used import weather_in_use
from scheduling.garden import Garden
from scheduling.metering import learned_flows
from scheduling.plan import Plan
from scheduling.planner import History
from scheduling.reports import Delivery, Opening

ONE_DAY = dt.timedelta(days=1)
LEAST_LIFE = dt.timedelta(seconds=60)
"""An answer holds at least so long while a forecast is due: a new one ends it at once anyway."""
MOST_TRIES = 5
"""How often to plan anew where reports or edits come while a plan is being made final."""


@dataclass(frozen=True, slots=True)
class _Read:
    """A plan as somebody reads it."""

    body: dict[str, Any]
    version: int
    place_version: int | None
    fresh_until: dt.datetime
    now: dt.datetime
    """When it was read."""


@dataclass(frozen=True, slots=True)
class _Alone:
    """How a final plan's date is planned once more: what each zone would want by itself."""

    garden: Garden
    """Only the zones that may still get less, on a tap that has enough for all."""
    seen_at: dt.datetime
    """When the plan was made: its hours are those that were left then."""
    runs: frozenset[tuple[str, str]]
    """The plan's own runs, by zone and id: what they gave is not taken off again."""


@dataclass(frozen=True, slots=True)
class _LookedAt:
    """A final plan that has been held against what is known since."""

    final: dict[str, Any]
    stored: StoredGarden
    """The garden as it then stands."""
    place_version: int | None = None
    """Of the weather it was held against; None where that has no part in it."""
    until: dt.datetime | None = None
    """When the clock alone asks for another look; None: never again."""


@dataclass(frozen=True, slots=True)
class Explained:
    """A stored garden as it stands at a moment: the draft for tomorrow, with the ledgers up to today."""

    stored: StoredGarden
    garden: Garden
    hours: Hours
    plan: Plan
    weather: Weather
    now: dt.datetime
    fresh_until: dt.datetime
    """The first moment at which the clock alone would change it."""


class PlanLife:
    """Plans of stored gardens, and plans for requests that store nothing."""

    def __init__(
        self,
        store: Store,
        forecasts: Forecasts,
        answers: Answers,
        clock: Callable[[], dt.datetime],
        visitors: Visitors | None = None,
    ) -> None:
        self._store = store
        self._forecasts = forecasts
        self._answers = answers
        self._clock = clock
        self._measurements = Measurements(store)
        self._visitors = visitors or Visitors(store.is_garden_place, clock)
        self._looked_at: dict[str, tuple[dt.date, _LookedAt]] = {}

    # Reading

    def plan(self, garden_id: str, which: str) -> Answer:
        """The plan of a garden: `next`, `today`, `tomorrow` or a date up to tomorrow."""
        read = self._read(garden_id, which)
        return self._keep(garden_id, f"plan:{which}", read, read.body)

    def zone_plan(self, garden_id: str, zone_id: str, which: str) -> Answer:
        """One zone of that plan, flat. Raises ZoneNotFound."""
        read = self._read(garden_id, which)
        body = flat_zone(read.body, zone_id, read.now)
        return self._keep(garden_id, f"plan/{zone_id}:{which}", read, body)

    def explained(self, garden_id: str) -> Explained:
        """The draft for tomorrow with every zone's ledger, from where it begins to today.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to reckon with.
        """
        now = self._clock()
        stored = self._store.garden(garden_id)
        if stored is None:
            raise GardenNotFound(garden_id)
        garden = stored_garden(stored.document, garden_id)
        hours = self._hours(garden, "tomorrow", now)
        plan, weather, changes_at = self._planned(stored, garden, hours, now, ACCEPTABLE_S, explain=True)
        fresh_until = _draft_holds_until(hours, weather, changes_at, now)
        return Explained(stored, garden, hours, plan, weather, now, fresh_until)

    def for_request(self, request: PlanRequest, explain: bool) -> dict[str, Any]:
        """A plan for a garden that came with its request; nothing is stored but the forecast.

        Raises
        ------
        InvalidRequest
            A state after the plan's date.
        TooManyPlaces
            Too many places of no stored garden were asked about in the last hour.
        WeatherGap, WeatherIncomplete, WeatherUnavailable, DateBeyondPlans
            There is no weather to plan from.
        """
        if request.weather is None:
            self._visitors.admit(place_of(request.garden))
        return plan_for_request(request, self._forecasts, self._clock(), explain)

    def weather(self, garden_id: str, first: dt.date | None, last: dt.date | None) -> dict[str, Any]:
        """The weather days of a stored garden's plans, both ends included.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to plan from.
        """
        stored = self._store.garden(garden_id)
        if stored is None:
            raise GardenNotFound(garden_id)
        garden = stored_garden(stored.document, garden_id)
        since = anchor_before(garden_date(stored.created_at, garden.timezone))
        measured = self._measurements.of(stored, since)
        return weather_in_use(
            garden, self._forecasts, since, self._clock(), first, last, measured.observations
        )

    def _keep(self, garden_id: str, what: str, read: _Read, body: dict[str, Any]) -> Answer:
        written = orjson.dumps(body)
        return self._answers.keep(
            garden_id, what, read.version, read.place_version, read.fresh_until, written
        )

    def _read(self, garden_id: str, which: str) -> _Read:
        for tries_left in reversed(range(MOST_TRIES)):
            now = self._clock()
            stored = self._store.garden(garden_id)
            if stored is None:
                raise GardenNotFound(garden_id)
            garden = stored_garden(stored.document, garden_id)
            hours = self._hours(garden, which, now)
            final = self._store.final(garden_id, hours.date)
            if final is None and now < hours.final_at:
                return self._read_draft(stored, garden, hours, now)
            if final is None:
                kept = self._make_final(stored, garden, hours, now, whatever_came=tries_left == 0)
                if kept is None:
                    continue
                final, stored = kept
            looked_at = self._look_again(stored, garden, hours, final, now)
            if looked_at is None:
                if tries_left:
                    continue
                looked_at = _LookedAt(final, stored, None, now + LEAST_LIFE)
            return self._read_final(looked_at, hours, now)
        raise AssertionError("the last try keeps a plan")

    def _hours(self, garden: Garden, which: str, now: dt.datetime) -> Hours:
        if which == "next":
            return self._next_hours(garden, now)
        today = now.astimezone(ZoneInfo(garden.timezone)).date()
        tomorrow = today + ONE_DAY
        date = {"today": today, "tomorrow": tomorrow}.get(which) or dt.date.fromisoformat(which)
        if date > tomorrow:
            raise DateBeyondPlans(date, tomorrow)
        return hours_of(garden, date)

    def _next_hours(self, garden: Garden, now: dt.datetime) -> Hours:
        """The hours that are open, those of a plan whose runs were moved beyond them, or the next to open."""
        hours = next_hours(garden, now)
        before = hours_of(garden, hours.date - ONE_DAY) if hours.warm is not None else None
        if before is None or before.warm is None or now >= before.warm.closes:
            return hours
        final = self._store.final(garden.id, before.date)
        if final is None or now >= dt.datetime.fromisoformat(final["valid_until"]):
            return hours
        return before

    def _read_draft(self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime) -> _Read:
        plan, weather, changes_at = self._planned(stored, garden, hours, now, newest_within_s=ACCEPTABLE_S)
        body = dump(plan, "draft", hours, now, hours.final_at, weather)
        standing = overlay(body, self._store.deliveries(stored.id, hours.date, hours.date), now)
        fresh_until = _draft_holds_until(hours, weather, changes_at, now)
        return _Read(standing.body, stored.version, weather.version, fresh_until, now)

    def _make_final(
        self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime, whatever_came: bool
    ) -> tuple[dict[str, Any], StoredGarden] | None:
        """Make a plan final, or take the one that somebody else has made; with the garden as it then stands.

        None where a report or an edit came meanwhile that the plan does not know of.
        """
        if now >= hours.ends:
            raise NoPlanWasMade(hours.date)
        plan, weather, _ = self._planned(stored, garden, hours, now, newest_within_s=FRESH_S)
        made = dump(plan, "final", hours, now, ends_of(plan, hours), weather)
        with self._store.changing(stored.id) as change:
            if change.garden is None:
                raise GardenNotFound(stored.id)
            is_made = change.final(hours.date) is not None
            if not is_made and change.garden.version != stored.version and not whatever_came:
                return None
            final = change.keep_final(hours.date, now, made)
            return final, change.garden

    def _read_final(self, looked_at: _LookedAt, hours: Hours, now: dt.datetime) -> _Read:
        final, stored = looked_at.final, looked_at.stored
        standing = overlay(final, self._store.deliveries(stored.id, hours.date, hours.date), now)
        ends = dt.datetime.fromisoformat(final["valid_until"])
        moments = (_midnight_after(now, hours), hours.ends, ends, standing.changes_at, looked_at.until)
        fresh_until = min(moment for moment in moments if moment is not None and moment > now)
        return _Read(standing.body, stored.version, looked_at.place_version, fresh_until, now)

    # Shrinking

    def look_again(self, garden_id: str, date: dt.date) -> None:
        """Take off a final plan what is known since it was made, before one of its runs begins."""
        for _ in range(MOST_TRIES):
            stored, final = self._store.garden(garden_id), self._store.final(garden_id, date)
            if stored is None or final is None:
                return
            garden = stored_garden(stored.document, garden_id)
            if self._look_again(stored, garden, hours_of(garden, date), final, self._clock()) is not None:
                return

    def _look_again(
        self, stored: StoredGarden, garden: Garden, hours: Hours, final: dict[str, Any], now: dt.datetime
    ) -> _LookedAt | None:
        """Hold a final plan against what is known now, and keep what is left of it.

        None where a report, an edit or somebody else's look came meanwhile.
        """
        reports = self._store.deliveries(stored.id, hours.date, hours.date)
        ends = dt.datetime.fromisoformat(final["valid_until"])
        if now >= ends or not has_open_runs(final, reports, now):
            return _LookedAt(final, stored)
        if (before := self._still_holds(stored, hours.date, now)) is not None:
            return before
        known, looked_at = self._known(stored, garden, hours, final, reports, now)
        smaller = shrunk(final, known)
        if smaller is not None:
            with self._store.changing(stored.id) as change:
                if change.garden is None:
                    raise GardenNotFound(stored.id)
                if change.garden.version != stored.version:
                    return None
                final = change.replace_final(hours.date, smaller)
                looked_at = replace(looked_at, final=final, stored=change.garden)
        if len(self._looked_at) >= MOST_LOOKED_AT:
            self._looked_at.clear()
        self._looked_at[stored.id] = hours.date, looked_at
        return looked_at

    def _still_holds(self, stored: StoredGarden, date: dt.date, now: dt.datetime) -> _LookedAt | None:
        """The last look of this process, where nothing has changed since: every zone is polled apart."""
        looked_on, before = self._looked_at.get(stored.id, (None, None))
        if before is None or looked_on != date or before.stored.version != stored.version:
            return None
        if before.until is None or now >= before.until or now < before.seen_at
            return None
        return before if before.place_version == self._store.place_version(stored.place_key) else None

    def _known(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any],
        reports: Sequence[StoredDelivery],
        now: dt.datetime,
    ) -> tuple[Known, _LookedAt]:
        """What is known now of a date that has its final plan."""
        known = Known(garden, hours, reports, now, allowance=self._allowance(garden, hours, final, now))
        zones = tuple(zone for zone in garden.zones if zone.id in known.open_zones(final))
        if not zones:
            return known, _LookedAt(final, stored, None, now + LEAST_LIFE)
        supply = replace(
            garden.water_supply, flow_l_min=None, zones_at_once=len(zones), gap_s=0, allowance_l=Allowance()
        )
        alone = _Alone(
            replace(garden, zones=zones, water_supply=supply),
            dt.datetime.fromisoformat(final["made_at"]),
            frozenset((zone["zone"], run["id"]) for zone in final["zones"] for run in zone["runs"]),
        )
        try:
            plan, weather, changes_at = self._planned(
                stored, garden, hours, now, newest_within_s=ACCEPTABLE_S, alone=alone
            )
        except (WeatherUnavailable, WeatherGap, WeatherIncomplete):
            return known, _LookedAt(final, stored, None, now + LEAST_LIFE)
        until = _weather_holds_until(weather, changes_at, now)
        known = replace(
            known, wanted={zone.zone: zone for zone in plan.zones}, by_hour=weather.by_hour(hours)
        )
        return known, _LookedAt(final, stored, weather.version, until)

    # Making

    def _planned(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        now: dt.datetime,
        newest_within_s: int,
        explain: bool = False,
    ) -> tuple[Plan, Weather, list[dt.datetime]]:
        """The plan of a stored garden's date, from its ledger and the newest weather.

        Also the moments at which the clock alone would change it, by what is still to flow.
        """
        begins = garden_date(stored.created_at, garden.timezone)
        # The same days at every reading: they also tell the season's rain and wind.
        since = anchor_before(begins)
        measured = self._measurements.of(stored, since)
        weather = fetched_weather(
            self._forecasts, garden, since, hours.date, now, newest_within_s, measured.observations
        )
        opening = self._opening(stored, garden, weather, begins, hours.date)
        finals = self._store.finals(stored.id, since, hours.date)
        reports = self._store.deliveries(stored.id, since, hours.date)
        deliveries, changes_at = self._delivered(garden, finals, reports, hours, now)
        turns = _turns_without(finals, hours.date)
        opening = replace(opening, turns_without=turns, turns_after=turns)
        flows = learned_flows(garden, metered_runs(reports), hours.date)
        history = History(opening, True, tuple(deliveries), flows=flows)
        plan = plan_date(garden, weather, hours, now, history, explain)
        return plan, weather, changes_at

    def _opening(
        self, stored: StoredGarden, garden: Garden, weather: Weather, begins: dt.date, date: dt.date
    ) -> Opening:
        """Where the ledgers begin: a first guess, reckoned once for each version of the document."""
        kept = self._store.opening(stored.id, stored.document_version)
        if kept is None:
            guess = opening_guess(garden, weather, min(begins, date))
            with self._store.changing(stored.id) as change:
                kept = change.keep_opening(stored.document_version, dump_state(guess, digits=9))
        opening = state_as_written(kept)
        if opening.date > date:
            # The plan of a date before the garden was known, while its hours are still open.
            return opening_guess(garden, weather, date)
        return opening

    def _delivered(
        self,
        garden: Garden,
        finals: Sequence[StoredFinal],
        reports: Sequence[StoredDelivery],
        hours: Hours,
        now: dt.datetime,
    ) -> tuple[list[Delivery], list[dt.datetime]]:
        """What has flowed by reports, and what final plans count as flowing.

        Also the moments at which runs still to come would no longer count.
        """
        plans = {final.date: final.body for final in finals}
        reported = {(report.zone, report.id) for report in reports}
        deliveries = [
            Delivery(report.zone, report.date, _counted(report, plans.get(report.date))) for report in reports
        ]
        changes_at = []
        for date, body in plans.items():
            if date == hours.date:
                continue
            for zone in body["zones"]:
                for run in zone["runs"]:
                    if (zone["zone"], run["id"]) in reported:
                        continue
                    if garden.unreported_watering == "none":
                        if now >= ends_at(run):
                            continue
                        changes_at.append(ends_at(run))
                    deliveries.append(Delivery(zone["zone"], date, float(run["volume_l"])))
        return deliveries, changes_at


def _draft_holds_until(
    hours: Hours, weather: Weather, changes_at: Sequence[dt.datetime], now: dt.datetime
) -> dt.datetime:
    """The first moment at which the clock alone would change a draft that is made now."""
    assert weather.forecast is not None
    due, *later = weather.forecast.changes_at
    moments = (hours.final_at, _midnight_after(now, hours), max(due, now + LEAST_LIFE), *later, *changes_at)
    return min(moment for moment in moments if moment > now)


def _midnight_after(now: dt.datetime, hours: Hours) -> dt.datetime:
    """The next midnight of the garden's zone: `today` and the days of a forecast are others then."""
    zone = hours.opens.tzinfo
    return dt.datetime.combine(now.astimezone(zone).date() + ONE_DAY, dt.time(), zone)


def _turns_without(finals: Sequence[StoredFinal], date: dt.date) -> dict[str, int]:
    """Who went without for want of hours, and how often in a row, by the last final plan before a date."""
    before = [final for final in finals if final.date < date]
    return state_as_written(before[-1].body["state"]).turns_for(date) if before else {}


def _counted(report: StoredDelivery, final: dict[str, Any] | None) -> float:
    return counted_l(report.body, run_of(final, report.zone, report.id))
