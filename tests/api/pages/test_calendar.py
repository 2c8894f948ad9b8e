"""The coming runs as a calendar, read back by the library that calendar programs use."""

import datetime as dt

from icalendar import Calendar

from api.pages.calendar import CalendarRun, garden_calendar

MADE_AT = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
TWO_HOURS_EAST = dt.timezone(dt.timedelta(hours=2))
RUN = CalendarRun(
    id="2026-07-15-fescue-lawn-1",
    zone="Fescue lawn",
    start=dt.datetime(2026, 7, 15, 3, 56, tzinfo=TWO_HOURS_EAST),
    run_time_s=4020,
    volume="1,345 l",
    text="Roots have used all 10.6 mm; it is dry.",
)


def read(*runs: CalendarRun) -> Calendar:
    return Calendar.from_ical(garden_calendar("quince-court", "Quince Court", runs, MADE_AT, 3600))


def test_a_run_is_an_event_with_its_zone_and_litres() -> None:
    (event,) = read(RUN).events

    assert str(event["summary"]) == "Fescue lawn: 1,345 l"
    assert str(event["description"]) == "Roots have used all 10.6 mm; it is dry."
    assert event.decoded("dtstart") == dt.datetime(2026, 7, 15, 1, 56, tzinfo=dt.UTC)
    assert event.decoded("dtend") - event.decoded("dtstart") == dt.timedelta(seconds=4020)


def test_a_later_answer_changes_the_same_event() -> None:
    assert str(read(RUN).events[0]["uid"]) == "2026-07-15-fescue-lawn-1@quince-court.rootledger"


def test_a_night_without_runs_is_a_calendar_without_events() -> None:
    calendar = read()

    assert calendar.events == []
    assert str(calendar["version"]) == "2.0"


def test_equal_plans_give_equal_bytes() -> None:
    assert garden_calendar("g", "G", [RUN], MADE_AT, 3600) == garden_calendar("g", "G", [RUN], MADE_AT, 3600)
