"""The days a plan looks over: weather as demand and rain, extended beyond the forecast.

Made once for all zones of a garden, as columns of plain floats; `zone_days` is what one zone makes
of them. The ledger, the need and the outlook all run over these columns.
"""

import datetime as dt
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduling.balance.evapotranspiration import Demand, Site, daily_demand
from scheduling.balance.weather import EVAPOTRANSPIRATION, IS_PROMISE, RAIN, Origin, WeatherDay
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.landscape.counted_rain import counted_depth_mm
from scheduling.landscape.infiltration import (
    DAYS_THAT_SOAK,
)
from scheduling.zone.climate import Climate

DAYS_OF_MEAN_DEMAND = 7
"""Beyond the forecast, the demand is the mean of so many last days."""
LEAST_DAYS_OF_MEAN_RAIN = 30
"""One wet day is no wet season: days short of a month are taken as dry. Our choice, no source."""
DAYS_COUNTED_AHEAD = 3
"""Forecast rain is counted for the plan's date and so many days after it as it is told."""
FARTHER_RAIN_SHARE = 0.7
"""Of what is counted of rain on days that are farther ahead; the caution that an unknown chance gets."""
IS_OVER = frozenset({Origin.MEASURED, Origin.ANALYSED, Origin.PAST_FORECAST})

ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True, eq=False)
class GardenDays:
    """Weather of consecutive days, as water. All columns run over the same days.

    Each is equal to itself only, so that what is reckoned from it can be kept by it.
    """

    dates: list[dt.date]
    eto_mm: list[float]
    certain_rain_mm: list[float]
    """Rain that has fallen."""
    counted_rain_mm: list[float]
    """That, and the part of the forecast that a plan relies on."""
    forecast_rain_mm: list[float]
    """Rain that is still forecast, the whole depth."""
    lowest_c: list[float | None]
    """Minimum of the date; None beyond the forecast."""
    estimated: list[tuple[str, ...]]
    climate: Climate
    mean_rain_mm: float
    """Mean daily rain of the days that are over; of less than a month, as if the rest had been dry."""
    known: int
    """How many days have weather; the rest is assumed."""
    members_mm: Mapping[dt.date, tuple[float, ...]] = field(default_factory=dict)
    """The days counted on of which an ensemble tells the rain, each member's."""
    planned: int = 0
    """Place of the date that is planned."""
    rain_before_mm: Sequence[float] = ()
    """Rain that fell on the last days before the first one, as far as it matters."""

    def antecedent_rain_mm(self, day: int) -> float:
        """Rain that fell on the five days before one of them; what is only forecast soaks nothing."""
        first = day - DAYS_THAT_SOAK
        before = sum(self.rain_before_mm[first:]) if first < 0 else 0.0
        return before + sum(self.certain_rain_mm[max(0, first) : day])

    def index(self, date: dt.date) -> int:
        """Place of a date in the columns."""
        return (date - self.dates[0]).days

    def since(self, date: dt.date) -> "GardenDays":
        """The same days from a date on; what they tell of the climate and the season stays."""
        first = max(0, self.index(date))
        if first == 0:
            return self
        return replace(
            self,
            dates=self.dates[first:],
            eto_mm=self.eto_mm[first:],
            certain_rain_mm=self.certain_rain_mm[first:],
            counted_rain_mm=self.counted_rain_mm[first:],
            forecast_rain_mm=self.forecast_rain_mm[first:],
            lowest_c=self.lowest_c[first:],
            estimated=self.estimated[first:],
            known=self.known - first,
            planned=max(0, self.planned - first),
            rain_before_mm=[*self.rain_before_mm, *self.certain_rain_mm[:first]][-DAYS_THAT_SOAK:],
        )


# Without it, and so without `zone_days_once`, a plan of 12 zones over 60 past days that has no new weather
# takes 39 % longer.
@functools.lru_cache(maxsize=32)
def garden_days_once(
    weather: tuple[WeatherDay, ...], site: Site, planned: dt.date, until: dt.date, since: dt.date | None
) -> GardenDays:
    """`garden_days`, from a date on: a plan is made anew with every report, and most bring no new weather."""
    days = garden_days(weather, site, planned, until)
    return days if since is None else days.since(since)


def garden_days(weather: Sequence[WeatherDay], site: Site, planned: dt.date, until: dt.date) -> GardenDays:
    """Turn weather days into demand and rain, and extend them to a last date.

    Parameters
    ----------
    weather : sequence of WeatherDay
        Consecutive days that reach at least to the planned date.
    site : Site
        Where they happen.
    planned : date
        The plan's date: forecast rain is counted for it and the three days after it, and in part
        for farther days.
    until : date
        Last date of the columns, included.

    Raises
    ------
    WeatherGap
        A day is missing, or the weather begins after the planned date or ends before it.
    WeatherIncomplete
        A day up to the planned date lacks a temperature, or a day that is over lacks its rain.
    """
    known = _consecutive(weather, planned)
    demands = demands_of(known, site)
    last_counted = planned + dt.timedelta(days=DAYS_COUNTED_AHEAD)
    certain, counted, forecast, estimated = [], [], [], []
    for day, demand in zip(known, demands, strict=True):
        fallen, to_come = _rain_of(day)
        certain.append(fallen)
        forecast.append(to_come)
        relied_on = counted_depth_mm(to_come, day.rain_probability, day.rain_is_expected_value)
        relied_on *= day.rain_trust_share
        counted.append(fallen + (relied_on if day.date <= last_counted else FARTHER_RAIN_SHARE * relied_on))
        estimated.append(demand.estimated if day.rain_mm is not None else (*demand.estimated, RAIN))

    over = [depth for day, depth in zip(known, counted, strict=True) if day.origin in IS_OVER]
    eto = [demand.eto_mm for demand in demands]
    reckoned = [eto_mm for day, eto_mm in zip(known, eto, strict=True) if day.origin is not Origin.ASSUMED]
    recent = reckoned[-DAYS_OF_MEAN_DEMAND:]
    beyond = max(0, (until - known[-1].date).days)
    nothing = [0.0] * beyond
    return GardenDays(
        dates=[day.date for day in known]
        + [known[-1].date + (ahead + 1) * ONE_DAY for ahead in range(beyond)],
        eto_mm=eto + [sum(recent) / len(recent)] * beyond,
        certain_rain_mm=certain + nothing,
        counted_rain_mm=counted + nothing,
        forecast_rain_mm=forecast + nothing,
        lowest_c=[day.t_min_c for day in known] + [None] * beyond,
        estimated=[*estimated, *([()] * beyond)],
        climate=_climate(known, demands),
        mean_rain_mm=sum(over) / max(len(over), LEAST_DAYS_OF_MEAN_RAIN),
        known=len(known),
        members_mm={
            day.date: day.rain_members_mm
            for day in known
            if day.rain_members_mm and day.origin is Origin.FORECAST and day.date <= last_counted
        },
        planned=(planned - known[0].date).days,
    )


def demands_of(days: Sequence[WeatherDay], site: Site) -> list[Demand]:
    """Each day's demand; that of an assumed day is the mean of the last week before it that is none."""
    demands: list[Demand] = []
    recent: list[Demand] = []
    for day in days:
        if day.origin is Origin.ASSUMED:
            demands.append(_mean_demand(recent[-DAYS_OF_MEAN_DEMAND:]))
        else:
            recent.append(_demand_once(day, site))
            demands.append(recent[-1])
    return demands


def _mean_demand(days: Sequence[Demand]) -> Demand:
    count = len(days)
    return Demand(
        eto_mm=sum(day.eto_mm for day in days) / count,
        wind_2m_m_s=sum(day.wind_2m_m_s for day in days) / count,
        rh_min_pct=sum(day.rh_min_pct for day in days) / count,
        estimated=(EVAPOTRANSPIRATION,),
    )


# Without it a plan of 12 zones over 60 past days and a new forecast takes 7 % longer.
@functools.lru_cache(maxsize=16_384)
def _demand_once(day: WeatherDay, site: Site) -> Demand:
    """A plan is made anew every hour, and most of its days have not changed since."""
    return daily_demand(day, site)


def _consecutive(weather: Sequence[WeatherDay], planned: dt.date) -> list[WeatherDay]:
    """The days as they follow each other, up to the first forecast day that cannot be used."""
    if not weather:
        raise WeatherGap(planned, planned)
    known: list[WeatherDay] = []
    for day in weather:
        if known and day.date != known[-1].date + ONE_DAY:
            if known[-1].date >= planned:
                break
            raise WeatherGap(known[-1].date + ONE_DAY, day.date - ONE_DAY)
        lacks = tuple(
            name for name, value in (("t_min_c", day.t_min_c), ("t_max_c", day.t_max_c)) if value is None
        )
        if day.origin is Origin.ASSUMED and known:
            known.append(day)
            continue
        if day.rain_mm is None and day.origin not in IS_PROMISE:
            lacks = (*lacks, "rain_mm")
        if lacks:
            if day.date > planned:
                break
            raise WeatherIncomplete(day.date, lacks)
        known.append(day)
    if known[0].date > planned:
        raise WeatherGap(planned, known[0].date - ONE_DAY)
    if known[-1].date < planned:
        raise WeatherGap(known[-1].date + ONE_DAY, planned)
    return known


def _rain_of(day: WeatherDay) -> tuple[float, float]:
    """What has fallen of a day's rain, and what is still forecast. [mm]"""
    if day.rain_mm is None:
        return day.rain_fallen_mm or 0.0, 0.0
    if day.origin not in IS_PROMISE:
        return day.rain_mm, 0.0
    fallen = min(day.rain_fallen_mm or 0.0, day.rain_mm)
    return fallen, day.rain_mm - fallen


def _climate(days: Sequence[WeatherDay], demands: Sequence[Demand]) -> Climate:
    """Wind, dryness and frost of the days at hand; a day whose cold nobody knows had no frost."""
    return Climate(
        days[0].date,
        tuple(demand.wind_2m_m_s for demand in demands),
        tuple(demand.rh_min_pct for demand in demands),
        tuple(math.inf if day.t_min_c is None else day.t_min_c for day in days),
    )
