"""Freshness, one fetch a place, pauses, fall-back: what a request gets, and who has to wait."""

import datetime as dt
import threading

import pytest

from api.weather.errors import BadAnswer, Forbidden, RateLimited, Unreachable, WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from scheduling.balance.weather import Origin
from tests.api.stored_garden import Clock, settle
from tests.api.weather.weather_service import MONTPELLIER, NOON, MemoryKeep, open_meteo_at, send
from tests.profile import PATIENCE_S
from tests.together import together

PARIS = MONTPELLIER
BOTH = Place(43.61, 3.88, "Europe/Paris", ("first", "second"))


class Given:
    """A source that gives, fails or hangs as it is told."""

    def __init__(self, clock: Clock, name: str = "open-meteo") -> None:
        self.clock = clock
        self.name = name
        self.error: Exception | None = None
        self.gate = threading.Event()
        self.gate.set()
        self.asked: list[int] = []
        self.most_past_days = 92
        self.ahead = 9
        self.without: set[dt.date] = set()
        self.temperature_c = 20.0

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        self.asked.append(past_days)
        assert self.gate.wait(PATIENCE_S)
        if self.error is not None:
            raise self.error
        now = self.clock()
        midnight = now.replace(hour=0, minute=0)
        start = midnight - dt.timedelta(days=min(past_days + 1, self.most_past_days))
        count = round((midnight + dt.timedelta(days=self.ahead + 1) - start) / HOUR)
        hours = (Hour(start + HOUR * number, self.temperature_c, rain_mm=0.1) for number in range(count))
        return HourlyWeather(
            source=self.name,
            attribution=Attribution(f"by {self.name}"),
            retrieved_at=now,
            elevation_m=40.0,
            wind_height_m=10.0,
            hours=tuple(hour for hour in hours if hour.start.date() not in self.without),
        )


@pytest.fixture
def source(clock):
    return Given(clock)


@pytest.fixture
def forecasts(source, keep, clock):
    forecasts = Forecasts({"open-meteo": source}, keep, clock)
    yield forecasts
    source.gate.set()
    forecasts.close()


def test_a_cold_place_waits_for_its_first_answer(forecasts, source):
    forecast = forecasts.at(PARIS, past_days=60)

    today = dt.date(2026, 7, 14)
    assert source.asked == [60]
    assert [day.date for day in forecast.days] == [today + dt.timedelta(days=n) for n in range(-60, 10)]
    assert all(day.rain_mm == pytest.approx(2.4) for day in forecast.days)
    assert forecast.retrieved_at == NOON
    assert not forecast.stale
    assert (forecast.source, forecast.elevation_m) == ("open-meteo", 40.0)
    assert forecast.lowest_temperature_c(NOON, NOON + 24 * HOUR) == 20.0
    assert forecast.lowest_temperature_c(NOON, NOON + 500 * HOUR) is None
    assert [day.origin for day in forecast.days[59:62]] == [
        Origin.ANALYSED, Origin.FORECAST, Origin.FORECAST,
    ]  # fmt: skip


# Design: up to 1 h used as it is; up to 6 h used while a fetch is under way; older, waited for.
@pytest.mark.parametrize(
    ("age", "newest_within_s", "fetches", "waits"),
    [
        ({"minutes": 50}, 6 * 3600, False, False),
        ({"minutes": 61}, 6 * 3600, True, False),
        ({"hours": 6}, 6 * 3600, True, False),
        ({"hours": 6, "seconds": 1}, 6 * 3600, True, True),
        ({"hours": 71}, 6 * 3600, True, True),
        ({"minutes": 50}, 3600, False, False),
        ({"minutes": 61}, 3600, True, True),
    ],
)
def test_how_old_an_answer_is_decides_who_fetches_and_who_waits(
    forecasts, source, clock, age, newest_within_s, fetches, waits
):
    forecasts.at(PARIS, past_days=3)
    source.gate.clear()
    clock.forward(**age)
    if waits:
        threading.Timer(0.05, source.gate.set).start()

    forecast = forecasts.at(PARIS, past_days=3, newest_within_s=newest_within_s)
    source.gate.set()
    settle()

    assert len(source.asked) == (2 if fetches else 1)
    assert (forecast.retrieved_at == clock()) is waits
    assert not forecast.stale


# The same with a source that does not answer in time.
@pytest.mark.parametrize(
    ("age", "newest_within_s", "stale"),
    [
        ({"hours": 2}, 3600, False),
        ({"hours": 6}, 3600, False),
        ({"hours": 7}, 6 * 3600, True),
        ({"hours": 72}, 6 * 3600, True),
    ],
)
def test_the_last_answer_is_used_when_the_fetch_takes_too_long(
    source, keep, clock, age, newest_within_s, stale
):
    forecasts = Forecasts({"open-meteo": source}, keep, clock, wait_s=0.05)
    forecasts.at(PARIS, past_days=3)
    source.gate.clear()
    clock.forward(**age)

    forecast = forecasts.at(PARIS, past_days=3, newest_within_s=newest_within_s)
    assert forecast.retrieved_at == NOON
    assert forecast.stale is stale
    source.gate.set()
    forecasts.close()


def test_above_72_hours_there_is_no_forecast(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    source.error = Unreachable("open-meteo", "did not answer in time.")
    clock.forward(hours=72, seconds=1)

    with pytest.raises(WeatherUnavailable, match="72 hours") as caught:
        forecasts.at(PARIS, past_days=3)
    assert caught.value.retry_after_s == 300


def test_without_any_forecast_the_error_says_when_to_ask_again(source, keep, clock):
    forecasts = Forecasts({"open-meteo": source}, keep, clock, wait_s=0.05)
    source.gate.clear()

    with pytest.raises(WeatherUnavailable, match="has not answered yet") as caught:
        forecasts.at(PARIS, past_days=3)
    assert caught.value.retry_after_s == 10
    source.gate.set()
    forecasts.close()


def test_after_a_failure_nothing_is_asked_for_a_while(forecasts, source, clock):
    source.error = Unreachable("open-meteo", "did not answer in time.")
    for _ in range(5):
        with pytest.raises(WeatherUnavailable):
            forecasts.at(PARIS, past_days=3)
    assert len(source.asked) == 1

    clock.forward(seconds=299)
    with pytest.raises(WeatherUnavailable) as caught:
        forecasts.at(PARIS, past_days=3)
    assert caught.value.retry_after_s == 10
    assert len(source.asked) == 1

    source.error = None
    clock.forward(seconds=1)
    assert forecasts.at(PARIS, past_days=3).retrieved_at == clock()
    assert len(source.asked) == 2


ELSEWHERE = Place(47.0, 8.0, "Europe/Zurich", ("open-meteo",))


@pytest.mark.parametrize(
    ("error", "pause_s", "everywhere"),
    [
        (Unreachable("open-meteo", "did not answer."), 300, False),
        (BadAnswer("open-meteo", "was cut off."), 300, False),
        (RateLimited("open-meteo", "Hourly.", retry_after_s=2400), 2400, True),
        (Forbidden("open-meteo", "answered with 403."), 3600, True),
        (ZeroDivisionError(), 300, False),
    ],
)
def test_a_pause_is_as_long_and_as_wide_as_its_cause(
    forecasts, source, clock, caplog, error, pause_s, everywhere
):
    source.error = error
    with pytest.raises(WeatherUnavailable) as caught:
        forecasts.at(PARIS, past_days=3)
    assert caught.value.retry_after_s == pause_s
    assert len(caplog.records) == 1

    source.error = None
    if everywhere:
        with pytest.raises(WeatherUnavailable):
            forecasts.at(ELSEWHERE, past_days=3)
        clock.forward(seconds=pause_s - 1)
        with pytest.raises(WeatherUnavailable):
            forecasts.at(ELSEWHERE, past_days=3)
        clock.forward(seconds=1)
    assert forecasts.at(ELSEWHERE, past_days=3)


def test_during_a_pause_an_older_answer_is_used_without_waiting(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    source.error = Unreachable("open-meteo", "did not answer.")
    clock.forward(hours=8)
    assert forecasts.at(PARIS, past_days=3).stale
    source.gate.clear()

    assert forecasts.at(PARIS, past_days=3).stale
    source.gate.set()
    settle()
    assert len(source.asked) == 2


def test_32_threads_on_a_cold_place_make_one_request(service, keep, clock):
    session, source = open_meteo_at(service)
    forecasts = Forecasts({"open-meteo": source}, keep, clock)
    answers = together(32, lambda _: forecasts.at(PARIS, past_days=30))
    forecasts.close()
    session.close()

    assert {answer.version for answer in answers} == {1}
    assert len(service.questions) == 1


def test_many_requests_in_the_background_window_make_one_fetch(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    source.gate.clear()
    clock.forward(hours=2)
    for _ in range(50):
        forecasts.at(PARIS, past_days=3)
    source.gate.set()
    settle()

    assert len(source.asked) == 2


def test_a_polled_forecast_is_not_read_again_until_there_is_a_new_one(forecasts, source, keep, clock):
    for _ in range(20):
        forecasts.at(PARIS, past_days=3)
    assert keep.read == 1

    clock.forward(hours=7)
    assert forecasts.at(PARIS, past_days=3).version == 2
    assert keep.read == 2


def test_an_answer_that_another_process_kept_is_used(source, keep, clock):
    here, there = (Forecasts({"open-meteo": source}, keep, clock) for _ in range(2))
    here.at(PARIS, past_days=3)
    clock.forward(hours=7)
    there.at(PARIS, past_days=3)

    assert here.at(PARIS, past_days=3).retrieved_at == clock()
    assert len(source.asked) == 2
    here.close()
    there.close()


def test_once_the_past_is_kept_few_past_days_are_asked_for(forecasts, source, clock):
    forecasts.at(PARIS, past_days=60)
    for _ in range(4):
        clock.forward(hours=7)
        assert len(forecasts.at(PARIS, past_days=60).days) == 70

    assert source.asked == [60, 3, 3, 3, 3]


def test_where_more_past_days_are_wanted_than_kept_one_fetch_brings_them(forecasts, source):
    forecasts.at(PARIS, past_days=3)
    forecast = forecasts.at(PARIS, past_days=80)

    assert source.asked == [3, 80]
    assert forecast.days[0].date == dt.date(2026, 7, 14) - dt.timedelta(days=80)
    assert len(forecasts.at(PARIS, past_days=3).days) == 13
    assert source.asked == [3, 80]


def test_days_that_a_source_does_not_have_are_not_asked_for_again_and_again(forecasts, source, clock):
    forecasts.at(PARIS, past_days=120)
    for _ in range(10):
        clock.forward(minutes=30)
        forecasts.at(PARIS, past_days=120, newest_within_s=3600)

    assert [days for days in source.asked if days > 3] == [120]
    assert len(source.asked) < 8


def test_after_an_outage_its_days_are_fetched_as_they_were(forecasts, source, clock):
    forecasts.at(PARIS, past_days=30)
    clock.forward(days=6)
    forecast = forecasts.at(PARIS, past_days=30)

    # The 14th, a forecast when it was fetched, is the oldest of what has not been settled.
    assert source.asked == [30, 6]
    assert all(day.origin is Origin.ANALYSED for day in forecast.days[:30])


def test_dates_that_were_never_kept_have_a_day_without_values(forecasts, source, clock):
    forecasts.at(PARIS, past_days=5)
    source.most_past_days = 2
    clock.forward(days=20)
    forecast = forecasts.at(PARIS, past_days=30)

    dates = [day.date for day in forecast.days]
    assert dates == [dates[0] + dt.timedelta(days=number) for number in range(len(dates))]
    unknown = [day for day in forecast.days if day.rain_mm is None]
    assert [day.date for day in unknown] == [
        dt.date(2026, 7, 14) + dt.timedelta(days=number) for number in range(10, 19)
    ]
    assert all(day.t_min_c is None and day.retrieved_at is None for day in unknown)


def test_a_complete_day_never_gives_way_to_an_incomplete_one(forecasts, source, clock):
    before = {day.date: day for day in forecasts.at(PARIS, past_days=3).days}
    source.without = {dt.date(2026, 7, 16)}
    clock.forward(hours=7)
    after = {day.date: day for day in forecasts.at(PARIS, past_days=3).days}

    assert after[dt.date(2026, 7, 16)] == before[dt.date(2026, 7, 16)]
    assert after[dt.date(2026, 7, 18)].retrieved_at == clock()


def test_a_forecast_over_72_hours_old_is_not_held_for_days_to_come(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    source.ahead = 2
    clock.forward(hours=73)
    forecast = forecasts.at(PARIS, past_days=3)

    assert forecast.days[-1].date == dt.date(2026, 7, 19)  # the answer of the 14th went on to the 23rd


def test_an_answer_that_ends_before_the_present_is_refused(forecasts, source, clock):
    good = forecasts.at(PARIS, past_days=3)
    source.ahead = -1
    clock.forward(hours=7)
    forecast = forecasts.at(PARIS, past_days=3)

    assert forecast.version == good.version
    assert forecast.stale


def test_sources_are_asked_in_the_order_of_the_place(keep, clock):
    first, second = Given(clock, "first"), Given(clock, "second")
    forecasts = Forecasts({"second": second, "first": first}, keep, clock)
    assert forecasts.at(BOTH, past_days=3).source == "first"
    assert not second.asked

    first.error = Unreachable("first", "did not answer.")
    clock.forward(hours=7)
    forecast = forecasts.at(BOTH, past_days=3)
    assert forecast.source == "second"
    assert forecast.attribution.text == "by second"
    assert not forecast.stale

    first.error = None
    clock.forward(hours=7)
    assert forecasts.at(BOTH, past_days=3).source == "first"
    forecasts.close()


def test_a_place_whose_sources_give_no_forecast_is_refused_in_words(forecasts):
    with pytest.raises(WeatherUnavailable, match="own-weather"):
        forecasts.at(Place(43.61, 3.88, "Europe/Paris", ("own-weather",)), past_days=3)


def test_an_older_answer_of_the_http_cache_serves_where_nothing_is_kept(forecasts, source, clock):
    failure = Unreachable("open-meteo", "did not answer.")
    failure.older = source.hours(PARIS, past_days=3)
    clock.forward(hours=10)
    source.error = failure
    forecast = forecasts.at(PARIS, past_days=3)

    assert forecast.retrieved_at == NOON
    assert forecast.stale


def test_an_older_answer_does_not_take_the_place_of_a_newer_one(forecasts, source, clock):
    failure = Unreachable("open-meteo", "did not answer.")
    failure.older = source.hours(PARIS, past_days=3)
    clock.forward(hours=1)
    forecasts.at(PARIS, past_days=3)
    kept_at = clock()
    source.error = failure
    clock.forward(hours=7)

    assert forecasts.at(PARIS, past_days=3).retrieved_at == kept_at


def test_a_store_that_cannot_keep_is_tried_again_soon(source, clock, caplog):
    class Full(MemoryKeep):
        full = True

        def keep(self, *arguments):
            if self.full:
                raise OSError("disk full")
            return super().keep(*arguments)

    keep = Full()
    forecasts = Forecasts({"open-meteo": source}, keep, clock)
    with pytest.raises(WeatherUnavailable) as caught:
        forecasts.at(PARIS, past_days=3)
    assert caught.value.retry_after_s == 30
    assert "could not be kept" in caplog.text

    keep.full = False
    clock.forward(seconds=30)
    assert forecasts.at(PARIS, past_days=3)
    forecasts.close()


def test_a_clock_that_was_set_back_makes_a_forecast_stale(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    source.error = Unreachable("open-meteo", "did not answer.")
    clock.forward(hours=-2)

    assert forecasts.at(PARIS, past_days=3).stale


def test_nothing_is_started_once_closed(forecasts, source, clock):
    forecasts.at(PARIS, past_days=3)
    forecasts.close()
    clock.forward(hours=2)

    assert forecasts.at(PARIS, past_days=3)
    assert len(source.asked) == 1


@pytest.mark.parametrize(
    "reply", [send('{"hourly":'), send("<html>"), send({"error": True, "reason": "no"}), send("", 503)]
)
def test_a_bad_answer_over_http_leaves_the_kept_forecast_as_it_was(service, keep, clock, reply):
    session, source = open_meteo_at(service)
    forecasts = Forecasts({"open-meteo": source}, keep, clock)
    good = forecasts.at(PARIS, past_days=3)
    service.reply = reply
    for key in list(session.cache.responses):
        del session.cache.responses[key]
    clock.forward(hours=7)
    forecast = forecasts.at(PARIS, past_days=3)
    forecasts.close()
    session.close()

    assert forecast.stale
    assert (forecast.version, forecast.days, forecast.hours) == (good.version, good.days, good.hours)


def test_what_was_handed_out_is_handed_out_again_until_something_changes(forecasts, source, clock):
    first = forecasts.at(MONTPELLIER, past_days=3)
    assert forecasts.at(MONTPELLIER, past_days=3) == first
    assert len(forecasts.at(MONTPELLIER, past_days=2).days) == len(first.days) - 1
    clock.forward(minutes=30)
    forecasts.at(MONTPELLIER, past_days=3)
    assert forecasts.at(MONTPELLIER, past_days=3).retrieved_at == first.retrieved_at
    clock.forward(minutes=45)
    settle()
    forecasts.at(MONTPELLIER, past_days=3)
    settle()
    assert forecasts.at(MONTPELLIER, past_days=3).retrieved_at > first.retrieved_at
