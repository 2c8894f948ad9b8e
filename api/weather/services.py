"""What is known of each source before it is asked: what it can give, and what its licence asks for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from api.weather.hours import Attribution


@dataclass(frozen=True, slots=True)
class Service:
    """A source of weather."""

    attribution: Attribution
    knows_past: bool
    """Whether it gives an account of days that are over."""
    gives_radiation: bool


OPEN_METEO: Final = Service(
    Attribution(
        "Weather data by Open-Meteo.com (https://open-meteo.com/), made into local days",
        "https://creativecommons.org/licenses/by/4.0/",
    ),
    knows_past=True,
    gives_radiation=True,
)
MET_NORWAY: Final = Service(
    Attribution(
        "Based on data from MET Norway (https://api.met.no/), made into local days",
        "https://creativecommons.org/licenses/by/4.0/",
    ),
    knows_past=False,
    gives_radiation=False,
)
US_NWS: Final = Service(
    Attribution(
        "Forecast of the National Weather Service, NOAA (https://www.weather.gov/), made into local days"
    ),  # public domain: naming it is courtesy
    knows_past=False,
    gives_radiation=False,
)
DWD: Final = Service(
    Attribution(
        "Datenbasis: Deutscher Wetterdienst, eigene Bearbeitung"
        " (source: Deutscher Wetterdienst, through https://brightsky.dev/, made into local days)",
        "https://www.dwd.de/copyright",
    ),
    knows_past=True,
    gives_radiation=True,
)
DEMO: Final = Service(
    Attribution("Invented weather for demonstration. It has never been, and forecasts nothing."),
    knows_past=True,
    gives_radiation=True,
)

SERVICES: Final[Mapping[str, Service]] = {
    "open-meteo": OPEN_METEO,
    "met-norway": MET_NORWAY,
    "us-nws": US_NWS,
    "dwd": DWD,
    "demo": DEMO,
}


def can_give(name: str, *, past: bool, radiation: bool) -> bool:
    """Whether a source may have what another one lacks."""
    service = SERVICES.get(name)
    return service is not None and ((past and service.knows_past) or (radiation and service.gives_radiation))


def attributions(names: Iterable[str], told: Mapping[str, Attribution]) -> tuple[Attribution, ...]:
    """What has to be said beside data of some sources, in their order; `told` is what came with an answer."""
    found = (told.get(name) or (SERVICES[name].attribution if name in SERVICES else None) for name in names)
    return tuple(dict.fromkeys(attribution for attribution in found if attribution is not None))
