"""A plan's life: draft, final, over; what was delivered of it, and what remains.

Nothing here runs by itself: reading drives time. The first reading after a plan's hour of decision
makes it final, and the row that keeps it is its state from then on.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import orjson

from api.errors import DateBeyondPlans, GardenNotFound, NoPlanWasMade
from api.http.place_limit import Visitors
from api.plans.answer_cache import Answer, Answers, plan_question
from api.plans.garden_now import GardenNow, Gardens
from api.plans.plan_maker import LEAST_LIFE, PlanMaker, dump, ends_of, plan_for_request, weather_holds_until
from api.plans.plan_revision import LookedAt, SecondLook
from api.plans.weather_series import WeatherSeries, dump_days, weather_in_use
from api.schemas.flat_zone import flat_zone
from api.schemas.plan_request import PlanRequest
from api.schemas.stored_bodies import JsonObject, KeptPlan, final_body, read_final, read_plan
from api.store.store import Store
from api.watering_hours import Hours, hours_of, next_hours
from api.weather.fetch.fetching import ACCEPTABLE_S, FRESH_S
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import place_of
from scheduling.plan.plan import Plan

ONE_DAY = dt.timedelta(days=1)
MOST_TRIES = 5
"""How often to plan anew where reports or edits come while a plan is being made final."""


@dataclass(frozen=True, slots=True)
class _Read:
    """A plan as somebody reads it."""

    body: JsonObject
    version: int
    place_version: int | None
    fresh_until: dt.datetime
    seen: GardenNow
    """The garden as it was then."""


@dataclass(frozen=True, slots=True)
class FlatPlan:
    """The next plan as it is answered, and each of its zones without nesting, by id."""

    body: JsonObject
    zones: dict[str, JsonObject]
    seen: GardenNow
    """The garden as it was then."""
    version: int
    place_version: int | None
    fresh_until: dt.datetime


@dataclass(frozen=True, slots=True)
class Explained:
    """A garden at a moment with the draft for tomorrow and the ledgers up to today."""

    moment: GardenNow
    hours: Hours
    plan: Plan
    weather: WeatherSeries
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
        self._gardens = Gardens(store, forecasts, clock)
        self._maker = PlanMaker()
        self._second_look = SecondLook(store, self._maker)
        self._visitors = visitors or Visitors(store.is_garden_place, clock)

    # Reading

    def plan(self, garden_id: str, which: str) -> Answer:
        """The plan of a garden: `next`, `today`, `tomorrow` or a date up to tomorrow."""
        read = self._read(garden_id, which)
        return self._keep(garden_id, plan_question(which), read, read.body)

    def zone_plan(self, garden_id: str, zone_id: str, which: str) -> Answer:
        """One zone of that plan, flat. Raises ZoneNotFound."""
        read = self._read(garden_id, which)
        body = _flat(read, zone_id)
        return self._keep(garden_id, plan_question(which, zone_id), read, body)

    def flat_plan(self, garden_id: str) -> FlatPlan:
        """The next plan, read once, with each of its zones flat."""
        read = self._read(garden_id, "next")
        zones = {zone["zone"]: _flat(read, zone["zone"]) for zone in read.body["zones"]}
        return FlatPlan(read.body, zones, read.seen, read.version, read.place_version, read.fresh_until)

    def garden_now(self, garden_id: str) -> GardenNow:
        """A garden at the present moment. Raises GardenNotFound."""
        return self._gardens.now(garden_id)

    def explained(self, seen: GardenNow) -> Explained:
        """The draft for tomorrow with every zone's ledger, from where it begins to today.

        Raises
        ------
        WeatherUnavailable, DateBeyondPlans
            There is no weather to plan from.
        """
        hours = self._hours(seen, "tomorrow")
        plan, weather, changes_at = self._maker.plan(seen, hours, ACCEPTABLE_S, explain=True)
        fresh_until = _draft_holds_until(hours, weather, changes_at, seen.now)
        return Explained(seen, hours, plan, weather, fresh_until)

    def for_request(self, request: PlanRequest, explain: bool) -> JsonObject:
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

    def weather(self, garden_id: str, first: dt.date | None, last: dt.date | None) -> JsonObject:
        """The weather days of a stored garden's plans, both ends included.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to plan from.
        """
        seen = self._gardens.now(garden_id)
        series = weather_in_use(
            self._forecasts, seen.garden, seen.since, seen.now, observations=seen.measured.observations
        )
        return dump_days(series, seen.garden, first, last)

    def _keep(self, garden_id: str, what: str, read: _Read, body: JsonObject) -> Answer:
        written = orjson.dumps(body)
        return self._answers.keep(
            garden_id, what, read.version, read.place_version, read.fresh_until, written, read.seen.now
        )

    def final_now(
        self, garden_id: str, begins: str | None = None
    ) -> tuple[GardenNow, Hours, LookedAt | None]:
        """The plan whose hours are open or open next, once it is final; None while it is a draft.

        `begins` is the zone of which a run is about to be opened. Raises as a reading of the plan does.
        """
        for tries_left in reversed(range(MOST_TRIES)):
            seen = self._gardens.now(garden_id)
            hours = self._hours(seen, "next")
            if seen.now < hours.final_at and seen.final(hours.date) is None:
                return seen, hours, None
            seen.read_all()
            looked_at = self._looked_at(seen, hours, tries_left, begins)
            if looked_at is not None:
                return looked_at.seen, hours, looked_at
        raise AssertionError("the last try keeps a plan")

    def _looked_at(
        self, seen: GardenNow, hours: Hours, tries_left: int, begins: str | None = None
    ) -> LookedAt | None:
        """The final plan of some hours after all that is known; None where something came meanwhile."""
        final = seen.final(hours.date)
        if final is None:
            made = self._make_final(seen, hours, whatever_came=tries_left == 0)
            if made is None:
                return None
            seen, final = made
        looked_at = self._second_look.at(seen, hours, final, begins)
        if looked_at is None and not tries_left:
            return LookedAt(final, seen, None, seen.now + LEAST_LIFE)
        return looked_at

    def _read(self, garden_id: str, which: str) -> _Read:
        for tries_left in reversed(range(MOST_TRIES)):
            seen = self._gardens.now(garden_id)
            hours = self._hours(seen, which)
            if seen.now < hours.ends:
                seen.read_all()
            final = seen.final(hours.date)
            if final is None and seen.now < hours.final_at:
                if tries_left and self._another_final_shrank(seen, hours.date):
                    continue
                return self._read_draft(seen, hours)
            looked_at = self._looked_at(seen, hours, tries_left)
            if looked_at is not None:
                return _read_final(looked_at, hours)
        raise AssertionError("the last try keeps a plan")

    def _hours(self, seen: GardenNow, which: str) -> Hours:
        if which == "next":
            return self._next_hours(seen)
        today = seen.now.astimezone(ZoneInfo(seen.garden.timezone)).date()
        tomorrow = today + ONE_DAY
        date = {"today": today, "tomorrow": tomorrow}.get(which) or dt.date.fromisoformat(which)
        if date > tomorrow:
            raise DateBeyondPlans(date, tomorrow)
        return hours_of(seen.garden, date)

    def _next_hours(self, seen: GardenNow) -> Hours:
        """The hours that are open, those of a plan whose runs were moved beyond them, or the next to open."""
        hours = next_hours(seen.garden, seen.now)
        before = hours_of(seen.garden, hours.date - ONE_DAY) if hours.warm is not None else None
        if before is None or before.warm is None or seen.now >= before.warm.closes:
            return hours
        final = seen.final(before.date)
        return hours if final is None or seen.now >= final.plan.valid_until else before

    def _read_draft(self, seen: GardenNow, hours: Hours) -> _Read:
        plan, weather, changes_at = self._maker.plan(seen, hours, newest_within_s=ACCEPTABLE_S)
        draft = read_plan(dump(plan, "draft", hours, seen.now, hours.final_at, weather))
        body, _ = draft.shown(seen.reports_of(hours.date), seen.now)
        fresh_until = _draft_holds_until(hours, weather, changes_at, seen.now)
        return _Read(body, seen.stored.version, weather.version, fresh_until, seen)

    def _make_final(
        self, seen: GardenNow, hours: Hours, whatever_came: bool
    ) -> tuple[GardenNow, KeptPlan] | None:
        """Make a plan final, or take the one that somebody else has made; with the garden as it then is.

        None where a report or an edit came meanwhile that the plan does not know of.
        """
        if seen.now >= hours.ends:
            raise NoPlanWasMade(hours.date)
        plan, weather, _ = self._maker.plan(seen, hours, newest_within_s=FRESH_S)
        made = read_plan(dump(plan, "final", hours, seen.now, ends_of(plan, hours), weather))
        with self._store.changing(seen.stored.id) as change:
            if change.garden is None:
                raise GardenNotFound(seen.stored.id)
            has_changed = change.garden.version != seen.stored.version
            if has_changed and not whatever_came and change.final(hours.date) is None:
                return None
            body = change.keep_final(hours.date, seen.now, final_body(made))
            final = read_final(hours.date, body, seen.stored.id)
            if change.garden.version == seen.stored.version + 1:
                return seen.after(change.garden, hours.date, final), final
        # Something came meanwhile: what was read before no longer holds.
        return self._gardens.now(seen.stored.id), final

    def _another_final_shrank(self, seen: GardenNow, draft: dt.date) -> bool:
        """Look at the final plan of a night that is not over: what it loses does not count in a draft.

        Whoever changes the watering hours reads the next plan by the new ones from then on.
        """
        for date in (draft - 2 * ONE_DAY, draft - ONE_DAY, draft + ONE_DAY):
            kept = seen.final(date)
            if kept is None or seen.now >= kept.plan.valid_until:
                continue
            looked_at = self._second_look.at(seen, hours_of(seen.garden, date), kept)
            if looked_at is None or looked_at.seen.stored.version != seen.stored.version:
                return True
        return False

    def look_again(self, garden_id: str, date: dt.date, zone_id: str) -> int | None:
        """Take off a final plan what is known since it was made, before a run of a zone begins.

        The garden's version that it then holds for; None where there is no such plan.
        """
        for _ in range(MOST_TRIES):
            try:
                seen = self._gardens.now(garden_id)
            except GardenNotFound:
                return None
            seen.read_all()
            final = seen.final(date)
            if final is None:
                return None
            looked_at = self._second_look.at(seen, hours_of(seen.garden, date), final, begins=zone_id)
            if looked_at is not None:
                return looked_at.seen.stored.version
        return None


def _flat(read: _Read, zone_id: str) -> JsonObject:
    seen = read.seen
    reports = seen.reports_of(dt.date.fromisoformat(read.body["date"]))
    valve = next((valve for valve in seen.measured.valves if valve.zone == zone_id), None)
    return flat_zone(read.body, zone_id, seen.now, reports, valve)


def _read_final(looked_at: LookedAt, hours: Hours) -> _Read:
    final, seen = looked_at.final, looked_at.seen
    body, changes_at = final.shown(seen.reports_of(hours.date), seen.now)
    moments = (
        _midnight_after(seen.now, hours),
        hours.ends,
        final.plan.valid_until,
        changes_at,
        looked_at.until,
    )
    fresh_until = min(moment for moment in moments if moment is not None and moment > seen.now)
    return _Read(body, seen.stored.version, looked_at.place_version, fresh_until, seen)


def _draft_holds_until(
    hours: Hours, weather: WeatherSeries, changes_at: Sequence[dt.datetime], now: dt.datetime
) -> dt.datetime:
    """The first moment at which the clock alone would change a draft that is made now."""
    by_weather = weather_holds_until(weather, now)
    moments = (hours.final_at, _midnight_after(now, hours), by_weather, *changes_at)
    return min(moment for moment in moments if moment > now)


def _midnight_after(now: dt.datetime, hours: Hours) -> dt.datetime:
    """The next midnight of the garden's zone: `today` and the days of a forecast are others then."""
    zone = hours.opens.tzinfo
    return dt.datetime.combine(now.astimezone(zone).date() + ONE_DAY, dt.time(), zone)
