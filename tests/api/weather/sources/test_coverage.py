"""Which sources a position can have."""

import zoneinfo

import pytest

from api.weather.sources.registry import REAL, why_not
from api.weather.sources.us_nws import NEIGHBOURS

EVERYWHERE = {"open-meteo", "met-norway", "dwd"}


def possible(latitude: float, longitude: float) -> set[str]:
    return {service.name for service in REAL if why_not(service.name, latitude, longitude) is None}


# Positions of places in the United States and their territories, and of others far from them; from memory.
@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        pytest.param(25.76, -80.19, id="Miami"),
        pytest.param(47.61, -122.33, id="Seattle"),
        pytest.param(47.46, -67.93, id="the north of Maine"),
        pytest.param(24.55, -81.78, id="Key West"),
        pytest.param(61.22, -149.90, id="Anchorage"),
        pytest.param(71.29, -156.79, id="Utqiagvik"),
        pytest.param(52.92, 172.91, id="Attu"),
        pytest.param(55.34, -131.64, id="Ketchikan"),
        pytest.param(21.31, -157.86, id="Honolulu"),
        pytest.param(18.47, -66.11, id="San Juan"),
        pytest.param(18.34, -64.93, id="Charlotte Amalie"),
        pytest.param(13.48, 144.75, id="Hagatna"),
        pytest.param(15.19, 145.75, id="Saipan"),
        pytest.param(-14.28, -170.70, id="Pago Pago"),
    ],
)
def test_the_united_states_have_their_own_source(latitude, longitude):
    assert possible(latitude, longitude) == EVERYWHERE | {"us-nws"}


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        pytest.param(43.61, 3.88, id="Montpellier"),
        pytest.param(51.5, -0.13, id="London"),
        pytest.param(-33.87, 151.21, id="Sydney"),
        pytest.param(19.43, -99.13, id="Mexico City"),
        pytest.param(53.55, -113.49, id="Edmonton"),
        pytest.param(23.11, -82.37, id="Havana"),
        pytest.param(-13.83, -171.76, id="Apia"),
        pytest.param(3.88, 43.61, id="Montpellier, swapped"),
        pytest.param(0.0, 0.0, id="the Gulf of Guinea"),
    ],
)
def test_elsewhere_it_is_refused_with_the_sources_that_would_work(latitude, longitude):
    assert possible(latitude, longitude) == EVERYWHERE

    sentence = why_not("us-nws", latitude, longitude)
    assert sentence is not None
    assert all(name in sentence for name in EVERYWHERE)


@pytest.mark.parametrize("name", ["open-meteo", "met-norway", "dwd", "demo"])
def test_other_sources_have_no_border(name):
    assert why_not(name, -77.85, 166.67) is None


@pytest.mark.parametrize(
    ("latitude", "longitude", "timezone"),
    [
        pytest.param(43.65, -79.38, "America/Toronto", id="Toronto"),
        pytest.param(49.25, -123.12, "America/Vancouver", id="Vancouver"),
        pytest.param(45.5, -73.57, "America/Toronto", id="Montreal"),
        pytest.param(32.51, -117.04, "America/Tijuana", id="Tijuana"),
        pytest.param(25.05, -77.35, "America/Nassau", id="Nassau"),
        pytest.param(25.67, -100.31, "America/Monterrey", id="Monterrey"),
        pytest.param(44.65, -63.58, "Canada/Atlantic", id="Halifax"),
    ],
)
def test_neighbours_are_known_by_their_time_zone(latitude, longitude, timezone):
    sentence = why_not("us-nws", latitude, longitude, timezone)
    assert sentence is not None
    assert all(name in sentence for name in EVERYWHERE)


def test_the_time_zones_of_the_neighbours_are_known_to_the_tz_database():
    assert zoneinfo.available_timezones() >= NEIGHBOURS


@pytest.mark.parametrize("timezone", ["America/Detroit", "America/New_York", "US/Eastern", "Etc/GMT+5"])
def test_on_this_side_of_the_border_it_works(timezone):
    assert why_not("us-nws", 42.33, -83.05, timezone) is None
