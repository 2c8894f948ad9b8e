"""What a weather source says of itself before it is asked: what it can give, where, and its settings."""

import datetime as dt
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol
from urllib.parse import urlsplit

from api.weather.place import Place
from api.weather.series.hours import Attribution, HourlyWeather

if TYPE_CHECKING:
    from api.weather.sources.session import WeatherSession


class Source(Protocol):
    """Gives hourly weather for a place."""

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from `past_days` local days back, or from where the source begins, to its horizon.

        Raises SourceFailed.
        """
        ...


class Box(NamedTuple):
    """A part of the Earth between two parallels and two meridians, in degrees."""

    south: float
    north: float
    west: float
    east: float

    def holds(self, latitude: float, longitude: float) -> bool:
        """Whether a position lies in it."""
        return self.south <= latitude <= self.north and self.west <= longitude <= self.east


@dataclass(frozen=True, slots=True)
class Coverage:
    """A part of the Earth that a source has weather for."""

    where: str
    """In words, as after "only for"."""
    boxes: tuple[Box, ...]
    """They may hold some of its neighbours, too."""
    is_beyond: Callable[[str], bool]
    """Whether a time zone belongs to those."""

    def holds(self, latitude: float, longitude: float) -> bool:
        """Whether a position lies in it."""
        return any(box.holds(latitude, longitude) for box in self.boxes)


@dataclass(frozen=True, slots=True)
class Setting:
    """A variable of the environment."""

    name: str
    """Without the prefix of all settings."""
    read: Callable[[str], Any]
    """Reads what it is set to; raises ValueError with what is allowed."""
    default: str
    """In words, as the guide has it."""
    about: str
    is_secret: bool = False
    """No message repeats its value."""


@dataclass(frozen=True)
class Installation:
    """What sources are made from: their settings, a clock, and one session for all that ask a network."""

    settings: Mapping[str, str]
    """By their names without prefix."""
    cache: Path | None
    """File of the HTTP cache; None to keep it in memory."""
    contact: str | None
    """Goes into the User-Agent."""
    clock: Callable[[], dt.datetime]

    @functools.cached_property
    def session(self) -> "WeatherSession":
        """What it imports takes a fifth of the time of a start, and 10 MB of a server that has not asked."""
        from api.weather.sources.session import WeatherSession, user_agent

        return WeatherSession(cache=self.cache, user_agent=user_agent(self.contact))


@dataclass(frozen=True, slots=True)
class Service:
    """A source of weather."""

    name: str
    """As gardens name it."""
    attribution: Attribution
    """What its licence asks for."""
    knows_past: bool
    """Whether it gives an account of days that are over."""
    gives_radiation: bool
    knows: str
    """What it has and what it wants, as the guide says it."""
    make: Callable[[Installation], Source]
    settings: tuple[Setting, ...] = ()
    coverage: Coverage | None = None
    """None: it has no border."""
    only_where: str = ""
    """What else it takes, in words, where it does not answer everywhere within its border."""

    @property
    def where(self) -> str:
        """Where it works, as the guide says it."""
        return self.coverage.where if self.coverage is not None else self.only_where or "everywhere"


def address(value: str) -> str:
    """Read the address of a service. Raises ValueError with what is allowed."""
    allowed = "an http or https address without query, such as https://api.open-meteo.com"
    try:
        parts = urlsplit(value)
        _ = parts.port
    except ValueError:
        raise ValueError(allowed) from None
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment:
        raise ValueError(allowed)
    return value.rstrip("/")


def address_or_none(value: str) -> str:
    """Likewise, empty for `none`."""
    return "" if value == "none" else address(value)


def key(value: str) -> str:
    """Read what a service knows its customer by. Raises ValueError with what is allowed."""
    if not all("!" <= character <= "~" for character in value):
        raise ValueError("printable ASCII characters without spaces")
    return value
