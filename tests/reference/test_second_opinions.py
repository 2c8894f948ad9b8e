"""Loose second opinions from libraries that go about it in another way.

They are heavy and optional (`pip install rootledger[second-opinions]`), and importing them takes long: these
tests run with `-m long`. Without the libraries they are skipped, with the reason. Where REQUIRE_SERVICES=1
is set, a missing one is a failure.
"""

import csv
import datetime as dt
import importlib
import os
from pathlib import Path
from types import ModuleType

import pytest

from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.weather import WeatherDay
from scheduling.fao56.humidity import saturation_vapour_pressure
from scheduling.fao56.radiation import day_of_year, extraterrestrial_radiation

pytestmark = pytest.mark.long


def second_opinion(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as error:
        reason = f"{name} is not at hand ({error}); install rootledger[second-opinions]"
        if os.environ.get("REQUIRE_SERVICES") == "1":
            pytest.fail(reason)
        pytest.skip(reason)


def test_radiation_above_the_atmosphere_agrees_with_the_sun_s_path_in_pvlib() -> None:
    # pvlib follows the sun through the day by NREL's algorithm. The two differ most near the
    # equinoxes at high latitudes: FAO-56's series for the declination is off by a third of a
    # degree there.
    second_opinion("pvlib")
    np = importlib.import_module("numpy")
    pd = importlib.import_module("pandas")
    solarposition = importlib.import_module("pvlib.solarposition")
    irradiance = importlib.import_module("pvlib.irradiance")

    for date in (dt.date(2025, 3, 21), dt.date(2025, 6, 21), dt.date(2025, 9, 3), dt.date(2025, 12, 21)):
        minutes = pd.date_range(f"{date} 00:05", periods=144, freq="10min", tz="UTC")
        normal_w_m2 = float(irradiance.get_extra_radiation(day_of_year(date), method="spencer"))
        for latitude_deg in range(-65, 71, 15):
            zenith = solarposition.get_solarposition(minutes, latitude_deg, 0.0)["zenith"].to_numpy()
            level_w_m2 = normal_w_m2 * np.clip(np.cos(np.radians(zenith)), 0.0, None)
            theirs_mj_m2 = float(level_w_m2.mean()) * 0.0864
            ours_mj_m2 = extraterrestrial_radiation(float(latitude_deg), day_of_year(date))
            assert ours_mj_m2 == pytest.approx(theirs_mj_m2, abs=0.8), (date, latitude_deg)


def test_saturation_vapour_pressure_agrees_with_metpy() -> None:
    # MetPy uses Ambaum (2020); the two differ by less than 0.5 % between 0 and 45 °C.
    calc = second_opinion("metpy.calc")
    units = importlib.import_module("metpy.units").units

    for temperature_c in range(0, 46, 5):
        theirs = calc.saturation_vapor_pressure(units.Quantity(float(temperature_c), "degC"))
        assert saturation_vapour_pressure(float(temperature_c)) == pytest.approx(
            theirs.to("kPa").magnitude, rel=0.005
        )


GREENSBORO = Location(latitude_deg=36.1, elevation_m=273.0)


def typical_year_at_greensboro() -> list[WeatherDay]:
    """NREL's typical year 723170 (North Carolina), hourly, as it comes with pvlib."""
    path = Path(str(second_opinion("pvlib").__file__)).parent / "data" / "723170TYA.CSV"
    with path.open(encoding="utf-8", newline="") as file:
        next(file)
        hours: dict[str, list[dict[str, str]]] = {}
        for hour in csv.DictReader(file):
            hours.setdefault(hour["Date (MM/DD/YYYY)"], []).append(hour)
    days = []
    for number, of_day in enumerate(hours.values()):
        temperatures = [float(hour["Dry-bulb (C)"]) for hour in of_day]
        days.append(
            WeatherDay(
                dt.date(2025, 1, 1) + dt.timedelta(days=number),
                t_min_c=min(temperatures),
                t_max_c=max(temperatures),
                t_dew_c=sum(float(hour["Dew-point (C)"]) for hour in of_day) / 24,
                wind_m_s=sum(float(hour["Wspd (m/s)"]) for hour in of_day) / 24,
                wind_height_m=10.0,
                solar_mj_m2=sum(float(hour["GHI (W/m^2)"]) for hour in of_day) * 0.0036,
                cloud_share=sum(float(hour["TotCld (tenths)"]) for hour in of_day) / 240,
            )
        )
    return days


def without_radiation(day: WeatherDay, cloud_share: float | None) -> WeatherDay:
    return WeatherDay(
        day.date,
        t_min_c=day.t_min_c,
        t_max_c=day.t_max_c,
        t_dew_c=day.t_dew_c,
        wind_m_s=day.wind_m_s,
        wind_height_m=day.wind_height_m,
        cloud_share=cloud_share,
    )


def test_cloud_brings_the_demand_nearer_to_that_of_measured_radiation() -> None:
    days = typical_year_at_greensboro()
    assert len(days) == 365
    measured = [daily_demand(day, GREENSBORO).eto_mm for day in days]

    def errors_mm(estimates: list[WeatherDay]) -> list[float]:
        return [
            daily_demand(estimate, GREENSBORO).eto_mm - truth
            for estimate, truth in zip(estimates, measured, strict=True)
        ]

    by_temperature = errors_mm([without_radiation(day, None) for day in days])
    by_cloud = errors_mm([without_radiation(day, day.cloud_share) for day in days])

    def mean_square(errors: list[float]) -> float:
        return sum(error * error for error in errors) / len(errors)

    assert mean_square(by_cloud) < mean_square(by_temperature)
    assert abs(sum(by_cloud)) < 0.05 * sum(measured)
