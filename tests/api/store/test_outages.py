"""A database that is away, full, read-only, locked or damaged: what still works, and what is said."""

import logging
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, event, make_url, text

from api.http import problems
from api.plans import answer_cache
from api.routes import health
from api.store import engines, outages
from api.store.outages import OutageLog
from tests.api.stored_garden import Clock, House, Steady, document
from tests.profile import PATIENCE_S

GARDENS = "/v1/gardens"
PLAN = "/v1/gardens/orchard/plan"
ANOTHER = {key: value for key, value in document().items() if key != "id"}


@pytest.fixture(autouse=True)
def seconds(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A log that has told nothing yet, with the seconds of its clock; readiness is proved each time."""
    shown = [0.0]
    fresh = OutageLog(lambda: shown[0])
    for module in (problems, answer_cache):
        monkeypatch.setattr(module, "outage_log", fresh)
    monkeypatch.setattr(health, "PROVED_AGAIN_AFTER_S", 0.0)
    return shown


@pytest.fixture
def house(database_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[House]:
    """A garden that was stored in the morning and has a plan, on each kind of database."""
    from api.weather.fetch import forecasts

    monkeypatch.setattr(forecasts, "LONGEST_WAIT_S", PATIENCE_S)
    clock = Clock()
    house = House(database_url, clock, Steady(clock))
    clock.to(10)
    house.put()
    house.plan()
    house.settle()
    yield house
    house.close()


@pytest.fixture
def sqlite_house(sqlite_url: str) -> Iterator[House]:
    """The same on SQLite only."""
    clock = Clock()
    house = House(sqlite_url, clock, Steady(clock))
    clock.to(10)
    house.put()
    house.plan()
    house.settle()
    yield house
    house.close()


def path_of(house: House) -> str:
    return str(house.store._reading.url.database)


def limited(house: House, pragma: str) -> None:
    """Let every further connection to the file have a limit that SQLite itself enforces."""

    def limit(connection: sqlite3.Connection, _: object) -> None:
        connection.execute(pragma).fetchall()

    for engine in (house.store._reading, house.store._writing):
        engine.dispose()
        event.listen(engine, "connect", limit)
    house.store.ask.__self__._of_thread.connected = None  # type: ignore[attr-defined]


def full(house: House) -> None:
    # SQLite never shrinks below what the file has, so nothing can be added; free pages are used up first.
    connection = sqlite3.connect(path_of(house))
    connection.execute("VACUUM")
    connection.close()
    limited(house, "PRAGMA max_page_count=1")


def read_only(house: House) -> None:
    limited(house, "PRAGMA query_only=ON")


def told(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.getMessage() for record in caplog.records if record.levelno >= logging.ERROR]


def big(name: str) -> dict[str, object]:
    return {
        **ANOTHER,
        "name": name,
        "zones": {f"z{number}": ANOTHER["zones"]["lawn"] for number in range(60)},
    }


@pytest.mark.parametrize(
    ("happens", "sentence"),
    [(full, "no space left"), (read_only, "can be read, but not written")],
)
def test_a_write_that_the_disk_refuses_is_503_and_reads_go_on(
    sqlite_house: House, happens: Callable[[House], None], sentence: str, caplog: pytest.LogCaptureFixture
) -> None:
    client = sqlite_house.client()
    happens(sqlite_house)
    for _ in range(20):
        refused = client.put("/v1/gardens/another", json=big("Another"))
        assert refused.status_code == 503
        assert int(refused.headers["Retry-After"]) > 0
        assert sentence in refused.json["detail"]
        assert path_of(sqlite_house) not in refused.text
    assert len(told(caplog)) == 1
    assert path_of(sqlite_house) in told(caplog)[0]

    sqlite_house.clock.to(11)  # the kept answer is not for this hour any more
    assert client.get(GARDENS).status_code == 200
    assert client.get(f"{GARDENS}/orchard/usage").status_code == 200
    assert client.get(PLAN).status_code == 200


def test_the_log_has_a_line_a_minute_and_says_how_many_it_left_out(
    seconds: list[float], caplog: pytest.LogCaptureFixture
) -> None:
    log = OutageLog(lambda: seconds[0])
    for _ in range(1000):
        log.tell("The disk is full.")
    log.tell("The disk is gone.")
    assert told(caplog) == ["The disk is full.", "The disk is gone."]
    seconds[0] = 60.0
    log.tell("The disk is full.")
    assert told(caplog)[2] == "The disk is full. (999 more times since the last line)"


def test_a_log_of_outages_forgets_before_it_grows(monkeypatch: pytest.MonkeyPatch) -> None:
    log = OutageLog(lambda: 0.0)
    for number in range(3 * outages.MOST_SENTENCES):
        log.tell(f"The row {number} is damaged.")
    assert len(log._told) <= outages.MOST_SENTENCES


def test_a_service_is_ready_only_while_its_database_takes_a_write(sqlite_house: House) -> None:
    client = sqlite_house.client()
    assert client.get("/health/ready").status_code == 200
    read_only(sqlite_house)
    refused = client.get("/health/ready")
    assert (refused.status_code, refused.json["detail"]) == (
        503,
        "Not ready to write. The database can be read, but not written.",
    )
    assert "Retry-After" in refused.headers
    assert client.get("/health/live").status_code == 200


def test_readiness_costs_one_write_in_five_seconds(
    sqlite_house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(health, "PROVED_AGAIN_AFTER_S", PATIENCE_S)
    writes = []
    monkeypatch.setattr(sqlite_house.store, "prove_write", writes.append)
    client = sqlite_house.client()
    for _ in range(10):
        assert client.get("/health/ready").status_code == 200
    assert len(writes) == 1


def test_a_poll_does_not_wait_for_other_writers(sqlite_house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "LONGEST_WAIT_S", 0.05)
    client = sqlite_house.client()
    other = sqlite3.connect(path_of(sqlite_house), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    sqlite_house.clock.to(11)
    try:
        assert client.get(PLAN).status_code == 200
        refused = client.get("/health/ready")
        assert refused.status_code == 503
        assert refused.json["detail"] == "Not ready to write. The database is held by another writer."
    finally:
        other.close()
    assert client.get("/health/ready").status_code == 200


def test_a_damaged_file_is_503_and_check_store_says_so(sqlite_house: House) -> None:
    client = sqlite_house.client()
    assert sqlite_house.store.damages() == []
    sqlite_house.store.close()
    sqlite_house.store.ask.__self__._of_thread.connected = None  # type: ignore[attr-defined]
    file = Path(path_of(sqlite_house))
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'gardens'").fetchone()
    (size,) = connection.execute("PRAGMA page_size").fetchone()
    connection.close()
    written = bytearray(file.read_bytes())
    written[(page - 1) * size : page * size] = b"\xa5" * size
    file.write_bytes(written)

    for address in (PLAN, GARDENS, f"{GARDENS}/orchard"):
        refused = client.get(address)
        assert refused.status_code == 503, refused.text
        assert "damaged" in refused.json["detail"]
        assert "Retry-After" in refused.headers
    assert "Not ready to read. The database file is damaged" in client.get("/health/ready").json["detail"]


@pytest.mark.parametrize("written", ["no JSON", "[]", "17", ""])
def test_a_damaged_garden_costs_no_other_one(
    house: House, written: str, caplog: pytest.LogCaptureFixture
) -> None:
    house.put(document(id="meadow"))
    with house.store.writing() as connection:
        connection.execute(
            text("UPDATE gardens SET document = :written, version = version + 1 WHERE id = 'meadow'"),
            {"written": written},
        )
    client = house.client()
    listed = client.get(GARDENS).json["gardens"]
    assert [(entry["id"], entry["zones"]) for entry in listed] == [("meadow", None), ("orchard", 1)]
    for address in (f"{GARDENS}/meadow", f"{GARDENS}/meadow/plan", f"{GARDENS}/meadow/usage"):
        refused = client.get(address)
        assert (refused.status_code, refused.json["type"]) == (503, "/problems/unknown-format")
        assert "meadow" in refused.json["detail"]
    assert client.get(PLAN).status_code == 200
    assert house.store.damages() == ["meadow: the garden's document cannot be read."]
    assert any("meadow" in line for line in told(caplog))


@pytest.mark.parametrize("body", ["{}", '{"zones": 3}', "no JSON"])
def test_a_damaged_final_plan_costs_its_own_garden(house: House, body: str) -> None:
    house.put(document(id="meadow"))
    for garden_id in ("meadow", "orchard"):
        house.clock.to(21)
        house.plan(garden_id=garden_id)
        house.settle()
    with house.store.writing() as connection:
        connection.execute(text("UPDATE finals SET body = :body WHERE garden_id = 'meadow'"), {"body": body})
        connection.execute(text("DELETE FROM answers"))
    client = house.client()
    refused = client.get(f"{GARDENS}/meadow/plan")
    assert (refused.status_code, refused.json["type"]) == (503, "/problems/unknown-format")
    assert client.get(PLAN).status_code == 200


@pytest.mark.parametrize("answer", ["no JSON", "[]", "{}", '{"hours": {"start": 3}}'])
def test_a_damaged_forecast_is_fetched_again(house: House, answer: str) -> None:
    with house.store.writing() as connection:
        connection.execute(text("UPDATE places SET answer = :answer"), {"answer": answer})
        connection.execute(text("DELETE FROM answers"))
    again = House(house.store._reading.url.render_as_string(hide_password=False), house.clock, house.source)
    try:
        plan = again.client().get(PLAN)
        assert plan.status_code == 200
        assert plan.json["weather"]["stale"] is False
    finally:
        again.close()


@pytest.mark.parametrize(("column", "value"), [("body", "no JSON"), ("body", "[]"), ("origin", "hearsay")])
def test_a_damaged_weather_day_is_fetched_again(house: House, column: str, value: str) -> None:
    before = house.plan()
    with house.store.writing() as connection:
        connection.execute(text(f"UPDATE weather_days SET {column} = :value"), {"value": value})
        connection.execute(text("UPDATE places SET version = version + 1"))
    again = House(house.store._reading.url.render_as_string(hide_password=False), house.clock, house.source)
    try:
        assert again.plan()["zones"] == before["zones"]
    finally:
        again.close()


@pytest.mark.long
def test_a_postgresql_server_that_is_away_is_503_until_it_is_back(
    postgresql_url: str, postgresql_server: str, caplog: pytest.LogCaptureFixture
) -> None:
    clock = Clock()
    house = House(postgresql_url, clock, Steady(clock))
    clock.to(10)
    house.put()
    client = house.client()
    assert client.get(PLAN).status_code == 200
    house.settle()
    admin = create_engine(make_url(postgresql_server).set(database="template1"), isolation_level="AUTOCOMMIT")
    caplog.clear()
    try:
        with admin.connect() as connection:
            connection.execute(text("ALTER DATABASE postgres ALLOW_CONNECTIONS false"))
            connection.execute(
                text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'postgres'")
            )
            for _ in range(5):
                for refused in (
                    client.get(PLAN),
                    client.get(GARDENS),
                    client.get("/health/ready"),
                    client.put("/v1/gardens/another", json=ANOTHER),
                ):
                    assert refused.status_code == 503, refused.text
                    assert "does not answer" in refused.json["detail"]
                    assert "Retry-After" in refused.headers
            assert len(told(caplog)) <= 4
            connection.execute(text("ALTER DATABASE postgres ALLOW_CONNECTIONS true"))
        assert client.get(PLAN).status_code == 200
        assert client.get("/health/ready").status_code == 200
        with admin.connect() as connection:
            connection.execute(text("ALTER DATABASE postgres SET default_transaction_read_only = on"))
            connection.execute(
                text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'postgres'")
            )
        assert client.get(GARDENS).status_code == 200
        refused = client.put("/v1/gardens/another", json=ANOTHER)
        assert (refused.status_code, "not written" in refused.json["detail"]) == (503, True)
    finally:
        with admin.connect() as connection:
            connection.execute(text("ALTER DATABASE postgres ALLOW_CONNECTIONS true"))
            connection.execute(text("ALTER DATABASE postgres RESET default_transaction_read_only"))
            connection.execute(
                text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'postgres'")
            )
        admin.dispose()
        house.close()
