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

from api.answers import Answer, Answers
from api.deliveries import counted_l, dump_delivery, keep_report, run_of
from api.errors import (
    DateBeyondPlans,
    DeliveryNotFound,
    GardenNotFound,
    NoPlanWasMade,
)
from api.planning import (
    Weather,
    anchor_before,
    dump,
    fetched_weather,
    opening_guess,
    place_of,
    plan_date,
    plan_for_request,
)
from api.running import overlay
from api.schemas.deliveries import DeliveryReport
from api.schemas.garden import load_garden
from api.schemas.plan import dump_state, flat_zone
from api.schemas.plan_request import PlanRequest, load_state
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store
from api.visitors import Visitors
from api.watering_hours import Hours, garden_date, hours_of, next_hours
from api.weather.forecasts import ACCEPTABLE_S, FRESH_S, Forecasts
from scheduling.garden import Garden
from scheduling.plan import Plan
from scheduling.reports import Delivery, Opening

ONE_DAY = dt.timedelta(days=1)
LEAST_LIFE = dt.timedelta(seconds=60)
"""An answer holds at least so long while a forecast is due: a new one ends it at once anyway."""


@dataclass(frozen=True, slots=True)
class _Read:
    """A plan as somebody reads it."""

    body: dict[str, Any]
    version: int
    place_version: int | None
    fresh_until: dt.datetime


class PlanLife:
    """Plans of stored gardens, and plans for requests that store nothing."""

    def __init__(
        self, store: Store, forecasts: Forecasts, answers: Answers, clock: Callable[[], dt.datetime]
    ) -> None:
        self._store = store
        self._forecasts = forecasts
        self._answers = answers
        self._clock = clock
        self._visitors = Visitors(store.is_garden_place, clock)

    # Reading

    def plan(self, garden_id: str, which: str) -> Answer:
        """The plan of a garden: `next`, `today`, `tomorrow` or a date up to tomorrow."""
        read = self._read(garden_id, which)
        return self._keep(garden_id, f"plan:{which}", read, read.body)

    def zone_plan(self, garden_id: str, zone_id: str, which: str) -> Answer:
        """One zone of that plan, flat. Raises ZoneNotFound."""
        read = self._read(garden_id, which)
        body = flat_zone(read.body, zone_id, self._clock())
        return self._keep(garden_id, f"plan/{zone_id}:{which}", read, body)

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

    def _keep(self, garden_id: str, what: str, read: _Read, body: dict[str, Any]) -> Answer:
        written = orjson.dumps(body)
        return self._answers.keep(
            garden_id, what, read.version, read.place_version, read.fresh_until, written
        )

    def _read(self, garden_id: str, which: str) -> _Read:
        now = self._clock()
        stored = self._store.garden(garden_id)
        if stored is None:
            raise GardenNotFound(garden_id)
        garden = load_garden(stored.document, garden_id)
        today = now.astimezone(ZoneInfo(garden.timezone)).date()
        midnight = dt.datetime.combine(today + ONE_DAY, dt.time(), ZoneInfo(garden.timezone))
        hours = self._hours(garden, which, today, now)
        final = self._store.final(garden_id, hours.date)
        if final is not None or now >= hours.final_at:
            return self._read_final(stored, garden, hours, final, now, midnight)
        return self._read_draft(stored, garden, hours, now, midnight)

    def _hours(self, garden: Garden, which: str, today: dt.date, now: dt.datetime) -> Hours:
        if which == "next":
            return next_hours(garden, now)
        tomorrow = today + ONE_DAY
        date = {"today": today, "tomorrow": tomorrow}.get(which) or dt.date.fromisoformat(which)
        if date > tomorrow:
            raise DateBeyondPlans(date, tomorrow)
        return hours_of(garden, date)

    def _read_draft(
        self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime, midnight: dt.datetime
    ) -> _Read:
        plan, weather = self._planned(stored, garden, hours, now, newest_within_s=ACCEPTABLE_S)
        body = dump(plan, "draft", hours, now, hours.final_at, weather)
        forecast = weather.forecast
        assert forecast is not None
        due = max(forecast.retrieved_at + dt.timedelta(seconds=FRESH_S), now + LEAST_LIFE)
        fresh_until = min(hours.final_at, midnight, due)
        return _Read(body, stored.version, forecast.version, fresh_until)

    def _read_final(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any] | None,
        now: dt.datetime,
        midnight: dt.datetime,
    ) -> _Read:
        if final is None:
            if now >= hours.ends:
                raise NoPlanWasMade(hours.date)
            plan, weather = self._planned(stored, garden, hours, now, newest_within_s=FRESH_S)
            made = dump(plan, "final", hours, now, hours.ends, weather)
            final = self._store.keep_final(stored.id, hours.date, now, made)
            # Keeping it has raised the garden's version; reports may have come meanwhile.
            stored = self._store.garden(stored.id) or stored
        reports = self._store.deliveries(stored.id, hours.date, hours.date)
        read = overlay(final, reports, now)
        return _Read(read.body, stored.version, None, min(read.changes_at or midnight, midnight))

    # Making

    def _planned(
        self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime, newest_within_s: int
    ) -> tuple[Plan, Weather]:
        """The plan of a stored garden's date, from its ledger and the newest weather."""
        begins = garden_date(stored.created_at, garden.timezone)
        kept = self._store.opening(stored.id, stored.document_version)
        if kept is None:
            anchor = anchor_before(begins)
            weather = fetched_weather(self._forecasts, garden, anchor, hours.date, now, newest_within_s)
            guess = opening_guess(garden, weather, min(begins, hours.date))
            with self._store.changing(stored.id) as change:
                kept = change.keep_opening(stored.document_version, dump_state(guess, digits=9))
            opening = load_state(kept)
        else:
            opening = load_state(kept)
            weather = fetched_weather(self._forecasts, garden, opening.date, hours.date, now, newest_within_s)
        deliveries = self._delivered(stored.id, garden, opening, hours, now)
        plan = plan_date(garden, weather, hours, hours.left_at(now), opening, True, deliveries)
        return plan, weather

    def _delivered(
        self, garden_id: str, garden: Garden, opening: Opening, hours: Hours, now: dt.datetime
    ) -> list[Delivery]:
        """What has flowed since the ledger began, and what final plans count as flowing."""
        reports = self._store.deliveries(garden_id, opening.date, hours.date)
        finals = {final.date: final.body for final in self._store.finals(garden_id, opening.date, hours.date)}
        by_id = {(report.zone, report.id): report for report in reports}
        deliveries = [
            Delivery(report.zone, report.date, _counted(report, finals.get(report.date)))
            for report in reports
        ]
        for date, body in finals.items():
            if date == hours.date:
                continue
            for zone in body["zones"]:
                for run in zone["runs"]:
                    if (zone["zone"], run["id"]) in by_id:
                        continue
                    if garden.unreported_watering == "as-planned" or not has_passed(run, now):
                        deliveries.append(Delivery(zone["zone"], date, float(run["volume_l"])))
        return deliveries

    # Reports

    def put_delivery(
        self, garden_id: str, zone_id: str, delivery_id: str, report: DeliveryReport, must_be_new: bool
    ) -> tuple[bool, dict[str, Any]]:
        """Keep a report of water; whether it is new, and how it is kept. Raises as `keep_report`."""
        with self._store.changing(garden_id) as change:
            is_new, delivery, run = keep_report(
                change, garden_id, zone_id, delivery_id, report, must_be_new, self._clock()
            )
        return is_new, dump_delivery(delivery, run)

    def delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> dict[str, Any]:
        """One report. Raises GardenNotFound, DeliveryNotFound."""
        self._must_exist(garden_id)
        delivery = self._store.delivery(garden_id, zone_id, delivery_id)
        if delivery is None:
            raise DeliveryNotFound(zone_id, delivery_id)
        return self._dumped(garden_id, [delivery])[0]

    def deliveries(self, garden_id: str, first: dt.date | None, last: dt.date | None) -> list[dict[str, Any]]:
        """Reports of a span of dates, both ends included. Raises GardenNotFound."""
        self._must_exist(garden_id)
        return self._dumped(garden_id, self._store.deliveries(garden_id, first, last))

    def delete_delivery(self, garden_id: str, zone_id: str, delivery_id: str) -> None:
        """Take a report back. Raises GardenNotFound, DeliveryNotFound."""
        self._must_exist(garden_id)
        with self._store.changing(garden_id) as change:
            if not change.delete_delivery(zone_id, delivery_id):
                raise DeliveryNotFound(zone_id, delivery_id)

    def _dumped(self, garden_id: str, deliveries: Sequence[StoredDelivery]) -> list[dict[str, Any]]:
        dates = {delivery.date for delivery in deliveries}
        finals = {date: self._store.final(garden_id, date) for date in dates}
        return [
            dump_delivery(delivery, run_of(finals[delivery.date], delivery.zone, delivery.id))
            for delivery in deliveries
        ]

    def _must_exist(self, garden_id: str) -> None:
        if self._store.garden(garden_id) is None:
            raise GardenNotFound(garden_id)


def has_passed(run: dict[str, Any], now: dt.datetime) -> bool:
    """Whether a run's limit lies behind a moment."""
    started = dt.datetime.fromisoformat(run["start"]).timestamp()
    return bool(now.timestamp() >= started + run["max_open_s"])


def _counted(report: StoredDelivery, final: dict[str, Any] | None) -> float:
    return counted_l(report.body, run_of(final, report.zone, report.id))
