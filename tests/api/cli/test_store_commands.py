"""The commands about the database, on a file of the test's own."""

import os
import sqlite3
import stat
import threading
from pathlib import Path

import orjson
import pytest
from click.testing import CliRunner, Result

from api.cli import commands as cli
from api.cli.demo import hold_garden
from api.store.store import Store


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database with the invented garden, named by the environment."""
    path = tmp_path / "rootledger.db"
    monkeypatch.setenv("ROOTLEDGER_DATABASE_URL", f"sqlite:///{path}")
    store = Store.open(f"sqlite:///{path}", release="1")
    hold_garden(store)
    store.close()
    return path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli.main, arguments)


def test_a_whole_database_is_said_to_be_whole(file: Path) -> None:
    result = run("check-store")
    assert (result.exit_code, result.stdout) == (0, "The database is whole.\n")


def test_a_damaged_document_is_named(file: Path) -> None:
    with sqlite3.connect(file) as connection:
        connection.execute("UPDATE gardens SET document = 'no JSON'")
    result = run("check-store")
    assert result.exit_code == 4
    assert "quince-court: the garden's document cannot be read." in result.stderr
    assert "restore a backup" in result.stderr


def test_a_file_that_is_no_database_is_one_sentence(file: Path) -> None:
    file.write_bytes(b"no database " * 1000)
    result = run("check-store")
    assert (result.exit_code, len(result.stderr.splitlines())) == (4, 1)
    assert "file is not a database" in result.stderr
    assert "Traceback" not in result.output


# Backups


def test_a_backup_is_a_database_with_every_record(file: Path, tmp_path: Path) -> None:
    result = run("backup", str(tmp_path / "copy.db"))
    assert result.exit_code == 0, result.output
    restored = Store.open(f"sqlite:///{tmp_path / 'copy.db'}", release="1")
    original = Store.open(f"sqlite:///{file}", release="1")
    assert restored.garden("quince-court") == original.garden("quince-court")
    assert restored.damages() == []
    restored.close()
    original.close()


def test_a_backup_during_writes_is_whole_and_of_one_moment(file: Path, tmp_path: Path) -> None:
    store, stop_now = Store.open(f"sqlite:///{file}", release="1"), threading.Event()
    document = {"zones": {}}

    def write() -> None:
        number = 0
        while not stop_now.is_set():
            # Both gardens are in one transaction: a copy that has one has the other.
            with store.writing() as connection:
                for name in ("left", "right"):
                    connection.exec_driver_sql(
                        "INSERT OR REPLACE INTO gardens (id, version, document_version, place_key, etag,"
                        " created_at, document) VALUES (?, ?, 1, 'here', 'x',"
                        " '2026-07-01T00:00:00.000000+00:00', ?)",
                        (name, number, orjson.dumps(document).decode()),
                    )
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(10):
            copy = tmp_path / f"copy-{number}.db"
            store.back_up(copy)
            with sqlite3.connect(copy) as connection:
                versions = dict(
                    connection.execute("SELECT id, version FROM gardens WHERE id IN ('left', 'right')")
                )
                assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            connection.close()
            assert len(set(versions.values())) <= 1
            assert len(versions) in (0, 2)
    finally:
        stop_now.set()
        writer.join()
        store.close()


def test_a_backup_overwrites_nothing_and_leaves_no_half(file: Path, tmp_path: Path) -> None:
    there = tmp_path / "notes.txt"
    there.write_text("mine")
    result = run("backup", str(there))
    assert (result.exit_code, "there is a file already" in result.stderr) == (2, True)
    assert there.read_text() == "mine"
    result = run("backup", str(tmp_path / "no-folder" / "copy.db"))
    assert (result.exit_code, "cannot be made" in result.stderr) == (4, True)
    assert not [name for name in os.listdir(tmp_path) if name.endswith(".half")]


def test_files_that_tell_where_a_garden_is_are_the_owner_s_alone(file: Path, tmp_path: Path) -> None:
    file.chmod(0o644)  # as earlier releases left it
    run("check-store")
    run("backup", str(tmp_path / "copy.db"))
    for path in (file, tmp_path / "copy.db"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


@pytest.mark.long
def test_on_postgresql_a_backup_is_left_to_its_own_tools(
    postgresql_url: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("ROOTLEDGER_DATABASE_URL", postgresql_url)
    result = run("backup", str(tmp_path / "copy.db"))
    assert (result.exit_code, "pg_dump" in result.stderr) == (4, True)
    assert not (tmp_path / "copy.db").exists()
