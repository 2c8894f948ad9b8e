"""Weather days as columns: what is demanded, what rain counts, and where the known days end."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from scheduling.balance.evapotranspiration import Site, daily_demand
from scheduling.balance.garden_series import GardenDays, garden_days
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.balance.zone_series import ZoneDays, zone_days
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.garden.description import Planting, Soil, Zone
from scheduling.landscape.infiltration import curve_number_when_wet, rain_runoff_mm
from scheduling.zone.from_catalogue import numbers_of
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    TROUGHS,
    a_garden,
    summer_day,
    summer_days,
    with_planting,
    with_rules,
    with_site,
)

SITE = Site(45.0, 0.0)
PAST = 5
PLANNED = JULY_1 + PAST * ONE_DAY


def columns(weather: list[WeatherDay], until: dt.date = PLANNED + 3 * ONE_DAY) -> GardenDays:
    return garden_days(weather, SITE, PLANNED, until)


def forecast(date: dt.date = PLANNED, **fields: Any) -> WeatherDay:
    return summer_day(date, origin=Origin.FORECAST, **fields)


def with_forecast(day: WeatherDay, *later: WeatherDay) -> list[WeatherDay]:
    return [*summer_days(JULY_1, PAST), day, *later]


def on_the_date(zone: Zone, day: WeatherDay) -> tuple[float, float]:
    """Certain and counted rain of a zone on the planned date."""
    days = columns(with_forecast(day))
    numbers = numbers_of(zone, a_garden(zone))
    zone_columns: ZoneDays = zone_days(numbers, days)
    return zone_columns.certain_rain_mm[PAST], zone_columns.counted_rain_mm[PAST]


def test_every_known_day_has_its_own_demand() -> None:
    weather = with_forecast(forecast(t_max_c=35.0))
    assert columns(weather).eto_mm[: PAST + 1] == [daily_demand(day, SITE).eto_mm for day in weather]


def test_beyond_the_forecast_demand_is_the_mean_of_the_last_seven_days_and_no_rain_falls() -> None:
    weather = [summer_day(JULY_1 + d * ONE_DAY, t_max_c=24.0 + d, rain_mm=9.0) for d in range(10)]
    days = garden_days(weather, SITE, weather[-1].date, weather[-1].date + 4 * ONE_DAY)
    mean = sum(daily_demand(day, SITE).eto_mm for day in weather[-7:]) / 7
    assert days.eto_mm[10:] == pytest.approx([mean] * 4)
    assert days.counted_rain_mm[10:] == [0.0] * 4
    assert days.lowest_c[10:] == [None] * 4
    assert days.dates[-1] == weather[-1].date + 4 * ONE_DAY
    assert days.known == 10


def test_a_gap_before_the_date_is_refused_with_its_days() -> None:
    weather = with_forecast(forecast())
    del weather[2:4]
    with pytest.raises(WeatherGap, match="2026-07-03 to 2026-07-04"):
        columns(weather)


def test_weather_that_ends_before_the_date_is_refused() -> None:
    with pytest.raises(WeatherGap, match="2026-07-05 to 2026-07-06"):
        columns(summer_days(JULY_1, 4))


def test_weather_that_begins_after_the_date_is_refused() -> None:
    with pytest.raises(WeatherGap, match="2026-07-06 to 2026-07-08"):
        columns(summer_days(PLANNED + 3 * ONE_DAY, 4))


def test_no_weather_at_all_is_refused() -> None:
    with pytest.raises(WeatherGap, match="2026-07-06"):
        columns([])


def test_a_gap_after_the_date_ends_the_known_days() -> None:
    assert columns(with_forecast(forecast(), summer_day(PLANNED + 2 * ONE_DAY))).known == PAST + 1


@pytest.mark.parametrize("field", ["t_min_c", "t_max_c", "rain_mm"])
def test_a_past_day_that_lacks_what_nothing_stands_in_for_is_refused(field: str) -> None:
    weather = with_forecast(forecast())
    lacking: dict[str, Any] = {field: None}
    weather[1] = replace(weather[1], **lacking)
    with pytest.raises(WeatherIncomplete, match=f"2026-07-02 lacks {field}"):
        columns(weather)


def test_a_later_day_without_temperatures_ends_the_known_days() -> None:
    later = summer_day(PLANNED + ONE_DAY, t_max_c=None, origin=Origin.FORECAST)
    assert columns(with_forecast(forecast(), later)).known == PAST + 1


def test_a_forecast_without_rain_counts_none_and_says_so() -> None:
    days = columns(with_forecast(forecast(rain_mm=None)))
    assert days.counted_rain_mm[PAST] == 0.0
    assert days.estimated[PAST] == ("rain",)


def test_measured_and_analysed_rain_counts_in_full() -> None:
    weather = with_forecast(forecast())
    weather[0] = replace(weather[0], rain_mm=7.0, origin=Origin.MEASURED, rain_probability=0.1)
    weather[1] = replace(weather[1], rain_mm=9.0, rain_probability=0.1)
    assert columns(weather).certain_rain_mm[:2] == [7.0, 9.0]
    assert columns(weather).counted_rain_mm[:2] == [7.0, 9.0]


@pytest.mark.parametrize(
    ("fields", "counted_mm"),
    [
        ({"rain_probability": 0.6}, 6.0),
        ({"rain_probability": None}, 7.0),
        ({"rain_probability": 0.0}, 0.0),
        ({"rain_probability": 0.6, "rain_is_expected_value": True}, 10.0),
        ({"rain_probability": 0.5, "rain_fallen_mm": 4.0}, 7.0),
        ({"rain_probability": 0.5, "rain_fallen_mm": 12.0}, 10.0),
    ],
)
def test_forecast_rain_counts_by_its_probability(fields: dict[str, Any], counted_mm: float) -> None:
    days = columns(with_forecast(forecast(rain_mm=10.0, **fields)))
    assert days.counted_rain_mm[PAST] == pytest.approx(counted_mm)


def test_rain_more_than_three_days_after_the_date_counts_by_seven_tenths() -> None:
    later = [forecast(PLANNED + ahead * ONE_DAY, rain_mm=10.0, rain_probability=1.0) for ahead in range(6)]
    counted = columns([*summer_days(JULY_1, PAST), *later]).counted_rain_mm
    assert counted[PAST:] == pytest.approx([10.0, 10.0, 10.0, 10.0, 7.0, 7.0])


def test_the_mean_rain_is_that_of_the_days_that_are_over() -> None:
    past = [summer_day(JULY_1 + day * ONE_DAY, rain_mm=3.0) for day in range(40)]
    day = summer_day(JULY_1 + 40 * ONE_DAY, rain_mm=99.0, origin=Origin.FORECAST)
    assert garden_days([*past, day], SITE, day.date, day.date).mean_rain_mm == pytest.approx(3.0)


def test_one_wet_day_is_no_wet_season() -> None:
    wet = summer_day(PLANNED - ONE_DAY, rain_mm=30.0)
    assert columns([wet, forecast()]).mean_rain_mm == pytest.approx(1.0)


def test_the_share_of_rain_applies_before_light_rain_is_put_aside() -> None:
    # A fifth of 5 mm is 1 mm: less than 0.2 of about 5.5 mm.
    rain = summer_day(PLANNED, rain_mm=5.0)
    assert on_the_date(with_site(LAWN, rain_share=0.2), rain) == (0.0, 0.0)
    assert on_the_date(with_site(LAWN, rain_share=0.4), rain) == (2.0, 2.0)


def test_light_rain_is_judged_by_its_whole_depth_and_counted_by_its_chance() -> None:
    assert on_the_date(LAWN, forecast(rain_mm=4.0, rain_probability=0.5)) == (0.0, 2.0)
    assert on_the_date(LAWN, forecast(rain_mm=4.0, rain_probability=0.125)) == (0.0, 0.5)
    assert on_the_date(LAWN, forecast(rain_mm=0.8, rain_probability=1.0)) == (0.0, 0.0)


def test_what_has_fallen_today_is_certain_and_the_rest_is_counted() -> None:
    day = forecast(rain_mm=10.0, rain_fallen_mm=4.0, rain_probability=0.5)
    assert on_the_date(LAWN, day) == (4.0, 7.0)


def test_a_zone_exempt_from_rain_counts_only_what_has_fallen() -> None:
    day = forecast(rain_mm=10.0, rain_fallen_mm=4.0, rain_probability=0.5)
    assert on_the_date(with_rules(LAWN, exempt=("rain",)), day) == (4.0, 4.0)


def on_texture(texture: str, zone: Zone = LAWN) -> Zone:
    return replace(zone, soil=Soil(texture=texture))


@pytest.mark.parametrize(
    ("texture", "curve_number"),
    [("sand", 39.0), ("loam", 61.0), ("sandy-clay-loam", 74.0), ("clay", 80.0)],
)
def test_heavy_rain_runs_off_a_lawn_by_its_soil_group(texture: str, curve_number: float) -> None:
    # The equations are held to TR-55's own examples beside `rain_runoff_mm`.
    day = summer_day(PLANNED, rain_mm=50.0)
    goes_in_mm = 50.0 - rain_runoff_mm(50.0, curve_number)
    assert on_the_date(on_texture(texture), day) == pytest.approx((goes_in_mm, goes_in_mm))


def test_a_bed_of_vegetables_sheds_more_than_a_lawn_and_shrubs_less() -> None:
    day = summer_day(PLANNED, rain_mm=50.0)
    bed = replace(on_texture("clay"), planting=Planting("lettuce", kc=1.0))
    shrubs = replace(on_texture("clay"), planting=Planting("shrubs", kc=1.0))
    certain = [on_the_date(zone, day)[0] for zone in (bed, on_texture("clay"), shrubs)]
    assert certain == sorted(certain)
    assert len(set(certain)) == 3


def test_a_container_and_a_roof_shed_nothing_of_what_reaches_them() -> None:
    day = summer_day(PLANNED, rain_mm=80.0)
    assert on_the_date(with_site(TROUGHS, rain_share=1.0), day)[0] == 80.0
    assert on_the_date(with_site(on_texture("clay"), rain_share=0.1), day)[0] == pytest.approx(8.0)


def test_a_likely_downpour_counts_by_what_would_go_in_of_it() -> None:
    day = forecast(rain_mm=50.0, rain_probability=0.6)
    goes_in_mm = 0.6 * (50.0 - rain_runoff_mm(50.0, 80.0))
    assert on_the_date(on_texture("clay"), day) == pytest.approx((0.0, goes_in_mm))


def test_what_has_fallen_of_a_downpour_is_never_less_for_what_may_follow() -> None:
    day = forecast(rain_mm=60.0, rain_fallen_mm=30.0, rain_probability=0.01)
    certain, counted = on_the_date(on_texture("clay"), day)
    assert certain == pytest.approx(30.0 - rain_runoff_mm(30.0, 80.0))
    assert certain < counted < certain + 0.3


def test_what_runs_off_and_what_goes_in_are_what_falls() -> None:
    zone = on_texture("clay")
    weather = [summer_day(JULY_1 + d * ONE_DAY, rain_mm=12.0 * d) for d in range(PAST + 1)]
    days = columns(weather)
    zone_columns = zone_days(numbers_of(zone, a_garden(zone)), days)
    for fell, ran_off, went_in in zip(
        days.certain_rain_mm, zone_columns.runoff_mm, zone_columns.certain_rain_mm, strict=True
    ):
        assert ran_off + went_in == pytest.approx(fell)
    assert zone_columns.runoff_mm[:2] == [0.0, 0.0]  # TR-55: clay under grass keeps 12.7 mm
    assert zone_columns.runoff_mm[5] > zone_columns.runoff_mm[2] > 0.0


def after_rain(daily_mm: float, *ahead: WeatherDay) -> GardenDays:
    """Five days of rain before the planned date."""
    wet = [summer_day(PLANNED - back * ONE_DAY, rain_mm=daily_mm) for back in range(5, 0, -1)]
    return columns([*summer_days(JULY_1, PAST - 5), *wet, *ahead])


def sheds_mm(days: GardenDays, date: dt.date = PLANNED) -> float:
    zone = on_texture("clay")
    return zone_days(numbers_of(zone, a_garden(zone)), days).runoff_mm[days.index(date)]


def test_ground_that_days_of_rain_have_soaked_sheds_as_wet_ground() -> None:
    # More than 53.3 mm in five days (SCS handbook, section 4, table 4.2; from memory) make condition III.
    storm = summer_day(PLANNED, rain_mm=50.0)
    assert sheds_mm(after_rain(10.6, storm)) == pytest.approx(rain_runoff_mm(50.0, 80.0))
    soaked = rain_runoff_mm(50.0, curve_number_when_wet(80.0))
    assert sheds_mm(after_rain(10.7, storm)) == pytest.approx(soaked)
    assert soaked > rain_runoff_mm(50.0, 80.0)


def test_how_wet_the_ground_was_is_known_though_the_ledger_begins_later() -> None:
    days = after_rain(10.7, summer_day(PLANNED, rain_mm=50.0))
    for back in (0, 2, 4):
        since = days.since(PLANNED - back * ONE_DAY)
        assert sheds_mm(since) == sheds_mm(days)


def test_rain_that_is_only_forecast_soaks_nothing() -> None:
    later = forecast(rain_mm=50.0, rain_probability=1.0)
    days = columns(
        [
            *summer_days(JULY_1, PAST),
            forecast(rain_mm=60.0, rain_probability=1.0),
            replace(later, date=PLANNED + ONE_DAY),
        ]
    )
    assert sheds_mm(days, PLANNED + ONE_DAY) == pytest.approx(rain_runoff_mm(50.0, 80.0))


def test_no_rain_reaches_a_zone_under_a_roof() -> None:
    assert on_the_date(with_site(LAWN, rain_share=0.0), forecast(rain_mm=30.0)) == (0.0, 0.0)


def test_a_containers_rim_catches_rain_for_its_leaves() -> None:
    # 0.6 m2 of rim for 2.4 m2 of leaves, of which a roof lets half through: 20 mm come to 2.5 mm.
    assert TROUGHS.soil.container is not None
    container = replace(TROUGHS.soil.container, surface_m2=0.6)
    troughs = replace(with_site(TROUGHS, rain_share=0.5), soil=replace(TROUGHS.soil, container=container))
    assert on_the_date(troughs, summer_day(PLANNED, rain_mm=20.0)) == (2.5, 2.5)


def test_raw_is_less_on_a_day_of_great_demand() -> None:
    # Equation 83 with p adjusted: 0.5 + 0.04 (5 - ETc) of 40 mm.
    days = columns(with_forecast(forecast(t_max_c=38.0)))
    zone = zone_days(numbers_of(LAWN, a_garden(LAWN)), days)
    for etc, raw in zip(zone.etc_mm, zone.raw_mm, strict=True):
        assert raw == pytest.approx((0.5 + 0.04 * (5.0 - etc)) * 40.0)
    assert zone.raw_mm[PAST] < zone.raw_mm[0]


def test_monthly_coefficients_change_with_the_month() -> None:
    months = tuple(0.1 * (month + 1) for month in range(12))
    zone = with_planting(LAWN, kc=None, kc_by_month=months)
    weather = summer_days(dt.date(2026, 6, 28), 6)
    days = garden_days(weather, SITE, weather[-1].date, weather[-1].date)
    kc = zone_days(numbers_of(zone, a_garden(zone)), days).kc
    # In straight lines from 15 June to 15 July, 30 days apart.
    assert kc == pytest.approx([0.6 + 0.1 * day / 30.0 for day in range(13, 19)])


def test_the_store_of_a_new_lawn_grows_with_its_roots() -> None:
    # Sod of 5 cm grows to 20 cm within six weeks; the store is 200 mm a metre.
    sown = with_planting(LAWN, planted_on=JULY_1)
    days = garden_days(summer_days(JULY_1, 60), SITE, JULY_1, JULY_1)
    taw_mm = zone_days(numbers_of(sown, a_garden(sown)), days).taw_mm
    assert taw_mm[0] == pytest.approx(10.0)
    assert taw_mm[21] == pytest.approx(25.0, abs=0.5)
    assert taw_mm[42:] == pytest.approx([40.0] * 18)
    assert taw_mm == sorted(taw_mm)
