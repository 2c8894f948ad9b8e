"""The weather of Seattle, 2012 to 2015: daily maximum and minimum, wind and precipitation, of NOAA (public
domain), as the package vega_datasets holds them. Wind is taken as a mean at 10 m.
"""

import csv
import datetime as dt
from importlib import resources

from scheduling.balance.weather import Origin, WeatherDay


def seattle_days(origin: Origin = Origin.MEASURED) -> list[WeatherDay]:
    """All days, in their order."""
    text = resources.files("vega_datasets").joinpath("_data/seattle-weather.csv").read_text("utf-8")
    return [
        WeatherDay(
            date=dt.date.fromisoformat(line["date"].replace("/", "-")),
            t_min_c=float(line["temp_min"]),
            t_max_c=float(line["temp_max"]),
            wind_m_s=float(line["wind"]),
            wind_height_m=10.0,
            rain_mm=float(line["precipitation"]),
            origin=origin,
        )
        for line in csv.DictReader(text.splitlines())
    ]
