"""Who has the tap when: openings of valves booked one dose after another, each as late as can be.

Times are whole seconds of Unix time, starts whole minutes. A valve keeps its place at the tap for
the gap after it has closed, so that with one zone at once the next one waits for the gap, and
with several no more than these ever meet.
"""

import bisect
import math
from collections.abc import Sequence
from typing import NamedTuple

from scheduling.tap.runs import NO_RESTS, Rests, ValveOpening
from scheduling.tap.windows import Windows

FLOW_TOLERANCE_L_MIN = 1e-9
"""Flows that add up to the supply's fit, in spite of the last bits of a sum."""


class Placed(NamedTuple):
    """One opening of a valve with its start, in seconds of Unix time."""

    start_s: int
    opening: ValveOpening

    @property
    def end_s(self) -> int:
        """When it is expected to close."""
        return self.start_s + self.opening.run_time_s


class _Booking(NamedTuple):
    start_s: int
    end_s: int
    zone: str
    flow_l_min: float
    rest_s: int
    """What the zone's soil needs before another dose."""


def busy_s(openings: Sequence[ValveOpening], gap_s: int) -> int:
    """For how long openings and the gaps after them keep the tap from others. [s]

    From one start to the next are whole minutes, and so from the last one to where the gap after
    the end of the window is over, rounded up: of what one zone at once leaves of a window, no
    second is lost but to soaks.
    """
    return sum(_up_to_a_minute(opening.run_time_s + gap_s) for opening in openings)


def _up_to_a_minute(time_s: int) -> int:
    return -(-time_s // 60) * 60


class Timetable:
    """The bookings of one tap."""

    def __init__(self, gap_s: int, zones_at_once: int = 1, flow_l_min: float | None = None) -> None:
        self.gap_s = gap_s
        """How long a valve keeps its place after it has closed. [s]"""
        self._zones_at_once = zones_at_once
        self._flow_l_min = math.inf if flow_l_min is None else flow_l_min + FLOW_TOLERANCE_L_MIN
        self._booked: list[_Booking] = []
        self._zones: set[str] = set()
        self._longest_s = 0

    def copy(self) -> "Timetable":
        """The same bookings, to try others on."""
        other = Timetable(self.gap_s, self._zones_at_once)
        other._flow_l_min = self._flow_l_min
        other._booked = self._booked.copy()
        other._zones = self._zones.copy()
        other._longest_s = self._longest_s
        return other

    def holds_s(self, windows: Windows) -> int:
        """How many seconds windows have for runs, see `busy_s`, at the most."""
        gap_s = self.gap_s
        return self._zones_at_once * sum(
            _up_to_a_minute(closes_s + gap_s) - _up_to_a_minute(opens_s) for opens_s, closes_s in windows
        )

    def book(
        self,
        zone: str,
        flow_l_min: float,
        openings: Sequence[ValveOpening],
        windows: Windows,
        rests: Rests = NO_RESTS,
    ) -> list[Placed] | None:
        """Book all openings of a zone's dose, the last one first, each as late as can be.

        None, and nothing is booked, where they do not all fit into the windows.
        """
        if not windows:
            return None if openings else []
        between_s, after_s = max(rests.between_s, self.gap_s), max(rests.after_s, self.gap_s)
        own = [booking for booking in self._booked if booking.zone == zone] if zone in self._zones else ()
        placed: list[Placed] = []
        before_s = windows[-1][1]
        for opening in reversed(openings):
            start_s = self._latest_start(opening.run_time_s, flow_l_min, before_s, windows, own, after_s)
            if start_s is None:
                return None
            placed.append(Placed(start_s, opening))
            before_s = start_s - between_s
        placed.reverse()
        self._zones.add(zone)
        for start_s, opening in placed:
            end_s = start_s + opening.run_time_s
            bisect.insort(self._booked, _Booking(start_s, end_s, zone, flow_l_min, after_s))
            self._longest_s = max(self._longest_s, opening.run_time_s)
        return placed

    def _latest_start(
        self,
        run_time_s: int,
        flow_l_min: float,
        before_s: int,
        windows: Windows,
        own: Sequence[_Booking],
        after_s: int,
    ) -> int | None:
        for opens_s, closes_s in reversed(windows):
            end_s = min(closes_s, before_s)
            while (start_s := (end_s - run_time_s) // 60 * 60) >= opens_s:
                earlier_s = self._end_before_conflict(start_s, start_s + run_time_s, flow_l_min, own, after_s)
                if earlier_s is None:
                    return start_s
                end_s = earlier_s
        return None

    def _end_before_conflict(
        self, start_s: int, end_s: int, flow_l_min: float, own: Sequence[_Booking], after_s: int
    ) -> int | None:
        """By when a run would have to end to escape its first conflict; None: there is none.

        No start in between is possible either, so trying from there on misses nothing.
        """
        for booking in own:
            rest_s = max(after_s, booking.rest_s)
            if booking.start_s < end_s + rest_s and start_s < booking.end_s + rest_s:
                return booking.start_s - rest_s
        gap_s, booked = self.gap_s, self._booked
        after = bisect.bisect_left(booked, (end_s + gap_s,))
        if self._zones_at_once == 1:
            earliest_s = None  # of the bookings in the way, which never meet each other
            while after and booked[after - 1].end_s + gap_s > start_s:
                after -= 1
                earliest_s = booked[after].start_s - gap_s
            return earliest_s
        first = bisect.bisect_left(booked, (start_s - gap_s - self._longest_s,))
        near = [booking for booking in booked[first:after] if booking.end_s + gap_s > start_s]
        if len(near) < self._zones_at_once and (
            flow_l_min + sum(booking.flow_l_min for booking in near) <= self._flow_l_min
        ):
            return None
        # More valves than allowed can only meet from the moment on at which one of them opens.
        by_then = [booking.start_s for booking in near if booking.start_s <= start_s]
        later = [booking.start_s for booking in near if booking.start_s > start_s]
        for moment_s in [*by_then[-1:], *later]:
            at_s = max(moment_s, start_s)
            meeting = [booking for booking in near if booking.start_s <= at_s < booking.end_s + gap_s]
            flow = flow_l_min + sum(booking.flow_l_min for booking in meeting)
            if len(meeting) >= self._zones_at_once or flow > self._flow_l_min:
                return moment_s - gap_s
        return None
