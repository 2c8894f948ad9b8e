"""The watering hours of a plan's date as instants, and which date a moment belongs to.

A garden day runs from 15:00 to 15:00, clock time, and bears the date of its end: a plan's date is
that of the first 15:00 after its first span of watering hours opens. It waters the night before.
"""

import datetime as dt
import functools
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import astral
import astral.sun

from scheduling.errors import Problem
from scheduling.garden.description import Garden, HoursSpan, Rules
from scheduling.reasons import Note
from scheduling.reasons.weather_notes import HoursClosed, NoSunTime
from scheduling.tap.windows import Bans, Span, permitted

GARDEN_DAY_BEGINS = dt.time(15)
DEFAULT_HOURS = (HoursSpan("22:00", "sunrise"),)
WITHOUT_SUN = {"sunrise": dt.time(6), "sunset": dt.time(22)}
"""Clock times to use if the sun does not rise or set."""
LONGEST_WAIT_FOR_THE_SUN = dt.timedelta(hours=26)
"""Near the polar circles one sunset may come an hour later than the one before; none comes later."""
LONGEST_SPAN_TO_THE_SUN = dt.timedelta(hours=18)
"""A longer way between a clock time and a sun time means that the end fell before the beginning."""
FINAL_BEFORE_OPENING = dt.timedelta(minutes=60)
ONE_DAY = dt.timedelta(days=1)
A_YEAR = dt.date(2026, 1, 1)
"""Any year: it shows whether hours ever open."""
DAYS_BETWEEN_LOOKS = 5
ONE_HOUR = dt.timedelta(hours=1)
ONE_MINUTE = dt.timedelta(minutes=1)


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
    bans: Bans = field(default_factory=Bans)
    """Hours of the clock in which no water flows, as far as they touch this date's."""
    warm: Span | None = None
    """Where warm hours may be looked for, for zones with `frost_warm_hours`."""

    @property
    def final_at(self) -> dt.datetime:
        """From here on the plan is final."""
        return plus(self.opens, -FINAL_BEFORE_OPENING)

    def left_at(self, now: dt.datetime) -> tuple[Span | None, ...]:
        """What is left of the spans at a moment, each in its place; None for one that is over."""
        return tuple(_left_of(span, now) for span in self.spans)

    def warm_left_at(self, now: dt.datetime) -> Span | None:
        """What is left of the time in which warm hours may be looked for."""
        return None if self.warm is None else _left_of(self.warm, now)


def _left_of(span: Span, now: dt.datetime) -> Span | None:
    if not _is_before(now, span.closes):
        return None
    return span if _is_before(now, span.opens) else Span(now.astimezone(span.opens.tzinfo), span.closes)


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
    next_day = dt.datetime.combine(date, GARDEN_DAY_BEGINS, zone)
    for number, described in enumerate(garden.rules.watering_hours or DEFAULT_HOURS):
        opens = _first_at(described.opens, earliest, garden, zone, notes)
        if number == 0 and not _is_before(opens, next_day):
            # A winter sunset that comes before 15:00 one day and after it the next: it is the next plan's.
            continue
        closes = _first_at(described.closes, opens, garden, zone, notes)
        closed = _closed(described, opens, closes)
        if closed is None:
            spans.append(Span(opens, closes))
            earliest = closes
        else:
            notes.append(closed)
            earliest = opens
    if spans:
        opens, ends = spans[0].opens, spans[-1].closes
    else:
        opens = dt.datetime.combine(date - ONE_DAY, WITHOUT_SUN["sunset"], zone)
        ends = dt.datetime.combine(date, WITHOUT_SUN["sunrise"], zone)
    warm = Span(opens, next_day) if _looks_for_warm_hours(garden) and _is_before(opens, next_day) else None
    until = next_day if warm is not None and _is_before(ends, next_day) else ends
    bans = Bans(
        _banned(garden.rules, opens, until, garden, notes),
        {
            described.id: _banned(described.rules, opens, until, garden, notes)
            for described in garden.zones
            if described.rules.forbidden_hours is not None
        },
    )
    return Hours(date, tuple(spans), opens, ends, tuple(notes), bans, warm)


def sunrise_on(date: dt.date, latitude: float, longitude: float, zone: ZoneInfo) -> dt.datetime:
    """Sunrise of a local date, whole minutes down; 06:00 where the sun does not rise on it."""
    for day in (date - ONE_DAY, date, date + ONE_DAY):  # of the sun's clock
        moment = _sun("sunrise", day, latitude, longitude)
        if moment is not None and (local := moment.astimezone(zone)).date() == date:
            return local
    return _at(date, WITHOUT_SUN["sunrise"], zone)


def never_open(garden: Garden) -> tuple[Problem, ...]:
    """What is wrong with hours in which no water could ever flow, on any date of a year; mostly nothing."""
    problems: list[Problem] = []
    zones = [zone for zone in garden.zones if zone.rules.forbidden_hours is not None]
    if len(zones) < len(garden.zones) and (problem := _never_open(garden, None)) is not None:
        problems.append(problem)
    problems.extend(problem for zone in zones if (problem := _never_open(garden, zone.id)) is not None)
    return tuple(dict.fromkeys(problems))


def _never_open(garden: Garden, zone_id: str | None) -> Problem | None:
    """The same for a zone with forbidden hours of its own, or for all the others (None)."""
    has_spans = False
    for number in range(0, 365, DAYS_BETWEEN_LOOKS):
        hours = hours_of(garden, A_YEAR + number * ONE_DAY)
        bans = hours.bans.common if zone_id is None else hours.bans.of(zone_id)
        if any(permitted(span, bans) for span in hours.spans):
            return None
        has_spans = has_spans or bool(hours.spans)
    if not has_spans:
        return Problem(
            "/rules/watering_hours",
            "watering_hours never open: by the sun of this place they would end before they begin, all year. "
            'Give hours that have a length, as {"from": "22:00", "to": "sunrise"}.',
        )
    where = "/rules" if zone_id is None else f"/zones/{zone_id}/rules"
    return Problem(
        f"{where}/forbidden_hours",
        "forbidden_hours cover all watering_hours, so water could never flow. Give shorter ones, or "
        "watering_hours that lie outside of them.",
    )


def _looks_for_warm_hours(garden: Garden) -> bool:
    return any(rules.frost_warm_hours for rules in (garden.rules, *(zone.rules for zone in garden.zones)))


def _banned(
    rules: Rules, begins: dt.datetime, ends: dt.datetime, garden: Garden, notes: list[Note]
) -> tuple[Span, ...]:
    """The forbidden hours of some rules that touch a stretch of time."""
    zone = ZoneInfo(garden.timezone)
    banned: list[Span] = []
    for described in rules.forbidden_hours or ():
        # One that began up to a day before may still last.
        opens = _first_at(described.opens, plus(begins, -ONE_DAY), garden, zone, notes)
        while _is_before(opens, ends):
            closes = _first_at(described.closes, opens, garden, zone, notes)
            if _closed(described, opens, closes) is None and _is_before(begins, closes):
                banned.append(Span(opens, closes))
            opens = _first_at(described.opens, plus(opens, ONE_HOUR), garden, zone, notes)
    return tuple(banned)


def _closed(described: HoursSpan, opens: dt.datetime, closes: dt.datetime) -> HoursClosed | None:
    """Why there are no such hours on one day; None: there are."""
    length = closes.astimezone(dt.UTC) - opens.astimezone(dt.UTC)
    if not length:
        return HoursClosed(opens.date(), described.opens, described.closes, "no-length")
    one_is_the_suns = (described.opens in WITHOUT_SUN) is not (described.closes in WITHOUT_SUN)
    if one_is_the_suns and length > LONGEST_SPAN_TO_THE_SUN:
        return HoursClosed(opens.date(), described.opens, described.closes, "by-the-sun")
    return None


def _first_at(
    word: str, earliest: dt.datetime, garden: Garden, zone: ZoneInfo, notes: list[Note]
) -> dt.datetime:
    """The first moment of a clock time or a sun time that is not before another moment."""
    if word not in WITHOUT_SUN:
        return _first_by_the_clock(dt.time.fromisoformat(word), earliest, zone)
    moment = _first_by_the_sun(word, earliest, garden, zone)
    if moment is not None:
        return moment
    stand_in = WITHOUT_SUN[word]
    note = NoSunTime(word, stand_in)
    if note not in notes:
        notes.append(note)
    return _first_by_the_clock(stand_in, earliest, zone)


def _first_by_the_clock(time: dt.time, earliest: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    date = earliest.date()
    while _is_before(moment := _at(date, time, zone), earliest):
        date += ONE_DAY
    return moment


def _at(date: dt.date, time: dt.time, zone: ZoneInfo) -> dt.datetime:
    """A clock time of a date: the first of two, and where a spring night leaves it out, that moment."""
    local = dt.datetime.combine(date, time)
    while True:
        moment = local.replace(tzinfo=zone).astimezone(dt.UTC).astimezone(zone)
        if moment.replace(tzinfo=None, fold=0) == local:
            return moment
        local += ONE_MINUTE


def _is_before(one: dt.datetime, other: dt.datetime) -> bool:
    """Compare instants; within a zone Python compares clock times, which an autumn night has twice."""
    return one.timestamp() < other.timestamp()


def _first_by_the_sun(word: str, earliest: dt.datetime, garden: Garden, zone: ZoneInfo) -> dt.datetime | None:
    """The first sunrise or sunset from a moment on, whole minutes down; None where there is none."""
    date = earliest.date() - ONE_DAY  # of the sun's clock, which may be a day from the zone's
    for day in (date + ahead * ONE_DAY for ahead in range(4)):
        moment = _sun(word, day, garden.latitude, garden.longitude)
        if moment is not None and not _is_before(moment, earliest):
            return moment.astimezone(zone) if moment - earliest <= LONGEST_WAIT_FOR_THE_SUN else None
    return None


@functools.lru_cache(maxsize=4096)
def _sun(word: str, date: dt.date, latitude: float, longitude: float) -> dt.datetime | None:
    """Sunrise or sunset of a date of the sun's own clock, in UTC; None where there is none.

    astral knows no sunrise on a date on which it passes midnight of UTC: there, it is asked for a
    place one degree nearer to Greenwich, where the sun is 4 minutes off.
    """
    find = astral.sun.sunrise if word == "sunrise" else astral.sun.sunset
    of_the_sun = dt.timezone(dt.timedelta(seconds=round(240 * longitude)))
    for aside in (0, -1 if longitude > 0 else 1):
        observer = astral.Observer(latitude, longitude + aside)
        try:
            moment = find(observer, date, tzinfo=of_the_sun) + aside * dt.timedelta(minutes=4)
        except ValueError:
            continue
        return moment.astimezone(dt.UTC).replace(second=0, microsecond=0)
    return None
