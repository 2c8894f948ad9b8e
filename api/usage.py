"""What a stored garden used: litres and money, beside what its plants needed and what rain gave."""

import datetime as dt
from collections.abc import Sequence
from typing import Final, Protocol
from zoneinfo import ZoneInfo

import orjson

from api.answers import Answer, Answers
from api.books import begins_on, open_books, watered_by
from api.flows import flows_of
from api.ledgers import Explains
from api.lifecycle import Explained
from api.metered import metered_runs
from api.questions import usage_question
from api.replay_words import timers_from
from api.schemas.usage import AllowanceUsed, dump_usage
from api.store.rows import StoredDelivery, StoredFinal
from api.watering_hours import GARDEN_DAY_BEGINS, garden_date
from api.weather_at_hand import anchor_before
from scheduling.garden import Garden
from scheduling.metering import learned_flows
from scheduling.usage import By, Flowed, Span, span_of, spans_of

ONE_DAY: Final = dt.timedelta(days=1)


class Reports(Protocol):
    """Holds what was planned and reported."""

    def finals(self, garden_id: str, first: dt.date, last: dt.date) -> Sequence[StoredFinal]:
        """Final plans of a span of dates, both ends included."""

    def deliveries(
        self, garden_id: str, first: dt.date | None, last: dt.date | None
    ) -> Sequence[StoredDelivery]:
        """Reports of a span of dates, both ends included."""


class Usages:
    """Answers what gardens used; made once, and kept until something changes it."""

    def __init__(self, life: Explains, reports: Reports, answers: Answers) -> None:
        self._life = life
        self._reports = reports
        self._answers = answers

    def usage(
        self, garden_id: str, first: dt.date | None, last: dt.date | None, by: By, timer: str | None
    ) -> Answer:
        """What was used between two dates, both included, None for an open end.

        Parameters
        ----------
        timer
            Fixed timers to compare with, as `2d:20min,lawn=3d:60l`.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to reckon with.
        InvalidRequest
            A timer that cannot be.
        """
        seen = self._life.explained(garden_id)
        garden = seen.garden
        timers = timers_from(timer.split(","), garden, "/timer") if timer is not None else {}
        since = anchor_before(garden_date(seen.stored.created_at, garden.timezone))
        until = garden_date(seen.now, garden.timezone)
        reports = self._reports.deliveries(garden_id, since, until)
        flows = flows_of(self._reports.finals(garden_id, since, until), reports, seen.now)
        flowed = flows.flowed(garden.unreported_watering == "as-planned")
        learned = learned_flows(garden, metered_runs(reports), seen.hours.date)
        dates = _dates(seen, flowed, first, last, until)
        books = open_books(seen, flowed, {} if dates is None else watered_by(timers, garden, learned, dates))
        is_southern = garden.latitude < 0.0
        spans = [] if dates is None else spans_of(dates, by, is_southern)
        limits = garden.water_supply.allowance_l
        body = dump_usage(
            garden.id,
            by,
            garden.water_supply.currency,
            [books.used(span, None if by == "season" else getattr(limits, by)) for span in spans],
            None if dates is None else books.used(dates, None),
            allowances_used(garden, flowed, until),
        )
        moments = (seen.fresh_until, flows.changes_at, _day_begins_after(seen.now, garden))
        return self._answers.keep(
            garden_id,
            usage_question(first, last, by, timer),
            seen.stored.version,
            seen.weather.version,
            min(moment for moment in moments if moment is not None),
            orjson.dumps(body),
        )


def allowances_used(garden: Garden, flowed: Sequence[Flowed], date: dt.date) -> list[AllowanceUsed]:
    """How the garden's allowances stand on a date."""
    allowance = garden.water_supply.allowance_l
    limits: tuple[tuple[By, float | None], ...] = (
        ("day", allowance.day),
        ("week", allowance.week),
        ("month", allowance.month),
    )
    used = []
    for by, allowed_l in limits:
        if allowed_l is not None:
            span = span_of(date, by)
            counted = sum(flow.counted_l for flow in flowed if span.first <= flow.date <= span.last)
            used.append(AllowanceUsed(by, span, allowed_l, counted))
    return used


def _dates(
    seen: Explained, flowed: Sequence[Flowed], first: dt.date | None, last: dt.date | None, until: dt.date
) -> Span | None:
    """The dates to tell of: from the first of which anything is known; None where none is left."""
    created = garden_date(seen.stored.created_at, seen.garden.timezone)
    earliest = min([created, *begins_on(seen), *(flow.date for flow in flowed)])
    span = Span(max(first or earliest, earliest), min(last or until, until))
    return span if span.first <= span.last else None


def _day_begins_after(now: dt.datetime, garden: Garden) -> dt.datetime:
    """When the next garden day begins."""
    local = now.astimezone(ZoneInfo(garden.timezone))
    begins = dt.datetime.combine(local.date(), GARDEN_DAY_BEGINS, local.tzinfo)
    return begins if begins.timestamp() > now.timestamp() else begins + ONE_DAY
