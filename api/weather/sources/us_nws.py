"""The United States' National Weather Service, the source `us-nws`.

For the United States and their territories: hourly for about a week; rain often ends days before.
Neither radiation nor past days. A position is first looked up (`/points`), which gives the address
of its square of the forecast's grid (`/gridpoints`); that hardly ever changes. Every quantity is a
layer of its own, run-length encoded: a value and the interval of ISO 8601 it is for. Amounts of
rain are totals of theirs. Format: https://www.weather.gov/documentation/services-web-api
"""

import datetime as dt
import re
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from api.weather.errors import LONGEST_PAUSE_S, BadAnswer, Forbidden, Refused, SourceFailed
from api.weather.place import Place
from api.weather.series.hours import HourlyWeather
from api.weather.sources import decode as reading
from api.weather.sources.services import Box, Coverage, Service, Setting, address
from api.weather.sources.us_nws_layers import ATTRIBUTION, NAME, read

if TYPE_CHECKING:
    from api.weather.sources.session import WeatherSession

__all__ = ["NAME", "UsNws", "read"]

URL: Final = "https://api.weather.gov"
MEDIA_TYPE: Final = "application/geo+json"
GRID_KEPT: Final = dt.timedelta(days=1)
GRID_FRESH_S: Final = 86400.0
RETRIES: Final = 4
"""Its grids answer with 500 now and then, and rightly a few seconds later."""
PLACES_IN_MEMORY: Final = 1000

GRID: Final = re.compile(r"/gridpoints/([A-Z]{3})/([0-9]{1,4}),([0-9]{1,4})/?$", re.ASCII)
OFFICE: Final = re.compile(r"[A-Z]{3}", re.ASCII)

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


def _is_a_neighbours(timezone: str) -> bool:
    return timezone in NEIGHBOURS or timezone.startswith("Canada/")


SERVICE: Final = Service(
    NAME,
    ATTRIBUTION,
    knows_past=False,
    gives_radiation=False,
    knows="no radiation, no past (National Weather Service; it wants to know who asks, too)",
    make=lambda here: UsNws(here.session, base_url=here.settings.get("US_NWS_URL"), clock=here.clock),
    settings=(Setting("US_NWS_URL", address, "the service's own", "another address of `us-nws`"),),
    coverage=Coverage("the United States and their territories", UNITED_STATES, _is_a_neighbours),
)


class UsNws:
    """Asks the service. `clock` gives the present instant, aware."""

    name = NAME

    def __init__(
        self, session: "WeatherSession", *, base_url: str | None = None, clock: Callable[[], dt.datetime]
    ) -> None:
        self._session = session
        self._url = (base_url or URL).rstrip("/")
        self._clock = clock
        self._lock = threading.Lock()
        self._grids: dict[tuple[str, str], tuple[str, dt.datetime]] = {}
        session.accept(self._url + "/points", NAME, _check_point, fresh_s=GRID_FRESH_S, retries=RETRIES)
        session.accept(self._url + "/gridpoints", NAME, self._check_grid, retries=RETRIES)

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from the present on, as far as each quantity goes; the service has no past days.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        grid, is_remembered = self._grid(place)
        try:
            return self._hours(grid, place)
        except SourceFailed as failed:
            # Squares are numbered anew at times; the old number then does not answer.
            if not is_remembered or failed.status is None:
                raise
            try:
                moved, _ = self._grid(place, anew=True)
            except SourceFailed:
                raise failed from None
            if moved == grid:
                raise
            return self._hours(moved, place)

    def _hours(self, grid: str, place: Place) -> HourlyWeather:
        try:
            return self._session.hours(NAME, self._url + grid, {}, read, self._clock, accept=MEDIA_TYPE)
        except BadAnswer:
            with self._lock:  # should the address be at fault, it is looked up again next time
                self._grids.pop(place.coordinates, None)
            raise

    def _check_grid(self, body: object, url: str) -> None:
        reading.require_reach(read(body, retrieved_at=self._clock()))
        with self._lock:
            asked = [place for place, (grid, _) in self._grids.items() if url == self._url + grid]
        for latitude, longitude in asked:
            reading.require_near(NAME, (float(latitude), float(longitude)), *_corner(body))

    def _grid(self, place: Place, *, anew: bool = False) -> tuple[str, bool]:
        """The path of a place's square, and whether it was known before."""
        now = self._clock()
        with self._lock:
            kept = self._grids.get(place.coordinates)
        if kept is not None and not anew and now - kept[1] < GRID_KEPT:
            return kept[0], True
        url = f"{self._url}/points/{','.join(map(_shortest, place.coordinates))}"
        try:
            answer = self._session.ask(NAME, url, {}, accept=MEDIA_TYPE, anew=anew)
        except Forbidden:
            raise
        except Refused as refused:
            if refused.status != 404:
                raise
            raise Refused(
                NAME,
                "has no forecast for this position: it works in the United States and their territories"
                f" only, and on land. It {refused.detail}",
                pause_s=LONGEST_PAUSE_S,
                status=404,
            ) from None
        except SourceFailed:
            if kept is None or anew:
                raise
            return kept[0], True  # an address of yesterday is better than none
        grid = _grid_path(answer.body)
        with self._lock:
            if len(self._grids) >= PLACES_IN_MEMORY:
                self._grids.clear()
            self._grids[place.coordinates] = grid, now
        return grid, answer.age > dt.timedelta()


def _shortest(degrees: str) -> str:
    """Digits without trailing zeros: with them, the service redirects."""
    return degrees.rstrip("0").rstrip(".")


def _grid_path(body: object) -> str:
    """Where the forecast of a position is. Raises BadAnswer."""
    properties = reading.part(NAME, body, "properties")
    address = properties.get("forecastGridData")
    found = GRID.search(address) if isinstance(address, str) else None
    if found is not None:
        office, x, y = found.groups()
        return f"/gridpoints/{office}/{x},{y}"
    office, x, y = (properties.get(name) for name in ("gridId", "gridX", "gridY"))
    if not isinstance(office, str) or not OFFICE.fullmatch(office):
        raise BadAnswer(NAME, "the position has no 'forecastGridData' and no 'gridId'.")
    return f"/gridpoints/{office}/{_whole(x)},{_whole(y)}"


def _whole(given: object) -> int:
    """A place in the grid: written as a text until 2024, as a number since."""
    text = str(given) if isinstance(given, str | int) and not isinstance(given, bool) else ""
    if not re.fullmatch(r"[0-9]{1,4}", text, re.ASCII):
        raise BadAnswer(NAME, "'gridX' and 'gridY' are no whole numbers.")
    return int(text)


def _check_point(body: object, url: str) -> None:
    _grid_path(body)
    geometry = reading.part(NAME, body).get("geometry")
    position = geometry.get("coordinates") if isinstance(geometry, dict) else None
    asked = re.search(r"/points/(-?[0-9.]+),(-?[0-9.]+)", url)
    if asked is not None and isinstance(position, list) and len(position) == 2:
        there = float(asked[1]), float(asked[2])
        reading.require_near(NAME, there, position[1], position[0])


def _corner(body: object) -> tuple[object, object]:
    """Latitude and longitude of the first corner of a square; None where it tells none."""
    found: object = body
    for key in ("geometry", "coordinates"):
        found = found.get(key) if isinstance(found, dict) else None
    while isinstance(found, list) and found and isinstance(found[0], list):
        found = found[0]
    if isinstance(found, list) and len(found) >= 2:
        return found[1], found[0]
    return None, None
