"""One local calendar day of weather, as the ledger uses it.

A field that is None is not known: it is estimated and named where FAO-56 has an estimate for
it, and never taken for zero.
"""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple

TEMPERATURE: Final = "temperature"
"""Never estimated: without it there is no day."""
RAIN: Final = "rain"
"""Where it is not given for a day to come: none is counted."""
SOLAR_RADIATION: Final = "solar_radiation"
"""Where it is not given: taken from sunshine, cloud or temperature."""
HUMIDITY: Final = "humidity"
"""Where neither dew point nor relative humidity is given: taken from the minimum temperature."""
WIND: Final = "wind"
"""Where it is not given: taken as 2 m/s."""
EVAPOTRANSPIRATION: Final = "evapotranspiration"
"""Where nothing is known of a day: taken as the mean of the last days before it."""


class Origin(StrEnum):
    """How a day's values came about."""

    MEASURED = "measured"
    """Read from an instrument."""
    ANALYSED = "analysed"
    """A weather model's account of what has been."""
    FORECAST = "forecast"
    """A weather model's account of what is to come."""
    PAST_FORECAST = "past-forecast"
    """A forecast for a day that is over, of a source that gives no account of what has been."""
    ASSUMED = "assumed"
    """Beyond the forecast: the mean demand of the last days, and no rain."""


IS_PROMISE = frozenset({Origin.FORECAST, Origin.PAST_FORECAST})
"""Origins whose rain may not have come: it counts by its chance."""


class Borrowed(NamedTuple):
    """What a day has from another source than its own, which did not know it."""

    quantity: str
    """ "humidity", "wind", "solar_radiation" or "rain", each whole from one source; or "temperature",
    of which the owner may have measured one of the two."""
    source: str
    retrieved_at: dt.datetime | None


class HourAhead(NamedTuple):
    """What a forecast says of one hour, for the rules that go by the hour; None is not known."""

    start_s: int
    """Its first second, of Unix time."""
    lowest_c: float | None
    wind_2m_m_s: float | None
    """Mean wind at 2 m."""


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """The weather of one local calendar day."""

    date: dt.date
    t_min_c: float | None = None
    t_max_c: float | None = None
    t_dew_c: float | None = None
    rh_min_pct: float | None = None
    rh_max_pct: float | None = None
    rh_mean_pct: float | None = None
    wind_m_s: float | None = None
    """Mean wind at `wind_height_m`."""
    wind_height_m: float = 2.0
    wind_max_m_s: float | None = None
    solar_mj_m2: float | None = None
    sunshine_h: float | None = None
    cloud_share: float | None = None
    rain_mm: float | None = None
    """Rain of the whole day: what has fallen and what is forecast."""
    rain_fallen_mm: float | None = None
    """The part of `rain_mm` that had fallen when a forecast was made; None: none of it is known to have."""
    rain_probability: float | None = None
    """Chance of the rain that is still forecast; None where the source gives none."""
    rain_is_expected_value: bool = False
    """True where the forecast depth is already a mean over chances, as of an ensemble."""
    rain_members_mm: tuple[float, ...] | None = None
    """The whole day's rain in each member of an ensemble; `rain_mm` is their mean."""
    rain_until_noon_mm: float | None = None
    """The part of `rain_mm` that falls before noon; None without hourly values."""
    rain_day_before_mm: float | None = None
    """The rain of the day before according to the same source, if it covered that whole day."""
    rain_left_out_mm: float = 0.0
    """Rain subtracted from `rain_mm` because another source already counted it on the day before."""
    rain_trust_share: float = 1.0
    """The part of forecast rain to rely on, from how much earlier forecasts of the source came true."""
    hours_assumed: int = 0
    """Hours at the start of the day that passed before the first request to the source: they are assumed
    to equal those of the next day, without rain."""
    eto_margin_share: float = 0.0
    """The share to add to the calculated demand of a day that is known from an old forecast only."""
    source_eto_mm: float | None = None
    """Reference evapotranspiration calculated by the source: a second opinion that no calculation uses."""
    origin: Origin = Origin.FORECAST
    source: str = "given"
    """Name of the weather source."""
    retrieved_at: dt.datetime | None = None
    """When the source was queried; None for a day that came with the request."""
    borrowed: tuple[Borrowed, ...] = ()
    observed: tuple[str, ...] = ()
    """Which of the fields the owner measured."""

    def source_of(self, quantity: str) -> str:
        """Which source a quantity is from."""
        return next((other.source for other in self.borrowed if other.quantity == quantity), self.source)

    @property
    def has_temperatures(self) -> bool:
        """Whether a future day can be planned: rain that is not forecast counts as none."""
        return self.t_min_c is not None and self.t_max_c is not None

    @property
    def is_complete(self) -> bool:
        """Whether a day has what no estimate can replace: both temperatures, and its rain."""
        return self.has_temperatures and self.rain_mm is not None
