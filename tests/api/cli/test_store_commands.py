"""The commands about the database, on a file of the test's own."""

import sqlite3
from pathlib import Path

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
