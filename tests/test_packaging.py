"""What is installed is whole: every package and data file in the wheel, every import declared."""

import ast
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from api import RELEASE
from api.cli.commands import main

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
PACKAGES = ("api", "openapi", "scheduling")
NEVER_IMPORTED = {
    "tzdata": "zoneinfo finds it where the system has no time zones",
    "psycopg": "SQLAlchemy imports it for a postgresql URL",
}


def files_of_the_packages() -> set[str]:
    """What an installation must hold, as paths below the root."""
    return {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.suffix != ".pyc"
    }


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """A wheel, built from a copy of the packages."""
    source, target = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source)
    for package in PACKAGES:
        shutil.copytree(ROOT / package, source / package, ignore=shutil.ignore_patterns("__pycache__"))
    build = f"from setuptools import build_meta; build_meta.build_wheel({str(target)!r})"
    built = subprocess.run(
        [sys.executable, "-c", build], cwd=source, capture_output=True, text=True, check=False
    )
    assert built.returncode == 0, built.stderr
    return zipfile.ZipFile(next(target.glob("*.whl")))


def test_the_wheel_holds_every_file_of_the_packages_and_nothing_else(wheel: zipfile.ZipFile) -> None:
    held = {name for name in wheel.namelist() if ".dist-info/" not in name}

    assert held == files_of_the_packages()


def test_the_wheel_brings_the_command(wheel: zipfile.ZipFile) -> None:
    name = next(name for name in wheel.namelist() if name.endswith("entry_points.txt"))

    assert "rootledger = api.cli.commands:main" in wheel.read(name).decode()


def test_the_release_is_the_version_of_the_wheel(wheel: zipfile.ZipFile) -> None:
    name = next(name for name in wheel.namelist() if name.endswith("METADATA"))

    assert f"\nVersion: {RELEASE}\n" in wheel.read(name).decode()
    assert CliRunner().invoke(main, ["--version"]).output.strip().endswith(f" {RELEASE}")


def test_types_are_declared_in_both_packages() -> None:
    assert {"api/py.typed", "scheduling/py.typed"} <= files_of_the_packages()


# Dependencies


def declared(*extras: str) -> dict[str, str]:
    """By the name that is imported, the distribution that is asked for."""
    project = PROJECT["project"]
    wanted = [*project["dependencies"]]
    for extra in extras:
        wanted += project["optional-dependencies"][extra]
    names = [re.split(r"[^A-Za-z0-9-]", requirement)[0] for requirement in wanted]
    return {name.removesuffix("-py").replace("-", "_"): name for name in names}


def imported(*folders: str) -> set[str]:
    """Packages that the files below some folders import, but for our own and the standard library's."""
    found: set[str] = set()
    for folder in folders:
        for path in (ROOT / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Import):
                    found |= {alias.name.partition(".")[0] for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                    found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {*PACKAGES, "__future__"}


def test_every_import_is_a_declared_dependency() -> None:
    assert imported("api", "scheduling") <= set(declared())


def test_every_dependency_is_imported() -> None:
    unused = set(declared()) - imported("api", "scheduling") - set(NEVER_IMPORTED)

    assert not unused
