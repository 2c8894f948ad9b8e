"""Intervals of time as ISO 8601 writes them: start and duration, start and end, duration and end."""

import datetime as dt
import re
from typing import Final, NamedTuple

from api.weather.errors import BadAnswer
from api.weather.reading import instant

DURATION: Final = re.compile(
    r"P(?:(?P<weeks>\d{1,4})W"
    r"|(?=[\dT])(?:(?P<days>\d{1,4})D)?"
    r"(?:T(?=\d)(?:(?P<hours>\d{1,5})H)?(?:(?P<minutes>\d{1,6})M)?(?:(?P<seconds>\d{1,7})S)?)?)",
    re.ASCII,
)
"""Without years and months, whose length depends on the calendar."""
NOW: Final = "NOW"
"""Stands for the present as a start or an end; the National Weather Service says so."""


class Interval(NamedTuple):
    """From `start` up to but not including `end`, in UTC."""

    start: dt.datetime
    end: dt.datetime

    @property
    def length(self) -> dt.timedelta:
        """Above 0."""
        return self.end - self.start


def read_interval(source: str, text: object, *, now: dt.datetime) -> Interval:
    """An interval as a service writes it. Raises BadAnswer for anything else, and where it is empty."""
    first, slash, second = text.partition("/") if isinstance(text, str) else ("", "", "")
    begins, ends = _duration(first), _duration(second)
    try:
        if slash and begins is None:
            start = now if first == NOW else instant(source, first)
            end = start + ends if ends is not None else now if second == NOW else instant(source, second)
            if start < end:
                return Interval(start, end)
        elif slash and begins and ends is None:
            end = now if second == NOW else instant(source, second)
            return Interval(end - begins, end)
    except OverflowError:  # a start in the year 9999
        pass
    shown = repr(text)[:60]
    raise BadAnswer(source, f"{shown} is no interval, as 2026-07-14T12:00:00+00:00/PT6H.")


def _duration(text: str) -> dt.timedelta | None:
    """A duration of ISO 8601; None for what is none."""
    found = DURATION.fullmatch(text)
    if found is None:
        return None
    return dt.timedelta(**{unit: int(number) for unit, number in found.groupdict().items() if number})
