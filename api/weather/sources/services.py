"""What is known of each source before it is asked: what it can give, and what its licence asks for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from api.weather.series.hours import Attribution


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


class Box(NamedTuple):
    """A part of the Earth between two parallels and two meridians, in degrees."""

    south: float
    north: float
    west: float
    east: float


UNITED_STATES: Final = (
    Box(24.3, 49.5, -125.0, -66.8),  # the 48 states
    Box(51.0, 71.6, -180.0, -129.9),  # Alaska
    Box(51.0, 53.2, 172.0, 180.0),  # the western Aleutians
    Box(18.7, 28.6, -178.6, -154.6),  # Hawaii
    Box(17.5, 18.7, -68.1, -64.4),  # Puerto Rico and the Virgin Islands
    Box(13.0, 20.7, 144.4, 146.3),  # Guam and the Northern Marianas
    Box(-14.7, -10.9, -171.3, -167.9),  # American Samoa
)
"""The states and their territories. Boxes hold some of their neighbours too: there the service
itself says that it has nothing. Limits from memory, rounded outwards."""

NEIGHBOURS: Final = frozenset(
    {
        "America/Atikokan", "America/Chihuahua", "America/Ciudad_Juarez", "America/Coral_Harbour",
        "America/Creston", "America/Dawson", "America/Edmonton", "America/Ensenada",
        "America/Glace_Bay", "America/Halifax", "America/Havana", "America/Hermosillo",
        "America/Matamoros", "America/Moncton", "America/Monterrey", "America/Montreal",
        "America/Nassau", "America/Nipigon", "America/Ojinaga", "America/Rainy_River",
        "America/Regina", "America/Santa_Isabel", "America/Santo_Domingo", "America/Swift_Current",
        "America/Thunder_Bay", "America/Tijuana", "America/Toronto", "America/Tortola",
        "America/Vancouver", "America/Whitehorse", "America/Winnipeg", "Asia/Anadyr", "Cuba",
        "Mexico/BajaNorte", "Mexico/BajaSur", "Mexico/General", "Pacific/Apia",
    }
)  # fmt: skip
"""Time zones that lie in those boxes and belong to others; from memory of the tz database's zone.tab. All of
`Canada/` belongs to them, too."""

ANYWHERE: Final = ("open-meteo", "met-norway", "dwd")
"""Sources with no border; `dwd` has stations on every continent, but only some outside Europe."""
ONLY_WITHIN: Final = {"us-nws": UNITED_STATES}
WHERE: Final = {"us-nws": "the United States and their territories"}
"""Where a source works, in words."""


def sources_for(latitude: float, longitude: float) -> tuple[str, ...]:
    """Names of the sources of real weather that a place can have, in the order in which to try them."""
    nearby = tuple(
        name
        for name, boxes in ONLY_WITHIN.items()
        if any(box.south <= latitude <= box.north and box.west <= longitude <= box.east for box in boxes)
    )
    return (*ANYWHERE[:2], *nearby, *ANYWHERE[2:])


def why_not(name: str, latitude: float, longitude: float, timezone: str = "") -> str | None:
    """A sentence for a source that a place cannot have, with those that it can; None where it can.

    Near a border, the time zone tells on which side of it a garden lies.
    """
    is_beyond = timezone in NEIGHBOURS or timezone.startswith("Canada/")
    if name not in ONLY_WITHIN or (name in sources_for(latitude, longitude) and not is_beyond):
        return None
    where = f"time zone {timezone}" if is_beyond else f"latitude {latitude:g}, longitude {longitude:g}"
    return (
        f'"{name}" has weather only for {WHERE[name]}, not for {where}; '
        f"{', '.join(ANYWHERE[:-1])} would work, and {ANYWHERE[-1]} where a station is within 50 km."
    )
