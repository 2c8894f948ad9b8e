"""A place that weather is wanted for."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from api.weather.series.own_weather import NAME as OWN_WEATHER
from scheduling.garden.description import Garden


@dataclass(frozen=True, slots=True)
class Place:
    """A position, the calendar of its days, and the sources to ask, the preferred one first."""

    latitude: float
    """Degrees, north positive."""
    longitude: float
    """Degrees, east positive."""
    timezone: str
    """IANA name."""
    sources: tuple[str, ...]

    @property
    def zone(self) -> ZoneInfo:
        """The time zone. Raises zoneinfo.ZoneInfoNotFoundError where no such zone is known."""
        return ZoneInfo(self.timezone)

    @property
    def coordinates(self) -> tuple[str, str]:
        """Latitude and longitude to 2 decimals: 0.6 km off at most, finer than any forecast's grid.

        The same digits go into the key and into the request, so that the gardens of a quarter share
        an answer and one garden always asks the same question. Nobody learns where exactly it lies.
        """
        return _two_decimals(self.latitude), _two_decimals(self.longitude)

    @property
    def key(self) -> str:
        """One string for one place: equal keys may share their weather days."""
        return ",".join((*self.coordinates, self.timezone, *self.sources))


def place_of(garden: Garden) -> Place:
    """Where the weather of a garden is asked for."""
    asked = tuple(name for name in garden.weather_sources if name != OWN_WEATHER)
    return Place(garden.latitude, garden.longitude, garden.timezone, asked)


def _two_decimals(degrees: float) -> str:
    return f"{round(degrees, 2) + 0.0:.2f}"  # + 0.0 makes 0.0 of -0.0
