"""Reading Bright Sky: observations and forecasts in one list, and nulls everywhere."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import BadAnswer, Refused
from api.weather.place import Place
from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources.dwd import Dwd, read
from api.weather.sources.session import WeatherSession
from scheduling.balance.weather import Origin
from tests.api.weather.answers import dwd_body, dwd_record
from tests.api.weather.weather_service import NOON, PATIENT, send

FIRST = dt.datetime(2026, 7, 13, tzinfo=dt.UTC)
HERE = Place(43.61, 3.88, "Europe/Berlin", ("dwd",))


def hours_of(body):
    return {hour.start: hour for hour in read(body, retrieved_at=NOON).hours}


def days_of(body, zone="UTC"):
    return {day.date.day: day for day in local_days(read(body, retrieved_at=NOON), ZoneInfo(zone))}


def test_readings_are_of_the_time_and_sums_of_the_hour_before_it():
    records = [
        dwd_record(FIRST + number * HOUR, temperature=float(number), precipitation=0.0)
        for number in range(24)
    ]
    records[6].update(precipitation=3.0, solar=0.5, sunshine=60.0, wind_speed=36.0)
    hours = hours_of(dwd_body(FIRST, 0, records))

    assert hours[FIRST + 6 * HOUR].temperature_c == 6.0
    before = hours[FIRST + 5 * HOUR]
    assert (before.rain_mm, before.sunshine_h) == (3.0, 1.0)
    assert before.solar_mj_m2 == pytest.approx(1.8)  # 3.6 MJ a kilowatt hour
    assert before.wind_m_s == pytest.approx(10.0)
    assert hours[FIRST + 6 * HOUR].rain_mm == 0.0


def test_a_day_is_summed_from_its_hours():
    day = days_of(dwd_body(FIRST, 72))[14]

    assert (day.t_max_c, day.t_dew_c, day.cloud_share) == (20.0, pytest.approx(10.0, abs=0.05), 0.25)
    assert day.rain_mm == pytest.approx(2.4)
    assert day.solar_mj_m2 == pytest.approx(24 * 0.2 * 3.6)
    assert day.sunshine_h == pytest.approx(12.0)
    assert day.wind_m_s == pytest.approx(2.0)
    assert (day.rh_mean_pct, day.rain_probability) == (None, 0.3)


def test_observations_and_forecasts_are_one_series():
    records = [
        dwd_record(FIRST + number * HOUR, source_id=1, relative_humidity=60, precipitation_probability=None)
        if number < 36
        else dwd_record(FIRST + number * HOUR)
        for number in range(97)
    ]
    days = days_of(dwd_body(FIRST, 0, records))

    assert (days[13].origin, days[13].rh_mean_pct, days[13].rain_probability) == (Origin.ANALYSED, 60.0, None)
    assert (days[14].origin, days[14].rh_mean_pct, days[14].rain_probability) == (Origin.FORECAST, None, 0.3)
    assert days[14].rain_fallen_mm == pytest.approx(1.2)


@pytest.mark.parametrize(
    ("name", "quantity"),
    [
        ("temperature", "t_max_c"),
        ("dew_point", "t_dew_c"),
        ("wind_speed", "wind_m_s"),
        ("precipitation", "rain_mm"),
        ("solar", "solar_mj_m2"),
        ("sunshine", "sunshine_h"),
        ("cloud_cover", "cloud_share"),
        ("precipitation_probability", "rain_probability"),
    ],
)
def test_a_null_makes_its_quantity_unknown_and_no_other(name, quantity):
    records = [dwd_record(FIRST + number * HOUR) for number in range(73)]
    whole = days_of(dwd_body(FIRST, 0, [dict(record) for record in records]))[14]
    records[45][name] = None
    day = days_of(dwd_body(FIRST, 0, records))[14]

    assert getattr(day, quantity) is None
    others = {"t_max_c", "t_dew_c", "wind_m_s", "rain_mm", "solar_mj_m2", "sunshine_h", "cloud_share"} - {
        quantity
    }
    assert all(getattr(day, other) == getattr(whole, other) is not None for other in others)


def test_a_member_that_is_left_out_is_unknown():
    record = dwd_record(FIRST)
    for name in ("solar", "sunshine", "condition", "icon", "precipitation_probability_6h"):
        del record[name]

    assert hours_of(dwd_body(FIRST, 0, [record]))[FIRST].temperature_c == 20.0


def test_a_chance_of_six_hours_counts_where_there_is_none_for_the_hour():
    records = [
        dwd_record(
            FIRST + number * HOUR,
            precipitation_probability=80 if number == 40 else None,
            precipitation_probability_6h=None if number % 6 else 45,
        )
        for number in range(73)
    ]
    hours = hours_of(dwd_body(FIRST, 0, records))

    assert hours[FIRST + 36 * HOUR].rain_probability == 0.45
    assert hours[FIRST + 39 * HOUR].rain_probability == 0.8
    assert hours[FIRST + 41 * HOUR].rain_probability == 0.45


# The offsets of Berlin on both days on which its clocks change in 2026, from the tz database.
@pytest.mark.parametrize(("date", "length_h"), [(dt.date(2026, 3, 29), 23), (dt.date(2026, 10, 25), 25)])
def test_times_may_bear_any_offset(date, length_h):
    zone = ZoneInfo("Europe/Berlin")
    start = dt.datetime.combine(date, dt.time(), zone).astimezone(dt.UTC)
    records = [
        dwd_record(start + number * HOUR, timestamp=(start + number * HOUR).astimezone(zone).isoformat())
        for number in range(30)
    ]

    days = local_days(read(dwd_body(start, 0, records), retrieved_at=start), zone)
    day = next(day for day in days if day.date == date)
    assert day.rain_mm == pytest.approx(0.1 * length_h)


def test_the_height_is_that_of_the_station_of_most_records():
    body = dwd_body(FIRST, 48)
    body["sources"].append({**body["sources"][0], "id": 1, "height": 900.0})
    body["weather"][3]["source_id"] = 1

    assert read(body, retrieved_at=NOON).elevation_m == 48.0
    assert read({"weather": body["weather"]}, retrieved_at=NOON).elevation_m is None


def test_kelvin_and_joule_are_refused():
    with pytest.raises(BadAnswer, match="'temperature' at 2026-07-13T00:00:00"):
        read(dwd_body(FIRST, 24, temperature=293.15), retrieved_at=NOON)
    with pytest.raises(BadAnswer, match="solar_mj_m2 is 0 to"):
        read(dwd_body(FIRST, 24, solar=720_000), retrieved_at=NOON)


@pytest.fixture
def dwd(service):
    service.reply = send(dwd_body(FIRST, 240))
    session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=PATIENT)
    yield Dwd(session, base_url=service.url + "/weather", clock=service.clock)
    session.close()


def test_one_question_asks_for_past_and_future_in_utc(service, dwd):
    weather = dwd.hours(HERE, past_days=60)

    assert service.paths == ["/weather"]
    assert service.questions == [
        {
            "lat": "43.61",
            "lon": "3.88",
            "date": "2026-05-14",
            "last_date": "2026-07-24",
            "tz": "Etc/UTC",
            "units": "dwd",
        }
    ]
    assert "Datenbasis: Deutscher Wetterdienst, eigene Bearbeitung" in weather.attribution.text
    assert weather.attribution.licence_url == "https://www.dwd.de/copyright"


def test_no_more_past_is_asked_for_than_one_answer_can_hold(service, dwd):
    dwd.hours(HERE, past_days=5000)

    assert service.questions[0]["date"] == "2025-06-08"


def test_a_place_without_a_station_is_told_so(service, dwd):
    service.reply = send({"detail": "No sources match your criteria"}, 404)

    with pytest.raises(Refused, match=r"no weather station within 50 km.*No sources match") as caught:
        dwd.hours(HERE, past_days=0)
    assert caught.value.pause_s == 3600


def test_a_question_that_is_invalid_is_told_in_the_services_words(service, dwd):
    detail = [
        {"loc": ["query", "lat"], "msg": "Input should be less than or equal to 90", "type": "less_than"}
    ]
    service.reply = send({"detail": detail}, 422)

    with pytest.raises(Refused, match="Input should be less than or equal to 90"):
        dwd.hours(HERE, past_days=0)
