"""The coming runs of a garden as a calendar that other programs can subscribe to (RFC 5545)."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CalendarRun:
    """One run to come."""

    id: str
    """As in the plan; the event keeps it for ever, so that a later answer changes the same event."""
    zone: str
    """The zone's name."""
    start: dt.datetime
    run_time_s: int
    volume: str
    """With its unit."""
    text: str
    """Why, in a sentence."""


def garden_calendar(
    garden: str, name: str, runs: Sequence[CalendarRun], made_at: dt.datetime, refresh_s: int
) -> bytes:
    """A calendar with an event for each run.

    Parameters
    ----------
    garden
        The garden's id: a part of every event's.
    made_at
        When the plan was made, so that equal plans give equal bytes.
    refresh_s
        How often a program that subscribes should ask again. [s]
    """
    from icalendar import Calendar, Event  # 0.1 s that only calendars have to wait for

    calendar = Calendar()
    calendar.add("prodid", "-//Rootledger//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("refresh-interval", dt.timedelta(seconds=refresh_s), parameters={"value": "DURATION"})
    for run in runs:
        event = Event()
        event.add("uid", f"{run.id}@{garden}.rootledger")
        event.add("dtstamp", made_at.astimezone(dt.UTC))
        event.add("dtstart", run.start.astimezone(dt.UTC))
        event.add("dtend", (run.start + dt.timedelta(seconds=run.run_time_s)).astimezone(dt.UTC))
        event.add("summary", f"{run.zone}: {run.volume}")
        event.add("description", run.text)
        calendar.add_component(event)
    written: bytes = calendar.to_ical()
    return written
