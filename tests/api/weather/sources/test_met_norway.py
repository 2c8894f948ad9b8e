"""Reading MET Norway's forecast: steps of one and of six hours, units, and the service's manners."""

import datetime as dt
import logging
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import BadAnswer, Forbidden, RateLimited, Refused, Unreachable
from api.weather.fetch.fetching import Fetching
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.series.hours import HOUR, continued
from api.weather.series.local_days import local_days, lowest_temperature_c
from api.weather.sources.met_norway import MetNorway, read
from api.weather.sources.session import WeatherSession
from scheduling.balance.weather import Origin
from tests.api.stored_garden import settle
from tests.api.weather.answers import met_body, met_step, met_steps
from tests.api.weather.weather_service import NOON, PATIENT, expire, send
from tests.profile import PATIENCE_S

FIRST = dt.datetime(2026, 7, 14, 12, tzinfo=dt.UTC)
LONG = FIRST + 54 * HOUR
"""18:00 on the 16th: where steps of 6 hours begin."""
HERE = Place(43.61, 3.88, "Europe/Paris", ("met-norway",))


def hours_of(body):
    return {hour.start: hour for hour in read(body, retrieved_at=NOON).hours}


def days_of(body, zone="UTC"):
    return {day.date.day: day for day in local_days(read(body, retrieved_at=NOON), ZoneInfo(zone))}


def test_an_hourly_step_is_an_hour():
    hour = hours_of(met_body(FIRST))[FIRST + 3 * HOUR]

    assert (hour.temperature_c, hour.dew_point_c, hour.humidity_pct) == (20.0, 10.0, 60.0)
    assert (hour.wind_m_s, hour.cloud_share) == (2.0, 0.25)
    assert (hour.rain_mm, hour.rain_probability) == (0.1, 0.3)
    assert hour.solar_mj_m2 is None


def test_amounts_that_overlap_are_never_added():
    # Every hourly step also tells of its six hours: 24 x 0.1 mm a day, not seven times that.
    days = days_of(met_body(FIRST))

    assert days[15].rain_mm == pytest.approx(2.4)
    assert days[18].rain_mm == pytest.approx(2.4)
    assert sum(hour.rain_mm or 0.0 for hour in hours_of(met_body(FIRST)).values()) == pytest.approx(22.2)


def test_six_hours_share_their_rain_evenly():
    body = met_body(FIRST, rain=lambda time: 2.0 if time == LONG else 0.0)
    hours = hours_of(body)

    assert [hours[LONG + number * HOUR].rain_mm for number in range(6)] == pytest.approx([2.0 / 6] * 6)
    assert days_of(body)[16].rain_mm == pytest.approx(2.0)


def test_readings_run_straight_from_one_long_step_to_the_next():
    body = met_body(FIRST, temperature=lambda time: 24.0 if time.hour == 12 else 12.0)
    hours = hours_of(body)
    noon = dt.datetime(2026, 7, 18, 12, tzinfo=dt.UTC)

    temperatures = [hours[noon + number * HOUR].temperature_c for number in range(-6, 7)]
    assert temperatures == pytest.approx([12, 14, 16, 18, 20, 22, 24, 22, 20, 18, 16, 14, 12])


def test_extremes_of_six_hours_are_those_of_the_day():
    # Steps at 0, 6, 12, 18 h miss a peak at 15 h of 31.5 and a low at 4 h of 9.5.
    steps = met_steps(
        FIRST, temperature=lambda time: {0: 12.0, 6: 11.0, 12: 28.0, 18: 27.0}[time.hour // 6 * 6]
    )
    for step in steps:
        if step["time"] == "2026-07-18T12:00:00Z":
            step["data"]["next_6_hours"]["details"]["air_temperature_max"] = 31.5
        if step["time"] == "2026-07-18T00:00:00Z":
            step["data"]["next_6_hours"]["details"]["air_temperature_min"] = 9.5
    days = days_of(met_body(FIRST, steps))

    assert (days[18].t_min_c, days[18].t_max_c) == (9.5, 31.5)
    assert (days[19].t_min_c, days[19].t_max_c) == (11.0, 28.0)


def test_an_extreme_of_hours_that_midnight_divides_goes_to_the_day_it_was_on():
    # 18 to 24 h of UTC are 20 to 2 h in Paris: it cools all the time, so the minimum is the 19th's.
    steps = met_steps(FIRST, temperature=lambda time: 25.0 if time.hour in (12, 18) else 15.0)
    for step in steps:
        if step["time"] == "2026-07-18T18:00:00Z":
            step["data"]["next_6_hours"]["details"]["air_temperature_min"] = 14.0
    days = days_of(met_body(FIRST, steps), "Europe/Paris")

    assert days[18].t_min_c == 15.0
    assert days[19].t_min_c == 14.0


def test_a_minimum_between_the_readings_counts_as_the_lowest():
    weather = read(met_body(FIRST, extremes=(3.0, 24.0)), retrieved_at=NOON)

    assert lowest_temperature_c(weather.hours, LONG, LONG + 6 * HOUR) == 3.0
    assert lowest_temperature_c(weather.hours, FIRST, FIRST + 6 * HOUR) == 20.0


def test_of_hourly_steps_the_six_hours_extremes_are_not_taken():
    assert days_of(met_body(FIRST, extremes=(3.0, 40.0)))[15].t_max_c == 20.0


def test_the_compact_product_is_read_too():
    steps = met_steps(FIRST, chance=None)
    for step in steps:
        del step["data"]["instant"]["details"]["dew_point_temperature"]
    days = days_of(met_body(FIRST, steps))

    assert (days[18].t_max_c, days[18].rh_mean_pct, days[18].rain_probability) == (20.0, 60.0, None)
    assert days[18].t_dew_c is None


def test_all_days_but_the_first_and_the_last_are_complete():
    days = days_of(met_body(FIRST), "Europe/Paris")

    complete = [day for day in days if days[day].rain_mm is not None and days[day].t_max_c is not None]
    assert complete == [15, 16, 17, 18, 19, 20, 21, 22]


def test_the_past_of_the_day_under_way_comes_from_the_answer_before():
    earlier = FIRST - 24 * HOUR
    before = read(met_body(earlier, rain=lambda time: 1.0), retrieved_at=earlier)
    now = continued(read(met_body(FIRST), retrieved_at=NOON), before)
    days = {day.date.day: day for day in local_days(now, ZoneInfo("UTC"))}

    assert days[14].rain_mm == pytest.approx(12 * 1.0 + 12 * 0.1)
    assert days[14].origin is Origin.FORECAST
    assert days[14].rain_fallen_mm is None


def test_the_day_under_way_is_kept_whole_from_fetch_to_fetch(clock, keep, service):
    session, source = met_norway_at(service)
    fetching = Fetching({"met-norway": source}, keep, clock)
    for hour in (0, 9, 18):
        clock.now = dt.datetime(2026, 7, 14, hour, 10, tzinfo=dt.UTC)
        service.reply = send(met_body(clock.now.replace(minute=0), rain=lambda time: 0.5))
        expire(session)
        done = fetching.start(Place(43.61, 3.88, "Etc/UTC", ("met-norway",)), FIRST.date(), 1e18)
        assert done is not None
        assert done.wait(PATIENCE_S)
    fetching.close()
    session.close()

    (days,) = keep.kept_days.values()
    assert days[dt.date(2026, 7, 14)].rain_mm == pytest.approx(12.0)
    assert days[dt.date(2026, 7, 14)].retrieved_at == clock.now
    assert days[dt.date(2026, 7, 14)].origin is Origin.FORECAST


def test_a_day_that_is_over_stays_a_forecast_with_its_chance_of_rain():
    weather = read(met_body(FIRST), retrieved_at=FIRST + 100 * HOUR)
    day = next(day for day in local_days(weather, ZoneInfo("UTC")) if day.date.day == 15)

    assert (day.origin, day.rain_probability) == (Origin.FORECAST, 0.3)


def without(part, time, steps):
    for step in steps:
        if step["time"] == time:
            del step["data"][part]
    return steps


def test_an_hour_without_its_amount_has_what_six_hours_leave_to_it():
    wet = dt.datetime(2026, 7, 15, 10, tzinfo=dt.UTC)
    steps = met_steps(FIRST, rain=lambda time: 1.7 if time == wet else 0.1)
    body = met_body(FIRST, without("next_1_hours", "2026-07-15T10:00:00Z", steps))

    assert hours_of(body)[wet].rain_mm == pytest.approx(1.7)
    assert hours_of(body)[wet].rain_probability == 0.3
    assert days_of(body)[15].rain_mm == pytest.approx(23 * 0.1 + 1.7)


def test_an_hour_whose_amount_is_null_leaves_the_days_rain_unknown():
    steps = met_steps(FIRST)
    (step,) = (step for step in steps if step["time"] == "2026-07-15T10:00:00Z")
    step["data"]["next_1_hours"]["details"]["precipitation_amount"] = None
    days = days_of(met_body(FIRST, steps))

    assert days[15].rain_mm is None
    assert days[15].t_max_c == 20.0


@pytest.mark.parametrize("hourly_until_h", [54, 57, 60])
def test_hourly_steps_that_tell_only_of_six_hours_are_counted_once(hourly_until_h):
    """Hours tell of themselves for two days, then of six hours only; steps become long at hour 60."""
    depth = {FIRST + number * HOUR: float(number % 5) for number in range(240)}
    steps = met_steps(FIRST, hourly=hourly_until_h, rain=depth.__getitem__)
    for step in steps:
        if dt.datetime.fromisoformat(step["time"]) >= FIRST + 49 * HOUR:
            step["data"].pop("next_1_hours", None)
    hours = hours_of(met_body(FIRST, steps))
    told = [hour for hour in hours.values() if hour.rain_mm is not None]

    assert len(told) == len(hours) - 1  # the last step has none
    assert sum(hour.rain_mm for hour in told) == pytest.approx(sum(depth[hour.start] for hour in told))
    days = days_of(met_body(FIRST, steps))
    assert all(days[date].rain_mm is not None for date in range(15, 23))


def test_an_hour_that_is_missing_among_hourly_steps_stays_unknown():
    steps = [step for step in met_steps(FIRST) if step["time"] != "2026-07-15T10:00:00Z"]
    days = days_of(met_body(FIRST, steps))

    assert (days[15].rain_mm, days[15].t_max_c) == (None, None)
    assert days[16].t_max_c == 20.0


def test_a_long_step_that_is_missing_stays_unknown():
    steps = [step for step in met_steps(FIRST) if step["time"] != "2026-07-18T12:00:00Z"]
    days = days_of(met_body(FIRST, steps))

    assert (days[18].rain_mm, days[18].t_max_c) == (None, None)
    assert days[19].rain_mm == pytest.approx(2.4)


def test_six_hours_that_begin_within_others_are_left_out():
    steps = [*met_steps(FIRST), met_step(LONG + 3 * HOUR, 6, rain=lambda time: 5.0)]
    hours = hours_of(met_body(FIRST, steps))

    assert [hours[LONG + number * HOUR].rain_mm for number in range(9)] == pytest.approx([0.1] * 9)


def test_the_order_of_the_steps_and_further_members_do_not_matter():
    body = met_body(FIRST)
    body["properties"]["timeseries"].reverse()
    body["properties"]["meta"]["radar_coverage"] = "ok"
    body["properties"]["timeseries"][5]["data"]["next_3_hours"] = {"details": {"precipitation_amount": 99}}

    assert read(body, retrieved_at=NOON) == read(met_body(FIRST), retrieved_at=NOON)


# Factors: degrees Fahrenheit by definition.
@pytest.mark.parametrize(
    ("name", "unit", "quantity", "expected"),
    [
        ("air_temperature", "celsius", "temperature_c", 20.0),
        ("air_temperature", "fahrenheit", "temperature_c", -20.0 / 3.0),
        ("cloud_area_fraction", "%", "cloud_share", 0.25),
        ("relative_humidity", "%", "humidity_pct", 60.0),
    ],
)
def test_units_are_read_from_the_answer(name, unit, quantity, expected):
    body = met_body(FIRST)
    body["properties"]["meta"]["units"][name] = unit

    assert getattr(hours_of(body)[FIRST], quantity) == pytest.approx(expected)


@pytest.mark.parametrize("unit", ["kelvin", "km/h", None, 7])
def test_a_unit_that_is_not_known_is_refused(unit):
    body = met_body(FIRST)
    body["properties"]["meta"]["units"]["wind_speed"] = unit

    with pytest.raises(BadAnswer, match="the unit of 'wind_speed' is"):
        read(body, retrieved_at=NOON)


def test_the_elevation_is_that_of_the_answer():
    body = met_body(FIRST)
    assert read(body, retrieved_at=NOON).elevation_m == 48.0

    body["geometry"]["coordinates"].pop()
    assert read(body, retrieved_at=NOON).elevation_m is None


def met_norway_at(service, path=""):
    session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=PATIENT)
    return session, MetNorway(session, base_url=service.url + path, clock=service.clock)


@pytest.fixture
def met_norway(service):
    service.reply = send(met_body(FIRST))
    session, source = met_norway_at(service)
    yield source
    session.close()


def test_the_question_has_few_decimals_and_says_who_asks(service, met_norway):
    weather = met_norway.hours(Place(43.612345, 3.880049, "Europe/Paris", ()), past_days=60)

    assert service.questions == [{"lat": "43.61", "lon": "3.88"}]
    assert service.headers[0]["User-Agent"] == "rootledger/0 (tests)"
    assert service.paths == ["/weatherapi/locationforecast/2.0/complete"]
    assert weather.attribution.text.startswith("Based on data from MET Norway")
    assert weather.attribution.licence_url == "https://creativecommons.org/licenses/by/4.0/"


@pytest.mark.parametrize(
    ("path", "product"),
    [
        ("/", "complete"),
        ("/weatherapi/locationforecast/2.0", "complete"),
        ("/weatherapi/locationforecast/2.0/compact", "compact"),
    ],
)
def test_the_address_may_be_written_in_several_ways(service, path, product):
    service.reply = send(met_body(FIRST))
    session, source = met_norway_at(service, path)
    source.hours(HERE, past_days=0)
    session.close()

    assert service.paths == [f"/weatherapi/locationforecast/2.0/{product}"]


def http_date(moment):
    return moment.strftime("%a, %d %b %Y %H:%M:%S GMT")


def test_nothing_is_asked_before_it_expires_and_then_only_for_what_is_new(service, met_norway):
    now = dt.datetime.now(dt.UTC)
    changed = http_date(now - dt.timedelta(minutes=3))
    service.reply = send(
        met_body(FIRST), Last_Modified=changed, Expires=http_date(now + dt.timedelta(minutes=31))
    )
    first = met_norway.hours(HERE, past_days=0)
    met_norway.hours(HERE, past_days=0)
    assert len(service.questions) == 1

    expire(met_norway._session)
    service.reply = send("", 304, Expires=http_date(now + dt.timedelta(minutes=31)))
    again = met_norway.hours(HERE, past_days=0)
    assert service.headers[1]["If-Modified-Since"] == changed
    assert (again.hours, again.retrieved_at) == (first.hours, NOON)

    met_norway.hours(HERE, past_days=0)
    assert len(service.questions) == 2


@pytest.mark.parametrize(("serves_min", "asked", "versions"), [(30, 2, [1, 2, 2, 2]), (100, 1, [1, 1, 1, 1])])
def test_an_answer_that_is_to_serve_for_long_is_not_asked_for_nor_kept_anew_at_every_reading(
    service, met_norway, clock, keep, serves_min, asked, versions
):
    until = http_date(dt.datetime.now(dt.UTC) + dt.timedelta(minutes=serves_min))
    service.reply = send(met_body(FIRST), Expires=until)
    forecasts = Forecasts({"met-norway": met_norway}, keep, clock)
    forecasts.at(HERE, past_days=3)

    clock.forward(minutes=65)
    entries = met_norway._session.cache.responses
    for key in list(entries):
        entry = entries[key]
        entry.created_at -= dt.timedelta(minutes=65)
        entry.expires -= dt.timedelta(minutes=65)
        entries[key] = entry
    found = []
    for _ in versions:
        found.append(forecasts.at(HERE, past_days=3).version)
        settle()
    forecasts.close()
    assert (len(service.questions), found) == (asked, versions)


def test_an_answer_of_a_version_that_will_end_is_used_and_logged(service, met_norway, caplog):
    service.reply = send(met_body(FIRST), 203)
    with caplog.at_level(logging.WARNING):
        assert met_norway.hours(HERE, past_days=0).elevation_m == 48.0
    assert "203" in caplog.text


@pytest.mark.parametrize(
    ("status", "error", "sentence"),
    [
        (400, Refused, "answered with 400"),
        (403, Forbidden, "set ROOTLEDGER_CONTACT"),
        (404, Refused, "answered with 404"),
        (422, Refused, "answered with 422"),
        (429, RateLimited, "answered with 429"),
        (499, Unreachable, "answered with 499"),
        (502, Unreachable, "answered with 502"),
    ],
)
def test_every_status_is_understood(service, met_norway, status, error, sentence):
    service.reply = send("<html>no</html>", status)
    with pytest.raises(error, match=sentence) as caught:
        met_norway.hours(HERE, past_days=0)

    assert type(caught.value) is error
    assert caught.value.whole_source is (status in (403, 429))
