"""Garden, reports and weather days in; `scheduling` asked; a plan out."""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from api.errors import InvalidRequest
from api.plans.weather_series import (
    WeatherSeries,
    anchor_before,
    at_height_of,
    fetched_weather,
    given_weather,
    weather_notes,
)
from api.reports.deliveries import counted_l, ends_at, metered_runs, run_of
from api.reports.measurements import Measurements, readings_beside_water
from api.schemas.plan import WITHDRAWN, Status, dump_plan
from api.schemas.plan_request import PlanRequest
from api.schemas.state import dump_state, state_as_written
from api.store.rows import StoredDelivery, StoredFinal, StoredGarden
from api.store.store import Store
from api.watering_hours import Hours, garden_date, hours_of, next_hours, plus
from api.weather.fetch.forecasts import Forecasts
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.errors import Problem
from scheduling.garden.description import Garden
from scheduling.garden.reports import Delivery, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, guess_opening, make_plan
from scheduling.reasons import Note
from scheduling.reasons.weather_notes import WeatherBeginsLate
from scheduling.zone.metering import learned_flows

ONE_DAY = dt.timedelta(days=1)
FARTHEST_BACK = dt.timedelta(days=400)
"""How long past a state or a date may be for a source to be asked; a request may bring as many days."""


def opening_guess(garden: Garden, weather: WeatherSeries, date: dt.date) -> Opening:
    """First guess of what every zone lacks on the morning of a date, or of the first day with weather."""
    begins = max(date, weather.days[0].date)
    return guess_opening(at_height_of(garden, weather), _days_for_a_guess(weather.days, begins), begins)


def _days_for_a_guess(days: Sequence[WeatherDay], begins: dt.date) -> Sequence[WeatherDay]:
    """The days that a first guess goes by.

    Where the owner measured some of those before it, it goes by no later ones: what a guess would
    look ahead to, and how much rain a season has, would else hang on when they were told.
    """
    before = [day for day in days if day.date < begins]
    if not any(day.observed for day in before):
        return days
    return [*before, WeatherDay(begins, rain_mm=0.0, origin=Origin.ASSUMED)]


def plan_date(
    garden: Garden,
    weather: WeatherSeries,
    hours: Hours,
    now: dt.datetime,
    history: History,
    explain: bool = False,
) -> Plan:
    """Make the plan of one date.

    Water flows in what is left at `now` of its hours. A guessed opening older than the weather at
    hand gives way to a new guess, and a note says so.
    """
    notes: tuple[Note, ...] = (*hours.notes, *weather_notes(weather.forecast, weather.trust, hours.date))
    first = weather.days[0].date
    opening = history.opening
    if opening is not None and history.opening_is_guess and opening.date < first:
        notes = (*notes, WeatherBeginsLate(first))
        history = replace(history, opening=None)
    occasion = Occasion(
        date=hours.date,
        hours=hours.left_at(now),
        tz=hours.opens.tzinfo or dt.UTC,
        lowest_c=weather.lowest_c(hours),
        explain=explain,
        bans=hours.bans,
        by_hour=weather.by_hour(hours),
        warm_hours=hours.warm_left_at(now),
    )
    plan = make_plan(at_height_of(garden, weather), weather.days, history, occasion)
    return replace(plan, notes=(*notes, *plan.notes))


def plan_for_request(
    request: PlanRequest, forecasts: Forecasts, now: dt.datetime, explain: bool
) -> dict[str, Any]:
    """The plan, in JSON, for a garden that came with its request.

    Raises
    ------
    InvalidRequest
        A state after the plan's date, or a state or a date too old for a weather source.
    WeatherGap, WeatherIncomplete
        The weather that came with the request does not carry the ledgers to the date.
    WeatherUnavailable, DateBeyondPlans
        The garden's source has no weather to plan from.
    """
    garden, opening = request.garden, request.opening
    hours = next_hours(garden, now) if request.date is None else hours_of(garden, request.date)
    if opening is not None and opening.date > hours.date:
        sentence = f"date is {opening.date}, which is after the plan's date, {hours.date}."
        raise InvalidRequest(Problem("/state/date", sentence))
    if request.weather is not None:
        weather = given_weather(request.weather, hours.date)
    else:
        _must_be_recent("/date", "date", hours.date, now)
        # From the anchor on in any case: the mean rain and wind of the season do not hang on a state.
        since = anchor_before(hours.date)
        if opening is not None:
            _must_be_recent("/state/date", "date", opening.date, now)
            since = min(since, opening.date)
        weather = fetched_weather(forecasts, garden, since, hours.date, now)
    # A date that has been is planned as it could have been the evening before.
    seen_at = now if hours.opens <= now < hours.ends else hours.final_at
    history = History(opening, False, tuple(request.deliveries))
    plan = plan_date(garden, weather, hours, seen_at, history, explain)
    return dump(plan, "draft", hours, now, ends_of(plan, hours), weather, is_stored=False)


def ends_of(plan: Plan, hours: Hours) -> dt.datetime:
    """When a plan is over: with its hours, or where runs were moved beyond them, with these."""
    main_valve = plan.main_valve
    if main_valve is None or main_valve.closes_at.timestamp() <= hours.ends.timestamp():
        return hours.ends
    return plus(main_valve.opens_at, dt.timedelta(seconds=main_valve.max_open_s))


def _must_be_recent(pointer: str, name: str, date: dt.date, now: dt.datetime) -> None:
    oldest = now.date() - FARTHEST_BACK
    if date < oldest:
        sentence = (
            f"{name} is {date}; without weather days in the request it must not be before {oldest}, "
            f"{FARTHEST_BACK.days} days ago."
        )
        raise InvalidRequest(Problem(pointer, sentence))


def dump(
    plan: Plan,
    status: Status,
    hours: Hours,
    now: dt.datetime,
    valid_until: dt.datetime,
    weather: WeatherSeries,
    is_stored: bool = True,
) -> dict[str, Any]:
    """A plan in JSON, with the moments of its life; that of no stored garden never becomes final."""
    return dump_plan(
        plan,
        status=status,
        final_at=hours.final_at if is_stored else None,
        made_at=now,
        valid_until=valid_until,
        weather=weather.origin,
        timezone=hours.opens.tzinfo,
    )


LEAST_LIFE = dt.timedelta(seconds=60)
"""An answer holds at least so long while a forecast is due: a new one ends it at once anyway."""


@dataclass(frozen=True, slots=True)
class Again:
    """How a date that has its final plan is planned once more."""

    garden: Garden
    """As it is to be planned; its ledgers begin as those of the whole garden do."""
    made_at: dt.datetime
    """When the plan was made: its hours are those that were left then."""
    runs: Collection[tuple[str, str]]
    """The plan's own runs, by zone and id: what they gave is not taken off."""


class PlanMaker:
    """Makes plans of stored gardens, whatever becomes of them."""

    def __init__(self, store: Store, forecasts: Forecasts) -> None:
        self._store = store
        self._forecasts = forecasts
        self._measurements = Measurements(store)

    def plan(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        now: dt.datetime,
        newest_within_s: int,
        explain: bool = False,
        again: Again | None = None,
    ) -> tuple[Plan, WeatherSeries, list[dt.datetime]]:
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
        deliveries, changes_at = delivered(garden, finals, reports, hours.date, now, again)
        turns = _turns_without(finals, hours.date)
        opening = replace(opening, turns_without=turns, turns_after=turns)
        flows = learned_flows(garden, metered_runs(reports), hours.date)
        moisture = readings_beside_water(
            measured.mornings, finals, reports, garden.unreported_watering != "none"
        )
        history = History(opening, True, tuple(deliveries), moisture=moisture, flows=flows)
        if again is None:
            plan = plan_date(garden, weather, hours, now, history, explain)
        else:
            plan = plan_date(again.garden, weather, hours, again.made_at, history, explain)
        return plan, weather, changes_at

    def used_l(
        self, stored: StoredGarden, garden: Garden, date: dt.date, now: dt.datetime
    ) -> dict[dt.date, float]:
        """What has flowed, or counts so, within the allowances of a date, by plan date. [l]"""
        finals = self._store.finals(stored.id, date - ALLOWANCES_REACH_BACK, date)
        reports = self._store.deliveries(stored.id, date - ALLOWANCES_REACH_BACK, date)
        used: dict[dt.date, float] = {}
        for delivery in delivered(garden, finals, reports, date, now)[0]:
            used[delivery.date] = used.get(delivery.date, 0.0) + delivery.volume_l
        return used

    def _opening(
        self, stored: StoredGarden, garden: Garden, weather: WeatherSeries, begins: dt.date, date: dt.date
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


ALLOWANCES_REACH_BACK = dt.timedelta(days=31)
"""How far back an allowance reaches: a month."""


def delivered(
    garden: Garden,
    finals: Sequence[StoredFinal],
    reports: Sequence[StoredDelivery],
    planned: dt.date,
    now: dt.datetime,
    again: Again | None = None,
) -> tuple[list[Delivery], list[dt.datetime]]:
    """What has flowed by reports, and what final plans count as flowing.

    Of the date that is `planned`, only reports count. Also the moments at which runs still to come
    would no longer count.
    """
    plans = {final.date: final.body for final in finals}
    reported = {(report.zone, report.id) for report in reports}
    left_out = () if again is None else again.runs
    deliveries = [
        Delivery(report.zone, report.date, _counted(report, plans.get(report.date)))
        for report in reports
        if (report.zone, report.id) not in left_out
    ]
    changes_at = []
    for date, body in plans.items():
        if date == planned:
            continue
        for zone in body["zones"]:
            for run in zone["runs"]:
                if (zone["zone"], run["id"]) in reported or run["state"] == WITHDRAWN:
                    continue
                if garden.unreported_watering == "none":
                    if now >= ends_at(run):
                        continue
                    changes_at.append(ends_at(run))
                deliveries.append(Delivery(zone["zone"], date, float(run["volume_l"])))
    return deliveries, changes_at


def weather_holds_until(weather: WeatherSeries, now: dt.datetime) -> dt.datetime:
    """The first moment at which the clock alone asks for newer weather, or takes this for stale."""
    assert weather.forecast is not None
    due, *later = weather.forecast.changes_at
    return min(moment for moment in (max(due, now + LEAST_LIFE), *later) if moment > now)


def _turns_without(finals: Sequence[StoredFinal], date: dt.date) -> dict[str, int]:
    """Who went without for want of hours, and how often in a row, by the last final plan before a date."""
    before = [final for final in finals if final.date < date]
    return state_as_written(before[-1].body["state"]).turns_for(date) if before else {}


def _counted(report: StoredDelivery, final: dict[str, Any] | None) -> float:
    return counted_l(report.body, run_of(final, report.zone, report.id))
