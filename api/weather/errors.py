"""What can go wrong between a weather service and a plan."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, ClassVar

from scheduling.errors import WeatherGap, WeatherIncomplete

if TYPE_CHECKING:
    from api.weather.series.hours import HourlyWeather

PAUSE_AFTER_FAILURE_S = 300.0
"""For how long a source that failed is left alone. Also spares a service that is struggling."""
PAUSE_AFTER_REFUSAL_S = 3600.0
"""The least pause after a service has said that we may not ask: asking on makes a ban worse."""
LONGEST_PAUSE_S = 86400.0
"""No answer of a service silences us for longer than a day."""


class WeatherError(Exception):
    """Base of every error that this package raises on purpose."""


class WeatherUnavailable(WeatherError):
    """There is no weather of an acceptable age to plan from."""

    def __init__(self, detail: str, retry_after_s: int) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s
        """When asking again may help: at least 1."""


class SourceIncomplete(WeatherError):
    """A source's weather lacks days, or values of a day, that a stored garden's plan needs."""


@contextmanager
def by_fault_of_source() -> Iterator[None]:
    """Say that the source lacks what the arithmetic misses: here nobody has brought weather of their own.

    Raises
    ------
    SourceIncomplete
        In place of WeatherGap and WeatherIncomplete.
    """
    try:
        yield
    except (WeatherGap, WeatherIncomplete) as lacks:
        raise SourceIncomplete(str(lacks)) from lacks


class SourceFailed(WeatherError):
    """One source gave nothing usable; how long to leave it alone, and what it had said before."""

    whole_source: ClassVar[bool] = False
    """True where the failure concerns every place, not only the one that was asked for."""

    def __init__(
        self, source: str, detail: str, *, pause_s: float = PAUSE_AFTER_FAILURE_S, status: int | None = None
    ) -> None:
        super().__init__(f"{source}: {detail}")
        self.source = source
        self.detail = detail
        self.pause_s = min(max(pause_s, PAUSE_AFTER_FAILURE_S), LONGEST_PAUSE_S)
        self.status = status
        """What a service answered with that refused or failed; None where it was something else."""
        self.older: HourlyWeather | None = None
        """The last good answer to the same question, where the HTTP cache still holds it."""


class Unreachable(SourceFailed):
    """No answer, not in time, or the service's own fault (5xx)."""


class BadAnswer(SourceFailed):
    """The service said yes, but what it sent cannot be weather."""


class Refused(SourceFailed):
    """The service does not accept the question (4xx, a redirection to another host)."""


class Forbidden(Refused):
    """The service does not want to be asked by us at all (401, 403)."""

    whole_source = True

    def __init__(self, source: str, detail: str, *, pause_s: float = PAUSE_AFTER_REFUSAL_S) -> None:
        super().__init__(source, detail, pause_s=max(pause_s, PAUSE_AFTER_REFUSAL_S))


class RateLimited(SourceFailed):
    """Too many requests (429); `pause_s` is what the service told."""

    whole_source = True

    def __init__(self, source: str, detail: str, *, retry_after_s: float) -> None:
        super().__init__(source, detail, pause_s=retry_after_s)
