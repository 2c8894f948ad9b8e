"""What a weather service may do to us: every kind of bad answer, and what is left after it."""

import datetime as dt
import gzip
import json
import socket
import sqlite3

import pytest
import requests
import responses

from api.weather.errors import BadAnswer, Forbidden, RateLimited, Refused, SourceFailed, Unreachable
from api.weather.sources.open_meteo import OpenMeteo
from api.weather.sources.session import WeatherSession, user_agent
from tests.api.weather.weather_service import (
    MONTPELLIER,
    NOON,
    PATIENT,
    dropping,
    endlessly,
    expire,
    limits_for,
    make_older,
    open_meteo_at,
    open_meteo_body,
    send,
    silently,
    trickling,
)
from tests.profile import PATIENCE_S

GOOD = open_meteo_body(dt.date(2026, 7, 14), 3)
CUT_OFF = json.dumps(GOOD)[:2000] + "Unexpected error while streaming data: timeoutReached"


def dropping_at_once(handler):
    handler.connection.shutdown(socket.SHUT_RDWR)


def bomb(handler):
    send(gzip.compress(b"[" * 1_000_000), Content_Encoding="gzip")(handler)


def wrong(**changes):
    return send(open_meteo_body(dt.date(2026, 7, 14), 3, **changes))


FAULTS = [
    pytest.param(send(CUT_OFF), BadAnswer, id="200, JSON cut off"),
    pytest.param(send("<html>Bad gateway</html>"), BadAnswer, id="200, HTML"),
    pytest.param(send(""), BadAnswer, id="200, empty"),
    pytest.param(send(b"\xff\xfe\x00"), BadAnswer, id="200, not text"),
    pytest.param(send("[" * 100_000), BadAnswer, id="200, nested without end"),
    pytest.param(send({"error": True, "reason": "No data"}), BadAnswer, id="200, an error"),
    pytest.param(send('{"hourly": NaN}'), BadAnswer, id="200, NaN"),
    pytest.param(wrong(precipitation=[0.1] * 71), BadAnswer, id="200, a value too few"),
    pytest.param(wrong(temperature_2m=[80.0] * 72), BadAnswer, id="200, 80 °C"),
    pytest.param(wrong(precipitation=[-1.0] * 72), BadAnswer, id="200, negative rain"),
    pytest.param(send({"error": True, "reason": "Latitude"}, 400), Refused, id="400"),
    pytest.param(send("no", 401), Forbidden, id="401"),
    pytest.param(send("no", 403), Forbidden, id="403"),
    pytest.param(send("no", 404), Refused, id="404"),
    pytest.param(send({"error": True, "reason": "Minutely"}, 429), RateLimited, id="429"),
    pytest.param(send("", 301, Location="https://elsewhere.example/v1/forecast"), Refused, id="301"),
    pytest.param(send("", 304), BadAnswer, id="304 to no condition"),
    pytest.param(send("<html>", 500), Unreachable, id="500"),
    pytest.param(send("overloaded", 503), Unreachable, id="503"),
    pytest.param(silently, Unreachable, id="silent"),
    pytest.param(trickling, Unreachable, id="trickling"),
    pytest.param(endlessly, BadAnswer, id="endless"),
    pytest.param(dropping, Unreachable, id="dropped within the body"),
    pytest.param(dropping_at_once, Unreachable, id="dropped at once"),
    pytest.param(bomb, BadAnswer, id="small only while packed"),
]


@pytest.mark.parametrize(("reply", "error"), FAULTS)
def test_a_fault_is_named_and_the_last_good_answer_stays(service, reply, error):
    session, source = open_meteo_at(service)
    good = source.hours(MONTPELLIER, past_days=3)
    expire(session)
    later_session, later = open_meteo_at(service, limits_for(reply))
    later_session.cache.responses.update(session.cache.responses)
    service.reply = reply

    with pytest.raises(error) as caught:
        later.hours(MONTPELLIER, past_days=3)
    assert type(caught.value) is error
    assert caught.value.older is not None
    assert caught.value.older.hours == good.hours
    assert str(caught.value).startswith("open-meteo: ")

    service.reply = None
    session.cache.responses.update(later_session.cache.responses)
    assert source.hours(MONTPELLIER, past_days=3).hours == good.hours
    session.close()
    later_session.close()


@pytest.mark.parametrize(("reply", "error"), FAULTS)
def test_a_fault_at_the_first_question_leaves_nothing_behind(service, reply, error):
    service.reply = reply
    session, source = open_meteo_at(service, limits_for(reply))

    with pytest.raises(error) as caught:
        source.hours(MONTPELLIER, past_days=3)
    assert caught.value.older is None
    assert not list(session.cache.responses)
    session.close()


def test_a_transient_fault_is_tried_again(service):
    attempts = iter([send("", 503), send({**GOOD, "elevation": 77.0})])
    service.reply = lambda handler: next(attempts)(handler)
    session, source = open_meteo_at(service)

    assert source.hours(MONTPELLIER, past_days=3).elevation_m == 77.0
    assert len(service.questions) == 2
    session.close()


def test_a_pause_that_the_service_asks_for_is_kept_without_sleeping(service, monkeypatch):
    slept_s = []
    monkeypatch.setattr("api.weather.sources.session.time.sleep", slept_s.append)
    service.reply = send("", 503, Retry_After="1800")
    session, source = open_meteo_at(service)

    with pytest.raises(Unreachable) as caught:
        source.hours(MONTPELLIER, past_days=3)
    assert slept_s == [PATIENT.backoff_s]
    assert caught.value.pause_s == 1800
    session.close()


@pytest.mark.parametrize(
    ("reply", "pause_s"),
    [
        (send("", 429), 300),
        (send("", 429, Retry_After="900"), 900),
        (send("", 429, Retry_After="5"), 300),
        (send("", 429, Retry_After="Wed, 21 Oct 2015 07:28:00 GMT"), 300),
        (send("", 429, Retry_After="soon"), 300),
        (send("", 429, Retry_After="99999999"), 86400),
        (send({"reason": "Minutely API request limit exceeded."}, 429), 300),
        # It is 12:10 UTC: to 13:00 and to midnight, and a minute for good measure.
        (send({"reason": "Hourly API request limit exceeded."}, 429), 51 * 60),
        (send({"reason": "Daily API request limit exceeded."}, 429), (11 * 60 + 51) * 60),
        (send("", 403), 3600),
        (send("", 401), 3600),
        (send("", 500), 300),
        (send("<html>"), 300),
    ],
)
def test_the_pause_is_as_long_as_the_service_wants(service, reply, pause_s):
    service.reply = reply
    session, source = open_meteo_at(service)

    with pytest.raises(SourceFailed) as caught:
        source.hours(MONTPELLIER, past_days=3)
    assert caught.value.pause_s == pytest.approx(pause_s)
    session.close()


def test_no_sentence_gives_the_key_away(service):
    for reply in (dropping_at_once, silently, send("", 503), send("", 302, Location="/v1?apikey=s3cret")):
        service.reply = reply
        session, source = open_meteo_at(service, limits_for(reply), key="s3cret")
        with pytest.raises(SourceFailed) as caught:
            source.hours(MONTPELLIER, past_days=3)
        assert "s3cret" not in str(caught.value)
        assert caught.value.__suppress_context__
        session.close()


def test_a_redirection_on_the_same_host_is_followed(service):
    def reply(handler):
        if handler.path.startswith("/moved"):
            send(GOOD)(handler)
        else:
            send("", 301, Location="/moved?past_days=3&forecast_days=3")(handler)

    service.reply = reply
    session, source = open_meteo_at(service)

    assert source.hours(MONTPELLIER, past_days=3).elevation_m == 48.0
    session.close()


def test_within_half_an_hour_the_cache_answers_and_says_how_old_it_is(service, clock, tmp_path):
    def source_of_a_process():
        session = WeatherSession(cache=tmp_path / "cache" / "http.db", user_agent="x", limits=PATIENT)
        return session, OpenMeteo(session, base_url=service.url, clock=clock)

    session, source = source_of_a_process()
    source.hours(MONTPELLIER, past_days=3)
    make_older(session, dt.timedelta(minutes=20))
    session.close()
    session, source = source_of_a_process()
    again = source.hours(MONTPELLIER, past_days=3)
    session.close()

    assert len(service.questions) == 1
    age = NOON - again.retrieved_at
    assert dt.timedelta(minutes=20) <= age < dt.timedelta(minutes=20, seconds=PATIENCE_S)


def test_a_damaged_cache_file_is_made_anew(service, clock, tmp_path):
    path = tmp_path / "http.db"
    path.write_bytes(b"this is no database" * 1000)
    session = WeatherSession(cache=path, user_agent="x", limits=PATIENT)
    OpenMeteo(session, base_url=service.url, clock=clock).hours(MONTPELLIER, past_days=3)
    session.close()

    assert len(service.questions) == 1
    with sqlite3.connect(path) as database:
        assert database.execute("select count(*) from responses").fetchone() == (1,)
    database.close()


def test_answers_that_are_too_old_for_any_use_leave_the_cache_file(service, clock, tmp_path):
    now_s = dt.datetime.now(dt.UTC).timestamp()
    for expired_h, stays in ((71, True), (73, False)):
        path = tmp_path / f"{expired_h}.db"
        session = WeatherSession(cache=path, user_agent="x", limits=PATIENT)
        source = OpenMeteo(session, base_url=service.url, clock=clock)
        source.hours(MONTPELLIER, past_days=3)
        with sqlite3.connect(path) as database:
            database.execute("update responses set expires = ?", (now_s - expired_h * 3600,))
        database.close()
        session.close()

        session = WeatherSession(cache=path, user_agent="x", limits=PATIENT)
        OpenMeteo(session, base_url=service.url, clock=clock).hours(MONTPELLIER, past_days=20)
        session.close()
        with sqlite3.connect(path) as database:
            (count,) = database.execute("select count(*) from responses").fetchone()
        database.close()
        assert count == (2 if stays else 1)


def test_an_answer_older_than_72_hours_is_no_fallback(service):
    session, source = open_meteo_at(service)
    source.hours(MONTPELLIER, past_days=3)
    expire(session, age_h=73)
    service.reply = send("", 503)

    with pytest.raises(Unreachable) as caught:
        source.hours(MONTPELLIER, past_days=3)
    assert caught.value.older is None
    session.close()


def test_a_packed_answer_is_read(service):
    service.reply = send(gzip.compress(json.dumps(GOOD).encode()), Content_Encoding="gzip")
    session, source = open_meteo_at(service)

    assert source.hours(MONTPELLIER, past_days=3).elevation_m == 48.0
    session.close()


def test_no_host_is_asked_that_no_source_named(service):
    session, _ = open_meteo_at(service)

    with pytest.raises(requests.exceptions.InvalidSchema):
        session.get("https://elsewhere.example/")
    session.close()


def test_the_user_agent_says_who_asks():
    assert user_agent("gardener@example.org").startswith("rootledger/")
    assert user_agent("gardener@example.org").endswith(" (gardener@example.org)")
    assert "(" not in user_agent(None)


@responses.activate
def test_a_connection_that_cannot_be_made_is_tried_again(clock):
    responses.get("https://weather.example/v1/forecast", body=requests.ConnectionError("refused"))
    responses.get("https://weather.example/v1/forecast", json=GOOD, status=203)
    session = WeatherSession(cache=None, user_agent="x", limits=PATIENT)
    source = OpenMeteo(session, base_url="https://weather.example", clock=clock)

    assert source.hours(MONTPELLIER, past_days=3).elevation_m == 48.0
    assert len(responses.calls) == 2
    session.close()
