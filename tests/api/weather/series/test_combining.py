"""What sources lend each other: whole days, and quantities of which the first knows nothing."""

import datetime as dt
import threading
from contextlib import suppress
from dataclasses import replace

import pytest

from api.weather.errors import Unreachable, WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.series.gap_filling import combined
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from scheduling.balance.weather import Borrowed, Origin, WeatherDay
from tests.api.stored_garden import Clock, settle
from tests.api.weather.weather_service import NOON
from tests.profile import PATIENCE_S

TODAY = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)
FIRST = WeatherDay(
    TODAY + ONE_DAY,
    t_min_c=15.0,
    t_max_c=25.0,
    t_dew_c=12.0,
    wind_m_s=2.0,
    wind_height_m=10.0,
    cloud_share=0.2,
    rain_mm=4.0,
    rain_probability=0.5,
    source="met-norway",
    retrieved_at=NOON,
)
SECOND = WeatherDay(
    TODAY + ONE_DAY,
    t_min_c=14.0,
    t_max_c=27.0,
    t_dew_c=11.0,
    wind_m_s=4.0,
    wind_height_m=2.0,
    solar_mj_m2=22.0,
    rain_mm=9.0,
    rain_probability=0.9,
    source="open-meteo",
    retrieved_at=NOON + HOUR,
)


def one(first: WeatherDay, second: WeatherDay) -> WeatherDay:
    (day,) = combined([first], [second], TODAY)
    return day


def test_radiation_is_borrowed_and_nothing_else_that_the_first_source_knows():
    assert one(FIRST, SECOND) == replace(
        FIRST,
        solar_mj_m2=22.0,
        cloud_share=None,
        borrowed=(Borrowed("solar_radiation", "open-meteo", NOON + HOUR),),
    )


def test_rain_comes_whole_from_one_source_with_its_chance():
    dry_of_words = replace(FIRST, rain_mm=None, rain_fallen_mm=1.0)
    day = one(dry_of_words, SECOND)
    assert (day.rain_mm, day.rain_probability, day.rain_fallen_mm) == (9.0, 0.9, None)
    assert day.source_of("rain") == "open-meteo"
    assert day.t_max_c == 25.0

    without_chance = replace(FIRST, rain_probability=None)
    assert one(without_chance, SECOND).rain_probability is None  # that of another forecast's rain is no help


def test_wind_is_borrowed_with_the_height_at_which_it_blows():
    day = one(replace(FIRST, wind_m_s=None, wind_max_m_s=None), SECOND)
    assert (day.wind_m_s, day.wind_height_m) == (4.0, 2.0)
    assert day.source_of("wind") == "open-meteo"


def test_humidity_is_borrowed_only_where_nothing_at_all_is_known_of_it():
    assert one(replace(FIRST, t_dew_c=None), SECOND).t_dew_c == 11.0
    assert one(replace(FIRST, t_dew_c=None, rh_mean_pct=60.0), SECOND).t_dew_c is None


@pytest.mark.parametrize("lacks", ["t_min_c", "t_max_c"])
def test_a_day_without_its_temperatures_is_the_other_source_s_day(lacks):
    assert one(replace(FIRST, **{lacks: None}), SECOND) == SECOND


def test_a_day_without_temperatures_in_either_stays_what_it_was():
    first, second = replace(FIRST, t_min_c=None), replace(SECOND, t_max_c=None)
    assert one(first, second) == first


def test_an_account_of_a_day_that_is_over_takes_the_place_of_its_forecast():
    yesterday = TODAY - ONE_DAY
    first = replace(FIRST, date=yesterday)
    second = replace(SECOND, date=yesterday, origin=Origin.ANALYSED)
    assert one(first, second) == second
    assert one(first, replace(second, origin=Origin.FORECAST)).source == "met-norway"
    assert one(replace(first, origin=Origin.ANALYSED), second).source == "met-norway"


def test_days_that_only_the_other_source_has_are_taken_where_they_are_whole():
    later = replace(SECOND, date=TODAY + 5 * ONE_DAY)
    assert combined([FIRST], [later], TODAY) == (FIRST, later)
    assert combined([FIRST], [replace(later, rain_mm=None)], TODAY) == (FIRST,)


# Through a fetch


class Source:
    """Tells what it is told to, from where it begins to where it ends."""

    def __init__(self, clock: Clock, name: str, *, knows_past: bool, solar: bool = False, rain_ends: int = 9):
        self.clock, self.name, self.knows_past = clock, name, knows_past
        self.solar_mj_m2 = 1.0 if solar else None
        self.rain_ends = rain_ends
        self.rain_mm = 0.1
        self.asked: list[int] = []
        self.error: Exception | None = None

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        self.asked.append(past_days)
        if self.error is not None:
            raise self.error
        now = self.clock()
        start = now.replace(hour=0, minute=0) - ONE_DAY * (past_days + 1)
        if not self.knows_past:
            start = now.replace(minute=0)
        end = now.replace(hour=0, minute=0) + ONE_DAY * 9
        rain_ends = now.replace(hour=0, minute=0) + ONE_DAY * self.rain_ends
        hours = []
        while start < end:
            rain_mm = self.rain_mm if start < rain_ends else None
            hours.append(Hour(start, 20.0, 12.0, 60.0, 2.0, self.solar_mj_m2, 0.2, rain_mm))
            start += HOUR
        return HourlyWeather(
            self.name, Attribution(f"by {self.name}"), now, 40.0, 10.0, tuple(hours), self.knows_past
        )


def place(*names: str) -> Place:
    return Place(43.61, 3.88, "UTC", names)


@pytest.fixture
def norway(clock):
    return Source(clock, "met-norway", knows_past=False)


@pytest.fixture
def meteo(clock):
    return Source(clock, "open-meteo", knows_past=True, solar=True)


@pytest.fixture
def forecasts(norway, meteo, keep, clock):
    states = Source(clock, "us-nws", knows_past=False, rain_ends=3)
    forecasts = Forecasts({"met-norway": norway, "open-meteo": meteo, "us-nws": states}, keep, clock)
    forecasts.states = states
    yield forecasts
    forecasts.close()


def test_past_and_radiation_come_from_the_next_source_and_tomorrow_from_the_first(forecasts, meteo):
    meteo.rain_mm = 0.5
    forecast = forecasts.at(place("met-norway", "open-meteo"), past_days=20)
    by_date = {day.date: day for day in forecast.days}

    assert forecast.source == "met-norway"
    assert by_date[TODAY - ONE_DAY].source == "open-meteo"
    assert by_date[TODAY - ONE_DAY].origin is Origin.ANALYSED
    assert by_date[TODAY].source == "open-meteo"  # of which met-norway has only the rest
    tomorrow = by_date[TODAY + ONE_DAY]
    assert (tomorrow.source, tomorrow.source_of("solar_radiation")) == ("met-norway", "open-meteo")
    assert tomorrow.rain_mm == pytest.approx(2.4)  # not 12, and not both
    assert [told.text[:9] for told in forecast.attributions] == ["by met-no", "Weather d"]


def test_a_source_that_has_everything_asks_no_other(forecasts, norway, meteo):
    forecast = forecasts.at(place("open-meteo", "met-norway"), past_days=20)
    assert norway.asked == []
    assert {day.source for day in forecast.days} == {"open-meteo"}


def test_a_source_that_could_add_nothing_is_not_asked(forecasts, norway, clock):
    forecasts.at(place("met-norway", "us-nws"), past_days=0)
    clock.forward(days=1)  # the hours of today are kept by then
    forecasts.at(place("met-norway", "us-nws"), past_days=0)
    assert forecasts.states.asked == []  # of the morning, which has been, it knows nothing either


def test_rain_that_ends_early_goes_on_with_the_next_source_day_by_day(forecasts, norway):
    forecast = forecasts.at(place("us-nws", "met-norway"), past_days=0)
    by_date = {day.date: day for day in forecast.days}
    days = [by_date[TODAY + number * ONE_DAY] for number in range(1, 5)]
    assert [day.source for day in days] == ["us-nws"] * 4
    assert [day.source_of("rain") for day in days] == ["us-nws", "us-nws", "met-norway", "met-norway"]


def test_where_the_second_source_fails_the_first_stands_alone(forecasts, meteo):
    meteo.error = Unreachable("open-meteo", "did not answer.")
    forecast = forecasts.at(place("met-norway", "open-meteo"), past_days=20)
    tomorrow = next(day for day in forecast.days if day.date == TODAY + ONE_DAY)
    assert tomorrow.borrowed == ()
    assert tomorrow.solar_mj_m2 is None


def test_a_past_that_only_the_second_source_knows_is_asked_for_again_within_the_hour(forecasts, meteo, clock):
    here = place("met-norway", "open-meteo")
    meteo.error = Unreachable("open-meteo", "did not answer.")
    forecasts.at(here, past_days=20)
    meteo.error = None
    clock.forward(minutes=61)
    forecast = forecasts.at(here, past_days=20, newest_within_s=3600)
    assert forecast.days[0].date == TODAY - 20 * ONE_DAY
    assert meteo.asked == [20, 20]


def test_what_the_second_source_said_before_still_serves_where_the_http_cache_has_it(forecasts, meteo):
    failure = Unreachable("open-meteo", "did not answer.")
    failure.older = meteo.hours(place(), past_days=3)
    meteo.error = failure
    forecast = forecasts.at(place("met-norway", "open-meteo"), past_days=0)
    tomorrow = next(day for day in forecast.days if day.date == TODAY + ONE_DAY)
    assert tomorrow.source_of("solar_radiation") == "open-meteo"


def test_who_waits_gets_the_first_source_s_answer_while_the_second_hangs(norway, keep, clock):
    hangs, gate = threading.Event(), threading.Event()

    class Hanging(Source):
        def hours(self, place, *, past_days):
            hangs.set()
            assert gate.wait(PATIENCE_S)
            return super().hours(place, past_days=past_days)

    hanging = Hanging(clock, "open-meteo", knows_past=True, solar=True)
    forecasts = Forecasts({"met-norway": norway, "open-meteo": hanging}, keep, clock, wait_s=0.01)
    with suppress(WeatherUnavailable):  # a slow machine may not have the first answer yet
        forecasts.at(place("met-norway", "open-meteo"), past_days=0)
    assert hangs.wait(PATIENCE_S)
    first = forecasts.at(place("met-norway", "open-meteo"), past_days=0)
    gate.set()
    forecasts.close()
    second = forecasts.at(place("met-norway", "open-meteo"), past_days=0)

    assert {day.source for day in first.days} == {"met-norway"}
    assert second.version == first.version + 1
    assert "open-meteo" in {day.source_of("solar_radiation") for day in second.days}


# A history of one's own


def test_a_source_without_past_days_gives_an_unbroken_past_evening_by_evening(forecasts, norway, clock):
    here = place("met-norway")
    for evening in range(12):
        norway.rain_mm = 0.1 * (evening % 3)
        forecast = forecasts.at(here, past_days=60)
        clock.forward(days=1)
    forecast = forecasts.at(here, past_days=60)
    past = [day for day in forecast.days if TODAY < day.date < clock().date()]

    assert [day.date for day in past] == [TODAY + number * ONE_DAY for number in range(1, 12)]
    assert {day.origin for day in past} == {Origin.PAST_FORECAST}
    assert all(day.rain_mm is not None and day.source == "met-norway" for day in past)
    # Each as it was last forecast: at its noon for its second half, the noon before for its first.
    assert [day.rain_mm for day in past[:3]] == pytest.approx([0.0 + 1.2, 1.2 + 2.4, 2.4 + 0.0])
    assert forecast.days[-1].origin is Origin.FORECAST


def test_the_next_source_is_not_asked_while_the_last_answer_of_a_preferred_one_is_good(clock, keep):
    names = ("open-meteo", "met-norway")
    first = Source(clock, "open-meteo", knows_past=True, solar=True)
    second = Source(clock, "met-norway", knows_past=False, solar=False)
    forecasts = Forecasts({"open-meteo": first, "met-norway": second}, keep, clock)
    here = place(*names)

    def source_after(hours: float) -> str:
        clock.forward(hours=hours)
        forecasts.at(here, past_days=3)
        settle()
        return forecasts.at(here, past_days=3).source

    assert source_after(0) == "open-meteo"
    asked = len(second.asked)
    first.error = Unreachable("open-meteo", "did not answer.")
    assert [source_after(1) for _ in range(6)] == ["open-meteo"] * 6
    assert (len(first.asked), len(second.asked)) == (7, asked)
    assert source_after(1) == "met-norway"
    first.error = None
    assert source_after(1) == "open-meteo"
    forecasts.close()
