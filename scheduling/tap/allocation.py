"""Shares one tap among the zones that want water: its hours, its flow, its allowances.

What is short goes by priority, then by thirst, in whole doses until it is spent: a fair share for
everyone would leave everyone below the smallest dose that does any good. The litres of a week or a
month are paced, so that something is left at its end for who has high priority.
"""

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from scheduling.garden.description import Allowance, Priority, WaterSupply
from scheduling.reasons import ALLOWANCE_SPENT, HOURS_FULL
from scheduling.reasons.watering import Period
from scheduling.tap.runs import Rests, ValveOpening, openings_of, openings_of_volume, rests_of
from scheduling.tap.timetable import Placed, Timetable, busy_s
from scheduling.tap.windows import Windows
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import ZoneRules, rule_against

RANK: dict[Priority, int] = {"high": 0, "normal": 1, "low": 2}
MOST_HEADS = 3
"""How many heads of the queue to try before doses are booked one by one."""
RESERVE_S = 420
"""How long a run may begin after its start, where the hours have room for that: whoever asks every five
minutes, and opens the valve within two, waters all of it."""
TURNS_BEFORE_FIRST_OF_ALL = 3
"""A zone that went without so many times comes before every priority."""
PACE = 2.0
"""On one date at most so many times an even share of what a week or month has left. Our choice, no source."""
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Wish:
    """What one zone wants on a date."""

    numbers: ZoneNumbers
    first_mm: float
    """Net depth of its watering."""
    second_mm: float
    """Net depth of a second one, in the second span of the hours."""
    thirst: float
    """Depletion over RAW."""
    turns_without: int
    windows: tuple[Windows, ...]
    """For each span of the watering hours, when water may flow to the zone."""


class Share(NamedTuple):
    """What one zone gets."""

    placed: tuple[Placed, ...]
    short_of: str | None
    """Why it gets less than it wants: `hours-full` or `allowance-spent`; None: it gets all."""
    fits_alone: bool = True
    """Whether its smallest dose would fit into the hours if nobody else wanted any."""


class AllowanceLeft(NamedTuple):
    """The tightest of the allowances on a date."""

    left_l: float
    period: Period
    allowed_l: float


class PacedAllowance(NamedTuple):
    """What the allowances let one date have."""

    date_l: float
    """At most twice an even share of what the week or the month has left, and no more than is left."""
    period: Period
    """Whose allowance that is."""
    allowed_l: float
    left_l: float
    """What is left of all of them, were it not paced."""
    is_paced: bool
    """Whether there is an allowance for a week or a month."""


def allowance_left(
    allowance: Allowance, used_l: Mapping[dt.date, float], date: dt.date
) -> AllowanceLeft | None:
    """What a date may still take of its day's, its week's and its month's litres; None: no limit.

    `used_l` has the litres by plan date, those of the date itself included. A week begins on
    Monday, a month on its first.
    """
    return min(_each_left(allowance, used_l, date), key=lambda one: one.left_l, default=None)


def paced_allowance(
    allowance: Allowance, used_l: Mapping[dt.date, float], date: dt.date, rules: Iterable[ZoneRules]
) -> PacedAllowance | None:
    """What a plan may give on a date, so that some is kept for the rest of the period; None: no limit.

    `rules` are those of the zones. What is left is spread over the dates that they allow; where they
    differ, over those of the zone that has the fewest, so that who waters once a week gets its dose.
    """
    each = _each_left(allowance, used_l, date)
    if not each:
        return None
    may = [one for one in rules if rule_against(one, date, dormant=False, lowest_c=None) is None]
    used_today_l = used_l.get(date, 0.0)

    def today_l(one: AllowanceLeft) -> float:
        if one.period == "day":
            return one.left_l
        dates = min((_dates_left(own, date, _last_of(one.period, date)) for own in may), default=1)
        return min(one.left_l, max(0.0, PACE / dates * (one.left_l + used_today_l) - used_today_l))

    tightest = min(each, key=today_l)
    return PacedAllowance(
        today_l(tightest),
        tightest.period,
        tightest.allowed_l,
        min(one.left_l for one in each),
        any(one.period != "day" for one in each),
    )


def _each_left(allowance: Allowance, used_l: Mapping[dt.date, float], date: dt.date) -> list[AllowanceLeft]:
    begins: dict[Period, tuple[float | None, dt.date]] = {
        "day": (allowance.day, date),
        "week": (allowance.week, date - date.weekday() * ONE_DAY),
        "month": (allowance.month, date.replace(day=1)),
    }
    return [
        AllowanceLeft(
            max(0.0, allowed_l - sum(litres for day, litres in used_l.items() if first <= day <= date)),
            period,
            allowed_l,
        )
        for period, (allowed_l, first) in begins.items()
        if allowed_l is not None
    ]


def _last_of(period: Period, date: dt.date) -> dt.date:
    if period == "week":
        return date + (6 - date.weekday()) * ONE_DAY
    return (date.replace(day=1) + 31 * ONE_DAY).replace(day=1) - ONE_DAY


def _dates_left(rules: ZoneRules, date: dt.date, last: dt.date) -> int:
    """On how many dates up to a last one a zone's rules let it be watered, frost aside; at least 1."""
    dates = (date + ahead * ONE_DAY for ahead in range((last - date).days + 1))
    return max(1, sum(rule_against(rules, day, dormant=False, lowest_c=None) is None for day in dates))


@dataclass(frozen=True, slots=True)
class _Dose:
    """One watering of one zone."""

    wish: Wish
    openings: tuple[ValveOpening, ...]
    windows: Windows
    zone_id: str
    volume_l: float
    rests: Rests
    busy_s: int
    """For how long it keeps the tap from others, see `scheduling.tap.timetable.busy_s`."""

    @property
    def numbers(self) -> ZoneNumbers:
        return self.wish.numbers


def _dose_of(wish: Wish, openings: tuple[ValveOpening, ...], windows: Windows, gap_s: int) -> _Dose:
    volume_l = sum(opening.volume_l for opening in openings)
    rests = rests_of(wish.numbers, openings)
    busy = busy_s(openings, gap_s)
    return _Dose(wish, openings, windows, wish.numbers.zone.id, volume_l, rests, busy)


@dataclass(slots=True)
class _Sharing:
    """The tap while it is being shared."""

    timetable: Timetable
    left_l: float
    is_paced: bool = False
    placed: dict[str, list[Placed]] = field(default_factory=dict)
    short_of: dict[tuple[str, bool], str] = field(default_factory=dict)
    """By zone id, and whether it is about the second watering."""


def share_water(
    wishes: Sequence[Wish],
    supply: WaterSupply,
    left_l: float = math.inf,
    period_l: float | None = None,
) -> dict[str, Share]:
    """Place all doses, or as many as fit; by zone id, without those that no valve can be told.

    A dose that the first span has no room for is offered the second one, after the second
    waterings there. The last dose to get a part is cut, not below its zone's smallest depth. In
    time, zones of high priority come last, nearest to the end of the hours, then by id.

    Parameters
    ----------
    supply : WaterSupply
        The tap: gaps, flow, zones at once.
    left_l : float
        What the allowances leave for all of them. [l]
    period_l : float
        What the week's or the month's allowance still has, where `left_l` is paced; None: it is not.
        Priority then holds on every date, whoever went without, and the first in turn gets its
        smallest dose even where the pace is below it. [l]
    """
    sharing, gap_s = _Sharing(_empty(supply), left_l, period_l is not None), supply.gap_s
    first = [dose for wish in wishes if (dose := _dose(wish, wish.first_mm, 0, gap_s)) is not None]
    second = [dose for wish in wishes if (dose := _dose(wish, wish.second_mm, 1, gap_s)) is not None]
    if period_l is not None and first:
        next_up = min(first, key=lambda dose: _turn(dose, is_paced=True))
        sharing.left_l = max(left_l, min(period_l, next_up.volume_l, next_up.numbers.smallest_volume_l))
    _serve(first, sharing)
    got_some = set(sharing.placed)
    _serve(second, sharing, is_second=True)
    later = [
        replace(dose, windows=windows)
        for dose in first
        if dose.zone_id not in got_some
        and sharing.short_of.get((dose.zone_id, False)) == HOURS_FULL
        and (windows := _windows(dose.wish, 1))
    ]
    for dose in later:
        del sharing.short_of[dose.zone_id, False]
    _serve(later, sharing)
    return {dose.zone_id: _share(dose, sharing, supply) for dose in (*first, *second)}


def _empty(supply: WaterSupply) -> Timetable:
    return Timetable(supply.gap_s, supply.zones_at_once, supply.flow_l_min)


def _dose(wish: Wish, net_mm: float, span: int, gap_s: int) -> _Dose | None:
    """A wish as openings in a span of the hours; None where no valve can be told so little."""
    openings = openings_of(wish.numbers, net_mm) if net_mm > 0.0 else ()
    return _dose_of(wish, openings, _windows(wish, span), gap_s) if openings else None


def _windows(wish: Wish, span: int) -> Windows:
    return wish.windows[span] if span < len(wish.windows) else ()


def _share(dose: _Dose, sharing: _Sharing, supply: WaterSupply) -> Share:
    zone_id = dose.zone_id
    placed = tuple(sorted(sharing.placed.get(zone_id, ())))
    short_of = sharing.short_of.get((zone_id, False)) or sharing.short_of.get((zone_id, True))
    return Share(placed, short_of, bool(placed) or short_of != HOURS_FULL or _fits_alone(dose, supply))


def _serve(doses: Sequence[_Dose], sharing: _Sharing, is_second: bool = False) -> None:
    """Serve doses beside what is booked already."""
    if not doses:
        return
    booked = None
    if sum(dose.volume_l for dose in doses) <= sharing.left_l:
        booked = _booked(doses, sharing.timetable, RESERVE_S) or _booked(doses, sharing.timetable)
    if booked is None:
        booked = _as_many_as_fit(doses, sharing, is_second)
    sharing.timetable, placed = booked
    for zone_id, runs in placed.items():
        sharing.placed.setdefault(zone_id, []).extend(runs)
        sharing.left_l -= sum(run.opening.volume_l for run in runs)


_Booked = tuple[Timetable, dict[str, list[Placed]]]


def _as_many_as_fit(doses: Sequence[_Dose], sharing: _Sharing, is_second: bool) -> _Booked:
    """Serve doses one by one, by whose turn it is."""
    in_turn = sorted(doses, key=lambda dose: _turn(dose, sharing.is_paced))
    served, booked, is_next_too_long = _first_who_fit(in_turn, sharing)
    left_l = sharing.left_l - sum(dose.volume_l for dose in served)
    was_cut_by: set[str] = set()
    for dose in in_turn[len(served) :]:
        is_allowed = dose.volume_l <= left_l
        may_fit, is_next_too_long = is_allowed and not is_next_too_long, False
        serves, trial = dose, _booked([*served, dose], sharing.timetable) if may_fit else None
        if trial is None:
            short_of = HOURS_FULL if is_allowed else ALLOWANCE_SPENT
            sharing.short_of[dose.zone_id, is_second] = short_of
            part = None if short_of in was_cut_by else _part_of(dose, served, left_l, sharing.timetable)
            if part is None:
                continue
            was_cut_by.add(short_of)
            serves, trial = part
        served.append(serves)
        booked = trial
        left_l -= serves.volume_l
    return booked


def _first_who_fit(in_turn: Sequence[_Dose], sharing: _Sharing) -> tuple[list[_Dose], _Booked, bool]:
    """A head of the queue that fits as a whole: it need not be booked one by one.

    Also whether it is known that the one after it does not fit.
    """
    left_l, head = sharing.left_l, 0
    taken_s: dict[Windows, int] = {}
    for dose in in_turn:
        left_l -= dose.volume_l
        taken_s[dose.windows] = taken_s.get(dose.windows, 0) + dose.busy_s
        if left_l < 0.0 or taken_s[dose.windows] > sharing.timetable.holds_s(dose.windows):
            break
        head += 1
    for length in range(head, max(0, head - MOST_HEADS), -1):
        booked = _booked(in_turn[:length], sharing.timetable)
        if booked is not None:
            return list(in_turn[:length]), booked, length < head
    return [], (sharing.timetable, {}), False


def _turn(dose: _Dose, is_paced: bool) -> tuple[bool, int, bool, float, str]:
    """Sort key: who is served first. Of paced litres, nobody comes before a higher priority."""
    wish, zone = dose.wish, dose.numbers.zone
    return (
        is_paced or wish.turns_without < TURNS_BEFORE_FIRST_OF_ALL,
        RANK[zone.priority],
        wish.turns_without == 0,
        -wish.thirst,
        zone.id,
    )


def _place(dose: _Dose) -> tuple[int, str]:
    """Sort key: who comes first in time."""
    return -RANK[dose.numbers.zone.priority], dose.zone_id


def _booked(doses: Sequence[_Dose], timetable: Timetable, reserve_s: int = 0) -> _Booked | None:
    """All doses booked beside what a timetable holds, who comes last in time first; None: no room.

    Each opening keeps its place for a reserve after its run time.
    """
    if not _may_fit(doses, timetable):
        return None
    trial = timetable.copy()
    placed: dict[str, list[Placed]] = {}
    for dose in sorted(doses, key=_place, reverse=True):
        slots = [opening._replace(run_time_s=opening.run_time_s + reserve_s) for opening in dose.openings]
        runs = trial.book(dose.zone_id, dose.numbers.flow_l_min, slots, dose.windows, dose.rests)
        if runs is None:
            return None
        placed[dose.zone_id] = [
            Placed(run.start_s, opening) for run, opening in zip(runs, dose.openings, strict=True)
        ]
    return trial, placed


def _may_fit(doses: Sequence[_Dose], timetable: Timetable) -> bool:
    """Whether the seconds of all doses are no more than their windows have: spares most vain bookings."""
    taken_s: dict[Windows, int] = {}
    for dose in doses:
        taken_s[dose.windows] = taken_s.get(dose.windows, 0) + dose.busy_s
    return all(taken <= timetable.holds_s(windows) for windows, taken in taken_s.items())


def _part_of(
    dose: _Dose, served: Sequence[_Dose], left_l: float, timetable: Timetable
) -> tuple[_Dose, _Booked] | None:
    """The largest part of a dose that still fits; None where that is below its smallest depth."""
    flow_l_min, smallest_l = dose.numbers.flow_l_min, dose.numbers.smallest_volume_l
    taken_s = sum(other.busy_s for other in served if other.windows == dose.windows)
    room_s = timetable.holds_s(dose.windows) - taken_s - timetable.gap_s
    low_l, high_l = smallest_l, min(dose.volume_l, left_l, room_s / 60.0 * flow_l_min)
    if high_l < low_l:
        return None
    # Whoever comes later in time is booked before it, and once for all tries.
    later = _booked([other for other in served if _place(other) > _place(dose)], timetable)
    if later is None:
        return None
    earlier = [other for other in served if _place(other) < _place(dose)]
    best: tuple[_Dose, _Booked] | None = None
    for at_l in _likely_parts(dose.numbers, low_l, high_l):
        best = _booked_part(dose, at_l, earlier, later)
        if best is not None:
            low_l = at_l
            break
        high_l = at_l
    # Seldom more than a minute better; else, ever larger steps.
    step_l = flow_l_min
    while best is not None and high_l - low_l > 0.5 * flow_l_min:  # starts are whole minutes
        at_l = min(low_l + step_l, 0.5 * (low_l + high_l))
        part = _booked_part(dose, at_l, earlier, later)
        if part is None:
            high_l = at_l
        else:
            best, low_l, step_l = part, at_l, 2.0 * step_l
    return best


def _likely_parts(numbers: ZoneNumbers, low_l: float, high_l: float) -> Iterator[float]:
    """Where the largest part of a dose that fits may lie, from the largest down. [l]

    Often it is all that the litres or the minutes leave. Where the soil wants soaks, it is often
    what takes one soak less.
    """
    yield high_l
    longest_l = numbers.longest_run_s / 60.0 * numbers.flow_l_min
    if longest_l < high_l:
        for runs in range(math.ceil(high_l / longest_l) - 1, 0, -1):
            if runs * longest_l > low_l:
                yield runs * longest_l
    yield low_l


def _booked_part(
    dose: _Dose, volume_l: float, earlier: Sequence[_Dose], later: _Booked
) -> tuple[_Dose, _Booked] | None:
    """So many litres of a dose, beside whoever comes earlier in time and what is booked later."""
    timetable, placed = later
    part = _dose_of(dose.wish, openings_of_volume(dose.numbers, volume_l), dose.windows, timetable.gap_s)
    booked = _booked([*earlier, part], timetable) if part.openings else None
    return None if booked is None else (part, (booked[0], placed | booked[1]))


def _fits_alone(dose: _Dose, supply: WaterSupply) -> bool:
    """Whether a zone's smallest dose fits into any span of the hours that nobody else uses."""
    volume_l = min(dose.numbers.smallest_volume_l, dose.volume_l)
    openings = openings_of_volume(dose.numbers, volume_l)
    if len(openings) == 1:
        wanted_s = openings[0].run_time_s + 60  # for a start at a whole minute
        if any(closes_s - opens_s >= wanted_s for span in dose.wish.windows for opens_s, closes_s in span):
            return True
    alone = (replace(dose, windows=windows) for windows in dose.wish.windows)
    return any(_booked_part(part, volume_l, (), (_empty(supply), {})) is not None for part in alone)
