"""The first days of a garden whose only source knows nothing of what has been."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from api.reports.records import ReportName
from api.store.weather import WeatherRows
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place, place_of
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.series.local_days import local_days
from tests.api.stored_garden import Clock, House, Steady, document, garden


@pytest.fixture
def source(clock: Clock) -> Steady:
    """Tells of hours from the present one on, 0.2 mm of rain in each."""
    source = Steady(clock, lambda start: {"rain_mm": 0.2})
    source.knows_past = False
    return source


PLACES = {
    "Europe/Paris": (43.61, 3.88),
    "Asia/Kolkata": (22.57, 88.36),
    "America/St_Johns": (47.56, -52.71),
    "Pacific/Chatham": (-43.95, -176.55),
}
STORED_AT = ["14:50", "15:10", "20:50", "21:50", "22:10", "23:55", "00:05", "02:40", "05:55", "08:00"]


@pytest.mark.parametrize(("stored_at", "zone"), list(zip(STORED_AT[::3], PLACES, strict=True)))
def test_a_new_garden_has_a_plan_from_its_first_minute_on(house, clock, zone, stored_at):
    plans_every_hour(house, zone, stored_at, hours=30)


@pytest.mark.long
@pytest.mark.parametrize("zone", list(PLACES))
@pytest.mark.parametrize("stored_at", STORED_AT)
def test_the_same_holds_for_two_days_at_each_place_and_hour(house, clock, zone, stored_at):
    plans_every_hour(house, zone, stored_at, hours=48)


def plans_every_hour(house: House, zone: str, stored_at: str, hours: int) -> None:
    """Store a garden, and read its next plan hour by hour."""
    latitude, longitude = PLACES[zone]
    first = dt.datetime.combine(dt.date(2026, 7, 14), dt.time.fromisoformat(stored_at), ZoneInfo(zone))
    house.clock.now = first.astimezone(dt.UTC)
    house.put(document(timezone=zone, latitude=latitude, longitude=longitude))
    for _ in range(hours + 1):
        plan = house.plan()
        assert plan["weather"]["t_max_c"] >= plan["weather"]["t_min_c"]
        house.settle()
        house.clock.now += HOUR


def test_hours_that_had_passed_are_marked_as_assumed(house, clock):
    clock.to(2, 40)
    house.put(document())
    plan = house.plan()
    assert (plan["date"], plan["phase"], plan["history"]) == ("2026-07-14", "final", "assumed")
    (note,) = (note for note in plan["notes"] if note["code"] == "hours-assumed")
    assert "The first 2 hours of Tuesday had passed when the weather was first asked for" in note["text"]
    days = house.life.weather("orchard", None, None)["days"]
    assert [(day["date"], day["hours_assumed"]) for day in days[:2]] == [("2026-07-14", 2), ("2026-07-15", 0)]
    # Of the hours that were told, and no others.
    assert [day["rain_mm"] for day in days[:2]] == pytest.approx([22 * 0.2, 24 * 0.2])


def test_what_flowed_in_the_first_night_still_counts_on_the_next_day(house, clock):
    clock.to(2, 40)
    house.put(document())
    dry = house.plan()["zones"][0]["soil_water"]["depletion_mm"]
    house.report("by-hand", "done", 200.0)
    clock.to(16)
    plan = house.plan()
    assert plan["date"] == "2026-07-15"
    assert "weather-gap" not in {note["code"] for note in plan["notes"]}
    without = house.plan()["zones"][0]["soil_water"]["depletion_mm"]
    house.reports.delete("orchard", ReportName("lawn", "by-hand"))
    assert house.plan()["zones"][0]["soil_water"]["depletion_mm"] == pytest.approx(without + 4.0, abs=0.11)
    assert dry > 0.0


def test_nothing_is_assumed_for_a_day_that_is_mostly_over(house, clock):
    clock.to(13, 30)
    house.put(document())
    days = house.life.weather("orchard", None, None)["days"]
    assert days[0]["date"] == "2026-07-14"
    assert (days[0]["t_min_c"], days[0]["hours_assumed"]) == (None, 0)


def test_a_source_that_knows_the_hours_takes_the_place_of_what_was_assumed(tmp_path, clock, source):
    class Knowing(Steady):
        name = "open-meteo"

        def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
            return replace(super().hours(place, past_days=past_days), source="open-meteo")

    clock.to(2, 40)
    house = House(f"sqlite:///{tmp_path}/rootledger.db", clock)
    sources = {"demo": source, "open-meteo": Knowing(clock)}
    forecasts = Forecasts(sources, WeatherRows(house.store), clock)
    place = place_of(garden(weather_sources=["demo", "open-meteo"]))
    days = {day.date: day for day in forecasts.at(place, past_days=1).days}
    today = days[dt.date(2026, 7, 14)]
    assert (today.source, today.hours_assumed) == ("open-meteo", 0)
    assert days[dt.date(2026, 7, 15)].source == "demo"
    forecasts.close()
    house.close()


def test_rain_of_hours_without_temperature_counts():
    first = dt.datetime(2026, 7, 13, 22, tzinfo=dt.UTC)
    hours = tuple(
        Hour(first + number * HOUR, 15.0 + number if number >= 5 else None, rain_mm=1.0, rain_probability=0.4)
        for number in range(60)
    )
    answer = HourlyWeather("test", Attribution("test"), first, None, 2.0, hours, knows_past=False)
    yesterday, today, tomorrow, *_ = local_days(answer, ZoneInfo("UTC"))
    assert (yesterday.hours_assumed, yesterday.t_min_c) == (0, None)
    assert (today.hours_assumed, today.rain_mm, today.t_min_c) == (3, 24.0, 20.0)
    assert tomorrow.hours_assumed == 0


def test_an_hour_that_midnight_cuts_belongs_to_the_new_day():
    first = dt.datetime(2026, 7, 14, 19, tzinfo=dt.UTC)  # 00:30 on the 15th
    hours = tuple(Hour(first + number * HOUR, 20.0, rain_mm=1.0) for number in range(60))
    answer = HourlyWeather("test", Attribution("test"), first, None, 2.0, hours, knows_past=False)
    days = local_days(answer, ZoneInfo("Asia/Kolkata"))
    assert [(day.date.day, day.hours_assumed) for day in days[:2]] == [(15, 1), (16, 0)]
    assert days[0].rain_mm == 23.5


def test_an_hour_that_is_made_up_has_no_rain_and_no_chance_of_it():
    first = dt.datetime(2026, 7, 14, 3, tzinfo=dt.UTC)
    hours = tuple(
        Hour(first + number * HOUR, float(number), rain_mm=1.0, rain_probability=0.4) for number in range(60)
    )
    answer = HourlyWeather("test", Attribution("test"), first, None, 2.0, hours, knows_past=False)
    today, tomorrow, *_ = local_days(answer, ZoneInfo("UTC"))
    assert (today.hours_assumed, today.rain_mm, today.rain_probability) == (3, 21.0, 0.4)
    # The coldest hour told of today is its first, 0 °C at 3; those before it are tomorrow's, 21 to 23 °C.
    assert (today.t_min_c, today.t_max_c) == (0.0, 23.0)
    assert tomorrow.hours_assumed == 0
    knowing = replace(answer, knows_past=True)
    assert local_days(knowing, ZoneInfo("UTC"))[0].t_min_c is None
