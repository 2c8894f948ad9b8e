"""Changes at the same moment: nothing lost, nothing twice, nothing halved."""

import datetime as dt
import json
import os
import subprocess
import sys
import threading
from contextlib import ExitStack
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from api.errors import StoreUnavailable
from api.store import engines
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store
from tests.profile import PATIENCE_S
from tests.together import together

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
DATE = dt.date(2026, 7, 15)
ROOT = Path(__file__).parents[3]
CONTENDERS = Path(__file__).with_name("contenders.py")


@pytest.fixture
def garden(store: Store) -> StoredGarden:
    with store.changing("quince-court") as change:
        return change.put_document({"count": 0}, "here", NOW)


def contend(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, CONTENDERS, *arguments],
        stdout=subprocess.PIPE,
        text=True,
        timeout=PATIENCE_S,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def test_eight_processes_at_once_on_a_new_database_lose_nothing_and_agree(empty_database_url):
    contenders = contend(empty_database_url, "race")
    told = [json.loads(line) for line in contenders.stdout.splitlines()]
    assert (contenders.returncode, len(told)) == (0, 8)

    store = Store.open(empty_database_url, release="1")
    assert [one["created"] for one in told].count(True) == 1
    assert [one["final"] for one in told] == [store.final("quince-court", DATE)] * 8
    assert store.garden("quince-court").document == {"count": 80}
    assert {row.id for row in store.deliveries("quince-court", None, None)} == {
        f"{number}-{turn}" for number in range(8) for turn in range(10)
    }
    store.close()


def test_a_process_that_dies_in_the_middle_of_a_change_leaves_nothing_of_it(store, garden, database_url):
    assert contend(database_url, "crash").returncode == 9
    assert store.garden("quince-court") == garden
    assert store.deliveries("quince-court", None, None) == []
    with store.changing("quince-court") as change:  # and nothing stays locked
        change.put_report(StoredDelivery("lawn", "next", DATE, {}))


def test_an_error_in_the_middle_of_a_change_leaves_nothing_of_it(store, garden):
    def fail_half_way() -> None:
        with store.changing("quince-court") as change:
            change.put_document({"count": 1}, "here", NOW)
            change.put_report(StoredDelivery("lawn", "lost", DATE, {}))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    assert store.garden("quince-court") == garden
    assert store.deliveries("quince-court", None, None) == []


def test_eight_threads_at_once_lose_nothing(store, garden):
    def change_ten_times(number: int) -> None:
        for turn in range(10):
            with store.changing("quince-court") as change:
                change.put_document({"count": change.garden.document["count"] + 1}, "here", NOW)
                change.put_report(StoredDelivery("lawn", f"{number}-{turn}", DATE, {}))

    together(8, change_ten_times)
    after = store.garden("quince-court")
    assert after.document == {"count": 80}
    assert after.version == garden.version + 80
    assert after.document_version == garden.document_version + 80
    assert len(store.deliveries("quince-court", None, None)) == 80


def test_one_of_eight_threads_creates_a_garden_and_the_others_see_it(store):
    found: list[StoredGarden | None] = []

    def create(number: int) -> None:
        with store.changing("orchard") as change:
            found.append(change.garden)
            if change.garden is None:
                change.put_document({"made_by": number}, "here", NOW)

    together(8, create)
    assert sorted(found, key=lambda garden: garden is not None) == [None] + [store.garden("orchard")] * 7


def test_a_creator_who_gives_up_lets_the_next_one_create(store):
    inside, done = threading.Event(), threading.Event()
    found: list[StoredGarden | None] = []

    def give_up() -> None:
        with store.changing("orchard"):
            inside.set()
            done.wait(0.05)  # the other is likely to wait by now, and need not

    def create() -> None:
        inside.wait()
        with store.changing("orchard") as change:
            found.append(change.garden)
            change.put_document({}, "here", NOW)

    threads = [threading.Thread(target=give_up), threading.Thread(target=create)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [None]
    assert store.garden("orchard") is not None


def test_of_eight_threads_that_make_a_plan_final_all_read_the_same(store, garden):
    made = together(8, lambda number: store.keep_final("quince-court", DATE, NOW, {"made_by": number}))
    assert made == [store.final("quince-court", DATE)] * 8
    assert store.garden("quince-court").version == garden.version + 1


def test_a_change_does_not_keep_readers_waiting(store, garden):
    with store.changing("quince-court") as change:
        change.put_document({"count": 1}, "here", NOW)
        assert store.garden("quince-court") == garden
        assert store.answer("quince-court", "plan", NOW) is None


def test_a_change_that_waits_too_long_for_another_says_so(database_url, monkeypatch):
    least_s = 0.1 if database_url.startswith("sqlite") else 1  # PostgreSQL's library takes whole seconds
    monkeypatch.setattr(engines, "LONGEST_WAIT_S", least_s)
    store = Store.open(database_url, release="1")
    with store.changing("quince-court") as change:
        change.put_document({}, "here", NOW)
        with pytest.raises(StoreUnavailable, match="does not answer"), store.changing("quince-court"):
            pytest.fail("the garden is held")
    assert store.garden("quince-court") is not None
    store.close()


@pytest.mark.long
def test_more_writers_than_connections_wait_and_then_say_so(postgresql_url, monkeypatch):
    monkeypatch.setattr(engines, "LONGEST_WAIT_S", 1)
    store = Store.open(postgresql_url, release="1")
    with ExitStack() as held:
        for number in range(engines.AT_ONCE):
            held.enter_context(store.changing(f"garden-{number}"))
        with pytest.raises(StoreUnavailable, match="does not answer"), store.changing("one-more"):
            pytest.fail("there was a connection left")
    store.close()


def test_a_restart_of_the_server_costs_no_question(postgresql_url):
    store = Store.open(postgresql_url, release="1")
    with store.changing("quince-court") as change:
        put = change.put_document({}, "here", NOW)
    assert store.garden("quince-court") == put
    end_sessions(postgresql_url)
    assert store.garden("quince-court") == put
    end_sessions(postgresql_url)
    with store.changing("quince-court") as change:
        assert change.garden == put
    store.close()


def end_sessions(url: str) -> None:
    """What a restart of the server does to those connected."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(
            text(
                "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        )
    engine.dispose()
