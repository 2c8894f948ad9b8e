"""When water may flow for a plan's date, by the clock and by the sun."""

import datetime as dt
import functools
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from api.watering_hours import Hours, garden_date, hours_of, next_hours, plus
from scheduling.fao56.radiation import day_of_year, daylight_hours
from scheduling.garden.description import Garden
from tests.api.stored_garden import JULY_15, ONE_DAY, garden, lawn

PARIS = ZoneInfo("Europe/Paris")
SPRING, AUTUMN = dt.date(2026, 3, 29), dt.date(2026, 10, 25)
"""Sundays on which Paris changes its clocks, at 01:00 UTC."""


def hours(*spans: tuple[str, str], date: dt.date = JULY_15, **place: Any) -> Hours:
    return hours_of(watered(*spans, **place), date)


def watered(*spans: tuple[str, str], **place: Any) -> Garden:
    listed = [{"from": opens, "to": closes} for opens, closes in spans]
    return garden(**place, **({"rules": {"watering_hours": listed}} if listed else {}))


def told(span: tuple[dt.datetime, dt.datetime]) -> tuple[str, str]:
    return span[0].isoformat(timespec="minutes"), span[1].isoformat(timespec="minutes")


def codes(of: Hours) -> list[str]:
    return [note.code for note in of.notes]


def elapsed(span: tuple[dt.datetime, dt.datetime]) -> dt.timedelta:
    return span[1].astimezone(dt.UTC) - span[0].astimezone(dt.UTC)


# Which night is whose


def test_without_rules_water_flows_from_ten_in_the_evening_before_to_sunrise():
    night = hours()
    assert night.date == JULY_15
    assert night.opens == dt.datetime(2026, 7, 14, 22, tzinfo=PARIS)
    assert (
        dt.datetime(2026, 7, 15, 6, tzinfo=PARIS) < night.ends < dt.datetime(2026, 7, 15, 6, 30, tzinfo=PARIS)
    )
    assert (night.ends.second, night.ends.microsecond, night.notes) == (0, 0, ())


def test_hours_after_midnight_belong_to_the_date_on_which_they_lie():
    (span,) = hours(("03:00", "05:30")).spans
    assert told(span) == ("2026-07-15T03:00+02:00", "2026-07-15T05:30+02:00")


def test_a_morning_belongs_to_its_own_date():
    (span,) = hours(("06:00", "08:00")).spans
    assert told(span) == ("2026-07-15T06:00+02:00", "2026-07-15T08:00+02:00")


@pytest.mark.parametrize(("opens", "day"), [("14:59", 15), ("15:00", 14), ("15:01", 14)])
def test_the_first_three_o_clock_after_the_opening_gives_the_date(opens: str, day: int):
    assert hours((opens, "16:00")).opens.day == day
    assert garden_date(hours((opens, "16:00")).opens, "Europe/Paris") == JULY_15


def test_a_second_span_belongs_to_the_same_plan():
    first, second = hours(("22:00", "05:00"), ("13:00", "14:00")).spans
    assert told(first) == ("2026-07-14T22:00+02:00", "2026-07-15T05:00+02:00")
    assert told(second) == ("2026-07-15T13:00+02:00", "2026-07-15T14:00+02:00")


def test_the_second_span_may_come_after_three_and_cross_midnight():
    both = hours(("06:00", "08:00"), ("20:00", "01:00"))
    assert told(both.spans[1]) == ("2026-07-15T20:00+02:00", "2026-07-16T01:00+02:00")
    assert both.ends == both.spans[1].closes


def test_a_plan_is_final_an_hour_before_its_hours_open():
    assert hours().final_at == dt.datetime(2026, 7, 14, 21, tzinfo=PARIS)


@pytest.mark.parametrize(
    ("moment", "date"),
    [
        ("2026-07-14T14:59:59+02:00", dt.date(2026, 7, 14)),
        ("2026-07-14T15:00:00+02:00", JULY_15),
        ("2026-07-15T12:59:59+00:00", JULY_15),
        ("2026-07-15T13:00:00+00:00", dt.date(2026, 7, 16)),
    ],
)
def test_a_garden_day_ends_at_three_by_its_own_clock(moment: str, date: dt.date):
    assert garden_date(dt.datetime.fromisoformat(moment), "Europe/Paris") == date


# What is open, and what comes next


@pytest.mark.parametrize(
    ("clock", "day"),
    [("14T23:00", 15), ("15T00:30", 15), ("15T05:59", 15), ("15T06:30", 16), ("15T23:59", 16)],
)
def test_the_next_plan_changes_when_the_hours_end_and_not_at_midnight(clock: str, day: int):
    now = dt.datetime.fromisoformat(f"2026-07-{clock}:00+02:00")
    assert next_hours(garden(), now).date.day == day


def test_a_span_that_crosses_midnight_stays_with_its_plan_until_it_ends():
    described = watered(("06:00", "08:00"), ("20:00", "01:00"))
    assert next_hours(described, dt.datetime(2026, 7, 16, 0, 59, tzinfo=PARIS)).date == JULY_15
    assert next_hours(described, dt.datetime(2026, 7, 16, 1, tzinfo=PARIS)).date == JULY_15 + ONE_DAY


def test_what_is_left_begins_now_and_loses_what_is_over():
    both = hours(("22:00", "05:00"), ("13:00", "14:00"))
    before = dt.datetime(2026, 7, 14, 20, tzinfo=PARIS)
    assert both.left_at(before) == both.spans
    first, second = both.left_at(dt.datetime(2026, 7, 15, 4, tzinfo=PARIS))
    assert first is not None
    assert told(first) == ("2026-07-15T04:00+02:00", "2026-07-15T05:00+02:00")
    assert second == both.spans[1]
    assert both.left_at(dt.datetime(2026, 7, 15, 5, tzinfo=PARIS)) == (None, both.spans[1])
    assert both.left_at(dt.datetime(2026, 7, 15, 14, tzinfo=PARIS)) == (None, None)


def test_what_is_left_of_hours_that_an_autumn_night_has_twice_never_begins_in_the_past():
    open_twice = hours(("02:30", "05:00"), date=AUTUMN)
    second_quarter_past_two = dt.datetime(2026, 10, 25, 1, 15, tzinfo=dt.UTC)
    (left,) = open_twice.left_at(second_quarter_past_two)
    assert left is not None
    assert left.opens.timestamp() == second_quarter_past_two.timestamp()


# Clock changes


def test_a_night_in_which_clocks_go_forward_is_an_hour_shorter():
    assert elapsed(hours(("22:00", "06:00"), date=SPRING).spans[0]) == dt.timedelta(hours=7)


def test_a_night_in_which_clocks_go_back_is_an_hour_longer():
    assert elapsed(hours(("22:00", "06:00"), date=AUTUMN).spans[0]) == dt.timedelta(hours=9)


def test_a_clock_time_that_spring_leaves_out_becomes_the_moment_of_the_change():
    (span,) = hours(("22:00", "02:30"), date=SPRING).spans
    assert told(span) == ("2026-03-28T22:00+01:00", "2026-03-29T03:00+02:00")
    (span,) = hours(("02:30", "03:30"), date=SPRING).spans
    assert told(span) == ("2026-03-29T03:00+02:00", "2026-03-29T03:30+02:00")


@pytest.mark.parametrize("span", [("02:30", "03:00"), ("02:00", "03:00"), ("02:10", "02:50")])
def test_hours_that_spring_leaves_out_are_closed_and_do_not_last_until_the_next_night(span: tuple[str, str]):
    night = hours(span, date=SPRING)
    assert night.spans == ()
    assert codes(night) == ["hours-closed"]
    assert len(hours(span, date=SPRING + ONE_DAY).spans) == 1


def test_of_a_clock_time_that_comes_twice_the_first_is_meant():
    (span,) = hours(("22:00", "02:30"), date=AUTUMN).spans
    assert told(span) == ("2026-10-24T22:00+02:00", "2026-10-25T02:30+02:00")


def test_an_hour_before_the_opening_is_an_hour_in_any_night():
    night = hours(("02:30", "05:00"), date=SPRING)
    assert elapsed((night.final_at, night.opens)) == dt.timedelta(hours=1)
    assert plus(night.opens, -dt.timedelta(hours=24)).hour == 2


def test_half_an_hour_of_clock_change_is_met_too():
    (span,) = hours(
        ("22:00", "04:00"),
        date=dt.date(2026, 4, 5),
        timezone="Australia/Lord_Howe",
        latitude=-31.55,
        longitude=159.08,
    ).spans
    assert elapsed(span) == dt.timedelta(hours=6, minutes=30)


# The sun

PLACES = {
    "Pacific/Auckland": (-36.85, 174.76),
    "Pacific/Chatham": (-43.95, -176.55),
    "Pacific/Kiritimati": (1.87, -157.4),
    "Pacific/Honolulu": (21.31, -157.86),
    "America/Adak": (51.88, -176.65),
    "Atlantic/Reykjavik": (64.15, -21.94),
    "Asia/Kathmandu": (27.7, 85.3),
    "Asia/Shanghai": (39.47, 75.99),
    "Australia/Sydney": (-33.87, 151.21),
    "America/New_York": (40.71, -74.01),
    "Europe/London": (51.5, -0.12),
    "Europe/Helsinki": (65.0, 25.5),
}

HORIZON_DEG = -0.8333
"""Height of the sun's middle when its upper edge appears: 34' of refraction and 16' of radius."""

# To the minute, from memory of published almanacs.
PUBLISHED = [
    ("Europe/London", dt.date(2026, 6, 21), "04:43", "21:21"),
    ("Europe/London", dt.date(2026, 12, 21), "08:04", "15:53"),
    ("America/New_York", dt.date(2026, 6, 21), "05:25", "20:31"),
    ("Australia/Sydney", dt.date(2026, 12, 21), "05:41", "20:05"),
    ("Pacific/Auckland", dt.date(2026, 6, 21), "07:33", "17:12"),
    ("Pacific/Honolulu", dt.date(2026, 6, 21), "05:50", "19:16"),
]


def at(zone: str) -> dict[str, Any]:
    latitude, longitude = PLACES[zone]
    return {"timezone": zone, "latitude": latitude, "longitude": longitude}


@functools.cache
def by_the_sun(zone: str) -> tuple[Garden, Garden]:
    return watered(("01:00", "sunrise"), **at(zone)), watered(("12:00", "sunset"), **at(zone))


def sun_times(zone: str, date: dt.date) -> tuple[dt.datetime, dt.datetime]:
    """The sunrise of a date, and the sunset after it."""
    morning, evening = (hours_of(described, date) for described in by_the_sun(zone))
    return morning.ends, evening.ends


@pytest.mark.parametrize(("zone", "date", "sunrise", "sunset"), PUBLISHED)
def test_the_sun_rises_and_sets_when_almanacs_say(zone: str, date: dt.date, sunrise: str, sunset: str):
    for ours, almanac in zip(sun_times(zone, date), (sunrise, sunset), strict=True):
        printed = dt.datetime.combine(date, dt.time.fromisoformat(almanac), ZoneInfo(zone))
        assert abs(ours - printed) <= dt.timedelta(minutes=2)


@pytest.mark.parametrize("zone", PLACES)
def test_every_day_of_a_year_has_its_own_sunrise_on_its_own_date(zone: str):
    for number in range(365):
        date = dt.date(2026, 1, 1) + number * ONE_DAY
        rises, sets = sun_times(zone, date)
        assert rises.date() == date
        # Of the geometric sun (FAO-56 equation 34); refraction and the sun's radius add some minutes.
        latitude = PLACES[zone][0]
        daylight_h = (sets - rises) / dt.timedelta(hours=1)
        assert -0.1 <= daylight_h - daylight_hours(latitude, day_of_year(date)) <= 1.0


# Nearer to the polar circle the sun comes up so flat that a tenth of a degree is minutes.
@pytest.mark.parametrize("zone", [zone for zone, (latitude, _) in PLACES.items() if abs(latitude) < 64.5])
def test_the_sun_crosses_the_horizon_then_by_another_algorithm(zone: str):
    pvlib = pytest.importorskip("pvlib", reason="pip install 'rootledger[second-opinions]'")
    pandas = pytest.importorskip("pandas")
    dates = [dt.date(2026, 1, 1) + number * ONE_DAY for number in range(0, 365, 3)]
    times = [sun_times(zone, date) for date in dates]
    for which, sign in ((0, 1.0), (1, -1.0)):
        # Ours are whole minutes, rounded down, of times that are right to about a minute.
        earliest, latest = (
            [pair[which].astimezone(dt.UTC) + dt.timedelta(seconds=seconds) for pair in times]
            for seconds in (-65, 125)
        )
        before, after = (
            pvlib.solarposition.spa_python(pandas.DatetimeIndex(moments), *PLACES[zone])["elevation"]
            for moments in (earliest, latest)
        )
        assert (sign * before < sign * HORIZON_DEG).all()
        assert (sign * after > sign * HORIZON_DEG).all()


def test_without_a_sunrise_six_o_clock_stands_in_with_a_note():
    tromso = {"timezone": "Europe/Oslo", "latitude": 69.65, "longitude": 18.96}
    for date in (dt.date(2026, 6, 21), dt.date(2026, 12, 21)):
        night = hours(date=date, **tromso)
        assert night.ends.time() == dt.time(6)
        assert codes(night) == ["no-sun-time"]
    assert "06:00" in hours(date=dt.date(2026, 6, 21), **tromso).notes[0].text


def test_without_a_sunset_ten_in_the_evening_stands_in():
    night = hours(
        ("sunset", "03:00"),
        date=dt.date(2026, 6, 21),
        timezone="Europe/Oslo",
        latitude=69.65,
        longitude=18.96,
    )
    assert told(night.spans[0]) == ("2026-06-20T22:00+02:00", "2026-06-21T03:00+02:00")


def test_a_sun_time_of_no_use_is_not_noted():
    # On the last day of Tromsø's midnight sun there is no sunrise, but there is one the day after.
    years = (dt.date(2026, 1, 1) + number * ONE_DAY for number in range(365))
    nights = [hours(date=date, timezone="Europe/Oslo", latitude=69.65, longitude=18.96) for date in years]
    assert all((night.ends.time() == dt.time(6)) == (codes(night) == ["no-sun-time"]) for night in nights)


def test_hours_that_end_by_the_sun_before_they_begin_are_closed_with_a_note():
    summer = hours(("06:30", "sunrise"))
    assert (summer.spans, codes(summer)) == ((), ["hours-closed"])
    assert "06:30 to sunrise" in summer.notes[0].text
    assert len(hours(("06:30", "sunrise"), date=dt.date(2026, 12, 15)).spans) == 1


def test_closed_hours_still_have_a_time_at_which_their_plan_is_made():
    closed = hours(("06:30", "sunrise"))
    assert closed.opens == dt.datetime(2026, 7, 14, 22, tzinfo=PARIS)
    assert closed.ends == dt.datetime(2026, 7, 15, 6, tzinfo=PARIS)


def test_a_closed_first_span_leaves_the_second_where_it_is():
    both = hours(("06:30", "sunrise"), ("20:00", "21:00"))
    assert [told(span) for span in both.spans] == [("2026-07-15T20:00+02:00", "2026-07-15T21:00+02:00")]


def test_from_sunset_to_sunrise_is_a_night_however_long():
    (span,) = hours(("sunset", "sunrise"), date=dt.date(2026, 12, 21), **at("Atlantic/Reykjavik")).spans
    assert elapsed(span) > dt.timedelta(hours=19)


@pytest.mark.parametrize("zone", ["Europe/Helsinki", "Pacific/Kiritimati", "America/New_York"])
@pytest.mark.parametrize(
    "spans", [(("22:00", "sunrise"),), (("sunset", "23:59"),), (("sunrise", "09:00"), ("12:00", "13:00"))]
)
def test_no_moment_of_a_year_belongs_to_two_plans(zone: str, spans: tuple[tuple[str, str], ...]):
    described = watered(*spans, **at(zone))
    ended = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
    for number in range(365):
        for span in hours_of(described, dt.date(2026, 1, 1) + number * ONE_DAY).spans:
            assert ended <= span.opens < span.closes
            ended = span.closes


# Forbidden hours, and warm ones


def banned(night: Hours, zone: str | None = None) -> list[tuple[str, str]]:
    return [told(span) for span in (night.bans.common if zone is None else night.bans.of(zone))]


def test_forbidden_hours_are_those_of_the_clock_that_touch_the_night():
    night = hours(("22:00", "06:00"), date=JULY_15)
    assert night.bans.common == ()
    described = garden(
        rules={
            "watering_hours": [{"from": "22:00", "to": "06:00"}],
            "forbidden_hours": [{"from": "05:00", "to": "20:00"}, {"from": "23:00", "to": "00:30"}],
        }
    )
    assert banned(hours_of(described, JULY_15)) == [
        ("2026-07-15T05:00+02:00", "2026-07-15T20:00+02:00"),
        ("2026-07-14T23:00+02:00", "2026-07-15T00:30+02:00"),
    ]


def test_a_ban_that_began_before_the_hours_still_holds_in_them():
    described = garden(
        rules={
            "watering_hours": [{"from": "06:00", "to": "09:00"}, {"from": "18:00", "to": "21:00"}],
            "forbidden_hours": [{"from": "20:00", "to": "07:00"}],
        }
    )
    assert banned(hours_of(described, JULY_15)) == [
        ("2026-07-14T20:00+02:00", "2026-07-15T07:00+02:00"),
        ("2026-07-15T20:00+02:00", "2026-07-16T07:00+02:00"),
    ]


def test_a_ban_may_go_by_the_sun():
    described = garden(rules={"forbidden_hours": [{"from": "10:00", "to": "sunset"}]})
    night = hours_of(described, JULY_15)
    assert banned(night) == []
    described = garden(
        rules={
            "watering_hours": [{"from": "19:00", "to": "sunrise"}],
            "forbidden_hours": [{"from": "10:00", "to": "sunset"}],
        }
    )
    ((opens, closes),) = banned(hours_of(described, JULY_15))
    assert opens == "2026-07-14T10:00+02:00"
    assert "2026-07-14T21:20+02:00" < closes < "2026-07-14T21:40+02:00"


def test_a_zone_has_forbidden_hours_of_its_own():
    rules = {"forbidden_hours": [{"from": "04:00", "to": "05:00"}]}
    zones = {"lawn": lawn(), "bed": lawn(rules={"forbidden_hours": []})}
    night = hours_of(garden(rules=rules, zones=zones), JULY_15)
    assert banned(night, "lawn") == [("2026-07-15T04:00+02:00", "2026-07-15T05:00+02:00")]
    assert banned(night, "bed") == []


def test_a_ban_keeps_its_clock_times_through_a_clock_change():
    described = garden(rules={"forbidden_hours": [{"from": "01:30", "to": "03:30"}]})
    ((opens, closes),) = hours_of(described, AUTUMN).bans.common
    assert elapsed((opens, closes)) == dt.timedelta(hours=3)
    ((opens, closes),) = hours_of(described, SPRING).bans.common
    assert elapsed((opens, closes)) == dt.timedelta(hours=1)


def test_warm_hours_are_looked_for_until_the_garden_day_ends_where_a_zone_wants_them():
    assert hours().warm is None
    warm = hours_of(garden(rules={"frost_warm_hours": True}), JULY_15).warm
    assert warm is not None
    assert told(warm) == ("2026-07-14T22:00+02:00", "2026-07-15T15:00+02:00")
    of_a_zone = garden(zones={"lawn": lawn(rules={"frost_warm_hours": True})})
    night = hours_of(of_a_zone, JULY_15)
    assert night.warm == warm
    assert night.ends == hours().ends
    noon = dt.datetime(2026, 7, 15, 12, tzinfo=PARIS)
    left = night.warm_left_at(noon)
    assert left is not None
    assert left.opens == noon
    assert night.warm_left_at(noon.replace(hour=15)) is None
