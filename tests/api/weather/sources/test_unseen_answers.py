"""Answers as the formats allow them, and as nobody has sent them yet: read to the value reckoned by hand."""

import datetime as dt
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources import dwd, met_norway, open_meteo, us_nws
from scheduling.balance.weather import WeatherDay
from tests.api.weather.answers import dwd_body, dwd_record, every, layer, met_body, nws_grid
from tests.api.weather.weather_service import open_meteo_body

FIRST = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)
THE_15TH = dt.date(2026, 7, 15)
WHOLE = FIRST.isoformat()


def later(hours: int) -> str:
    return (FIRST + hours * HOUR).isoformat()


def day_of(module: Any, body: Any) -> WeatherDay:
    days = local_days(module.read(body, retrieved_at=FIRST), ZoneInfo("UTC"))
    return next(day for day in days if day.date == THE_15TH)


NWS = [
    # 68 °F are 20 °C; runs of 6 hours stand for each of them.
    ("temperature", layer("degF", *every(FIRST, 16, 6, 77.0)), "t_max_c", 25.0),
    # Eight times a tenth of an inch.
    ("quantitativePrecipitation", layer("in", *every(FIRST, 32, 3, 0.1)), "rain_mm", 20.32),
    # 19:00 at -05:00 is midnight: the first 6 mm are the 15th's, and the 6 that follow at 00:00 are not.
    (
        "quantitativePrecipitation",
        layer(
            "mm",
            (f"{WHOLE}/P1D", 0.0),
            ("2026-07-14T19:00:00-05:00/PT6H", 6.0),
            ("2026-07-15T01:00:00-05:00/PT18H", 0.0),
            ("2026-07-15T19:00:00-05:00/PT6H", 6.0),
        ),
        "rain_mm",
        6.0,
    ),
    # Nine hours of 36 km/h, fifteen of 18: (9 x 10 + 15 x 5) / 24.
    (
        "windSpeed",
        layer("km_h-1", (f"{WHOLE}/P1DT9H", 36.0), (f"{later(33)}/P2DT15H", 18.0)),
        "wind_m_s",
        6.875,
    ),
    ("windSpeed", layer("kt", (f"{WHOLE}/P4D", 10.0)), "wind_m_s", 10 * 1.852 / 3.6),
    ("skyCover", layer("percent", (f"{WHOLE}/P1W", 50)), "cloud_share", 0.5),
    # A half day that nobody tells of.
    (
        "temperature",
        layer("degC", (f"{WHOLE}/P1D", 10.0), (f"{later(24)}/PT12H", None), (f"{later(36)}/P2D", 12.0)),
        "t_max_c",
        None,
    ),
    # A whole day's total says nothing about whose hours they are, unless it is nothing.
    ("quantitativePrecipitation", layer("mm", *every(FIRST, 4, 24, 24.0)), "rain_mm", None),
    ("quantitativePrecipitation", layer("mm", *every(FIRST, 4, 24, 0.0)), "rain_mm", 0.0),
    ("skyCover", None, "cloud_share", None),
]


@pytest.mark.parametrize(("name", "told", "quantity", "expected"), NWS)
def test_layers_of_the_national_weather_service(name, told, quantity, expected):
    value = getattr(day_of(us_nws, nws_grid(FIRST, days=4, **{name: told})), quantity)
    assert value == (None if expected is None else pytest.approx(expected))


@pytest.mark.parametrize("spelling", ["unit:degC", "wmo:degC", "http://codes.wmo.int/common/unit/degC"])
def test_units_of_layers_are_known_in_every_vocabulary_and_other_members_do_not_matter(spelling):
    body = nws_grid(FIRST, days=4)
    body["properties"]["temperature"]["uom"] = spelling
    body["properties"]["weather"] = {"values": [{"validTime": "never", "value": [{"coverage": None}]}]}
    assert day_of(us_nws, body).t_max_c == 20.0


def at_an_offset(body: Any) -> None:
    for step in body["properties"]["timeseries"]:
        local = dt.datetime.fromisoformat(step["time"]).astimezone(ZoneInfo("America/St_Johns"))
        step["time"] = local.isoformat()


def nothing_optional(body: Any) -> None:
    del body["geometry"], body["properties"]["meta"]["updated_at"]
    for step in body["properties"]["timeseries"]:
        step["data"].pop("next_12_hours", None)
        for period in ("next_1_hours", "next_6_hours"):
            if period in step["data"]:
                amount = step["data"][period]["details"]["precipitation_amount"]
                step["data"][period] = {"details": {"precipitation_amount": amount}}


@pytest.mark.parametrize("change", [at_an_offset, nothing_optional])
def test_series_of_met_norway(change: Callable[[Any], None]):
    body = met_body(FIRST)
    change(body)
    day = day_of(met_norway, body)
    assert (day.t_max_c, day.wind_m_s, day.rain_mm) == (20.0, 2.0, pytest.approx(2.4))


def test_records_of_several_stations_in_local_time_are_one_account():
    """A station reports until 06:00 of the 15th, another's forecast follows, with one value borrowed."""
    berlin = ZoneInfo("Europe/Berlin")
    records = [
        dwd_record(
            FIRST + number * HOUR,
            timestamp=(FIRST + number * HOUR).astimezone(berlin).isoformat(),
            source_id=1 if number <= 30 else 2,
            relative_humidity=60 if number <= 30 else None,
            precipitation=0.2 if number <= 30 else 0.5,
            fallback_source_ids={"solar": 1},
        )
        for number in range(73)
    ]
    body = dwd_body(FIRST, 72, records)
    (station,) = body["sources"]
    body["sources"] = [{**station, "id": 1, "height": 10.0}, {**station, "id": 2, "height": 99.0}]
    day = day_of(dwd, body)

    # Amounts are those of the hour before: six of the first station, eighteen of the second.
    assert day.rain_mm == pytest.approx(6 * 0.2 + 18 * 0.5)
    assert day.solar_mj_m2 == pytest.approx(24 * 0.2 * 3.6)
    assert day.rh_mean_pct is None
    assert dwd.read(body, retrieved_at=FIRST).elevation_m == 99.0


def test_a_chance_of_six_hours_is_that_of_each_of_them():
    records = [
        dwd_record(
            FIRST + number * HOUR,
            precipitation_probability=None,
            precipitation_probability_6h=(40 if number == 42 else 10) if number % 6 == 0 else None,
        )
        for number in range(73)
    ]
    hours = {hour.start: hour for hour in dwd.read(dwd_body(FIRST, 72, records), retrieved_at=FIRST).hours}
    chances = [hours[FIRST + number * HOUR].rain_probability for number in range(30, 48)]
    assert chances == [0.1] * 6 + [0.4] * 6 + [0.1] * 6


def in_units_of_the_united_states(body: Any, count: int) -> None:
    body["hourly_units"].update(temperature_2m="°F", precipitation="inch", wind_speed_10m="mp/h")
    body["hourly"].update(
        temperature_2m=[50.0] * count, precipitation=[0.01] * count, wind_speed_10m=[10.0] * count
    )


def with_ends_of_null(body: Any, count: int) -> None:
    body["hourly"]["precipitation_probability"][40:] = [None] * (count - 40)
    body["hourly"]["shortwave_radiation"][45:] = [None] * (count - 45)


def in_summer_time_of_berlin(body: Any, count: int) -> None:
    body["hourly_units"]["time"] = "iso8601"
    body["hourly"]["time"] = [
        (FIRST + (number + 2) * HOUR).strftime("%Y-%m-%dT%H:%M") for number in range(count)
    ]
    # 1 mm up to 00:00 UTC of the 15th, which is the 14th's, and 1 mm up to 01:00, which is not.
    body["hourly"]["precipitation"] = [float(number in (24, 25)) for number in range(count)]
    body["utc_offset_seconds"] = 7200


OPEN_METEO = [
    (
        in_units_of_the_united_states,
        {"t_max_c": 10.0, "rain_mm": 24 * 0.254, "wind_m_s": 10 * 1609.344 / 3600},
    ),
    (with_ends_of_null, {"rain_mm": 2.4, "rain_probability": None, "solar_mj_m2": None}),
    (in_summer_time_of_berlin, {"rain_mm": 1.0}),
]


@pytest.mark.parametrize(("change", "expected"), OPEN_METEO)
def test_series_of_open_meteo(change, expected):
    body = open_meteo_body(FIRST.date(), 4)
    change(body, 24 * 4)
    for several in (body, [body, open_meteo_body(FIRST.date(), 4)]):
        day = day_of(open_meteo, several)
        for quantity, value in expected.items():
            told = getattr(day, quantity)
            assert told == (None if value is None else pytest.approx(value)), quantity
