"""What a database of an earlier release holds is still there after a start of this one."""

import datetime as dt
import json

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine, text

from api.store import schema
from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.series.hours import Attribution, HourlyWeather, to_json

NOON = dt.datetime(2026, 7, 14, 12, tzinfo=dt.UTC)
WEATHER = HourlyWeather("demo", Attribution("Invented"), NOON, 48.0, 10.0, ())
DAY = json.dumps({"t_min_c": 15.0, "t_max_c": 25.0, "wind_height_m": 10.0, "rain_is_expected_value": False})


@pytest.fixture
def old(empty_database_url):
    """A database as the first migration left it."""
    engine = create_engine(empty_database_url)
    with engine.begin() as connection:
        config = Config(attributes={"connection": connection})
        config.set_main_option("script_location", str(schema.MIGRATIONS))
        command.upgrade(config, "0001")
        yield connection, empty_database_url
    engine.dispose()


def put(connection, garden: str, key: str, retrieved_at: str, rain_mm: float) -> None:
    if garden:
        connection.execute(
            text(
                "INSERT INTO gardens (id, version, document_version, place_key, etag, created_at, document)"
                " VALUES (:id, 1, 1, :key, 'x', '2026-07-01T00:00:00.000000+00:00', '{}')"
            ),
            {"id": garden, "key": key},
        )
    connection.execute(
        text(
            "INSERT INTO places (key, version, retrieved_at, source, answer)"
            " VALUES (:key, 7, :at, 'demo', :a)"
        ),
        {"key": key, "at": retrieved_at, "a": json.dumps(to_json(WEATHER))},
    )
    body = json.dumps({**json.loads(DAY), "rain_mm": rain_mm})
    connection.execute(
        text(
            "INSERT INTO weather_days (place_key, date, origin, source, retrieved_at, body)"
            " VALUES (:key, '2026-07-13', 'analysed', 'demo', :at, :body)"
        ),
        {"key": key, "at": retrieved_at, "body": body},
    )


def test_places_move_to_coarser_keys_with_their_gardens_and_days(old):
    connection, url = old
    put(connection, "near", "43.612,3.880,Europe/Paris,demo", "2026-07-14T11:00:00.000000+00:00", 1.0)
    put(connection, "next-door", "43.608,3.884,Europe/Paris,demo", "2026-07-14T12:00:00.000000+00:00", 2.0)
    put(connection, "far", "-0.004,151.209,UTC,demo", "2026-07-14T12:00:00.000000+00:00", 3.0)
    put(connection, "", "here", "2026-07-14T12:00:00.000000+00:00", 4.0)
    connection.commit()

    store = Store.open(url, release="1")
    rows = WeatherRows(store)
    keys = {garden.id: garden.place_key for garden in store.gardens(None, 10)}
    assert keys == {
        "near": "43.61,3.88,Europe/Paris,demo",
        "next-door": "43.61,3.88,Europe/Paris,demo",
        "far": "0.00,151.21,UTC,demo",
    }
    since = dt.date(2026, 7, 1)
    # Of two places that become one, the days of the one that was asked for last.
    assert [day.rain_mm for day in rows.days(keys["near"], since)] == [2.0]
    assert [day.rain_mm for day in rows.days(keys["far"], since)] == [3.0]
    assert [day.rain_mm for day in rows.days("here", since)] == [4.0]
    assert rows.latest(keys["near"]).weather == WEATHER
    assert rows.promises(keys["near"], since) == []
    assert rows.held(NOON) == {}
    store.close()


def test_readings_that_are_kept_come_to_a_value_each_morning(old):
    connection, url = old
    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(schema.MIGRATIONS))
    command.upgrade(config, "0003")
    put(connection, "orchard", "here", "2026-07-14T12:00:00.000000+00:00", 0.0)
    for number, (night, share) in enumerate(
        (("2026-07-14", 0.4), ("2026-07-14", 0.9), ("2026-07-14", 0.5), (None, 0.1))
    ):
        connection.execute(
            text(
                "INSERT INTO moisture_readings (garden_id, zone, id, measured_at, night, body)"
                " VALUES ('orchard', 'lawn', :id, :at, :night, :body)"
            ),
            {
                "id": str(number),
                "at": f"2026-07-14T0{number}:00:00.000000+00:00",
                "night": None if night is None else dt.date.fromisoformat(night),
                "body": json.dumps({"probe": "probe", "store_share": share}),
            },
        )
    connection.commit()

    store = Store.open(url, release="1")
    assert [
        (row.night, row.probe, row.body) for row in store.measured("orchard", dt.date(2026, 7, 14))[1]
    ] == [(dt.date(2026, 7, 14), "probe", {"store_share": 0.5})]
    store.close()
