"""A plan's life: draft, final, over; what was delivered of it, and what remains.

Nothing here runs by itself: reading drives time. The first reading after a plan's hour of decision
makes it final, and the row that keeps it is its state from then on.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import orjson

from api.errors import DateBeyondPlans, GardenNotFound, NoPlanWasMade
from api.http.place_limit import Visitors
from api.plans.answer_cache import Answer, Answers
from api.plans.plan_maker import LEAST_LIFE, PlanMaker, dump, ends_of, plan_for_request, weather_holds_until
from api.plans.plan_revision import LookedAt, SecondLook
from api.plans.running import overlay
from api.plans.weather_series import WeatherSeries, anchor_before, dump_days, weather_in_use
from api.reports.measurements import Measurements
from api.schemas.flat_zone import flat_zone
from api.schemas.garden import stored_garden
from api.schemas.plan_request import PlanRequest
from api.store.rows import StoredGarden
from api.store.store import Store
from api.watering_hours import Hours, garden_date, hours_of, next_hours
from api.weather.fetch.fetching import ACCEPTABLE_S, FRESH_S
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import place_of
from scheduling.garden.description import Garden
from scheduling.plan.plan import Plan

ONE_DAY = dt.timedelta(days=1)
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
class Explained:
    """A stored garden as it stands at a moment: the draft for tomorrow, with the ledgers up to today."""

    stored: StoredGarden
    garden: Garden
    hours: Hours
    plan: Plan
    weather: WeatherSeries
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
        self._maker = PlanMaker(store, forecasts)
        self._second_look = SecondLook(store, self._maker)
        self._visitors = visitors or Visitors(store.is_garden_place, clock)

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
        plan, weather, changes_at = self._maker.plan(stored, garden, hours, now, ACCEPTABLE_S, explain=True)
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
        series = weather_in_use(
            self._forecasts, garden, since, self._clock(), observations=measured.observations
        )
        return dump_days(series, garden, first, last)

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
                if tries_left and self._another_final_shrank(stored, garden, hours.date, now):
                    continue
                return self._read_draft(stored, garden, hours, now)
            if final is None:
                kept = self._make_final(stored, garden, hours, now, whatever_came=tries_left == 0)
                if kept is None:
                    continue
                final, stored = kept
            looked_at = self._second_look.at(stored, garden, hours, final, now)
            if looked_at is None:
                if tries_left:
                    continue
                looked_at = LookedAt(final, stored, hours.date, now, None, now + LEAST_LIFE)
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
        plan, weather, changes_at = self._maker.plan(stored, garden, hours, now, newest_within_s=ACCEPTABLE_S)
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
        plan, weather, _ = self._maker.plan(stored, garden, hours, now, newest_within_s=FRESH_S)
        made = dump(plan, "final", hours, now, ends_of(plan, hours), weather)
        with self._store.changing(stored.id) as change:
            if change.garden is None:
                raise GardenNotFound(stored.id)
            is_made = change.final(hours.date) is not None
            if not is_made and change.garden.version != stored.version and not whatever_came:
                return None
            final = change.keep_final(hours.date, now, made)
            return final, change.garden

    def _read_final(self, looked_at: LookedAt, hours: Hours, now: dt.datetime) -> _Read:
        final, stored = looked_at.final, looked_at.stored
        standing = overlay(final, self._store.deliveries(stored.id, hours.date, hours.date), now)
        ends = dt.datetime.fromisoformat(final["valid_until"])
        moments = (_midnight_after(now, hours), hours.ends, ends, standing.changes_at, looked_at.until)
        fresh_until = min(moment for moment in moments if moment is not None and moment > now)
        return _Read(standing.body, stored.version, looked_at.place_version, fresh_until, now)

    def _another_final_shrank(
        self, stored: StoredGarden, garden: Garden, draft: dt.date, now: dt.datetime
    ) -> bool:
        """Look at the final plan of a night that is not over: what it loses does not count in a draft.

        Whoever changes the watering hours reads the next plan by the new ones from then on.
        """
        for kept in self._store.finals(stored.id, draft - 2 * ONE_DAY, draft + ONE_DAY):
            if kept.date == draft or now >= dt.datetime.fromisoformat(kept.body["valid_until"]):
                continue
            looked_at = self._second_look.at(stored, garden, hours_of(garden, kept.date), kept.body, now)
            if looked_at is None or looked_at.stored.version != stored.version:
                return True
        return False

    def look_again(self, garden_id: str, date: dt.date, zone_id: str) -> int | None:
        """Take off a final plan what is known since it was made, before a run of a zone begins.

        The garden's version that it then holds for; None where there is no such plan.
        """
        for _ in range(MOST_TRIES):
            stored, final = self._store.garden(garden_id), self._store.final(garden_id, date)
            if stored is None or final is None:
                return None
            garden = stored_garden(stored.document, garden_id)
            hours, now = hours_of(garden, date), self._clock()
            looked_at = self._second_look.at(stored, garden, hours, final, now, begins=zone_id)
            if looked_at is not None:
                return looked_at.stored.version
        return None


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
