"""One page about a garden, to look at or to embed: the night in a sentence, a line a zone, the chart."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from api.pages.chart import wrapped
from api.pages.templates import template

REFRESH_S: Final = 300
"""How long a page waits before it asks again. [s]"""


@dataclass(frozen=True, slots=True)
class ZoneLine:
    """What the page says of one zone."""

    name: str
    volume: str
    """With its unit: `92 l`; empty where nothing is to come."""
    start: str
    """`05:06`; empty where nothing is to come."""
    text: str
    """Why, in a sentence."""
    is_running: bool


@dataclass(frozen=True, slots=True)
class AlertLine:
    """What needs attention, and what to do about it."""

    text: str
    what_to_do: str
    since: str


@dataclass(frozen=True, slots=True)
class GardenPage:
    """What a garden's page shows."""

    name: str
    date: dt.date
    night: str
    """The coming night in one sentence."""
    zones: Sequence[ZoneLine]
    alerts: Sequence[AlertLine]
    chart: str
    """The garden's chart, as SVG."""
    weather: str
    """How old the weather is, and whose, in a sentence."""
    attribution: Sequence[str]
    refresh_s: int = REFRESH_S


def garden_page(page: GardenPage) -> str:
    """The page, as HTML that needs no other file."""
    return template("garden.html").render(page=page, chart=Markup(page.chart))


@dataclass(frozen=True, slots=True)
class TroublePage:
    """What a page or a picture shows where there is nothing to draw."""

    title: str
    detail: str


def trouble_page(trouble: TroublePage) -> str:
    """A page that says why there is none."""
    return template("trouble.html").render(trouble=trouble)


def trouble_picture(trouble: TroublePage) -> str:
    """A picture that says why there is none, so that an embedded image is never broken."""
    return template("trouble.svg").render(trouble=trouble, lines=wrapped(trouble.detail)).strip()
