"""Plans where clocks, sun and calendar are unusual, by every source, through a whole application.

One service on this machine stands in for all of them; each answers 0.1 mm of rain in every hour, so that
the rain of a day tells how long it is.
"""

import datetime as dt
from http.server import BaseHTTPRequestHandler
from typing import Any

import pytest

from api.app import create_app
from api.settings import Settings
from api.weather.series.hours import HOUR
from tests.api.stored_garden import LOAM_LAWN, Clock
from tests.api.weather.answers import dwd_body, met_body, nws_grid, nws_point
from tests.api.weather.weather_service import Service, open_meteo_body, send

# Where, when in UTC, the hours of the day after, and between what its evapotranspiration can lie: of air of
# 20 °C, it is the sun that makes the difference, and without any there is next to none. Limits from memory.
PLACES = [
    pytest.param(78.22, 15.65, "Arctic/Longyearbyen", "2026-12-10T12:10", 24, (0.0, 0.1), id="polar night"),
    pytest.param(78.22, 15.65, "Arctic/Longyearbyen", "2026-06-10T12:10", 24, (3.0, 5.0), id="polar day"),
    pytest.param(-33.87, 151.21, "Australia/Sydney", "2026-12-31T12:10", 24, (3.0, 5.0), id="a New Year"),
    pytest.param(48.85, 2.35, "Europe/Paris", "2028-02-28T12:10", 24, (1.5, 3.5), id="29 February"),
    pytest.param(48.85, 2.35, "Europe/Paris", "2026-03-28T12:10", 23, (2.0, 4.0), id="clocks go forward"),
    pytest.param(48.85, 2.35, "Europe/Paris", "2026-10-24T12:10", 25, (1.5, 3.5), id="clocks go back"),
    pytest.param(40.71, -74.0, "America/New_York", "2026-03-07T15:10", 23, (2.0, 4.0), id="New York"),
    pytest.param(22.57, 88.36, "Asia/Kolkata", "2026-03-28T12:10", 24, (3.0, 5.0), id="half an hour"),
    pytest.param(47.56, -52.71, "America/St_Johns", "2026-10-31T12:10", 25, (1.5, 3.5), id="St John's"),
    pytest.param(-31.55, 159.08, "Australia/Lord_Howe", "2026-04-04T03:10", 24.5, (2.0, 4.0), id="half back"),
    pytest.param(-31.55, 159.08, "Australia/Lord_Howe", "2026-10-03T03:10", 23.5, (2.5, 4.5), id="half on"),
    pytest.param(-43.95, -176.55, "Pacific/Chatham", "2026-04-04T03:10", 25, (2.0, 4.0), id="three quarters"),
]  # fmt: skip


class World:
    """Answers for the place that it is asked about."""

    def __init__(self, now: dt.datetime, latitude: float, longitude: float) -> None:
        self.now, self.latitude, self.longitude = now.replace(minute=0), latitude, longitude

    def __call__(self, handler: BaseHTTPRequestHandler) -> None:
        path = handler.path.partition("?")[0]
        body: Any
        if path == "/v1/forecast":
            body = open_meteo_body(self.now.date() - dt.timedelta(days=3), 10)
            body.update(latitude=self.latitude, longitude=self.longitude)
        elif path.startswith("/weatherapi/"):
            body = met_body(self.now)
            body["geometry"]["coordinates"] = [self.longitude, self.latitude, 10]
        elif path.startswith("/points/"):
            body = {**nws_point(), "geometry": None}
        elif path.startswith("/gridpoints/"):
            body = {**nws_grid(self.now - 6 * HOUR), "geometry": None}
        else:
            body = dwd_body(self.now.replace(hour=0) - 48 * HOUR, 24 * 12, solar=None, sunshine=None)
            body["sources"][0].update(lat=self.latitude, lon=self.longitude)
        send(body)(handler)


SOURCES = ("open-meteo", "met-norway", "dwd", "us-nws")
EVERY_SOURCE = [
    pytest.param(
        *place.values,
        source,
        id=f"{place.id}, {source}",
        # The plain suite tries each place with one source, and the source for one country in that country.
        marks=() if source in ("us-nws", SOURCES[number % 3]) else pytest.mark.long,
    )
    for number, place in enumerate(PLACES)
    for source in SOURCES
    if source != "us-nws" or place.id == "New York"
]


@pytest.mark.parametrize(
    ("latitude", "longitude", "timezone", "now", "length_h", "eto_mm", "source"), EVERY_SOURCE
)
def test_a_plan_is_made_of_the_days_own_hours_and_sun(
    tmp_path, latitude, longitude, timezone, now, length_h, eto_mm, source
):
    clock = Clock(dt.datetime.fromisoformat(now).replace(tzinfo=dt.UTC))
    service = Service(clock)
    service.reply = World(clock.now, latitude, longitude)
    url = service.url
    settings = Settings(
        database_url=f"sqlite:///{tmp_path}/rootledger.db",
        cache_url=f"sqlite:///{tmp_path}/cache.db",
        sources=dict.fromkeys(("OPEN_METEO_URL", "MET_NORWAY_URL", "US_NWS_URL", "DWD_URL"), url),
    )
    client = create_app(settings, clock=clock).test_client()
    garden = {
        "latitude": latitude,
        "longitude": longitude,
        "timezone": timezone,
        "weather_sources": [source],
        "zones": {"lawn": LOAM_LAWN},
    }
    assert client.put("/v1/gardens/somewhere", json=garden).status_code == 201
    answer = client.get("/v1/gardens/somewhere/plan?date=tomorrow")
    service.close()

    assert answer.status_code == 200
    weather = answer.json["weather"]
    assert weather["rain_mm"] == pytest.approx(0.1 * length_h, abs=0.051)  # shown to 0.1 mm
    if source == "open-meteo":  # it tells of 200 W/m² in every hour, whatever the sun does
        assert "solar_radiation" not in weather["estimated"]
    else:
        assert "solar_radiation" in weather["estimated"]
        assert eto_mm[0] <= weather["eto_mm"] <= eto_mm[1]
