"""Which readings count for a morning, and what one value is made of them."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from api.reports.soil_moisture import mornings_of, night_of
from api.schemas.moisture import KeptReading, Reading
from api.watering_hours import hours_of, sunrise_on
from scheduling.garden.reports import MorningReading
from tests.api.stored_garden import garden

JULY_14, JULY_15 = dt.date(2026, 7, 14), dt.date(2026, 7, 15)
MONTPELLIER = (43.61, 3.88, "Europe/Paris")


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def reading(minute: int, body, *, zone: str = "lawn", night: dt.date | None = JULY_15) -> KeptReading:
    moment = at("2026-07-15T02:00:00+00:00") + dt.timedelta(minutes=minute)
    return KeptReading(zone, f"r{minute}", night, Reading(moment, **body))


def test_the_sun_rises_when_watering_hours_end_with_it():
    for date in (dt.date(2026, 1, 10), dt.date(2026, 3, 29), JULY_15, dt.date(2026, 10, 25)):
        sunrise = sunrise_on(date, 43.61, 3.88, ZoneInfo("Europe/Paris"))
        assert sunrise == hours_of(garden(), date).ends
        assert sunrise.date() == date


@pytest.mark.parametrize(
    ("moment", "night"),
    [
        ("2026-07-15T06:10:00+02:00", JULY_15),
        ("2026-07-15T02:25:00+02:00", JULY_15),
        ("2026-07-15T00:25:00Z", JULY_15),
        ("2026-07-15T02:00:00+02:00", None),
        ("2026-07-15T06:30:00+02:00", None),
        ("2026-07-15T14:00:00+02:00", None),
    ],
)
def test_the_four_hours_before_sunrise_count_for_the_morning(moment, night):
    assert night_of(at(moment), *MONTPELLIER) == night


def test_a_night_may_begin_the_day_before():
    # In Trondheim the sun rises before 04:00 in July, so its morning's hours begin before midnight.
    assert night_of(at("2026-07-14T23:50:00+02:00"), 63.43, 10.39, "Europe/Oslo") == JULY_15


def test_where_the_sun_does_not_rise_six_o_clock_stands_in():
    tromso = (69.65, 18.96, "Europe/Oslo")
    assert night_of(at("2026-12-15T05:00:00+01:00"), *tromso) == dt.date(2026, 12, 15)
    assert night_of(at("2026-12-15T07:00:00+01:00"), *tromso) is None


def test_a_night_in_which_the_clock_changes_has_its_hours():
    # In Paris, clocks went from 02:00 to 03:00 that night: 4 hours of elapsed time are 5 of the clock.
    sunrise = sunrise_on(dt.date(2026, 3, 29), 43.61, 3.88, ZoneInfo("Europe/Paris"))
    first = sunrise.astimezone(dt.UTC) - dt.timedelta(hours=4)
    assert night_of(first, *MONTPELLIER) == dt.date(2026, 3, 29)
    assert night_of(first - dt.timedelta(minutes=1), *MONTPELLIER) is None


def test_a_morning_is_the_median_of_its_night_whatever_the_order():
    night = [reading(minute, {"store_share": share}) for minute, share in ((0, 0.9), (30, 0.5), (60, 0.52))]
    (morning,) = mornings_of(night)
    assert [morning] == mornings_of(reversed(night))
    assert morning.reading == MorningReading("lawn", "probe", JULY_15, store_share=0.52)


def test_each_zone_probe_and_date_has_its_own_value():
    readings = [
        reading(0, {"store_share": 0.5}),
        reading(1, {"store_share": 0.6, "probe": "deep"}),
        reading(2, {"store_share": 0.7}, zone="beds"),
        reading(3, {"store_share": 0.8}, night=JULY_14),
        reading(4, {"store_share": 0.9}, night=None),
    ]
    assert [
        (one.reading.date, one.reading.zone, one.reading.probe, one.reading.store_share)
        for one in mornings_of(readings)
    ] == [
        (JULY_14, "lawn", "probe", 0.8),
        (JULY_15, "beds", "probe", 0.7),
        (JULY_15, "lawn", "deep", 0.6),
        (JULY_15, "lawn", "probe", 0.5),
    ]


def test_kind_depth_and_error_are_those_of_the_last_reading():
    night = [
        reading(0, {"store_share": 0.9}),
        reading(10, {"water_content": 0.20}),
        reading(20, {"water_content": 0.24, "depth_m": 0.1, "error_share": 0.03}),
    ]
    (morning,) = [one.reading for one in mornings_of(night)]
    assert morning.water_content == pytest.approx(0.22)
    assert (morning.store_share, morning.depth_m, morning.error_share) == (None, 0.1, 0.03)
