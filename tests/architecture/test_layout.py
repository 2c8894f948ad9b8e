"""What lies where, and that nothing is lost by its name."""

import ast
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = ROOT / "tests"
LEFTOVERS = {"utils", "util", "helpers", "helper", "common", "misc", "tools", "lib", "shared"}
IN_THE_WHEEL = ("api", "openapi", "scheduling")


def of_folder(*names: str) -> list[Path]:
    return [
        path for name in names for path in sorted((ROOT / name).rglob("*")) if "__pycache__" not in path.parts
    ]


def test_no_file_is_a_drawer_for_leftovers() -> None:
    drawers = [path for path in of_folder("api", "scheduling", "tests") if path.stem in LEFTOVERS]
    assert drawers == []


def test_every_file_that_defines_tests_is_found_by_its_name() -> None:
    lost = [
        path
        for path in of_folder("tests")
        if path.suffix == ".py" and _defines_tests(path) and not path.name.startswith("test_")
    ]
    assert lost == []


def test_every_file_named_as_a_test_defines_some() -> None:
    empty = [path for path in TESTS.rglob("test_*.py") if not _defines_tests(path)]
    assert empty == []


def _defines_tests(path: Path) -> bool:
    return any(
        isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name.startswith("test_")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
    )


def test_the_folders_of_tests_are_no_packages() -> None:
    """A package tests/api would be imported in the place of the real one."""
    assert list(TESTS.rglob("__init__.py")) == [TESTS / "__init__.py"]


def test_every_package_is_in_the_wheel_and_every_one_in_the_wheel_exists() -> None:
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]
    there = {
        ".".join(path.parent.relative_to(ROOT).parts) for path in of_folder(*IN_THE_WHEEL) if path.is_file()
    }
    assert set(listed) == there
    assert len(listed) == len(set(listed))


def test_every_data_file_is_in_the_wheel() -> None:
    given = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    left_out = [
        path.relative_to(ROOT)
        for path in of_folder(*IN_THE_WHEEL)
        if path.is_file()
        and path.suffix != ".py"
        and not any(
            path.match(pattern) for pattern in given.get(".".join(path.parent.relative_to(ROOT).parts), ())
        )
    ]
    assert left_out == []


def test_every_folder_of_a_package_is_a_package() -> None:
    bare = {path.parent for path in of_folder(*IN_THE_WHEEL) if path.suffix == ".py"}
    assert [folder for folder in sorted(bare) if not (folder / "__init__.py").exists()] == []
