"""Who may know whom. The domain knows nobody; SQL and HTTP clients stay in their folders."""

import ast
import functools
import graphlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.profile import PATIENCE_S

ROOT = Path(__file__).parents[2]
PACKAGES = ("api", "scheduling")
RUN_BY_ALEMBIC = "api.store.migrations.env"
"""Alembic executes this file to migrate; nobody imports it."""


def files(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def module_name(file: Path) -> str:
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@functools.cache
def imported(file: Path) -> frozenset[str]:
    """Full names of the modules that a file imports, wherever in it; `from a import b` gives a and a.b."""
    return frozenset(_imports(file))


def _imports(file: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file} imports relatively"
            assert node.module is not None
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def importers_of(*libraries: str) -> set[str]:
    return {
        module_name(file)
        for package in PACKAGES
        for file in files(package)
        if any(name.split(".")[0] in libraries for name in imported(file))
    }


def test_there_are_files_to_look_at() -> None:
    assert all(len(files(package)) > 20 for package in PACKAGES)


def test_scheduling_imports_the_standard_library_and_itself() -> None:
    allowed = sys.stdlib_module_names | {"scheduling"}
    strangers = {
        (module_name(file), name)
        for file in files("scheduling")
        for name in imported(file)
        if name.split(".")[0] not in allowed
    }
    assert strangers == set()


def test_scheduling_knows_no_clock_no_network_and_no_database() -> None:
    forbidden = {"time", "socket", "sqlite3", "urllib", "http", "threading", "logging", "os"}
    found = {
        (module_name(file), name)
        for file in files("scheduling")
        for name in imported(file)
        if name in forbidden
    }
    assert found == set()
    clocks = {"now", "today", "utcnow"}
    asked = [
        f"{file.name}:{node.lineno}"
        for file in files("scheduling")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr in clocks
    ]
    assert asked == []


LAYERS = {
    "scheduling": (
        {"errors", "reasons", "fao56", "landscape"},
        {"catalogue", "garden"},
        {"zone"},
        {"balance"},
        {"decision", "tap"},
        {"probes"},
        {"plan"},
        {"review", "check"},
        {"alerts"},
    ),
    "api": (
        {"errors", "ids", "pages", "watering_hours", "weather"},
        {"schemas", "settings", "store"},
        {"http", "reports"},
        {"plans"},
        {"reviews"},
        {"routes"},
        {"app"},
        {"cli"},
        {"__main__"},
    ),
}
"""The rooms of each package, from the ground floor up: a room imports from floors below its own."""

MOST_FILES_AT_THE_ROOT = 8


def room(module: str) -> str:
    """Which room of its package a module is in."""
    return module.split(".")[1]


@pytest.mark.parametrize("package", PACKAGES)
def test_every_room_has_its_floor(package: str) -> None:
    rooms = {room(module_name(file)) for file in files(package) if module_name(file) != package}
    assert rooms == set().union(*LAYERS[package])


@pytest.mark.parametrize("package", PACKAGES)
def test_rooms_import_from_the_floors_below_them(package: str) -> None:
    floor = {name: number for number, rooms in enumerate(LAYERS[package]) for name in rooms}
    upward = {
        (module_name(file), name)
        for file in files(package)
        for name in imported(file)
        if name.startswith(f"{package}.") and module_name(file) != package and name.split(".")[1] in floor
        if room(name) != room(module_name(file)) and floor[room(name)] >= floor[room(module_name(file))]
    }
    assert upward == set()


@pytest.mark.parametrize("package", PACKAGES)
def test_few_files_lie_at_the_root_of_a_package(package: str) -> None:
    at_the_root = [file.name for file in files(package) if file.parent == ROOT / package]
    assert len(at_the_root) - 1 <= MOST_FILES_AT_THE_ROOT, at_the_root


@pytest.mark.parametrize("package", PACKAGES)
def test_modules_never_import_each_other_in_a_circle(package: str) -> None:
    names = {module_name(file) for file in files(package)}
    graph = {
        module_name(file): {name for name in imported(file) if name in names} - {module_name(file), package}
        for file in files(package)
    }
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as cycle:
        pytest.fail(f"these import each other in a circle: {cycle.args[1]}")


def test_sql_is_in_the_store_only() -> None:
    assert importers_of("sqlalchemy", "alembic", "sqlite3", "psycopg")
    assert {
        name for name in importers_of("sqlalchemy", "alembic", "psycopg") if not in_folder(name, "api.store")
    } == set()


def test_weather_services_are_asked_in_the_weather_folder_only() -> None:
    clients = importers_of("requests", "requests_cache", "urllib3")
    assert clients
    assert {name for name in clients if not in_folder(name, "api.weather")} == set()


def in_folder(module: str, folder: str) -> bool:
    return module == folder or module.startswith(f"{folder}.")


IMPORT_EVERYTHING = """
import importlib, os, sys

root, *modules = sys.argv[1:]
sys.path.insert(0, root)
# The folders of our packages, not of a virtual environment that lies beside them.
ours = tuple({os.path.join(root, module.partition(".")[0]) + os.sep for module in modules})
found = []


def watch(event, arguments):
    if event in {"socket.connect", "socket.getaddrinfo", "sqlite3.connect", "subprocess.Popen",
                 "os.mkdir", "os.remove", "os.rename", "_thread.start_new_thread"}:
        found.append((event, str(arguments[:1])))
    elif event == "open":
        path, mode, flags = arguments
        writes = bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
        own = isinstance(path, str) and os.path.abspath(path).startswith(ours)
        if writes or (own and not path.endswith((".py", ".pyc"))):
            found.append((event, str(path)))


before = dict(os.environ)
sys.addaudithook(watch)
for module in modules:
    importlib.import_module(module)
if dict(os.environ) != before:
    found.append(("environment", "changed"))
print("\\n".join(f"{event}: {what}" for event, what in found))
"""


def test_importing_any_module_does_nothing() -> None:
    """No connection, no thread, no process, no file written, no data file read, no setting changed."""
    modules = [module_name(file) for package in PACKAGES for file in files(package)]
    modules.remove(RUN_BY_ALEMBIC)
    told = subprocess.run(
        [sys.executable, "-B", "-c", IMPORT_EVERYTHING, str(ROOT), *modules],
        capture_output=True,
        text=True,
        check=False,
        cwd="/",
        timeout=PATIENCE_S,
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout.strip() == ""


START = """
import sys

sys.path.insert(0, sys.argv[1])
import api.cli.server
print("\\n".join(sys.modules))
"""


def test_a_server_starts_without_what_only_fetching_and_migrating_need() -> None:
    told = subprocess.run(
        [sys.executable, "-B", "-c", START, str(ROOT)], capture_output=True, text=True, check=True, cwd="/"
    )
    loaded = set(told.stdout.split())
    assert "api.app" in loaded
    needed_later = {"requests", "alembic"}
    assert loaded & needed_later == set()
