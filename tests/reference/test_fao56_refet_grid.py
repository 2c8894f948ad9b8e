"""Penman-Monteith beside the library `refet`, an independent implementation of ASCE-EWRI 2005.

For short grass and a day, ASCE's equation is FAO-56's equation 6 with other roundings: 2503 for
4098 x 0.6108 in the slope, σ 4.901 for 4.903, a solar constant of 4.92 MJ/m² an hour in both.
`method="asce"` has those and the simple clear sky of equation 37; `method="refet"` follows
another program's clear sky and declination, and is not comparable.
"""

import datetime as dt
import itertools
import random

import numpy as np
import pytest
import refet  # type: ignore[import-untyped]

from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.weather import WeatherDay
from scheduling.fao56.radiation import clear_sky_radiation, day_of_year, extraterrestrial_radiation
from scheduling.fao56.reference_et import penman_monteith

LATITUDES_DEG = [float(latitude) for latitude in range(-65, 71, 5)]
DATES = [dt.date(2024, 1, 1) + dt.timedelta(days=days) for days in range(0, 366, 15)] + [
    dt.date(2024, 2, 29),
    dt.date(2024, 12, 31),
]
ELEVATIONS_M = [-50.0, 0.0, 250.0, 1200.0, 3500.0]
DEW_POINT_ABOVE_MINIMUM_C = [2.0, -3.0, -15.0]
CLEARNESS = [0.1, 0.55, 1.05]
WINDS_M_S_AT_HEIGHT_M = [(0.8, 2.0), (4.0, 10.0)]


def test_demand_agrees_with_refet_over_all_latitudes_seasons_and_heights() -> None:
    chance = random.Random(56)
    ours, given = [], []
    for latitude, date, elevation in itertools.product(LATITUDES_DEG, DATES, ELEVATIONS_M):
        site = Location(latitude, elevation)
        number = day_of_year(date)
        clear_sky = clear_sky_radiation(elevation, extraterrestrial_radiation(latitude, number))
        for above_minimum_c, share, (wind, height) in itertools.product(
            DEW_POINT_ABOVE_MINIMUM_C, CLEARNESS, WINDS_M_S_AT_HEIGHT_M
        ):
            t_min = chance.uniform(-5.0, 28.0)
            t_max = t_min + chance.uniform(0.0, 18.0)
            dew, solar = t_min + above_minimum_c, share * clear_sky
            day = WeatherDay(
                date,
                t_min_c=t_min,
                t_max_c=t_max,
                t_dew_c=dew,
                wind_m_s=wind,
                wind_height_m=height,
                solar_mj_m2=solar,
            )
            ours.append(daily_demand(day, site).eto_mm)
            given.append((t_min, t_max, dew, solar, wind, height, elevation, latitude, number))

    t_min_c, t_max_c, dew_c, solar_mj_m2, wind_m_s, height_m, elevation_m, latitude_deg, doy = np.array(
        given
    ).T
    theirs = refet.Daily(
        tmin=t_min_c,
        tmax=t_max_c,
        tdew=dew_c,
        rs=solar_mj_m2,
        uz=wind_m_s,
        zw=height_m,
        elev=elevation_m,
        lat=latitude_deg,
        doy=doy,
        method="asce",
    ).eto()
    # refet leaves negative values as they are.
    difference_mm = np.abs(np.array(ours) - np.maximum(theirs, 0.0))

    assert len(ours) >= 50_000
    assert np.isfinite(theirs).all()
    assert (theirs > 0.5).mean() > 0.5  # the grid is not made of clamped zeros
    assert theirs.max() > 8.0
    worst = int(difference_mm.argmax())
    assert difference_mm[worst] < 0.005, given[worst]


@pytest.mark.parametrize("number", [1, 60, 172, 266, 366])
@pytest.mark.parametrize("latitude_deg", LATITUDES_DEG)
def test_radiation_above_the_atmosphere_agrees_with_refet(latitude_deg: float, number: int) -> None:
    theirs = float(refet.calcs.ra_daily(np.radians(latitude_deg), number))
    assert extraterrestrial_radiation(latitude_deg, number) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("t_mean_c", [-5.0, 10.0, 35.0])
def test_equation_6_from_the_same_terms_agrees_with_refet_to_the_last_digit(t_mean_c: float) -> None:
    theirs = refet.calcs.etsz(
        rn=13.3, g=0.2, tmean=t_mean_c, u2=2.1, vpd=0.6, es_slope=0.12, psy=0.0666, cn=900, cd=0.34
    )
    ours = penman_monteith(t_mean_c, 2.1, 0.12, 0.0666, 13.3, 0.6, soil_heat_mj_m2=0.2)
    assert ours == pytest.approx(theirs, rel=1e-12)
