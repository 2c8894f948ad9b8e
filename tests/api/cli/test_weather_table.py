"""Weather days as people read them on a terminal."""

import datetime as dt
import io
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from api.cli.tables import print_weather
from api.schemas.plan import WeatherOrigin
from api.schemas.weather_in_use import dump_weather
from api.weather.series.forecast_verification import Trust
from scheduling.balance.evapotranspiration import Demand
from scheduling.balance.weather import Borrowed, Origin, WeatherDay

NOON = dt.datetime(2026, 7, 14, 12, tzinfo=dt.UTC)
JULY_14 = dt.date(2026, 7, 14)
DAY = WeatherDay(
    JULY_14,
    15.2,
    28.4,
    11.0,
    wind_m_s=2.1,
    rain_mm=3.4,
    rain_probability=0.45,
    source="met-norway",
    retrieved_at=NOON,
)


def printed(
    *days: WeatherDay,
    trust: tuple[Trust, ...] = (),
    stale: bool = False,
    estimated: tuple[str, ...] = ("solar_radiation",),
    width: int = 110,
) -> list[str]:
    origin = WeatherOrigin(
        source="met-norway", retrieved_at=NOON, stale=stale, basis="forecast", attribution=["Told by MET."]
    )
    demands = {day.date: Demand(5.26, 2.0, 40.0, estimated) for day in days}
    body: dict[str, Any] = dump_weather(
        "orchard", ["met-norway"], origin, 48.0, trust, days, demands, ZoneInfo("Europe/Paris")
    )
    written = io.StringIO()
    print_weather(body, Console(file=written, width=width, highlight=False))
    return [line.strip() for line in written.getvalue().splitlines()]


def test_a_day_is_a_line_with_its_origin():
    head, columns, line, *_, attribution = printed(DAY)
    assert head == "orchard, weather of met-norway, 2026-07-14 14:00"
    assert columns.split()[0] == "date"
    assert line.split() == [
        "Tue", "2026-07-14", "forecast", "15.2", "28.4", "11.0", "2.1", "-~",
        "3.4", "45%", "5.3",
    ]  # fmt: skip
    assert attribution == "Told by MET."


def test_where_days_are_of_several_sources_each_names_its_own():
    lines = printed(DAY, replace(DAY, date=dt.date(2026, 7, 15), source="dwd"))
    assert lines[1].split()[:3] == ["date", "origin", "source"]
    assert [line.split()[3] for line in lines[2:4]] == ["met-norway", "dwd"]


def test_what_was_left_out_or_assumed_of_a_day_is_told_below():
    lines = printed(replace(DAY, rain_left_out_mm=2.25, hours_assumed=3))
    assert "2026-07-14: 3 hours had passed before met-norway was asked" in " ".join(lines)
    assert "2026-07-14: without 2.2 mm of rain that the day before has already" in " ".join(lines)


@pytest.mark.parametrize("width", [40, 80])
def test_no_number_is_cut_off_whatever_the_width_of_the_terminal(width):
    wet = replace(DAY, t_min_c=-15.2, t_dew_c=-21.4, wind_m_s=12.1, rain_mm=103.4, rain_probability=1.0)
    of_one = printed(wet, width=width)
    of_several = printed(wet, replace(wet, date=dt.date(2026, 7, 15), source="open-meteo"), width=width)
    text = " ".join(of_one + of_several)

    assert "…" not in text
    assert text.count("-15.2 28.4 -21.4 12.1  -~ 103.4   100% 5.3") == 3
    if width == 80:
        assert max(map(len, of_one)) <= 80


def test_what_is_borrowed_is_marked_and_named():
    lent = WeatherDay(
        JULY_14,
        15.2,
        28.4,
        solar_mj_m2=22.0,
        source="us-nws",
        borrowed=(Borrowed("solar_radiation", "dwd", NOON),),
    )
    lines = printed(lent, estimated=())
    assert "22.0*" in lines[2].split()
    assert "solar radiation borrowed from dwd" in lines


def test_an_old_forecast_and_a_distrusted_source_are_told():
    trust = Trust("met-norway", 0.62, 48.0, 20.0, 9, dt.date(2026, 6, 1))
    lines = printed(DAY, trust=(trust, Trust("dwd", 1.0, 10.0, 12.0, 3, JULY_14)), stale=True)
    assert lines[0].endswith("14:00, which is old")
    text = " ".join(lines)
    assert (
        "Of 48 mm of rain that met-norway let expect on 9 days since 2026-06-01, 20 mm came: its rain counts "
        "by 62%." in text
    )
    assert "dwd" not in text


def test_unknown_values_are_a_dash():
    assumed = WeatherDay(JULY_14, origin=Origin.ASSUMED, source="none")
    assert printed(assumed)[2].split()[2:] == ["assumed", "none", "-", "-", "-", "-", "-~", "-", "-", "5.3"]


def test_what_the_owner_measured_is_marked_and_named():
    measured = replace(
        DAY,
        borrowed=(Borrowed("temperature", "own-weather", NOON), Borrowed("rain", "own-weather", NOON)),
    )
    lines = printed(measured)
    assert "15.2* 28.4*" in " ".join(lines)
    assert "temperature as the owner measured it" in lines
    assert "rain as the owner measured it" in lines
