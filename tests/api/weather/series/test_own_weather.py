"""What the owner measured takes the place of what a source says, field by field."""

import datetime as dt

import pytest

from api.weather.series.forecast_verification import Promise, trust_in_sources
from api.weather.series.own_weather import Observation, with_observations
from scheduling.balance.weather import Borrowed, Origin, WeatherDay

JULY_14 = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)
EVENING = dt.datetime(2026, 7, 15, 6, tzinfo=dt.UTC)
NOON = dt.datetime(2026, 7, 14, 10, tzinfo=dt.UTC)


def analysed(**values) -> WeatherDay:
    known = {"t_min_c": 15.0, "t_max_c": 25.0, "rain_mm": 3.0, "origin": Origin.ANALYSED, "source": "dwd"}
    return WeatherDay(JULY_14, **{**known, **values})


def forecast(**values) -> WeatherDay:
    known = {"origin": Origin.FORECAST, "rain_probability": 0.5, "rain_trust_share": 0.6}
    return analysed(**{**known, **values})


def of_the_day(**values: float) -> Observation:
    return Observation(JULY_14, values, EVENING, covers_day=True)


def of_its_beginning(**values: float) -> Observation:
    return Observation(JULY_14, values, NOON, covers_day=False)


def seen(day: WeatherDay, told: Observation) -> WeatherDay:
    (changed,) = with_observations([day], {JULY_14: told})
    return changed


def test_without_observations_the_days_are_as_they_were():
    assert with_observations([analysed()], {}) == (analysed(),)


def test_a_field_that_was_measured_takes_the_place_of_the_source_s_and_no_other_does():
    day = seen(analysed(wind_m_s=3.0), of_the_day(rain_mm=7.5))
    assert (day.rain_mm, day.t_min_c, day.t_max_c, day.wind_m_s) == (7.5, 15.0, 25.0, 3.0)
    assert (day.source, day.origin, day.observed) == ("dwd", Origin.ANALYSED, ("rain_mm",))
    assert (day.source_of("rain"), day.source_of("temperature")) == ("own-weather", "dwd")


def test_a_gauge_that_stayed_dry_is_an_observation_too():
    assert seen(analysed(), of_the_day(rain_mm=0.0)).rain_mm == 0.0


def test_what_was_borrowed_before_gives_way():
    day = analysed(borrowed=(Borrowed("rain", "demo", None), Borrowed("wind", "demo", None)))
    day = seen(day, of_the_day(rain_mm=1.0))
    assert [(other.quantity, other.source) for other in day.borrowed] == [
        ("wind", "demo"),
        ("rain", "own-weather"),
    ]


@pytest.mark.parametrize("origin", [Origin.FORECAST, Origin.PAST_FORECAST])
def test_measured_rain_of_a_day_known_by_its_forecast_counts_in_full(origin):
    day = seen(forecast(origin=origin, rain_members_mm=(0.0, 6.0)), of_the_day(rain_mm=7.5))
    assert (day.rain_mm, day.rain_fallen_mm) == (7.5, 7.5)
    assert (day.rain_probability, day.rain_members_mm, day.rain_trust_share) == (None, None, 1.0)


def test_one_extreme_that_was_measured_moves_the_other_where_they_would_cross():
    assert seen(analysed(), of_the_day(t_max_c=12.0)).t_min_c == 12.0
    assert seen(analysed(), of_the_day(t_min_c=27.0)).t_max_c == 27.0
    assert seen(analysed(), of_the_day(t_min_c=17.0)).t_max_c == 25.0


def test_own_humidity_is_not_contradicted_by_a_dew_point_from_elsewhere():
    day = seen(analysed(t_dew_c=14.0, rh_mean_pct=60.0), of_the_day(rh_min_pct=30.0, rh_max_pct=80.0))
    assert (day.t_dew_c, day.rh_min_pct, day.rh_max_pct, day.rh_mean_pct) == (None, 30.0, 80.0, None)


def test_own_wind_blows_at_its_own_height():
    day = analysed(wind_m_s=4.0, wind_height_m=10.0, wind_max_m_s=9.0)
    assert seen(day, of_the_day(wind_m_s=1.5)).wind_height_m == 2.0
    assert seen(day, of_the_day(wind_m_s=1.5)).wind_max_m_s is None
    assert seen(day, of_the_day(wind_m_s=1.5, wind_height_m=3.0)).wind_height_m == 3.0


def test_own_sunshine_is_not_outdone_by_radiation_from_elsewhere():
    day = seen(analysed(solar_mj_m2=20.0), of_the_day(sunshine_h=11.0))
    assert (day.sunshine_h, day.solar_mj_m2) == (11.0, None)


def test_days_that_no_source_knows_are_made_of_what_was_measured():
    told = Observation(
        JULY_14 - 3 * ONE_DAY, {"t_min_c": 14.0, "t_max_c": 22.0, "rain_mm": 0.0}, EVENING, covers_day=True
    )
    days = with_observations([analysed()], {told.date: told})
    assert [day.date for day in days] == [JULY_14 - number * ONE_DAY for number in (3, 2, 1, 0)]
    assert (days[0].source, days[0].origin, days[0].t_max_c) == ("own-weather", Origin.MEASURED, 22.0)
    assert (days[1].source, days[1].t_max_c) == ("none", None)


def test_of_an_assumed_day_only_its_rain_can_be_told_unless_all_is_known():
    day = WeatherDay(JULY_14, origin=Origin.ASSUMED, source="none")
    some = seen(day, of_the_day(rain_mm=5.0, t_max_c=30.0))
    assert (some.origin, some.rain_mm, some.observed) == (Origin.ASSUMED, 5.0, ("rain_mm",))
    assert seen(day, of_the_day(t_max_c=30.0)) == day
    whole = seen(day, of_the_day(rain_mm=5.0, t_min_c=15.0, t_max_c=30.0))
    assert (whole.origin, whole.source) == (Origin.MEASURED, "own-weather")


# Days that are not over


def test_of_a_day_that_is_not_over_the_gauge_is_the_least_that_has_fallen():
    day = seen(forecast(rain_mm=5.0, rain_fallen_mm=2.0), of_its_beginning(rain_mm=4.0, t_max_c=19.0))
    assert (day.rain_fallen_mm, day.rain_mm) == (4.0, 7.0)  # 3 mm are still to come
    assert (day.t_max_c, day.rain_probability, day.rain_trust_share) == (25.0, 0.5, 0.6)
    assert (day.source_of("rain"), day.observed) == ("dwd", ("rain_fallen_mm",))


def test_a_gauge_that_was_read_before_the_rain_takes_none_of_it_back():
    day = forecast(rain_mm=5.0, rain_fallen_mm=2.0)
    assert seen(day, of_its_beginning(rain_mm=1.0)) == day
    assert seen(analysed(), of_its_beginning(rain_mm=1.0)) == analysed()


def test_where_the_source_does_not_know_what_has_fallen_the_gauge_s_part_is_of_the_forecast():
    assert seen(forecast(rain_mm=5.0), of_its_beginning(rain_mm=4.0)).rain_mm == 5.0
    assert seen(forecast(rain_mm=5.0), of_its_beginning(rain_mm=8.0)).rain_mm == 8.0


def test_rain_that_has_fallen_has_done_so_in_every_member_of_an_ensemble():
    day = forecast(rain_mm=4.0, rain_members_mm=(1.0, 7.0), rain_fallen_mm=1.0)
    day = seen(day, of_its_beginning(rain_mm=3.0))
    assert (day.rain_members_mm, day.rain_mm, day.rain_fallen_mm) == ((3.0, 9.0), 6.0, 3.0)


def test_a_gauge_that_showed_rain_of_an_assumed_day_is_the_least_of_it():
    day = WeatherDay(JULY_14, origin=Origin.ASSUMED, source="none")
    changed = seen(day, of_its_beginning(rain_mm=4.0))
    assert (changed.origin, changed.rain_mm, changed.source_of("rain")) == (
        Origin.ASSUMED,
        4.0,
        "own-weather",
    )


def test_what_a_gauge_showed_at_noon_is_the_least_of_the_day_once_it_is_over():
    day = seen(analysed(), of_its_beginning(rain_mm=9.0))
    assert (day.rain_mm, day.source_of("rain"), day.observed) == (9.0, "own-weather", ("rain_mm",))


# What was promised


def test_a_promise_is_judged_by_the_own_gauge_where_there_is_one():
    days = with_observations([forecast(origin=Origin.PAST_FORECAST)], {JULY_14: of_the_day(rain_mm=1.0)})
    promise = Promise(JULY_14, "met-norway", 8.0, 10.0, NOON)
    assert trust_in_sources([promise], days, None)["met-norway"].came_mm == 1.0
    assert trust_in_sources([promise], [forecast(origin=Origin.PAST_FORECAST)], None) == {}
