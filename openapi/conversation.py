"""The examples as one conversation: each file a request and the answer that the service gave.

They are asked in the order of their names, of one service that begins empty, whose clock stands at
`at` and whose weather is invented.
"""

import datetime as dt
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import orjson
from flask import Flask
from werkzeug.test import TestResponse

from api.app import create_app, open_store
from api.settings import Settings
from api.weather.fetch.forecasts import Forecasts
from api.weather.fetch.repository import KeptInMemory
from api.weather.sources.demo import Demo

FOLDER: Final = Path(__file__).parent
EXAMPLES: Final = FOLDER / "examples"
CONTRACT: Final = FOLDER / "openapi.json"

TOLD_HEADERS: Final = ("Content-Type", "ETag", "Location", "Retry-After", "Allow")
"""Headers of an answer that an example shows."""


class Clock:
    """Stands where it is put."""

    def __init__(self) -> None:
        self.now = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)

    def __call__(self) -> dt.datetime:
        """The present instant."""
        return self.now


@contextmanager
def service(clock: Clock) -> Iterator[Flask]:
    """A service without gardens, with invented weather."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(database_url=f"sqlite:///{Path(folder) / 'rootledger.db'}")
        store = open_store(settings)
        forecasts = Forecasts({"demo": Demo(clock)}, KeptInMemory(), clock)
        try:
            yield create_app(settings, store=store, forecasts=forecasts, clock=clock)
        finally:
            forecasts.close()
            store.close()


def example_files() -> list[Path]:
    """The examples in the order in which they are asked."""
    return sorted(EXAMPLES.glob("*.json"))


def ask(app: Flask, clock: Clock, example: Mapping[str, Any]) -> dict[str, Any]:
    """Ask an example's request, and give the answer in the example's form."""
    clock.now = dt.datetime.fromisoformat(example["at"])
    request = example["request"]
    body = None if "body" not in request else orjson.dumps(request["body"])
    headers = {**({} if body is None else {"Content-Type": "application/json"}), **request.get("headers", {})}
    answer = app.test_client().open(request["path"], method=request["method"], headers=headers, data=body)
    told = {name: answer.headers[name] for name in TOLD_HEADERS if name in answer.headers}
    return {
        "status": answer.status_code,
        "headers": told,
        **({"body": _body(answer)} if answer.data else {}),
    }


def _body(answer: TestResponse) -> Any:
    """As JSON, or else as text."""
    return orjson.loads(answer.data) if answer.mimetype.endswith("json") else answer.text
