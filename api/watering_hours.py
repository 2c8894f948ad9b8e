"""The watering hours of a plan's date as instants, and which date a moment belongs to.

A garden day runs from 15:00 to 15:00, clock time, and bears the date of its end: a plan's date is
that of the first 15:00 after its first span of watering hours opens. It waters the night before.
"""

import datetime as dt
import functools
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import astral
import astral.sun

from scheduling.garden import Garden, HoursSpan
from scheduling.plan import Note
from scheduling.runs import Span

GARDEN_DAY_BEGINS = dt.time(15)
DEFAULT_HOURS = (HoursSpan("22:00", "sunrise"),)
WITHOUT_SUN = {"sunrise": dt.time(6), "sunset": dt.time(22)}
"""Clock times that stand in where the sun does not rise or set."""
LONGEST_SPAN_TO_THE_SUN = dt.timedelta(hours=18)
"""A longer way from a clock time to a sun time means that the sun time fell before it."""
FINAL_BEFORE_OPENING = dt.timedelta(minutes=60)
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Hours:
    """When water may flow for a plan's date, and what follows from it for the plan's life."""

    date: dt.date
    spans: tuple[Span, ...]
    opens: dt.datetime
    """When the first span opens; where all are closed that day, 22:00 of the evening before."""
    ends: dt.datetime
    """When the last span closes; where all are closed that day, 06:00 of the date."""
    notes: tuple[Note, ...]

    @property
    def final_at(self) -> dt.datetime:
        """From here on the plan is final."""
        return plus(self.opens, -FINAL_BEFORE_OPENING)

    def left_at(self, now: dt.datetime) -> tuple[Span, ...]:
        """What is left of the spans at a moment."""
        return tuple(
            Span(max(span.opens, now.astimezone(span.opens.tzinfo)), span.closes)
            for span in self.spans
            if span.closes > now
        )


def plus(instant: dt.datetime, length: dt.timedelta) -> dt.datetime:
    """An instant so much later, in elapsed time: clock changes do not stretch it."""
    return (instant.astimezone(dt.UTC) + length).astimezone(instant.tzinfo)


def garden_date(instant: dt.datetime, timezone: str) -> dt.date:
    """The garden day that a moment belongs to."""
    local = instant.astimezone(ZoneInfo(timezone))
    return local.date() if local.time() < GARDEN_DAY_BEGINS else local.date() + ONE_DAY


def next_hours(garden: Garden, now: dt.datetime) -> Hours:
    """The hours that are open, else the next to open."""
    today = now.astimezone(ZoneInfo(garden.timezone)).date()
    for ahead in range(-1, 3):
        hours = hours_of(garden, today + ahead * ONE_DAY)
        if hours.ends > now:
            return hours
    raise AssertionError(f"no watering hours end after {now}")


def hours_of(garden: Garden, date: dt.date) -> Hours:
    """The watering hours of a plan's date."""
    zone = ZoneInfo(garden.timezone)
    notes: list[Note] = []
    spans: list[Span] = []
    earliest = dt.datetime.combine(date - ONE_DAY, GARDEN_DAY_BEGINS, zone)
    for described in garden.rules.watering_hours or DEFAULT_HOURS:
        span = _span_after(earliest, described, garden, zone, notes)
        if span is not None:
            spans.append(span)
            earliest = span.closes
    if spans:
        return Hours(date, tuple(spans), spans[0].opens, spans[-1].closes, tuple(notes))
    opens = dt.datetime.combine(date - ONE_DAY, WITHOUT_SUN["sunset"], zone)
    ends = dt.datetime.combine(date, WITHOUT_SUN["sunrise"], zone)
    return Hours(date, (), opens, ends, tuple(notes))


def _span_after(
    earliest: dt.datetime, described: HoursSpan, garden: Garden, zone: ZoneInfo, notes: list[Note]
) -> Span | None:
    opens = _first_at(described.opens, earliest, garden, zone, notes)
    closes = _first_at(described.closes, opens, garden, zone, notes)
    by_the_sun = described.opens in WITHOUT_SUN or described.closes in WITHOUT_SUN
    length = closes.astimezone(dt.UTC) - opens.astimezone(dt.UTC)
    if by_the_sun and length > LONGEST_SPAN_TO_THE_SUN:
        notes.append(
            Note(
                "hours-closed",
                f"The hours from {described.opens} to {described.closes} are closed on {opens.date()}: "
                "by the sun of that day they would end before they begin.",
            )
        )
        return None
    return Span(opens, closes)


def _first_at(
    word: str, earliest: dt.datetime, garden: Garden, zone: ZoneInfo, notes: list[Note]
) -> dt.datetime:
    """The first moment of a clock time or a sun time that is not before another moment."""
    date = earliest.date()
    while True:
        moment = _moment(word, date, garden, zone, notes)
        if moment >= earliest:
            return moment
        date += ONE_DAY


def _moment(word: str, date: dt.date, garden: Garden, zone: ZoneInfo, notes: list[Note]) -> dt.datetime:
    if word not in WITHOUT_SUN:
        local = dt.datetime.combine(date, dt.time.fromisoformat(word), zone)
        # Through UTC, so that a clock time which a spring night leaves out becomes a real one.
        return local.astimezone(dt.UTC).astimezone(zone)
    moment = _sun(word, date, garden.latitude, garden.longitude, zone)
    if moment is not None:
        return moment
    stand_in = WITHOUT_SUN[word]
    note = Note("no-sun-time", f"There is no {word} in these days: {stand_in:%H:%M} stands in.")
    if note not in notes:
        notes.append(note)
    return dt.datetime.combine(date, stand_in, zone)


@functools.lru_cache(maxsize=4096)
def _sun(word: str, date: dt.date, latitude: float, longitude: float, zone: ZoneInfo) -> dt.datetime | None:
    """Sunrise or sunset of a local date, rounded down to a whole minute; None where there is none."""
    observer = astral.Observer(latitude, longitude)
    find = astral.sun.sunrise if word == "sunrise" else astral.sun.sunset
    try:
        moment = find(observer, date, tzinfo=zone)
    except ValueError:
        return None
    return moment.replace(second=0, microsecond=0)
