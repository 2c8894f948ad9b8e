"""A place that weather is wanted for."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo


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
        """Latitude and longitude to 3 decimals, about 100 m: finer than any forecast's grid.

        The same digits go into the key and into the request, so that neighbours share an answer
        and one garden always asks the same question.
        """
        return _three_decimals(self.latitude), _three_decimals(self.longitude)

    @property
    def key(self) -> str:
        """One string for one place: equal keys may share their weather days."""
        return ",".join((*self.coordinates, self.timezone, *self.sources))


def _three_decimals(degrees: float) -> str:
    return f"{round(degrees, 3) + 0.0:.3f}"  # + 0.0 makes 0.0 of -0.0
