"""Open-Meteo's archive for days further back and for holes, and its ensemble for rain."""

import datetime as dt
import logging
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import RateLimited
from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources.open_meteo import OpenMeteo
from api.weather.sources.open_meteo_format import read_members
from api.weather.sources.session import WeatherSession
from tests.api.weather.weather_service import MONTPELLIER, PATIENT, open_meteo_body, send, silently

TODAY = dt.date(2026, 7, 14)
MEMBERS = ("precipitation", *(f"precipitation_member{number:02d}" for number in range(1, 10)))


def archive_body(question):
    first, last = (dt.date.fromisoformat(question[name]) for name in ("start_date", "end_date"))
    body = open_meteo_body(first, (last - first).days + 1, precipitation_probability=None)
    count = len(body["hourly"]["time"])
    body["hourly"].update(temperature_2m=[5.0] * count, precipitation=[1.0] * count)
    return body


def ensemble_body(question, names=MEMBERS, value=lambda number: float(number)):
    body = open_meteo_body(TODAY, int(question["forecast_days"]))
    count = len(body["hourly"]["time"])
    series = {name: [value(number)] * count for number, name in enumerate(names)}
    body["hourly"] = {"time": body["hourly"]["time"], **series}
    body["hourly_units"] = {"time": "unixtime", **dict.fromkeys(names, "mm")}
    return body


def forecast_body(service, question):
    """As the service answers, but for what no test here is about: it makes long answers quick to read."""
    body = service.good(question)
    for name in (
        "dew_point_2m",
        "relative_humidity_2m",
        "wind_speed_10m",
        "cloud_cover",
        "shortwave_radiation",
    ):
        del body["hourly"][name], body["hourly_units"][name]
    return body


class Services:
    """Forecast, archive and ensemble at one address; each can be told to answer otherwise."""

    def __init__(self, service):
        self.service = service
        self.told = {}
        service.reply = self.reply

    def reply(self, handler):
        question = self.service.questions[-1]
        name = self.service.paths[-1].rpartition("/")[2]
        good = {"forecast": self.forecast, "archive": archive_body, "ensemble": ensemble_body}[name]
        (self.told.get(name) or send(good(question)))(handler)

    def forecast(self, question):
        return forecast_body(self.service, question)

    def asked(self, name):
        pairs = zip(self.service.paths, self.service.questions, strict=True)
        return [question for path, question in pairs if path == f"/v1/{name}"]


@pytest.fixture
def services(service):
    return Services(service)


@pytest.fixture
def source(service, services):
    session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=PATIENT)
    url = service.url
    yield OpenMeteo(session, base_url=url, archive_url=url, ensemble_url=url, clock=service.clock)
    session.close()


def days_of(weather):
    return {day.date: day for day in local_days(weather, ZoneInfo("Europe/Paris"))}


def days_back(number):
    return TODAY - dt.timedelta(days=number)


def test_few_past_days_need_no_archive(services, source):
    source.hours(MONTPELLIER, past_days=60)

    assert services.asked("archive") == []


def test_days_beyond_92_come_from_the_archive(services, source):
    days = days_of(source.hours(MONTPELLIER, past_days=120))

    (question,) = services.asked("archive")
    assert (question["start_date"], question["end_date"]) == ("2026-03-15", "2026-04-13")
    assert "precipitation_probability" not in question["hourly"]
    assert (question["timezone"], question["timeformat"]) == ("GMT", "unixtime")
    assert days[days_back(120)].rain_mm == pytest.approx(24.0)
    assert days[days_back(100)].t_max_c == 5.0
    assert days[days_back(60)].rain_mm == pytest.approx(2.4)
    wanted = [days[days_back(number)] for number in range(121)]
    assert all(day.rain_mm is not None and day.t_max_c is not None for day in wanted)


def test_where_both_know_an_hour_it_counts_once(services, source):
    days = days_of(source.hours(MONTPELLIER, past_days=120))

    # The day of UTC on which the forecast begins: hours of either, 24 in all.
    hours_of_archive = (days[days_back(92)].rain_mm - 2.4) / 0.9
    assert hours_of_archive == pytest.approx(round(hours_of_archive))
    assert 0 <= hours_of_archive <= 24


def holed(service, hour):
    """A forecast without rain in one hour of its past, as the service leaves it now and then."""

    def reply(handler):
        body = forecast_body(service, service.questions[-1])
        stamps = body["hourly"]["time"]
        body["hourly"]["precipitation"][stamps.index(int((hour + HOUR).timestamp()))] = None
        send(body)(handler)

    return reply


def test_a_hole_in_the_past_is_filled(service, services, source):
    hour = dt.datetime(2026, 7, 4, 9, tzinfo=dt.UTC)
    services.told["forecast"] = holed(service, hour)
    days = days_of(source.hours(MONTPELLIER, past_days=20))

    (question,) = services.asked("archive")
    assert (question["start_date"], question["end_date"]) == ("2026-07-04", "2026-07-04")
    assert days[dt.date(2026, 7, 4)].rain_mm == pytest.approx(23 * 0.1 + 1.0)
    assert days[dt.date(2026, 7, 4)].t_max_c == 26.5


def test_a_hole_of_yesterday_is_not_asked_for(service, services, source):
    services.told["forecast"] = holed(service, dt.datetime(2026, 7, 13, 9, tzinfo=dt.UTC))
    days = days_of(source.hours(MONTPELLIER, past_days=20))

    assert services.asked("archive") == []
    assert days[dt.date(2026, 7, 13)].rain_mm is None


def test_the_archive_is_asked_once_a_day(services, source):
    source.hours(MONTPELLIER, past_days=95)
    source.hours(MONTPELLIER, past_days=95)

    assert len(services.asked("archive")) == 1


@pytest.mark.parametrize(
    "reply",
    [
        send({"error": True, "reason": "Minutely API request limit exceeded."}, 429),
        send("<html>", 502),
        send("<html>"),
        send(open_meteo_body(dt.date(2026, 3, 15), 3, temperature_2m=[99.0] * 72)),
    ],
)
def test_without_the_archive_the_forecast_stands_and_the_archive_rests(
    services, source, clock, caplog, reply
):
    services.told["archive"] = reply
    with caplog.at_level(logging.WARNING):
        days = days_of(source.hours(MONTPELLIER, past_days=95))
    assert days[days_back(90)].rain_mm == pytest.approx(2.4)
    assert days_back(94) not in days
    assert "archive" in caplog.text

    asked = len(services.asked("archive"))
    services.told.clear()
    source.hours(MONTPELLIER, past_days=95)
    assert len(services.asked("archive")) == asked

    clock.forward(seconds=301)
    assert days_back(94) in days_of(source.hours(MONTPELLIER, past_days=95))


def test_nothing_is_asked_of_the_archive_where_the_forecast_failed(services, source):
    services.told["forecast"] = send("", 429)
    with pytest.raises(RateLimited):
        source.hours(MONTPELLIER, past_days=95)

    assert services.asked("archive") == []


@pytest.mark.parametrize(
    ("settings", "archives"),
    [
        ({}, ["https://archive-api.open-meteo.com/v1/archive"]),
        ({"key": "k"}, ["https://customer-archive-api.open-meteo.com/v1/archive"]),
        ({"base_url": "http://127.0.0.1:8080"}, []),
        (
            {"base_url": "http://127.0.0.1:8080", "archive_url": "http://127.0.0.1:8080/v1/archive"},
            ["http://127.0.0.1:8080/v1/archive"],
        ),
    ],
)
def test_a_service_of_ones_own_has_an_archive_only_where_it_says_so(clock, settings, archives):
    session = WeatherSession(cache=None, user_agent="x")
    OpenMeteo(session, clock=clock, **settings)
    session.close()

    assert [url for url in session.adapters if "archive" in url] == archives


def test_rain_to_come_is_the_mean_of_the_members(services, source):
    weather = source.hours(MONTPELLIER, past_days=3)
    days = days_of(weather)

    # Members have 0 to 9 mm an hour, the forecast 0.1; it is 12:10 UTC, and 10 hours of the day are left.
    tomorrow, today, yesterday = days[days_back(-1)], days[TODAY], days[days_back(1)]
    assert (tomorrow.rain_mm, tomorrow.rain_is_expected_value) == (pytest.approx(24 * 4.5), True)
    assert (today.rain_mm, today.rain_is_expected_value) == (pytest.approx(10 * 4.5 + 14 * 0.1), True)
    assert today.rain_fallen_mm == pytest.approx(14 * 0.1)
    assert (yesterday.rain_mm, yesterday.rain_is_expected_value) == (pytest.approx(2.4), False)
    (question,) = services.asked("ensemble")
    assert (question["hourly"], question["timezone"]) == ("precipitation", "GMT")


@pytest.mark.parametrize(
    ("settings", "ensembles"),
    [
        ({}, ["https://ensemble-api.open-meteo.com/v1/ensemble"]),
        ({"base_url": "https://api.open-meteo.com/"}, ["https://ensemble-api.open-meteo.com/v1/ensemble"]),
        ({"ensemble_url": ""}, []),
        ({"key": "k"}, []),
        ({"base_url": "http://127.0.0.1:8080"}, []),
        ({"key": "k", "ensemble_url": "https://e.example/v1/ensemble"}, ["https://e.example/v1/ensemble"]),
    ],
)
def test_the_free_service_has_an_ensemble_and_others_where_they_say_so(clock, settings, ensembles):
    session = WeatherSession(cache=None, user_agent="x")
    OpenMeteo(session, clock=clock, **settings)
    session.close()

    assert [url for url in session.adapters if "ensemble" in url] == ensembles


def test_an_ensemble_is_asked_again_after_six_hours_and_not_before(services, source, service):
    for age_h, asked in ((0, 1), (2, 1), (3, 1), (2, 2)):
        entries = source._session.cache.responses
        for key in list(entries):
            entry = entries[key]
            entry.created_at -= dt.timedelta(hours=age_h)
            entry.expires -= dt.timedelta(hours=age_h)
            entries[key] = entry
        source.hours(MONTPELLIER, past_days=3)
        assert len(services.asked("ensemble")) == asked
    assert len(services.asked("forecast")) == 4


def test_nobody_waits_long_for_an_ensemble(services, source, service, monkeypatch):
    monkeypatch.setattr("api.weather.sources.open_meteo.ENSEMBLE_TOTAL_S", 0.2)
    session = WeatherSession(cache=None, user_agent="x", limits=PATIENT)
    patient = OpenMeteo(session, base_url=service.url, ensemble_url=service.url, clock=service.clock)
    services.told["ensemble"] = silently
    weather = patient.hours(MONTPELLIER, past_days=3)
    session.close()

    assert all(hour.rain_members_mm is None for hour in weather.hours)


def test_without_an_address_no_ensemble_is_asked(service, services):
    session = WeatherSession(cache=None, user_agent="x", limits=PATIENT)
    weather = OpenMeteo(session, base_url=service.url, clock=service.clock).hours(MONTPELLIER, past_days=3)
    session.close()

    assert services.asked("ensemble") == []
    assert all(hour.rain_members_mm is None for hour in weather.hours)


@pytest.mark.parametrize(
    "reply",
    [
        send({"error": True, "reason": "overloaded"}, 503),
        send("<html>"),
        send(ensemble_body({"forecast_days": "3"}, value=lambda number: -1.0)),
        send(ensemble_body({"forecast_days": "3"}, names=MEMBERS[:3])),
        send({**ensemble_body({"forecast_days": "3"}), "latitude": 3.88, "longitude": 43.61}),
    ],
)
def test_without_a_usable_ensemble_the_forecasts_rain_stands(services, source, reply):
    services.told["ensemble"] = reply
    tomorrow = days_of(source.hours(MONTPELLIER, past_days=3))[days_back(-1)]

    assert (tomorrow.rain_mm, tomorrow.rain_is_expected_value) == (pytest.approx(2.4), False)
    assert tomorrow.rain_probability == 0.3


def test_where_the_ensemble_ends_the_forecast_goes_on(services, source):
    services.told["ensemble"] = send(ensemble_body({"forecast_days": "3"}))
    days = days_of(source.hours(MONTPELLIER, past_days=3))

    assert days[days_back(-1)].rain_is_expected_value
    assert (days[days_back(-4)].rain_mm, days[days_back(-4)].rain_is_expected_value) == (
        pytest.approx(2.4),
        False,
    )


def test_members_of_several_models_and_other_series_are_told_apart():
    names = (
        "precipitation_icon_seamless",
        "precipitation_member01_icon_seamless",
        "precipitation_gfs05",
        "precipitation_member01_gfs05",
    )
    body = ensemble_body({"forecast_days": "1"}, names=names)
    body["hourly"]["precipitation_probability"] = [30] * 24
    body["hourly_units"]["precipitation_probability"] = "%"

    members = read_members(body)
    assert sorted(members[dt.datetime(2026, 7, 14, 5, tzinfo=dt.UTC)]) == [0.0, 1.0, 2.0, 3.0]


def test_a_member_that_knows_nothing_is_no_member_and_an_hour_with_a_gap_none():
    body = ensemble_body({"forecast_days": "1"})
    body["hourly"]["precipitation_member03"] = [None] * 24
    body["hourly"]["precipitation_member04"][7] = None
    members = read_members(body)

    assert len(members[dt.datetime(2026, 7, 14, 5, tzinfo=dt.UTC)]) == 9
    assert dt.datetime(2026, 7, 14, 6, tzinfo=dt.UTC) not in members
