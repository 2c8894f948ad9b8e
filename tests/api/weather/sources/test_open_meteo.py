"""Reading Open-Meteo's answers: units, stamps, gaps, and what cannot be weather."""

import datetime as dt
import json
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import BadAnswer
from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources.open_meteo import read
from tests.api.weather.weather_service import MONTPELLIER, NOON, open_meteo_at, open_meteo_body

FIRST = dt.date(2026, 7, 14)
MIDNIGHT = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)


def hours_of(body):
    return {hour.start: hour for hour in read(body, retrieved_at=NOON).hours}


def test_readings_are_of_the_stamp_and_sums_of_the_hour_before_it():
    rain = [0.0] * 24
    rain[6] = 3.0
    body = open_meteo_body(
        FIRST, 1, temperature_2m=[float(number) for number in range(24)], precipitation=rain
    )
    hours = hours_of(body)

    assert hours[MIDNIGHT + 6 * HOUR].temperature_c == 6.0
    assert hours[MIDNIGHT + 5 * HOUR].rain_mm == 3.0
    assert hours[MIDNIGHT + 6 * HOUR].rain_mm == 0.0


def test_the_hours_at_both_ends_know_only_what_the_answer_tells_of_them():
    hours = hours_of(open_meteo_body(FIRST, 1))

    assert len(hours) == 25
    assert hours[MIDNIGHT - HOUR].temperature_c is None
    assert hours[MIDNIGHT - HOUR].rain_mm == 0.1
    assert hours[MIDNIGHT + 23 * HOUR].temperature_c == 26.5
    assert hours[MIDNIGHT + 23 * HOUR].rain_mm is None


# Factors: NIST SP 811, appendix B.8; degrees Fahrenheit by definition.
@pytest.mark.parametrize(
    ("name", "unit", "value", "quantity", "expected"),
    [
        ("temperature_2m", "°C", 21.5, "temperature_c", 21.5),
        ("temperature_2m", "°F", 50.0, "temperature_c", 10.0),
        ("dew_point_2m", "°F", 14.0, "dew_point_c", -10.0),
        ("relative_humidity_2m", "%", 55, "humidity_pct", 55.0),
        ("relative_humidity_2m", "%", 101, "humidity_pct", 100.0),
        ("wind_speed_10m", "m/s", 3.0, "wind_m_s", 3.0),
        ("wind_speed_10m", "km/h", 36.0, "wind_m_s", 10.0),
        ("wind_speed_10m", "mp/h", 10.0, "wind_m_s", 4.4704),
        ("wind_speed_10m", "kn", 10.0, "wind_m_s", 5.144444),
        ("cloud_cover", "%", 40, "cloud_share", 0.4),
        ("shortwave_radiation", "W/m²", 500.0, "solar_mj_m2", 1.8),
        ("precipitation", "mm", 2.0, "rain_mm", 2.0),
        ("precipitation", "inch", 0.5, "rain_mm", 12.7),
        ("precipitation_probability", "%", 35, "rain_probability", 0.35),
    ],
)
def test_units_are_read_from_the_answer(name, unit, value, quantity, expected):
    body = open_meteo_body(FIRST, 1, **{name: [value] * 24})
    body["hourly_units"][name] = unit

    assert getattr(hours_of(body)[MIDNIGHT + 5 * HOUR], quantity) == pytest.approx(expected, abs=5e-7)


def test_an_unknown_unit_is_refused():
    body = open_meteo_body(FIRST, 1)
    body["hourly_units"]["temperature_2m"] = "K"

    with pytest.raises(BadAnswer, match=r"unit of 'temperature_2m' is 'K'"):
        read(body, retrieved_at=NOON)


def in_local_time(body, offset_s):
    """The same answer with stamps as text, labelled with an offset like the service does."""
    stamps = body["hourly"]["time"]
    labels = [
        dt.datetime.fromtimestamp(stamp + int(offset_s / 3600) * 3600, dt.UTC).strftime("%Y-%m-%dT%H:%M")
        for stamp in stamps
    ]
    body["hourly"]["time"] = labels
    body["hourly_units"]["time"] = "iso8601"
    body["utc_offset_seconds"] = offset_s
    return body


# In half-hour zones the service looks up whole hours and labels them with the whole offset.
@pytest.mark.parametrize("offset_s", [0, -18000, 7200, 19800, -12600, 45900])
def test_local_stamps_are_taken_back_to_utc(offset_s):
    expected = read(open_meteo_body(FIRST, 1), retrieved_at=NOON)

    assert read(in_local_time(open_meteo_body(FIRST, 1), offset_s), retrieved_at=NOON) == expected


def test_the_offset_stays_that_of_the_answer_across_a_clock_change():
    # New York, 8 March 2026: the answer goes on in winter time; the day has 23 hours all the same.
    body = in_local_time(open_meteo_body(dt.date(2026, 3, 7), 3, precipitation=[1.0] * 72), -18000)
    days = local_days(read(body, retrieved_at=NOON), ZoneInfo("America/New_York"))

    assert next(day for day in days if day.date == dt.date(2026, 3, 8)).rain_mm == pytest.approx(23)


def test_nulls_stay_unknown():
    temperatures = [20.0] * 10 + [None] + [20.0] * 13
    hours = hours_of(open_meteo_body(FIRST, 1, temperature_2m=temperatures, shortwave_radiation=[None] * 24))

    assert hours[MIDNIGHT + 10 * HOUR].temperature_c is None
    assert hours[MIDNIGHT + 10 * HOUR].humidity_pct == 60.0
    assert all(hour.solar_mj_m2 is None for hour in hours.values())


def test_a_variable_that_the_model_lacks_stays_unknown():
    body = open_meteo_body(FIRST, 1, dew_point_2m=[None] * 24)
    body["hourly_units"]["dew_point_2m"] = "undefined"

    assert all(hour.dew_point_c is None for hour in hours_of(body).values())


def test_an_answer_to_another_question_reads_as_far_as_it_goes():
    body = open_meteo_body(
        FIRST,
        1,
        dew_point_2m=None,
        relative_humidity_2m=None,
        shortwave_radiation=None,
        cloud_cover=None,
        precipitation_probability=None,
    )
    body["hourly"]["weather_code"] = [3] * 24
    body["hourly_units"]["weather_code"] = "wmo code"
    body["daily"] = {"time": ["2026-07-14"], "temperature_2m_max": [99]}
    hour = hours_of(body)[MIDNIGHT + 5 * HOUR]

    assert (hour.temperature_c, hour.rain_mm, hour.solar_mj_m2) == (17.5, 0.1, None)


def test_older_spellings_are_read():
    body = open_meteo_body(FIRST, 1)
    for part in (body["hourly"], body["hourly_units"]):
        part["windspeed_10m"] = part.pop("wind_speed_10m")
        part["relativehumidity_2m"] = part.pop("relative_humidity_2m")

    hour = hours_of(body)[MIDNIGHT]
    assert (hour.wind_m_s, hour.humidity_pct) == (2.0, 60.0)


def test_of_several_locations_the_first_is_read():
    first, second = open_meteo_body(FIRST, 1), open_meteo_body(FIRST, 1, temperature_2m=[-5.0] * 24)

    assert hours_of([first, {**second, "location_id": 1}]) == hours_of(first)


def test_an_elevation_that_is_left_out_is_unknown():
    body = open_meteo_body(FIRST, 1)
    assert read(body, retrieved_at=NOON).elevation_m == 48.0

    del body["elevation"]
    assert read(body, retrieved_at=NOON).elevation_m is None


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("temperature_2m", 80.0),
        ("temperature_2m", -120.0),
        ("temperature_2m", "21.0"),
        ("temperature_2m", True),
        ("temperature_2m", 10**400),
        ("temperature_2m", [20]),
        ("relative_humidity_2m", 140),
        ("relative_humidity_2m", -1),
        ("wind_speed_10m", -1.0),
        ("wind_speed_10m", 250.0),
        ("shortwave_radiation", 2500.0),
        ("shortwave_radiation", -300.0),
        ("precipitation", -0.1),
        ("precipitation", 900.0),
        ("precipitation", float("nan")),
        ("precipitation", float("inf")),
        ("precipitation_probability", 130),
        ("cloud_cover", 101),
    ],
)
def test_a_value_that_no_atmosphere_has_refuses_the_answer(name, value):
    series = [1] * 24
    series[7] = value

    with pytest.raises(BadAnswer, match=name):
        read(open_meteo_body(FIRST, 1, **{name: series}), retrieved_at=NOON)


def spoiled(spoil):
    body = open_meteo_body(FIRST, 1)
    spoil(body)
    return body


def test_a_missing_hour_leaves_its_day_incomplete():
    body = open_meteo_body(dt.date(2026, 7, 13), 4)
    for series in body["hourly"].values():
        del series[30]
    days = local_days(read(body, retrieved_at=NOON), ZoneInfo("UTC"))

    by_day = {day.date.day: day for day in days}
    assert by_day[14].t_max_c is None
    assert by_day[14].rain_mm is None
    assert by_day[15].rain_mm == pytest.approx(2.4)


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(None, id="null"),
        pytest.param([], id="no location"),
        pytest.param("hourly", id="a text"),
        pytest.param({}, id="empty"),
        pytest.param({"hourly": [], "hourly_units": {}}, id="hourly a list"),
        pytest.param(spoiled(lambda body: body.pop("hourly_units")), id="no units"),
        pytest.param(spoiled(lambda body: body["hourly"].pop("time")), id="no times"),
        pytest.param(spoiled(lambda body: body["hourly"]["precipitation"].pop()), id="a value too few"),
        pytest.param(
            spoiled(lambda body: body["hourly"]["precipitation"].append(0.0)), id="a value too many"
        ),
        pytest.param(spoiled(lambda body: body["hourly"].update(precipitation=7)), id="no list"),
        pytest.param(
            spoiled(lambda body: body["hourly"]["time"].__setitem__(9, body["hourly"]["time"][8])),
            id="an hour twice",
        ),
        pytest.param(spoiled(lambda body: body["hourly"]["time"].reverse()), id="backwards"),
        pytest.param(
            spoiled(lambda body: body["hourly"]["time"].__setitem__(9, body["hourly"]["time"][9] + 60)),
            id="off the hour",
        ),
        pytest.param(spoiled(lambda body: body["hourly"]["time"].__setitem__(9, "noon")), id="no stamp"),
        pytest.param(spoiled(lambda body: body["hourly"]["time"].__setitem__(23, 10**18)), id="far future"),
        pytest.param(spoiled(lambda body: body.update(utc_offset_seconds="0")), id="offset a text"),
        pytest.param(spoiled(lambda body: body.update(elevation=99999)), id="above all mountains"),
        pytest.param(
            {
                "hourly": {"time": [0], "precipitation": [None]},
                "hourly_units": {"time": "unixtime", "precipitation": "mm"},
            },
            id="nothing but nulls",
        ),
    ],
)
def test_what_is_no_answer_is_refused_with_a_sentence(body):
    with pytest.raises(BadAnswer, match=r"^open-meteo: .+\.$"):
        read(body, retrieved_at=NOON)


def test_one_question_asks_for_everything_in_hours_of_utc(service):
    session, source = open_meteo_at(service)
    weather = source.hours(MONTPELLIER, past_days=60)
    session.close()

    assert service.questions == [
        {
            "latitude": "43.61",
            "longitude": "3.88",
            "hourly": "temperature_2m,dew_point_2m,relative_humidity_2m,wind_speed_10m,cloud_cover,"
            "shortwave_radiation,precipitation,et0_fao_evapotranspiration,precipitation_probability",
            "timezone": "GMT",
            "timeformat": "unixtime",
            "wind_speed_unit": "ms",
            "past_days": "61",
            "forecast_days": "10",
        }
    ]
    assert service.headers[0]["User-Agent"] == "rootledger/0 (tests)"
    assert weather.retrieved_at == NOON
    assert "Open-Meteo" in weather.attribution.text
    assert weather.attribution.licence_url == "https://creativecommons.org/licenses/by/4.0/"


def test_no_more_past_days_are_asked_for_than_the_service_has(service):
    session, source = open_meteo_at(service)
    source.hours(MONTPELLIER, past_days=400)
    session.close()

    assert service.questions[0]["past_days"] == "92"


# Both ends of the world, at both ends of a day of UTC.
@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Etc/GMT+12", "Europe/Paris", "Asia/Kathmandu"])
@pytest.mark.parametrize("hour", [0, 9, 13, 23])
def test_all_wanted_past_days_and_eight_days_ahead_are_complete_anywhere(service, clock, zone, hour):
    clock.now = dt.datetime(2026, 7, 14, hour, 30, tzinfo=dt.UTC)
    session, source = open_meteo_at(service)
    weather = source.hours(MONTPELLIER, past_days=3)
    session.close()

    today = clock().astimezone(ZoneInfo(zone)).date()
    complete = {day.date for day in local_days(weather, ZoneInfo(zone)) if day.rain_mm is not None}
    assert {today + dt.timedelta(days=offset) for offset in range(-3, 9)} <= complete


@pytest.mark.parametrize("path", ["", "/", "/v1/forecast"])
def test_the_base_url_may_be_written_in_several_ways(service, path):
    service.url += path
    session, source = open_meteo_at(service, key="a-key")
    source.hours(MONTPELLIER, past_days=0)
    session.close()

    assert service.questions[0]["apikey"] == "a-key"


def test_a_key_is_not_told_to_the_free_host(clock):
    from api.weather.sources.open_meteo import OpenMeteo
    from api.weather.sources.session import WeatherSession

    session = WeatherSession(cache=None, user_agent="rootledger/0")
    OpenMeteo(session, base_url="https://api.open-meteo.com", key="a-key", clock=clock)
    session.close()

    assert set(session.adapters) == {
        "https://customer-api.open-meteo.com/",
        "https://customer-api.open-meteo.com/v1/forecast",
        "https://customer-archive-api.open-meteo.com/v1/archive",
    }


def test_a_body_of_one_place_is_small(service):
    assert len(json.dumps(open_meteo_body(FIRST, 102))) < 200_000
