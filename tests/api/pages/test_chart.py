"""A chart shows the numbers it was given, to eyes and to screen readers, and fetches nothing."""

import datetime as dt
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.pages.chart import ChartDay, ZoneChart, garden_chart, wrapped, zone_chart

SVG = "{http://www.w3.org/2000/svg}"
TODAY = dt.date(2026, 7, 15)


def day(
    ahead: int, depletion_mm: float = 5.0, rain_mm: float = 0.0, water_mm: float = 0.0, **more
) -> ChartDay:
    date = TODAY + dt.timedelta(days=ahead)
    return ChartDay(date, depletion_mm, 10.0, 20.0, rain_mm, water_mm, is_forecast=ahead >= 0, **more)


def a_chart(*days: ChartDay, name: str = "Fescue lawn", told: str = "It can wait until Friday.") -> ZoneChart:
    return ZoneChart(name, TODAY, days, told)


SOME_DAYS = (
    day(-3, 12.0),
    day(-2, 3.0, rain_mm=9.0, waits_for="Rain was expected"),
    day(-1, 0.0, water_mm=6.0),
    day(0, 4.0),
    day(1, 8.0, rain_mm=2.0),
)


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def of_class(root: ET.Element, name: str) -> list[ET.Element]:
    return [element for element in root.iter() if name in element.get("class", "").split()]


def numbers(path: str) -> list[float]:
    return [float(word.lstrip("MLHVZ")) for word in path.split() if word not in "Z"]


def test_every_day_with_rain_or_watering_has_a_bar_that_says_how_much() -> None:
    root = parsed(zone_chart(a_chart(*SOME_DAYS)))
    bars = [
        bar
        for bar in (*of_class(root, "rain"), *of_class(root, "water"))
        if bar.find(f"{SVG}title") is not None
    ]

    assert [bar.findtext(f"{SVG}title") for bar in bars] == [
        "13 July: 9.0 mm of rain",
        "16 July: 2.0 mm of rain",
        "14 July: 6.0 mm of watering",
    ]
    heights = [float(bar.get("height", "")) for bar in bars]
    assert heights[0] == pytest.approx(9.0 / 2.0 * heights[1], abs=0.3)


def test_rain_and_watering_differ_by_pattern_and_not_by_colour_alone() -> None:
    svg = zone_chart(a_chart(*SOME_DAYS))

    assert parsed(svg).find(f".//{SVG}pattern") is not None
    assert "fill: url(#hatch)" in svg


def test_a_larger_depletion_is_drawn_further_down() -> None:
    root = parsed(zone_chart(a_chart(day(-2, 2.0), day(-1, 9.0))))
    (past,) = of_class(root, "past")
    _, first_y, _, second_y = numbers(past.get("d", ""))

    assert second_y > first_y


def test_the_past_is_solid_and_what_is_expected_is_dotted() -> None:
    root = parsed(zone_chart(a_chart(*SOME_DAYS)))
    (past,), ahead = of_class(root, "past"), of_class(root, "ahead")

    assert len(numbers(past.get("d", ""))) == 2 * 3
    assert len(numbers(ahead[0].get("d", ""))) == 2 * 3  # it begins where the past ends


def test_days_that_waited_say_why() -> None:
    marks = of_class(parsed(zone_chart(a_chart(*SOME_DAYS))), "waits")
    (mark,) = (mark for mark in marks if mark.find(f"{SVG}title") is not None)  # the key has one without

    assert mark.findtext(f"{SVG}title") == "Rain was expected"


def test_the_description_has_the_same_numbers_in_words() -> None:
    root = parsed(zone_chart(a_chart(*SOME_DAYS)))

    assert root.findtext(f"{SVG}desc") == (
        "Fescue lawn, 12 July to 14 July: 9 mm of rain and 6 mm of watering came in; plants suffered on 1 "
        "day. The roots now lack 0 mm of 20 mm; plants suffer beyond 10 mm."
    )
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "title description"


def test_a_name_is_text_and_never_markup() -> None:
    root = parsed(zone_chart(a_chart(*SOME_DAYS, name='<script>"&', told="a < b")))

    assert of_class(root, "name")[0].text == '<script>"&'
    assert root.find(f".//{SVG}script") is None


@pytest.mark.parametrize(
    "svg", [zone_chart(a_chart(*SOME_DAYS)), zone_chart(a_chart()), garden_chart("Quince Court", [])]
)
def test_a_picture_has_no_script_and_asks_nobody(svg: str) -> None:
    root = parsed(svg)

    for element in root.iter():
        assert not element.tag.endswith("script")
        assert not any(name.lower().startswith("on") or name.endswith("href") for name in element.attrib)
    assert "@import" not in svg
    assert svg.count("http") == 1  # the name of the format itself


def test_a_garden_shows_each_of_its_zones_by_name() -> None:
    charts = [a_chart(*SOME_DAYS), a_chart(*SOME_DAYS, name="Balcony troughs")]
    root = parsed(garden_chart("Quince Court", charts))

    assert len(of_class(root, "past")) == 2
    assert {"Fescue lawn", "Balcony troughs"} <= {text.text for text in root.iter(f"{SVG}text")}


depths = st.floats(0.0, 200.0)


@given(st.lists(st.tuples(depths, depths, depths), min_size=1, max_size=60))
def test_nothing_is_drawn_outside_of_the_picture(values: list[tuple[float, float, float]]) -> None:
    days = [
        day(ahead - len(values) // 2, min(depletion, 20.0), rain, water)
        for ahead, (depletion, rain, water) in enumerate(values)
    ]
    root = parsed(zone_chart(a_chart(*days)))
    _, _, width, height = (float(part) for part in root.get("viewBox", "").split())

    for bar in root.iter(f"{SVG}rect"):
        if bar.get("x") is not None and bar.find(f"{SVG}title") is not None:
            assert (
                0.0
                <= float(bar.get("x", ""))
                <= float(bar.get("x", "")) + float(bar.get("width", ""))
                <= width
            )
            assert 0.0 <= float(bar.get("y", "")) <= height
    for path in of_class(root, "past"):
        points = numbers(path.get("d", ""))
        assert all(0.0 <= x <= width for x in points[::2])
        assert all(0.0 <= y <= height for y in points[1::2])


def test_equal_values_give_equal_bytes_and_others_do_not() -> None:
    chart = a_chart(*SOME_DAYS)

    assert zone_chart(chart) == zone_chart(replace(chart))
    assert zone_chart(chart) != zone_chart(a_chart(*SOME_DAYS[:-1]))


def test_a_long_sentence_is_cut_after_three_lines_and_says_so() -> None:
    lines = wrapped("word " * 100)

    assert len(lines) == 3
    assert lines[-1].endswith("…")
    assert all(len(line) <= 56 for line in lines)
