"""What wants a person's eye in a stored garden, read off its plans, reports and weather."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import orjson

from api.errors import DateBeyondPlans
from api.plans.answer_cache import ALERTS, Answer, Answers
from api.plans.garden_now import GardenNow
from api.plans.plans import Explained, PlanLife
from api.reviews.ledgers import plant_ledgers
from api.schemas.alerts import dump_alerts
from api.store.rows import strong_etag
from api.watering_hours import hours_of
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.fetching import ACCEPTABLE_S
from api.weather.fetch.forecasts import Forecast
from scheduling.alerts.garden_alerts import (
    FROST_DAYS_AHEAD,
    ColdHour,
    Night,
    allowance_nearly_spent,
    cannot_keep_alive,
    forecast_old,
    frost_ahead,
    never_answered,
    nobody_asked,
    probes_doubtful,
)
from scheduling.alerts.valve_alerts import (
    SILENT_FOR,
    RunTold,
    ValveTold,
    battery_low,
    flow_has_drifted,
    no_reports,
    turn_not_closed,
    under_delivered,
    valve_not_shut,
)
from scheduling.garden.description import Garden
from scheduling.plan.final_plan import RunStanding, Standing, WaterRecord, counts_unreported
from scheduling.reasons import Alert
from scheduling.reasons.alerts import urgency
from scheduling.reasons.description_notes import FlowBeyondBelief, FlowHasDrifted
from scheduling.reasons.words import Words
from scheduling.review.usage import all_flowed
from scheduling.zone.hydraulics import declared_flow_l_min
from scheduling.zone.rules import DEFAULT_FROST_LIMIT_C, zone_rules

LONGEST_LIFE: Final = dt.timedelta(hours=1)
"""The lifetime of a cached answer: by then an hour of a forecast frost is over, or a new one has come."""
OLD_AFTER: Final = dt.timedelta(seconds=ACCEPTABLE_S)
ONE_DAY: Final = dt.timedelta(days=1)
LATEST_NIGHTS: Final = 30
"""How far back silent nights are counted."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known of the water of a garden at a moment."""

    moment: GardenNow
    timezone: ZoneInfo
    record: WaterRecord
    standings: tuple[Standing, ...]
    runs: tuple[RunTold, ...]
    """Those of zones that the garden has."""
    valves: tuple[ValveTold, ...]


class AlertsOfGardens:
    """Returns the alerts of a garden; each answer is cached until something changes it."""

    def __init__(self, life: PlanLife, answers: Answers) -> None:
        self._life = life
        self._answers = answers

    def alerts(self, garden_id: str) -> Answer:
        """The alerts of a garden. Without weather, only those that need none.

        Raises
        ------
        GardenNotFound
            There is no such garden.
        """
        moment = self._life.garden_now(garden_id)
        try:
            seen = self._life.explained(moment)
        except (WeatherUnavailable, DateBeyondPlans):
            return _without_weather(moment)
        known = _known(moment)
        found = [*_of_valves(known), *_of_plan(seen, known), *_of_weather(seen, known)]
        return self._answers.keep(
            garden_id,
            ALERTS,
            moment.stored.version,
            seen.weather.version,
            min((seen.fresh_until, moment.now + LONGEST_LIFE, *_moments(known))),
            _written(known, found),
            moment.now,
        )


def _without_weather(moment: GardenNow) -> Answer:
    """This is not cached, since a new answer of a source ends it."""
    known = _known(moment)
    asked = moment.asked_last()
    if asked is None:
        old = never_answered(
            moment.garden.weather_sources, _told_in(known.timezone, moment.stored.created_at)
        )
    else:
        _, retrieved_at = asked
        old = forecast_old(_told_in(known.timezone, retrieved_at), OLD_AFTER, plans_go_on=False)
    body = _written(known, [*_of_valves(known), old])
    return Answer(etag=strong_etag(body), body=body, fresh_until=moment.now)


def _known(moment: GardenNow) -> _Known:
    timezone = ZoneInfo(moment.garden.timezone)
    record = moment.record(moment.date)
    standings = tuple(record.standings(moment.now))
    zones = {zone.id for zone in moment.garden.zones}
    runs = (run for standing in standings for zone in standing.zones for run in zone.runs)
    return _Known(
        moment=moment,
        timezone=timezone,
        record=record,
        standings=standings,
        runs=tuple(_run_told(run, timezone) for run in runs if run.zone in zones),
        valves=tuple(
            ValveTold(
                valve.zone,
                _told_in(timezone, valve.told_at),
                valve.state,
                valve.battery_share,
            )
            for valve in moment.measured.valves
            if valve.zone in zones
        ),
    )


def _run_told(standing: RunStanding, timezone: ZoneInfo) -> RunTold:
    run, report = standing.run, standing.report
    reported = RunTold(
        zone=standing.zone,
        date=standing.date,
        start=run.start,
        limit=run.limit,
        planned_l=run.volume_l,
        state=standing.state,
    )
    if report is None:
        return reported
    begun_at = _told_in(timezone, report.started_at)
    return reported._replace(
        begun_at=begun_at,
        shut_by=_told_in(timezone, report.overdue_at(run)),
        measured_l=report.volume_l,
        is_open_turn=report.shut_by is not None,
    )


def _of_valves(known: _Known) -> Iterator[Alert]:
    """What needs no weather."""
    garden, now = known.moment.garden, known.moment.now
    yield from valve_not_shut(known.runs, known.valves, now)
    yield from turn_not_closed(known.runs, now)
    yield from battery_low(known.valves)
    yield from under_delivered(known.runs, known.moment.date)
    yield from no_reports(known.runs, _counts_unreported(known), now)
    litres: dict[dt.date, float] = {}
    for flow in all_flowed(known.record, now):
        litres[flow.date] = litres.get(flow.date, 0.0) + flow.counted_l
    spent = allowance_nearly_spent(garden.water_supply.allowance_l, litres, known.moment.date)
    if spent is not None:
        yield spent


def _counts_unreported(known: _Known) -> Callable[[RunTold], bool]:
    told_since = known.record.told_since()
    return lambda run: counts_unreported(known.record.unreported, told_since, run.zone, run.date)


def _of_plan(seen: Explained, known: _Known) -> Iterator[Alert]:
    """What the next plan tells of its zones."""
    metered = known.record.metered()
    for zone, plan in zip(seen.moment.garden.zones, seen.plan.zones, strict=True):
        dry = cannot_keep_alive(plan, [planting.rows for planting in plant_ledgers(zone, plan)])
        if dry is not None:
            yield dry
        runs = [run for run in metered if run.zone == zone.id]
        drifts = (note for note in plan.notes if isinstance(note, FlowHasDrifted | FlowBeyondBelief))
        drifted = next(drifts, None)
        if drifted is not None and runs:
            water = zone.watering
            is_declared = (water.flow_l_min, water.emitters, water.rate_mm_h) != (None, None, None)
            yield flow_has_drifted(zone, drifted, runs, declared_flow_l_min(zone) if is_declared else None)
    yield from probes_doubtful(seen.plan.probes)
    silent = _nobody_asked(seen, known)
    if silent is not None:
        yield silent


def _nobody_asked(seen: Explained, known: _Known) -> Alert | None:
    """That nobody asked in the last nights."""
    garden, plans, now = known.moment.garden, known.record.plans, known.moment.now
    first = max(known.moment.begins + ONE_DAY, known.moment.date - LATEST_NIGHTS * ONE_DAY)
    nights = []
    for number in range((known.moment.date - first).days + 1):
        date = first + number * ONE_DAY
        plan = plans.get(date)
        ends = hours_of(garden, date).ends if plan is None else plan.valid_until
        if ends <= now:
            has_runs = plan is not None and any(not run.is_withdrawn for _, run in plan.runs)
            was_asked = plan is not None and plan.turns_since is not None
            nights.append(Night(_told_in(known.timezone, ends), plan is not None, has_runs, was_asked))
    takes_turns = any(plan.turns_since is not None for plan in plans.values())
    return nobody_asked(nights, takes_turns, seen.plan.zones)


def _of_weather(seen: Explained, known: _Known) -> Iterator[Alert]:
    """What the forecast tells, and its age."""
    forecast = seen.weather.forecast
    assert forecast is not None
    if forecast.stale:
        asked = _told_in(known.timezone, forecast.retrieved_at)
        yield forecast_old(asked, OLD_AFTER, plans_go_on=True)
    given_c = seen.moment.garden.rules.frost_limit_c
    limit_c = DEFAULT_FROST_LIMIT_C if given_c is None else given_c
    today = known.moment.now.astimezone(known.timezone).date()
    ahead = [today + day * ONE_DAY for day in range(FROST_DAYS_AHEAD + 1)]
    lows = {day.date: day.t_min_c for day in forecast.days if day.t_min_c is not None}
    frost = frost_ahead(_cold_hours(forecast, known), lows, limit_c, _paused(seen.moment.garden, ahead))
    if frost is not None:
        yield frost


def _cold_hours(forecast: Forecast, known: _Known) -> Iterator[ColdHour]:
    """The hours of the next days that are not over."""
    until = known.moment.now + FROST_DAYS_AHEAD * ONE_DAY
    for hour in forecast.hours:
        lows = [low for low in (hour.temperature_c, hour.low_c) if low is not None]
        if lows and known.moment.now < hour.start + dt.timedelta(hours=1) and hour.start <= until:
            yield ColdHour(hour.start.astimezone(known.timezone), min(lows))


def _paused(garden: Garden, dates: Iterable[dt.date]) -> list[dt.date]:
    """Dates for which every zone is paused."""
    pauses = [zone_rules(garden, zone.rules, zone.id).pauses for zone in garden.zones]
    return [date for date in dates if all(any(pause.covers(date) for pause in own) for own in pauses)]


def _moments(known: _Known) -> Iterator[dt.datetime]:
    """When the clock alone raises or ends an alert."""
    moments = [standing.changes_at for standing in known.standings]
    for run in known.runs:
        moments += [run.shut_by, run.limit, run.limit + SILENT_FOR]
    return (moment for moment in moments if moment is not None and moment > known.moment.now)


def _told_in(timezone: ZoneInfo, instant: dt.datetime) -> dt.datetime:
    """An instant by the clock of a place, with its offset fixed: so that hours can be added to it."""
    return dt.datetime.fromisoformat(instant.astimezone(timezone).isoformat())


def _written(known: _Known, found: Iterable[Alert]) -> bytes:
    alerts = sorted(found, key=urgency)
    words = Words(known.moment.now.astimezone(known.timezone).date(), known.moment.garden.units)
    return orjson.dumps(dump_alerts(known.moment.garden.id, alerts, known.timezone, words))
