"""A garden's page says the night in a sentence, needs no other file, and is never broken."""

import datetime as dt
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

from api.pages.garden_page import (
    AlertLine,
    GardenPage,
    TroublePage,
    ZoneLine,
    garden_page,
    trouble_page,
    trouble_picture,
)

PAGE = GardenPage(
    name="Quince Court",
    date=dt.date(2026, 7, 15),
    night="1,345 litres for one zone from 03:56; the shrub border can wait.",
    zones=[
        ZoneLine("Fescue lawn", "1,345 l", "03:56", "Roots have used all 10.6 mm.", is_running=True),
        ZoneLine("Shrub border", "", "", "Roots still have 10 mm.", is_running=False),
    ],
    alerts=[AlertLine("The lawn's battery is low.", "Change the battery.", "since Tuesday")],
    chart='<svg xmlns="http://www.w3.org/2000/svg"></svg>',
    weather="Invented weather, 20 minutes old.",
    attribution=["It has never been."],
)


class Reader(HTMLParser):
    """Collects tags, their attributes and the text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def test_the_page_says_the_night_first_and_each_zone_with_its_reason() -> None:
    text = Reader(garden_page(PAGE)).text

    assert text.index("1,345 litres for one zone") < text.index("Roots have used all 10.6 mm.")
    assert "Fescue lawn (running)" in text
    assert "Shrub border none – Roots still have 10 mm." in text


def test_alerts_come_with_what_to_do() -> None:
    assert "The lawn's battery is low. Change the battery." in Reader(garden_page(PAGE)).text


def test_the_page_has_no_script_and_asks_for_no_other_file() -> None:
    tags = Reader(garden_page(PAGE)).tags

    assert not {"script", "link", "img", "iframe"} & {tag for tag, _ in tags}
    assert not [
        name for _, attributes in tags for name in attributes if name in ("src", "href") or name[:2] == "on"
    ]


def test_the_page_asks_again_by_itself_but_seldom() -> None:
    (refresh,) = [
        a["content"] for tag, a in Reader(garden_page(PAGE)).tags if a.get("http-equiv") == "refresh"
    ]

    assert refresh == "300"


def test_names_are_text_and_never_markup() -> None:
    zones = [ZoneLine("<script>alert(1)</script>", "1 l", "03:00", "a < b", is_running=False)]
    page = Reader(garden_page(GardenPage("<b>", PAGE.date, "<i>", zones, [], "", "", [])))

    assert not {"script", "b", "i"} & {tag for tag, _ in page.tags}


def test_where_there_is_nothing_to_draw_page_and_picture_say_why() -> None:
    trouble = TroublePage("There is no forecast", "No source has answered for 72 hours & more.")

    assert "No source has answered for 72 hours & more." in Reader(trouble_page(trouble)).text
    root = ET.fromstring(trouble_picture(trouble))
    assert "No source has answered for 72 hours & more." in [text.text for text in root.iter()]
