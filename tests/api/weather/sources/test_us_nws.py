"""Reading the National Weather Service: intervals, layers, and the way from a place to its grid."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import BadAnswer, Forbidden, RateLimited, Refused, Unreachable
from api.weather.place import Place
from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources.decode import read_interval
from api.weather.sources.session import WeatherSession
from api.weather.sources.us_nws import UsNws, read
from scheduling.balance.weather import Origin
from tests.api.weather.answers import every, layer, nws_grid, nws_point, nws_problem
from tests.api.weather.weather_service import NOON, PATIENT, expire, send

FIRST = dt.datetime(2026, 7, 14, 6, tzinfo=dt.UTC)
HERE = Place(43.61, -96.62, "America/Chicago", ("us-nws",))
"""The answers' invented place; where it lies matters to nobody here."""


def hours_of(body):
    return {hour.start: hour for hour in read(body, retrieved_at=NOON).hours}


def days_of(body, zone="UTC"):
    return {day.date.day: day for day in local_days(read(body, retrieved_at=NOON), ZoneInfo(zone))}


def utc(*parts):
    return dt.datetime(2026, 7, *parts, tzinfo=dt.UTC)


# ISO 8601 and its forms: a start with a duration is what the service sends; its description allows all three.
@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("2026-07-14T06:00:00+00:00/PT1H", utc(14, 6), utc(14, 7)),
        ("2026-07-14T06:00:00+00:00/PT13H", utc(14, 6), utc(14, 19)),
        ("2026-07-14T06:00:00+00:00/P1DT9H", utc(14, 6), utc(15, 15)),
        ("2026-07-14T06:00:00+00:00/P7DT12H", utc(14, 6), utc(21, 18)),
        ("2026-07-14T06:00:00+00:00/P2D", utc(14, 6), utc(16, 6)),
        ("2026-07-14T06:00:00+00:00/P1W", utc(14, 6), utc(21, 6)),
        ("2026-07-14T06:00:00+00:00/PT90M", utc(14, 6), utc(14, 7, 30)),
        ("2026-07-14T06:00:00+00:00/PT5400S", utc(14, 6), utc(14, 7, 30)),
        ("2026-07-14T01:00:00-05:00/PT6H", utc(14, 6), utc(14, 12)),
        ("2026-07-14T06:00:00Z/2026-07-14T12:00:00Z", utc(14, 6), utc(14, 12)),
        ("PT6H/2026-07-14T12:00:00Z", utc(14, 6), utc(14, 12)),
        ("NOW/PT1H", NOON, NOON + HOUR),
    ],
)
def test_intervals_are_read_as_iso_8601_writes_them(text, start, end):
    assert read_interval("us-nws", text, now=NOON) == (start, end)


@pytest.mark.parametrize(
    "text",
    [
        None, 7, "", "/", "PT1H", "2026-07-14T06:00:00Z", "2026-07-14T06:00:00Z/", "2026-07-14T06:00:00Z/P",
        "2026-07-14T06:00:00Z/PT", "2026-07-14T06:00:00Z/PT0H", "2026-07-14T06:00:00Z/P1M",
        "2026-07-14T06:00:00Z/1H",
        "2026-07-14T06:00:00/PT1H", "2026-07-14T06:00:00Z/-PT1H", "PT1H/PT1H", "2026-07-14T06:00:00Z/P99999D",
        "2026-07-14T12:00:00Z/2026-07-14T06:00:00Z", "9999-12-31T23:00:00Z/P1W",
        "0001-01-01T00:00:00+05:00/PT1H",
        "P1W/0001-01-02T00:00:00Z",
    ],
)  # fmt: skip
def test_what_is_no_interval_is_refused_with_a_sentence(text):
    with pytest.raises(BadAnswer, match=r"^us-nws: .+\.$"):
        read_interval("us-nws", text, now=NOON)


def test_a_value_holds_for_every_hour_of_its_interval():
    grid = nws_grid(
        FIRST,
        temperature=layer(
            "degC", (f"{FIRST.isoformat()}/PT3H", 12.5), (utc(14, 9).isoformat() + "/PT1H", 14)
        ),
    )
    hours = hours_of(grid)

    assert [hours[FIRST + number * HOUR].temperature_c for number in range(5)] == [12.5, 12.5, 12.5, 14, None]


def test_units_become_ours():
    hour = hours_of(nws_grid(FIRST))[FIRST]

    assert (hour.temperature_c, hour.dew_point_c, hour.humidity_pct, hour.cloud_share) == (20, 10, 60, 0.25)
    assert hour.wind_m_s == pytest.approx(2.0)
    assert hour.rain_mm == pytest.approx(0.1)
    assert hour.rain_probability == 0.3
    assert hour.solar_mj_m2 is None


# Factors: NIST SP 811, appendix B.8.
@pytest.mark.parametrize(
    ("name", "uom", "value", "quantity", "expected"),
    [
        ("temperature", "unit:degC", 20, "temperature_c", 20.0),
        ("temperature", "http://codes.wmo.int/common/unit/degC", 20, "temperature_c", 20.0),
        ("temperature", "wmoUnit:degF", 50, "temperature_c", 10.0),
        ("windSpeed", "wmoUnit:m_s-1", 3, "wind_m_s", 3.0),
        ("windSpeed", "wmoUnit:kt", 10, "wind_m_s", 5.144444),
        ("quantitativePrecipitation", "nwsUnit:in", 1, "rain_mm", 25.4 / 6),
    ],
)
def test_every_unit_is_read_from_its_layer(name, uom, value, quantity, expected):
    changed = layer("", (f"{FIRST.isoformat()}/PT6H", value))
    changed["uom"] = uom

    assert getattr(hours_of(nws_grid(FIRST, **{name: changed}))[FIRST], quantity) == pytest.approx(expected)


def test_amounts_are_spread_over_their_interval():
    rain = layer("mm", (f"{FIRST.isoformat()}/PT6H", 3.0), (f"{utc(14, 12).isoformat()}/PT12H", 12.0))
    hours = hours_of(nws_grid(FIRST, quantitativePrecipitation=rain))

    assert hours[FIRST + 5 * HOUR].rain_mm == pytest.approx(0.5)
    assert hours[FIRST + 6 * HOUR].rain_mm == pytest.approx(1.0)
    assert sum(hour.rain_mm for hour in hours.values() if hour.rain_mm is not None) == pytest.approx(15.0)


def test_amounts_that_begin_within_an_hour_are_divided_by_overlap():
    half = FIRST + dt.timedelta(minutes=30)
    rain = layer("mm", (f"{FIRST.isoformat()}/PT30M", 1.0), (f"{half.isoformat()}/PT1H30M", 3.0))
    hours = hours_of(nws_grid(FIRST, quantitativePrecipitation=rain))

    assert hours[FIRST].rain_mm == pytest.approx(1.0 + 1.0)
    assert hours[FIRST + HOUR].rain_mm == pytest.approx(2.0)


def test_an_hour_that_is_covered_in_part_is_unknown():
    rain = layer("mm", (f"{(FIRST + dt.timedelta(minutes=30)).isoformat()}/PT90M", 3.0))
    hours = hours_of(nws_grid(FIRST, quantitativePrecipitation=rain))

    assert hours[FIRST].rain_mm is None
    assert hours[FIRST + HOUR].rain_mm == pytest.approx(2.0)


def test_rain_that_ends_before_temperature_is_unknown_and_not_nothing():
    rain = layer("mm", *every(FIRST, 11, 6, 0.6))  # to 00:00 on the 17th
    days = days_of(nws_grid(FIRST, quantitativePrecipitation=rain))

    assert days[16].rain_mm == pytest.approx(2.4)
    assert (days[17].rain_mm, days[17].t_max_c) == (None, 20.0)


def test_an_amount_over_days_says_nothing_about_one_of_them():
    whole = f"{FIRST.isoformat()}/P3D"
    assert days_of(nws_grid(FIRST, quantitativePrecipitation=layer("mm", (whole, 30.0))))[15].rain_mm is None
    assert days_of(nws_grid(FIRST, quantitativePrecipitation=layer("mm", (whole, 0))))[15].rain_mm == 0.0


@pytest.mark.parametrize(
    "empty",
    [
        pytest.param(None, id="left out"),
        pytest.param({"values": []}, id="no values, no unit"),
        pytest.param({"uom": "wmoUnit:percent", "values": []}, id="no values"),
        pytest.param({"values": [{"validTime": "2026-07-14T06:00:00+00:00/P8D", "value": None}]}, id="null"),
    ],
)
def test_a_layer_without_values_is_unknown(empty):
    assert days_of(nws_grid(FIRST, skyCover=empty))[15].cloud_share is None


def test_an_hour_of_which_two_things_are_told_is_unknown():
    doubled = [*every(FIRST, 48, 1, 20.0), (f"{utc(15, 6).isoformat()}/PT3H", 25.0)]
    hours = hours_of(nws_grid(FIRST, temperature=layer("degC", *doubled)))
    rain = layer("mm", *every(FIRST, 8, 6, 0.6), (f"{utc(15, 6).isoformat()}/PT6H", 5.0))

    assert hours[utc(15, 6)].temperature_c is None
    assert hours[utc(15, 9)].temperature_c == 20.0
    assert hours_of(nws_grid(FIRST, quantitativePrecipitation=rain))[utc(15, 6)].rain_mm is None


def test_the_nights_minimum_and_the_days_maximum_refine_the_readings():
    def temperature(time):
        return 12.0 if 6 <= time.hour < 12 else 28.0

    moments = [FIRST + number * HOUR for number in range(24 * 4)]
    grid = nws_grid(
        FIRST,
        temperature=layer(
            "degC", *((f"{moment.isoformat()}/PT1H", temperature(moment)) for moment in moments)
        ),
        # A night from 19 to 9 h and a day from 7 to 20 h of a clock 5 hours behind UTC.
        minTemperature=layer("degC", (f"{utc(15).isoformat()}/PT14H", 10.5)),
        maxTemperature=layer("degC", (f"{utc(15, 12).isoformat()}/PT13H", 30.5)),
    )
    days = days_of(grid, "America/Chicago")

    assert (days[15].t_min_c, days[15].t_max_c) == (10.5, 30.5)
    assert (days[16].t_min_c, days[16].t_max_c) == (12.0, 28.0)


def test_a_day_that_is_over_is_a_forecast_still():
    weather = read(nws_grid(FIRST - 48 * HOUR), retrieved_at=NOON)
    day = next(day for day in local_days(weather, ZoneInfo("UTC")) if day.date.day == 13)

    assert day.origin is Origin.FORECAST


@pytest.mark.parametrize(
    ("elevation", "expected"),
    [
        ({"unitCode": "wmoUnit:m", "value": 75.8952}, 75.8952),
        ({"unitCode": "wmoUnit:ft", "value": 100}, 30.48),
        ({"unitCode": "wmoUnit:m", "value": None}, None),
        (None, None),
    ],
)
def test_the_elevation_is_that_of_the_square(elevation, expected):
    assert read(nws_grid(FIRST, elevation=elevation), retrieved_at=NOON).elevation_m == expected


class Answers:
    """What the service answers to positions and to squares."""

    def __init__(self, service):
        self.service = service
        self.point = send(nws_point())
        self.grid = send(nws_grid(FIRST))
        service.reply = lambda handler: (self.point if "/points/" in handler.path else self.grid)(handler)


@pytest.fixture
def answers(service):
    return Answers(service)


@pytest.fixture
def us_nws(service, answers):
    session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=PATIENT)
    yield UsNws(session, base_url=service.url, clock=service.clock)
    session.close()


def test_a_position_is_looked_up_and_then_its_square(service, us_nws):
    weather = us_nws.hours(HERE, past_days=60)

    assert service.paths == ["/points/43.61,-96.62", "/gridpoints/TOP/31,80"]
    assert {headers["Accept"] for headers in service.headers} == {"application/geo+json"}
    assert {headers["User-Agent"] for headers in service.headers} == {"rootledger/0 (tests)"}
    assert "National Weather Service" in weather.attribution.text


@pytest.mark.parametrize(
    "point",
    [
        pytest.param(nws_point(cwa="XXX", gridId="YYY"), id="the address counts"),
        pytest.param(nws_point(forecastGridData=None), id="the parts where there is no address"),
        pytest.param(nws_point(forecastGridData=None, gridX="31", gridY="80"), id="parts as text"),
    ],
)
def test_the_square_is_found_in_every_form_of_the_answer(service, answers, us_nws, point):
    answers.point = send(point)
    us_nws.hours(HERE, past_days=0)

    assert service.paths[1] == "/gridpoints/TOP/31,80"


def test_a_position_is_looked_up_once_a_day(service, answers, us_nws, clock):
    answers.point = send(nws_point(), Cache_Control="private, must-revalidate, max-age=86400")
    for _ in range(3):
        us_nws.hours(HERE, past_days=0)
        expire(us_nws._session)
        clock.forward(hours=7)
    assert [path for path in service.paths if "/points/" in path] == ["/points/43.61,-96.62"]

    clock.forward(hours=24)
    us_nws.hours(HERE, past_days=0)
    assert len([path for path in service.paths if "/points/" in path]) == 2


def test_the_cache_remembers_a_square_for_the_next_process(service, answers, clock, tmp_path):
    answers.point = send(nws_point(), Cache_Control="public, must-revalidate, max-age=86400")
    for _ in range(2):
        session = WeatherSession(cache=tmp_path / "http.db", user_agent="x", limits=PATIENT)
        UsNws(session, base_url=service.url, clock=clock).hours(HERE, past_days=0)
        session.close()

    assert service.paths == ["/points/43.61,-96.62", "/gridpoints/TOP/31,80"]


@pytest.mark.parametrize("status", [404, 500])
def test_a_square_that_was_numbered_anew_is_looked_up_again(service, answers, us_nws, clock, status):
    us_nws.hours(HERE, past_days=0)
    expire(us_nws._session)
    answers.point = send(nws_point("TOP/32,81"))
    gone, found = send("", status), send(nws_grid(FIRST))
    answers.grid = lambda handler: (found if "32,81" in handler.path else gone)(handler)

    assert us_nws.hours(HERE, past_days=0).elevation_m == 48.0
    assert service.paths[-1] == "/gridpoints/TOP/32,81"


def test_a_square_that_fails_now_and_then_is_tried_again(service, answers, us_nws):
    replies = iter([send("", 500), send("", 500), send("", 500), send(nws_grid(FIRST))])
    answers.grid = lambda handler: next(replies)(handler)

    assert us_nws.hours(HERE, past_days=0).elevation_m == 48.0


def test_a_lookup_that_fails_does_with_the_square_of_yesterday(answers, us_nws, clock):
    us_nws.hours(HERE, past_days=0)
    clock.forward(hours=25)
    expire(us_nws._session)
    answers.point = send("", 503)

    assert us_nws.hours(HERE, past_days=0).elevation_m == 48.0


def test_a_position_beyond_its_borders_is_told_where_it_works(answers, us_nws):
    detail = "Unable to provide data for requested point 43.61,-96.62"
    answers.point = send(nws_problem("InvalidPoint", 404, detail), 404, Cache_Control="max-age=86400")

    with pytest.raises(Refused, match=r"only, and on land.*43\.61,-96\.62") as caught:
        us_nws.hours(HERE, past_days=0)
    assert "the United States and their territories" in str(caught.value)
    assert caught.value.pause_s == 86400
    assert not caught.value.whole_source


def test_what_failed_is_told_with_the_last_good_answer(answers, us_nws):
    good = us_nws.hours(HERE, past_days=0)
    expire(us_nws._session)
    answers.grid = send(nws_problem("ForecastGridExpired", 503, "Forecast grid expired."), 503)

    with pytest.raises(Unreachable, match="Forecast grid expired") as caught:
        us_nws.hours(HERE, past_days=0)
    assert caught.value.older is not None
    assert caught.value.older.hours == good.hours


@pytest.mark.parametrize(
    ("reply", "error"),
    [
        (send("", 403), Forbidden),
        (send("", 429, Retry_After="5"), RateLimited),
        (send(nws_problem("InvalidParameter", 400, "Parameter is invalid"), 400), Refused),
        (send(nws_point(forecastGridData=None, gridId=None)), BadAnswer),
        (send(nws_point(forecastGridData=None, gridX=1.5)), BadAnswer),
        (send(nws_point(forecastGridData="https://elsewhere.example/", gridId="../..")), BadAnswer),
        (send({}), BadAnswer),
    ],
)
def test_a_lookup_that_leads_nowhere_is_a_failure(answers, us_nws, reply, error):
    answers.point = reply

    with pytest.raises(error):
        us_nws.hours(HERE, past_days=0)


def test_digits_are_cut_and_zeros_left_out(service, us_nws):
    with pytest.raises(BadAnswer):  # the answer is for another place
        us_nws.hours(Place(39.74561, -97.09, "America/Chicago", ()), past_days=0)

    assert service.paths == ["/points/39.75,-97.09"]


def test_a_redirection_to_fewer_digits_is_followed(service, answers, us_nws):
    good = send(nws_point())
    answers.point = lambda handler: (
        good if handler.path == "/points/43.6,-96.6" else send("", 301, Location="/points/43.6,-96.6")
    )(handler)

    us_nws.hours(HERE, past_days=0)
    assert service.paths[:2] == ["/points/43.61,-96.62", "/points/43.6,-96.6"]
