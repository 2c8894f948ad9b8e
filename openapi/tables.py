"""The guide's tables, made from the code that they describe.

A page marks where a table belongs by `<!-- table: NAME -->` and `<!-- end -->`; what is between them
is written by `python -m openapi` and never by hand.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from api.http.problems import EXPLANATIONS, INTERNAL
from api.http.problems import KINDS as KINDS_OF_PROBLEMS
from api.settings import PREFIX, SETTINGS
from api.weather.series.own_weather import NAME as OWN_WEATHER
from api.weather.sources import registry
from scheduling.reasons.tables import KINDS, rows

GUIDE: Final = Path(__file__).parent / "guide"
MARKED: Final = re.compile(r"<!-- table: ([a-z-]+) -->\n.*?<!-- end -->", re.DOTALL)

TOLD_ELSEWHERE: Final = frozenset({"planting.plants"})
"""Parts whose fields are those of another part of the same table."""

Row = Sequence[str]


def with_tables(page: str, contract: Mapping[str, Any]) -> str:
    """A page with its tables as the code has them now. Raises KeyError for a table that nobody makes."""

    def made(found: re.Match[str]) -> str:
        name = found[1]
        return f"<!-- table: {name} -->\n{TABLES[name](contract)}<!-- end -->"

    return MARKED.sub(made, page)


def table(head: Row, rows: Iterator[Row]) -> str:
    """Rows as a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |\n" for line in lines)


def fields_of(contract: Mapping[str, Any], name: str, leave_out: Sequence[str] = ()) -> str:
    """The fields of a schema and of its parts, each with what it may be and what it means."""
    rows = _fields(contract["components"]["schemas"], name, "", frozenset(leave_out))
    return table(("field", "what it may be", "what it means"), rows)


def _fields(schemas: Mapping[str, Any], name: str, within: str, leave_out: frozenset[str]) -> Iterator[Row]:
    schema = schemas[name]
    required = schema.get("required", ())
    for field, told in schema["properties"].items():
        if f"{within}{field}" in leave_out:
            continue
        part = _part(told)
        meaning = told.get("description", "")
        if field in required:
            meaning = f"{meaning} Needed.".strip()
        yield f"`{within}{field}`", _values(told), meaning
        if part is not None and f"{within}{field}" not in TOLD_ELSEWHERE:
            yield from _fields(schemas, part, f"{within}{field}.", leave_out)


def _part(told: Mapping[str, Any]) -> str | None:
    """The schema that a field holds, itself or in a list."""
    for inner in (
        told,
        told.get("items", {}),
        *told.get("allOf", ()),
        told.get("additionalProperties") or {},
    ):
        if isinstance(inner, dict) and "$ref" in inner:
            return str(inner["$ref"]).rsplit("/", 1)[-1]
    return None


def _values(told: Mapping[str, Any]) -> str:
    if "enum" in told:
        return ", ".join(f"`{value}`" for value in told["enum"] if value is not None)
    if told.get("type") == "array":
        inner = _values(told.get("items", {}))
        return f"a list of {inner}" if inner else "a list"
    if told.get("additionalProperties"):
        return "by id"
    kind = told.get("format") or told.get("type", "")
    kind = next((word for word in kind if word != "null"), "") if isinstance(kind, list) else kind
    words = {"string": "text", "integer": "a whole number", "number": "a number", "boolean": "true or false"}
    word = words.get(kind, {"date": "a date", "date-time": "a moment"}.get(kind, ""))
    low = told.get("minimum", told.get("exclusiveMinimum"))
    high = told.get("maximum")
    if low is not None and high is not None:
        return f"{word} from {low:g} to {high:,.12g}"
    return word


def routes_of(contract: Mapping[str, Any]) -> str:
    """Every address with its methods, and what it does."""

    def lines() -> Iterator[Row]:
        for path, methods in contract["paths"].items():
            for method, operation in methods.items():
                if method in ("get", "put", "post", "patch", "delete"):
                    yield f"`{method.upper()} {path}`", operation["summary"]

    return table(("address", "what it does"), lines())


def codes_of(kind: str) -> Callable[[Mapping[str, Any]], str]:
    """The codes of a kind: when each holds, what it means for the plants, what to do."""
    has_decision = kind == "reasons"

    def made(_: Mapping[str, Any]) -> str:
        if has_decision:
            cells = ((f"`{row.code}`", row.decision, row.when, row.means, row.do) for row in rows(kind))
            return table(("code", "decision", "when", "what it means", "what to do"), cells)
        cells = ((f"`{row.code}`", row.when, row.means, row.do) for row in rows(kind))
        return table(("code", "when", "what it means", "what to do"), cells)

    return made


def settings(_: Mapping[str, Any]) -> str:
    """Every variable of the environment."""
    cells = ((f"`{PREFIX}{one.name}`", one.default, one.about) for one in SETTINGS.values())
    return table(("variable", "default", "what"), cells)


def weather_sources(_: Mapping[str, Any]) -> str:
    """Every source that a garden may name."""
    told = {name: (service.where, service.knows) for name, service in registry.SERVICES.items()}
    told[OWN_WEATHER] = "everywhere", registry.OWN_WEATHER_KNOWS
    cells = ((f"`{name}`", *told[name]) for name in registry.WEATHER_SOURCES)
    return table(("source", "where", "knows"), cells)


def problems(_: Mapping[str, Any]) -> str:
    """What can be wrong with a request, by the last word of the problem's type."""
    kinds = {kind.slug: kind for kind in (*KINDS_OF_PROBLEMS.values(), INTERNAL)}
    cells = (
        (f"`{slug}`", str(kind.status), kind.title, EXPLANATIONS[slug].when, EXPLANATIONS[slug].do)
        for slug, kind in kinds.items()
    )
    return table(("problem", "status", "title", "when", "what to do"), cells)


TABLES: Final[Mapping[str, Callable[[Mapping[str, Any]], str]]] = {
    "zone-fields": lambda contract: fields_of(contract, "Zone", ()),
    "garden-fields": lambda contract: fields_of(contract, "Garden", ("zones",)),
    "routes": routes_of,
    "settings": settings,
    "weather-sources": weather_sources,
    **{kind: codes_of(kind) for kind in KINDS},
    "problems": problems,
}
