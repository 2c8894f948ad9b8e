"""What the atmosphere asks of a reference lawn on one day, from whatever the weather day holds.

FAO-56 equation 6, with an estimate for every missing value of a weather day except its two temperatures.
"""

import datetime as dt
from dataclasses import dataclass

from scheduling.balance.weather import HUMIDITY, SOLAR_RADIATION, WIND, WeatherDay
from scheduling.errors import WeatherIncomplete
from scheduling.fao56.humidity import (
    mean_saturation_vapour_pressure,
    minimum_relative_humidity,
    slope_of_saturation_curve,
    vapour_pressure_from_dew_point,
    vapour_pressure_from_minimum_temperature,
    vapour_pressure_from_rh_max,
    vapour_pressure_from_rh_max_and_min,
    vapour_pressure_from_rh_mean,
)
from scheduling.fao56.radiation import (
    KRS_COASTAL,
    KRS_INTERIOR,
    clear_sky_radiation,
    clearness,
    day_of_year,
    daylight_hours,
    extraterrestrial_radiation,
    net_longwave_radiation,
    net_radiation,
    net_shortwave_radiation,
    solar_radiation_from_cloud,
    solar_radiation_from_sunshine,
    solar_radiation_from_temperature,
)
from scheduling.fao56.reference_et import (
    atmospheric_pressure,
    penman_monteith,
    psychrometric_constant,
    wind_at_2m,
)
from scheduling.garden.description import Garden
from scheduling.reasons.weather_notes import EvapotranspirationDiffers

MISSING_WIND_M_S = 2.0
"""FAO-56 page 63: the mean of more than 2000 stations."""
LEAST_WIND_M_S = 0.5
"""FAO-56 page 63: in calm air, evaporation drives currents of its own."""


@dataclass(frozen=True, slots=True)
class Location:
    """The properties of a place that affect its evapotranspiration."""

    latitude_deg: float
    """North positive."""
    elevation_m: float
    coastal: bool = False
    """On or near a coast: radiation from temperature with kRs 0.19 instead of 0.16."""
    arid: bool = False
    """Arid or semi-arid: dew point 2 °C below the minimum temperature where humidity is unknown."""


def site_of(garden: Garden) -> Location:
    """The weather site of a garden; at sea level if its elevation is unknown."""
    return Location(garden.latitude, garden.elevation_m or 0.0, garden.coastal, garden.arid)


@dataclass(frozen=True, slots=True)
class Demand:
    """One day's reference evapotranspiration, and what a crop coefficient wants to know besides."""

    eto_mm: float
    """At least 0."""
    wind_2m_m_s: float
    """As used: at least 0.5."""
    rh_min_pct: float
    """As given, else from the vapour pressure (equation 63)."""
    estimated: tuple[str, ...]
    """What was not given, of "solar_radiation", "humidity", "wind"."""


def daily_demand(day: WeatherDay, site: Location) -> Demand:
    """Reference evapotranspiration of one day, with FAO-56's estimates for missing values.

    - Solar radiation: as given, else from sunshine (equation 35), else from cloud and
      temperature, else from temperature (equation 50).
    - Humidity: dew point (14), else RHmax and RHmin (17), else RHmax (18), else RHmean (19), else
      the minimum temperature (48). Air moister than saturated counts as saturated.
    - Wind: brought to 2 m (47), at least 0.5 m/s; 2 m/s where it is missing.
    - Evapotranspiration below 0 counts as 0; a day's margin is added.

    Raises WeatherIncomplete where the minimum or maximum temperature is missing: FAO-56 has
    nothing to put in their place.
    """
    t_min_c, t_max_c = day.t_min_c, day.t_max_c
    if t_min_c is None or t_max_c is None:
        temperatures = (("t_min_c", t_min_c), ("t_max_c", t_max_c))
        raise WeatherIncomplete(day.date, tuple(name for name, value in temperatures if value is None))

    actual_kpa, humidity_estimated = _actual_vapour_pressure(day, t_min_c, t_max_c, site.arid)
    day_number = day_of_year(day.date)
    extraterrestrial = extraterrestrial_radiation(site.latitude_deg, day_number)
    clear_sky = clear_sky_radiation(site.elevation_m, extraterrestrial)
    solar = day.solar_mj_m2
    if solar is None:
        solar = _estimated_solar_radiation(
            day, day_number, t_min_c, t_max_c, extraterrestrial, clear_sky, site
        )
    wind_2m_m_s = _wind_at_2m(day)
    t_mean_c = (t_max_c + t_min_c) / 2.0

    eto_mm = penman_monteith(
        t_mean_c,
        wind_2m_m_s,
        slope_of_saturation_curve(t_mean_c),
        psychrometric_constant(atmospheric_pressure(site.elevation_m)),
        net_radiation(
            net_shortwave_radiation(solar),
            net_longwave_radiation(t_min_c, t_max_c, actual_kpa, clearness(solar, clear_sky)),
        ),
        max(0.0, mean_saturation_vapour_pressure(t_min_c, t_max_c) - actual_kpa),
    )
    rh_min_pct = day.rh_min_pct
    if rh_min_pct is None:
        rh_min_pct = minimum_relative_humidity(actual_kpa, t_max_c)
    is_estimated = (
        (SOLAR_RADIATION, day.solar_mj_m2 is None),
        (HUMIDITY, humidity_estimated),
        (WIND, day.wind_m_s is None),
    )
    estimated = tuple(name for name, is_missing in is_estimated if is_missing)
    return Demand(max(0.0, eto_mm) * (1.0 + day.eto_margin_share), wind_2m_m_s, rh_min_pct, estimated)


def _actual_vapour_pressure(
    day: WeatherDay, t_min_c: float, t_max_c: float, arid: bool
) -> tuple[float, bool]:
    """Vapour pressure from the best that is known of humidity, and whether nothing was. [kPa]"""
    if day.t_dew_c is not None:
        return vapour_pressure_from_dew_point(day.t_dew_c), False
    if day.rh_max_pct is not None:
        if day.rh_min_pct is not None:
            return (
                vapour_pressure_from_rh_max_and_min(t_min_c, t_max_c, day.rh_max_pct, day.rh_min_pct),
                False,
            )
        return vapour_pressure_from_rh_max(t_min_c, day.rh_max_pct), False
    if day.rh_mean_pct is not None:
        return vapour_pressure_from_rh_mean(t_min_c, t_max_c, day.rh_mean_pct), False
    return vapour_pressure_from_minimum_temperature(t_min_c, arid), True


def _estimated_solar_radiation(
    day: WeatherDay,
    day_number: int,
    t_min_c: float,
    t_max_c: float,
    extraterrestrial: float,
    clear_sky: float,
    site: Location,
) -> float:
    """Solar radiation from the best that is known besides. [MJ/m² a day]"""
    if day.sunshine_h is not None:
        daylight_h = daylight_hours(site.latitude_deg, day_number)
        return solar_radiation_from_sunshine(day.sunshine_h, daylight_h, extraterrestrial)
    krs = KRS_COASTAL if site.coastal else KRS_INTERIOR
    from_temperature = solar_radiation_from_temperature(t_min_c, t_max_c, extraterrestrial, clear_sky, krs)
    if day.cloud_share is None:
        return from_temperature
    # A mean of two estimates that err for different reasons: over a typical year at Greensboro,
    # NC, it misses a day's radiation by 2.4 MJ/m² (root mean square), the cloud by itself by 3.7
    # and the temperature by itself by 3.2.
    return (solar_radiation_from_cloud(day.cloud_share, clear_sky) + from_temperature) / 2.0


def _wind_at_2m(day: WeatherDay) -> float:
    """Wind that equation 6 may use. [m/s]"""
    if day.wind_m_s is None:
        return MISSING_WIND_M_S
    if day.wind_height_m == 2.0:
        return max(LEAST_WIND_M_S, day.wind_m_s)
    return max(LEAST_WIND_M_S, wind_at_2m(day.wind_m_s, day.wind_height_m))


LARGE_SHARE = 0.25
LARGE_MM = 1.0
"""What is both is no matter of daily against hourly sums, which make a tenth. Our choice, no source."""


def second_opinion(
    date: dt.date, ours_mm: float, theirs_mm: float | None
) -> EvapotranspirationDiffers | None:
    """A note where two reckonings of a day's reference evapotranspiration are far apart.

    Far apart is more than 1 mm and more than a quarter of the source's.
    """
    if theirs_mm is None:
        return None
    apart_mm = abs(ours_mm - theirs_mm)
    if apart_mm <= LARGE_MM or apart_mm <= LARGE_SHARE * theirs_mm:
        return None
    return EvapotranspirationDiffers(date, theirs_mm, ours_mm)
