"""What the service costs, as ratios to a bare Flask route in the same run. Prints; asserts nothing.

    python tests/benchmarks/bench_service.py

On an idle machine; ratios count, microseconds depend on it. The weather is invented, the database
is SQLite in a temporary folder, no token is set.
"""

import datetime as dt
import gc
import http.client
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from flask import Flask, Response  # noqa: E402
from sqlalchemy import text  # noqa: E402

from api import demo  # noqa: E402
from api.app import create_app  # noqa: E402
from api.planning import anchor_before, place_of  # noqa: E402
from api.schemas.garden import load_garden  # noqa: E402
from api.settings import Settings  # noqa: E402
from api.store.store import Store  # noqa: E402
from api.store.weather import WeatherRows  # noqa: E402
from api.weather.demo import Demo  # noqa: E402
from api.weather.forecasts import Forecasts  # noqa: E402

NOW = dt.datetime(2026, 7, 30, 12, 0, tzinfo=dt.UTC)
"""The first of the month at least 60 days before is 90 days back."""
ZONES = 12
PAST_DAYS = 60
ROUNDS = 15
CALLS = 200
REMAKES = 60

Call = Callable[[], Any]


def main() -> None:
    print(f"Python {sys.version.split()[0]}; medians of {ROUNDS} rounds of {CALLS} calls, taken in turn\n")
    with tempfile.TemporaryDirectory() as folder, stored_gardens(Path(folder)) as (app, store):
        bare_us = polls(app)
        remakes(app, store, bare_us)
    server()


# Polls


def polls(app: Flask) -> float:
    """Print the polled plan beside the bare route, for both ways of calling; the bare route's time. [us]"""
    first_bare_us = 0.0
    for what, path in (("plan", "/v1/gardens/long/plan"), ("plan/{zone}", "/v1/gardens/long/plan/zone-1")):
        answer = app.test_client().get(path)
        assert answer.status_code == 200, answer.data
        known = {"If-None-Match": answer.headers["ETag"]}
        assert app.test_client().get(path, headers=known).status_code == 304
        bare = bare_app(answer.data)
        for way, call_of in (("wsgi", wsgi_call), ("test client", client_call)):
            bare_us, plan_us, not_modified_us = in_turn(
                call_of(bare, "/bare", {}), call_of(app, path, {}), call_of(app, path, known)
            )
            first_bare_us = first_bare_us or bare_us
            print(
                f"{what:12} {len(answer.data):6} bytes, {way:11}: bare {bare_us:4.0f} us, "
                f"200 {plan_us / bare_us:4.2f}x, 304 {not_modified_us / bare_us:4.2f}x"
            )
    return first_bare_us


def bare_app(body: bytes) -> Flask:
    """A Flask application whose only route answers these bytes."""
    app = Flask("bare", static_folder=None)

    @app.get("/bare")
    def get_bare() -> Response:
        return Response(body, content_type="application/json")

    return app


def wsgi_call(app: Flask, path: str, headers: dict[str, str]) -> Call:
    """Call the application as a server does."""
    with app.test_request_context(path, headers=headers) as context:
        environ = dict(context.request.environ)
    for name in [name for name in environ if name.startswith(("werkzeug.", "flask."))]:
        del environ[name]

    def ignore(status: str, headers: list[tuple[str, str]], exc_info: Any = None) -> Any:
        return None

    def call() -> None:
        chunks = app.wsgi_app(dict(environ), ignore)
        b"".join(chunks)
        chunks.close()  # type: ignore[attr-defined]

    return call


def client_call(app: Flask, path: str, headers: dict[str, str]) -> Call:
    """Call the application as a test does."""
    client = app.test_client()
    return lambda: client.get(path, headers=headers)


def in_turn(*calls: Call) -> list[float]:
    """Median time of each call, the rounds of all taken in turn. [us]"""
    taken: list[list[float]] = [[] for _ in calls]
    for call in calls:
        for _ in range(CALLS):
            call()
    for _ in range(ROUNDS):
        for call, times in zip(calls, taken, strict=True):
            gc.collect()
            start = time.perf_counter()
            for _ in range(CALLS):
                call()
            times.append((time.perf_counter() - start) / CALLS * 1e6)
    return [statistics.median(times) for times in taken]


# Plans made anew


def remakes(app: Flask, store: Store, bare_us: float) -> None:
    """Print what a plan costs that has to be made."""
    days = f"{ZONES} zones, {PAST_DAYS} past days of weather at hand"
    report(f"plan remade, {days}", remade_us(app, store, "long", "answers"), bare_us)
    guessed = (NOW.date() - anchor_before(NOW.date())).days
    report(f"first guess through {guessed} assumed days", remade_us(app, store, "new", "openings"), bare_us)


def remade_us(app: Flask, store: Store, garden: str, forget: str) -> float:
    """Median time of a plan after something kept has been forgotten. [us]"""
    call = wsgi_call(app, f"/v1/gardens/{garden}/plan", {})
    taken = []
    for _ in range(REMAKES):
        with store.writing() as connection:
            for table in {"answers", forget}:
                connection.execute(text(f"DELETE FROM {table} WHERE garden_id = :garden"), {"garden": garden})
        start = time.perf_counter()
        call()
        taken.append((time.perf_counter() - start) * 1e6)
    return statistics.median(taken)


def report(what: str, taken_us: float, bare_us: float) -> None:
    print(f"{what}: {taken_us / 1000:.1f} ms, {taken_us / bare_us:.0f}x the bare route")


@contextmanager
def stored_gardens(folder: Path) -> Iterator[tuple[Flask, Store]]:
    """An application that holds the garden `new`, and `long`, which has been there for 60 days."""
    settings = Settings(
        database_url=f"sqlite:///{folder / 'bench.db'}", cache_url=f"sqlite:///{folder / 'c.db'}"
    )
    store = Store.open(settings.database_url, release="bench")
    forecasts = Forecasts({"demo": Demo(clock)}, WeatherRows(store), clock)
    try:
        for garden_id, days in (("long", PAST_DAYS), ("new", 0)):
            document = garden_of(garden_id)
            place = place_of(load_garden(document, garden_id))
            with store.changing(garden_id) as change:
                change.put_document(document, place.key, NOW - dt.timedelta(days=days))
        yield create_app(settings, store=store, forecasts=forecasts, clock=clock), store
    finally:
        forecasts.close()
        store.close()


def clock() -> dt.datetime:
    return NOW


def garden_of(garden_id: str) -> dict[str, Any]:
    """The garden of the demonstration, with its four zones three times."""
    document = demo.garden_document()
    zones = list(document["zones"].values())
    document["zones"] = {f"zone-{number + 1}": zones[number % len(zones)] for number in range(ZONES)}
    return {**document, "id": garden_id}


# The server as a process


def server() -> None:
    """Print how long `rootledger serve` takes to its first answer, and how much memory it holds."""
    to_live, to_plan, idle, planned = [], [], [], []
    for _ in range(5):
        live_s, plan_s, idle_mb, planned_mb = one_server()
        to_live.append(live_s)
        to_plan.append(plan_s)
        idle.append(idle_mb)
        planned.append(planned_mb)
    print(
        f"\nserver: first answer after {statistics.median(to_live):.2f} s, "
        f"first plan after {statistics.median(to_plan):.2f} s; "
        f"memory {max(idle):.0f} MB idle, {max(planned):.0f} MB with a plan"
    )


def one_server() -> tuple[float, float, float, float]:
    """Seconds to the first answer and to the first plan, then megabytes before and after the plan."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environ = {name: value for name, value in os.environ.items() if not name.startswith("ROOTLEDGER_")}
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "api", "serve", "--demo", "--port", str(port)],
        cwd=ROOT,
        env=environ,
        stderr=subprocess.DEVNULL,
    )
    try:
        while not answers(port, "/health/live"):
            if process.poll() is not None or time.perf_counter() - start > 30:
                raise SystemExit("the server did not start")
            time.sleep(0.005)
        live_s = time.perf_counter() - start
        idle_mb = memory_mb(process.pid)
        assert answers(port, f"/v1/gardens/{demo.GARDEN_ID}/plan")
        return live_s, time.perf_counter() - start, idle_mb, memory_mb(process.pid)
    finally:
        process.terminate()
        process.wait(10)


def answers(port: int, path: str) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        connection.request("GET", path)
        return connection.getresponse().status == 200
    except ConnectionRefusedError:
        return False
    finally:
        connection.close()


def memory_mb(pid: int) -> float:
    """Resident memory of a process; NaN where there is no /proc. [MB]"""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return float("nan")
    return next(float(line.split()[1]) for line in lines if line.startswith("VmRSS:")) / 1000


if __name__ == "__main__":
    main()
