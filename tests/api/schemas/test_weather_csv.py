"""Tables of daily weather: units by name, and whatever is wrong by line and column."""

import contextlib
import csv
import datetime as dt
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.schemas.weather_csv import WeatherTableWrong, known_columns, read_weather_csv
from scheduling.balance.weather import Origin
from tests.profile import examples

HEAD = "date,t_min_c,t_max_c,rain_mm"


def read(*lines: str):
    return read_weather_csv("season.csv", "\n".join(lines).encode())


def sentences(*lines: str) -> tuple[str, ...]:
    with pytest.raises(WeatherTableWrong) as wrong:
        read(*lines)
    return wrong.value.sentences


# What is read


def test_a_day_needs_its_date_temperatures_and_rain():
    (day,) = read(HEAD, "2025-06-01,11.4,22,3.5")
    assert (day.date, day.t_min_c, day.t_max_c, day.rain_mm) == (dt.date(2025, 6, 1), 11.4, 22.0, 3.5)
    assert day.origin is Origin.MEASURED
    assert day.solar_mj_m2 is None


@pytest.mark.parametrize(
    ("column", "cell", "field", "in_our_unit"),
    [
        # By definition: 1 in = 25.4 mm, 1 mile = 1609.344 m, 1 kn = 1852 m/h, 1 ft = 0.3048 m.
        ("t_dew_f", "50", "t_dew_c", 10.0),
        ("t_dew_f", "-40", "t_dew_c", -40.0),
        ("wind_km_h", "36", "wind_m_s", 10.0),
        ("wind_mph", "10", "wind_m_s", 4.4704),
        ("wind_max_kn", "10", "wind_max_m_s", 18520 / 3600),
        ("wind_height_ft", "33", "wind_height_m", 10.0584),
        # FAO-56 table 3: 1 MJ m-2 day-1 = 11.6 W/m2, and 1 kWh = 3.6 MJ.
        ("solar_w_m2", "250", "solar_mj_m2", 21.6),
        ("solar_kwh_m2", "5", "solar_mj_m2", 18.0),
        ("sunshine_min", "90", "sunshine_h", 1.5),
        ("sunshine_s", "5400", "sunshine_h", 1.5),
        ("cloud_pct", "40", "cloud_share", 0.4),
    ],
)
def test_other_units_have_names_of_their_own(column, cell, field, in_our_unit):
    (day,) = read(f"{HEAD},{column}", f"2025-06-01,11,22,0,{cell}")
    assert getattr(day, field) == pytest.approx(in_our_unit, abs=1e-9)


def test_inches_and_fahrenheit_may_stand_for_what_is_needed():
    (day,) = read("date,t_min_f,t_max_f,rain_in", "2025-06-01,50,68,0.5")
    assert (day.t_min_c, day.t_max_c, day.rain_mm) == pytest.approx((10.0, 20.0, 12.7))


def test_lines_may_stand_in_any_order_and_empty_ones_are_passed_over():
    days = read(HEAD, "2025-06-03,3,9,0", "", "2025-06-01,1,9,0", ",,,", "2025-06-02,2,9,0")
    assert [day.t_min_c for day in days] == [1.0, 2.0, 3.0]


def test_an_empty_cell_is_a_value_that_is_not_known():
    (day,) = read(f"{HEAD},wind_m_s,rh_mean_pct", "2025-06-01,11,22,0,,65")
    assert (day.wind_m_s, day.rh_mean_pct) == (None, 65.0)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_commas_semicolons_and_tabs_part_cells(delimiter, line_end):
    text = line_end.join([HEAD, "2025-06-01,11,22,0", ""]).replace(",", delimiter)
    assert len(read_weather_csv("season.csv", text.encode("utf-8-sig"))) == 1


def test_every_field_of_a_day_that_is_over_has_a_column():
    fields = {column.field for column in known_columns().values()}
    assert {"t_min_c", "wind_max_m_s", "rh_min_pct", "cloud_share", "sunshine_h"} <= fields
    assert "rain_probability" not in known_columns()


def test_the_weather_of_seattle_can_be_read_once_its_columns_are_named():
    text = resources.files("vega_datasets").joinpath("_data/seattle-weather.csv").read_text("utf-8")
    lines = ["date,t_min_c,t_max_c,rain_mm,wind_m_s"] + [
        ",".join(
            (
                row["date"].replace("/", "-"),
                row["temp_min"],
                row["temp_max"],
                row["precipitation"],
                row["wind"],
            )
        )
        for row in csv.DictReader(text.splitlines())
    ]
    days = read(*lines)
    assert (len(days), days[0].date, days[-1].date) == (1461, dt.date(2012, 1, 1), dt.date(2015, 12, 31))


# What is refused, by line and column


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("2025-06-01,x,22,0", 'column t_min_c: it is "x"; it must be a number from -60 to 60.'),
        ("2025-06-01,nan,22,0", 'column t_min_c: it is "nan"; it must be a number from -60 to 60.'),
        ("2025-06-01,1_0,22,0", 'column t_min_c: it is "1_0"; it must be a number from -60 to 60.'),
        ("2025-06-01,11,22,-9999", "column rain_mm: it is -9999; it must be a number from 0 to 1000."),
        ("2025-06-01,11,22,T", 'column rain_mm: it is "T"; it must be a number from 0 to 1000.'),
        ("2025-06-01,11,22,", "column rain_mm: it is empty; every day needs the day's rain."),
        ("2025-06-01,30,22,0", "column t_min_c: it is 30; it must not be above t_max_c, 22."),
        ("1/6/2025,11,22,0", 'column date: it is "1/6/2025"; it must be a date written as YYYY-MM-DD,'),
        ("2025-02-30,11,22,0", 'column date: it is "2025-02-30"; it must be a date written as YYYY-MM-DD,'),
    ],
)
def test_a_value_that_cannot_be_is_told_by_line_and_column(line, told):
    (sentence,) = sentences(HEAD, "2025-05-31,11,22,0", line)
    assert sentence.startswith(f"season.csv, line 3, {told}")


def test_a_decimal_comma_is_told_as_one():
    (sentence,) = sentences(HEAD.replace(",", ";"), "2025-06-01;11,4;22;0")
    assert sentence.endswith("Decimals are written with a point.")


def test_limits_are_told_in_the_unit_of_the_column():
    (sentence,) = sentences("date,t_min_f,t_max_f,rain_in", "2025-06-01,50,150,0")
    assert "column t_max_f: it is 150; it must be a number from -76 to 140." in sentence


def test_missing_days_are_told_with_the_lines_around_them():
    one, more = sentences(HEAD, "2025-06-01,1,9,0", "2025-06-03,1,9,0", "2025-06-07,1,9,0")
    assert one == (
        "season.csv, line 3, column date: 2025-06-02 is missing between 2025-06-01 (line 2) and 2025-06-03."
    )
    assert "line 4, column date: 2025-06-04 to 2025-06-06 are missing" in more


def test_a_date_that_stands_twice_is_told_with_both_lines():
    (sentence,) = sentences(HEAD, "2025-06-01,1,9,0", "2025-06-01,1,9,0")
    assert sentence == "season.csv, line 3, column date: 2025-06-01 stands on line 2 already."


def test_a_line_that_cannot_be_read_is_not_told_as_a_gap_too():
    (sentence,) = sentences(HEAD, "2025-06-01,1,9,0", "2.6.2025,1,9,0", "2025-06-03,1,9,0")
    assert "line 3, column date" in sentence


def test_a_line_with_too_few_cells_is_told():
    (sentence,) = sentences(HEAD, "2025-06-01,1,9")
    assert sentence == "season.csv, line 2: there are 3 cells; the first line names 4."


def test_a_missing_column_is_told_with_the_names_it_may_have():
    missing, known = sentences("date,t_min_c,t_max_c", "2025-06-01,1,9")
    assert missing == (
        "season.csv, line 1: there is no column for the day's rain; name it rain_mm or rain_in."
    )
    assert "wind_km_h" in known


def test_a_column_that_nobody_knows_is_told_with_the_nearest():
    unknown, _, _ = sentences("date,t_min_c,t_max_c,rain_mn", "2025-06-01,1,9,0")
    assert unknown == 'season.csv, line 1, column 4: "rain_mn" is not a column here. Did you mean rain_mm?'


def test_two_columns_for_one_thing_are_told():
    again, _ = sentences(f"{HEAD},rain_in", "2025-06-01,1,9,0,0")
    assert '"rain_in" says again what rain_mm says' in again


def test_everything_that_is_wrong_is_told_at_once_but_not_without_end():
    several = sentences(HEAD, "2025-06-01,x,9,y", "2025-06-02,1,z,0")
    assert len(several) == 3
    endless = sentences(HEAD, *(f"x,{number},9,0" for number in range(80)))
    assert len(endless) == 51
    assert endless[-1] == "season.csv has 30 more problems; mend these first."


@pytest.mark.parametrize("written", [b"", b"\n", b"\xff\xfe", b"\x00", b'"', b"date", HEAD.encode()])
def test_what_is_no_table_is_told_in_words(written):
    with pytest.raises(WeatherTableWrong):
        read_weather_csv("season.csv", written)


def test_bytes_that_are_no_text_are_told_by_their_line():
    with pytest.raises(WeatherTableWrong, match=r"season.csv, line 2: this is not UTF-8 text\."):
        read_weather_csv("season.csv", f"{HEAD}\n2025-06-01,1,9,".encode() + b"\xff\n")


@examples(200)
@given(st.lists(st.text(alphabet='0123456789-.,;"\n\r\t eE+nafx\x00\u2028', max_size=30), max_size=6))
def test_no_table_brings_the_reader_down(lines):
    outcome = ()
    with contextlib.suppress(WeatherTableWrong):
        outcome = read(HEAD, *lines)
    assert all(day.rain_mm is not None for day in outcome)
