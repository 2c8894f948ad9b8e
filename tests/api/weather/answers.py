"""Answers in the documented formats of MET Norway, the National Weather Service and Bright Sky.

Every number is invented. Where a test names no other, it is one degree, one tenth of a millimetre and
so on for every hour, so that what a day must be can be said without a calculation.
"""

import datetime as dt
from collections.abc import Callable, Iterable
from typing import Any

from api.weather.series.hours import HOUR

LATITUDE, LONGITUDE = 43.61, 3.88
WESTERN_LONGITUDE = -96.62
"""In the United States, at the same latitude."""

Shape = Callable[[dt.datetime], float]


def stamp(moment: dt.datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


# MET Norway

MET_UNITS = {
    "air_pressure_at_sea_level": "hPa",
    "air_temperature": "celsius",
    "air_temperature_max": "celsius",
    "air_temperature_min": "celsius",
    "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius",
    "precipitation_amount": "mm",
    "probability_of_precipitation": "%",
    "relative_humidity": "%",
    "wind_from_direction": "degrees",
    "wind_speed": "m/s",
}


def met_step(
    time: dt.datetime,
    step_h: int,
    temperature: Shape = lambda time: 20.0,
    rain: Shape = lambda time: 0.1,
    extremes: tuple[float, float] | None = None,
    chance: float | None = 30.0,
) -> dict[str, Any]:
    """One step of the complete product; `rain` is that of an hour, `step_h` 0 for the last step."""
    data: dict[str, Any] = {
        "instant": {
            "details": {
                "air_pressure_at_sea_level": 1015.2,
                "air_temperature": temperature(time),
                "cloud_area_fraction": 25.0,
                "dew_point_temperature": 10.0,
                "relative_humidity": 60.0,
                "wind_from_direction": 249.5,
                "wind_speed": 2.0,
            }
        }
    }

    def period(hours: int) -> dict[str, Any]:
        amount = sum(rain(time + number * HOUR) for number in range(hours))
        details: dict[str, Any] = {"precipitation_amount": round(amount, 6)}
        if chance is not None:
            details["probability_of_precipitation"] = chance
        if hours == 6 and extremes is not None:
            details["air_temperature_min"], details["air_temperature_max"] = extremes
        return {"summary": {"symbol_code": "cloudy"}, "details": details}

    if step_h == 1:
        data["next_1_hours"] = period(1)
    if step_h:
        data["next_6_hours"] = period(6)
        data["next_12_hours"] = {"summary": {"symbol_code": "cloudy"}}
    return {"time": stamp(time), "data": data}


def met_steps(first: dt.datetime, hourly: int = 54, until_h: int = 222, **shape: Any) -> list[dict[str, Any]]:
    """Hourly steps up to the first of 00, 06, 12, 18 after `hourly` hours, then every 6 hours."""
    end, steps, time = first + until_h * HOUR, [], first
    while time < first + hourly * HOUR or time.hour % 6:
        steps.append(met_step(time, 1, **shape))
        time += HOUR
    while time + 6 * HOUR <= end:
        steps.append(met_step(time, 6, **shape))
        time += 6 * HOUR
    return [*steps, met_step(time, 0, **shape)]


def met_body(first: dt.datetime, steps: list[dict[str, Any]] | None = None, **shape: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [LONGITUDE, LATITUDE, 48]},
        "properties": {
            "meta": {"updated_at": stamp(first), "units": dict(MET_UNITS)},
            "timeseries": met_steps(first, **shape) if steps is None else steps,
        },
    }


# National Weather Service


def layer(uom: str, *values: tuple[str, object]) -> dict[str, Any]:
    return {
        "uom": f"wmoUnit:{uom}",
        "values": [{"validTime": valid, "value": value} for valid, value in values],
    }


def every(first: dt.datetime, count: int, step_h: int, value: object) -> Iterable[tuple[str, object]]:
    """The same value for one interval after another."""
    for number in range(count):
        start = (first + number * step_h * HOUR).isoformat()
        yield f"{start}/PT{step_h}H", value


def nws_grid(first: dt.datetime, days: int = 8, **layers: Any) -> dict[str, Any]:
    """A square of the grid; `layers` replace those of its properties by name, None leaves one out."""
    whole = f"{first.isoformat()}/P{days}D"
    properties: dict[str, Any] = {
        "@id": "https://api.weather.gov/gridpoints/TOP/31,80",
        "@type": "wx:Gridpoint",
        "updateTime": first.isoformat(),
        "validTimes": whole,
        "elevation": {"unitCode": "wmoUnit:m", "value": 48.0},
        "gridId": "TOP",
        "gridX": 31,
        "gridY": 80,
        "temperature": layer("degC", *every(first, 24 * days, 1, 20.0)),
        "dewpoint": layer("degC", (whole, 10.0)),
        "maxTemperature": layer("degC"),
        "minTemperature": layer("degC"),
        "relativeHumidity": layer("percent", (whole, 60)),
        "windSpeed": layer("km_h-1", (whole, 7.2)),
        "skyCover": layer("percent", (whole, 25)),
        "probabilityOfPrecipitation": layer("percent", *every(first, 2 * days, 12, 30)),
        "quantitativePrecipitation": layer("mm", *every(first, 4 * days, 6, 0.6)),
        "hazards": {"values": []},
        "pressure": {"values": []},
    }
    properties = {name: value for name, value in {**properties, **layers}.items() if value is not None}
    corners = [
        [WESTERN_LONGITUDE + east, LATITUDE + north]
        for east, north in ((0, 0), (0.02, 0), (0.02, 0.02), (0, 0))
    ]
    return {
        "@context": ["https://geojson.org/geojson-ld/geojson-context.jsonld", {"@version": "1.1"}],
        "id": "https://api.weather.gov/gridpoints/TOP/31,80",
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [corners]},
        "properties": properties,
    }


def nws_point(grid: str = "TOP/31,80", **properties: Any) -> dict[str, Any]:
    office, _, square = grid.partition("/")
    x, _, y = square.partition(",")
    address = f"https://api.weather.gov/gridpoints/{grid}"
    return {
        "id": f"https://api.weather.gov/points/{LATITUDE},{WESTERN_LONGITUDE}",
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [WESTERN_LONGITUDE, LATITUDE]},
        "properties": {
            "@type": "wx:Point",
            "cwa": office,
            "gridId": office,
            "gridX": int(x),
            "gridY": int(y),
            "forecast": f"{address}/forecast",
            "forecastHourly": f"{address}/forecast/hourly",
            "forecastGridData": address,
            "timeZone": "America/Chicago",
            **properties,
        },
    }


def nws_problem(kind: str, status: int, detail: str) -> dict[str, Any]:
    return {
        "correlationId": "119a8954",
        "title": "Data Unavailable For Requested Point",
        "type": f"https://api.weather.gov/problems/{kind}",
        "status": status,
        "detail": detail,
        "instance": "https://api.weather.gov/requests/119a8954",
    }


# Bright Sky


def dwd_record(time: dt.datetime, **changes: Any) -> dict[str, Any]:
    """A forecast's record, with everything that a record can hold."""
    return {
        "timestamp": time.isoformat(),
        "source_id": 238685,
        "precipitation": 0.1,
        "pressure_msl": 1015.2,
        "sunshine": 30.0,
        "temperature": 20.0,
        "wind_direction": 240,
        "wind_speed": 7.2,
        "cloud_cover": 25,
        "dew_point": 10.0,
        "relative_humidity": None,
        "visibility": 50000,
        "wind_gust_direction": None,
        "wind_gust_speed": 21.6,
        "condition": "dry",
        "precipitation_probability": 30,
        "precipitation_probability_6h": None,
        "solar": 0.2,
        "icon": "partly-cloudy-day",
        **changes,
    }


def dwd_body(
    first: dt.datetime, hours: int, records: list[dict[str, Any]] | None = None, **changes: Any
) -> dict[str, Any]:
    """Records from `first` on, the one at the end included, as the service's default is."""
    if records is None:
        records = [dwd_record(first + number * HOUR, **changes) for number in range(hours + 1)]
    return {
        "weather": records,
        "sources": [
            {
                "id": 238685,
                "dwd_station_id": None,
                "observation_type": "forecast",
                "lat": LATITUDE + 0.05,
                "lon": LONGITUDE + 0.05,
                "height": 48.0,
                "station_name": "INVENTED",
                "wmo_station_id": "07643",
                "first_record": "2026-07-01T00:00:00+00:00",
                "last_record": "2026-07-24T00:00:00+00:00",
                "distance": 6853.0,
            }
        ],
    }
