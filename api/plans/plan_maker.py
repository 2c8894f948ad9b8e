"""Garden, reports and weather days in; `scheduling` asked; a plan out."""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from api.errors import InvalidRequest
from api.plans.garden_now import GardenNow
from api.plans.weather_series import (
    WeatherSeries,
    anchor_before,
    at_height_of,
    fetched_weather,
    given_weather,
    weather_notes,
)
from api.reports.measurements import readings_beside_water
from api.schemas.plan import Phase, dump_plan
from api.schemas.plan_request import PlanRequest
from api.schemas.stored_bodies import JsonObject, opening_body
from api.watering_hours import Hours, hours_of, next_hours, plus
from api.weather.errors import by_fault_of_source
from api.weather.fetch.forecasts import Forecasts
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.errors import Problem
from scheduling.garden.description import Garden
from scheduling.garden.reports import Opening
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
) -> JsonObject:
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
        raise InvalidRequest(Problem("/carry_over/date", sentence))
    if request.weather is not None:
        weather = given_weather(request.weather, hours.date)
    else:
        _must_be_recent("/date", "date", hours.date, now)
        # From the anchor on in any case: the mean rain and wind of the season do not hang on a state.
        since = anchor_before(hours.date)
        if opening is not None:
            _must_be_recent("/carry_over/date", "date", opening.date, now)
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
    phase: Phase,
    hours: Hours,
    now: dt.datetime,
    valid_until: dt.datetime,
    weather: WeatherSeries,
    is_stored: bool = True,
) -> JsonObject:
    """A plan in JSON, with the moments of its life; that of no stored garden never becomes final."""
    return dump_plan(
        plan,
        phase=phase,
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

    @by_fault_of_source()
    def plan(
        self,
        seen: GardenNow,
        hours: Hours,
        newest_within_s: int,
        explain: bool = False,
        again: Again | None = None,
    ) -> tuple[Plan, WeatherSeries, list[dt.datetime]]:
        """The plan of a stored garden's date, from its ledger and the newest weather.

        Also the moments at which the clock alone would change it, by what is still to flow.
        """
        garden, date = seen.garden, hours.date
        weather = seen.weather(date, newest_within_s)
        opening = _opening(seen, weather, date)
        record = seen.record(date)
        left_out = () if again is None else again.runs
        deliveries, changes_at = record.deliveries(date, seen.now, left_out)
        turns = _turns_without(seen, date)
        history = History(
            replace(opening, turns_without=turns, turns_after=turns),
            True,
            tuple(deliveries),
            moisture=readings_beside_water(seen.measured.mornings, record),
            flows=learned_flows(garden, record.metered(), date),
        )
        if again is None:
            plan = plan_date(garden, weather, hours, seen.now, history, explain)
        else:
            plan = plan_date(again.garden, weather, hours, again.made_at, history, explain)
        return plan, weather, changes_at


def _opening(seen: GardenNow, weather: WeatherSeries, date: dt.date) -> Opening:
    """Where the ledgers begin: a first guess, made once for each version of the document."""
    opening = seen.opening(
        lambda: opening_guess(seen.garden, weather, min(seen.begins, date)), written=opening_body
    )
    if opening.date > date:
        # The plan of a date before the garden was known, while its hours are still open.
        return opening_guess(seen.garden, weather, date)
    return opening


def _turns_without(seen: GardenNow, date: dt.date) -> dict[str, int]:
    """Who went without for want of hours, and how often in a row, by the last final plan before a date."""
    last = seen.last_final_before(date)
    return {} if last is None else last.carried.turns_for(date)


def weather_holds_until(weather: WeatherSeries, now: dt.datetime) -> dt.datetime:
    """The first moment at which the clock alone asks for newer weather, or takes this for stale."""
    assert weather.forecast is not None
    due, *later = weather.forecast.changes_at
    return min(moment for moment in (max(due, now + LEAST_LIFE), *later) if moment > now)
