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

import orjson  # noqa: E402
from flask import Flask, Response  # noqa: E402
from sqlalchemy import text  # noqa: E402

from api.app import create_app  # noqa: E402
from api.cli import demo  # noqa: E402
from api.plans.weather_series import anchor_before  # noqa: E402
from api.schemas.garden import load_garden  # noqa: E402
from api.settings import Settings  # noqa: E402
from api.store.store import Store  # noqa: E402
from api.store.weather import WeatherRows  # noqa: E402
from api.weather.fetch.forecasts import Forecasts  # noqa: E402
from api.weather.place import place_of  # noqa: E402
from api.weather.sources.demo import Demo  # noqa: E402

NOW = dt.datetime(2026, 7, 31, 12, 0, tzinfo=dt.UTC)
CREATED = {
    "settled": dt.date(2026, 7, 31),
    "new": dt.date(2026, 7, 30),
    "year-old": dt.date(2025, 7, 31),
}
"""Gardens by the day they were created. Their weather is at hand from the first of the month at least 60
days before: for the first that is 60 days, for the second 90."""
ZONES = 12
ROUNDS = 15
CALLS = 200
REMAKES = 60
BARE_CALLS = 20
STARTS = 5

Call = Callable[[], Any]


def main() -> None:
    print(f"Python {sys.version.split()[0]}; medians of {ROUNDS} rounds of {CALLS} calls, taken in turn\n")
    with tempfile.TemporaryDirectory() as folder, stored_gardens(Path(folder)) as (app, store):
        polls(app)
        remakes(app, store)
    server()


# Polls


def polls(app: Flask) -> None:
    """Print the polled plan beside the bare route, for both ways of calling."""
    for what, path in (
        ("plan", "/v1/gardens/settled/plan"),
        ("plan/{zone}", "/v1/gardens/settled/plan/zone-1"),
    ):
        answer = app.test_client().get(path)
        assert answer.status_code == 200, answer.data
        known = {"If-None-Match": answer.headers["ETag"]}
        assert app.test_client().get(path, headers=known).status_code == 304
        bare = bare_app(answer.data)
        for way, call_of in (("wsgi", wsgi_call), ("test client", client_call)):
            bare_us, plan_us, not_modified_us = in_turn(
                call_of(bare, "/bare", {}), call_of(app, path, {}), call_of(app, path, known)
            )
            print(
                f"{what:12} {len(answer.data):6} bytes, {way:11}: bare {bare_us:4.0f} us, "
                f"200 {plan_us / bare_us:4.2f}x, 304 {not_modified_us / bare_us:4.2f}x"
            )


def bare_app(body: bytes) -> Flask:
    """A Flask application whose only route answers these bytes."""
    app = Flask("bare", static_folder=None)

    @app.get("/bare")
    def get_bare() -> Response:
        return Response(body, content_type="application/json")

    return app


def wsgi_call(app: Flask, path: str, headers: dict[str, str]) -> Call:
    """Call the application as a server does."""
    local = {"REMOTE_ADDR": "127.0.0.1"}  # others need a token
    with app.test_request_context(path, headers=headers, environ_base=local) as context:
        environ = dict(context.request.environ)
    for name in [name for name in environ if name.startswith(("werkzeug.", "flask."))]:
        del environ[name]

    def ignore(status: str, headers: list[tuple[str, str]], exc_info: Any = None) -> Any:
        assert status[:3] in ("200", "304"), status

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


def remakes(app: Flask, store: Store) -> None:
    """Print what a plan costs that has to be made."""
    for garden, forget in (("settled", "answers"), ("new", "openings"), ("year-old", "answers")):
        bare_us, remade_us = remade(app, store, garden, forget)
        guessed = (CREATED[garden] - anchor_before(CREATED[garden])).days
        at_hand = (NOW.date() - anchor_before(CREATED[garden])).days
        what = {
            "settled": f"plan remade, {ZONES} zones, {at_hand} past days of weather at hand",
            "new": f"plan made for the first time, with a first guess through {guessed} assumed days",
            "year-old": f"plan remade, {at_hand} past days",
        }[garden]
        print(f"{what}: {remade_us / 1000:.1f} ms, {remade_us / bare_us:.0f}x the bare route")


def remade(app: Flask, store: Store, garden: str, forget: str) -> tuple[float, float]:
    """Median times of the bare route and, in turn, of a plan after something kept is forgotten. [us]"""
    call = wsgi_call(app, f"/v1/gardens/{garden}/plan", {})
    call()
    bare = wsgi_call(bare_app(app.test_client().get(f"/v1/gardens/{garden}/plan").data), "/bare", {})
    bare_us, taken_us = [], []
    for _ in range(REMAKES):
        with store.writing() as connection:
            for table in {"answers", forget}:
                connection.execute(text(f"DELETE FROM {table} WHERE garden_id = :garden"), {"garden": garden})
        start = time.perf_counter()
        call()
        taken_us.append((time.perf_counter() - start) * 1e6)
        start = time.perf_counter()
        for _ in range(BARE_CALLS):
            bare()
        bare_us.append((time.perf_counter() - start) / BARE_CALLS * 1e6)
    return statistics.median(bare_us), statistics.median(taken_us)


@contextmanager
def stored_gardens(folder: Path) -> Iterator[tuple[Flask, Store]]:
    """An application that holds the gardens of `CREATED`."""
    settings = Settings(
        database_url=f"sqlite:///{folder / 'bench.db'}", cache_url=f"sqlite:///{folder / 'c.db'}"
    )
    store = Store.open(settings.database_url, release="bench")
    forecasts = Forecasts({"demo": Demo(clock)}, WeatherRows(store), clock)
    try:
        for garden_id, created in CREATED.items():
            document = garden_of(garden_id)
            place = place_of(load_garden(document, garden_id))
            with store.changing(garden_id) as change:
                change.put_document(document, place.key, dt.datetime.combine(created, dt.time(8), dt.UTC))
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
    with tempfile.TemporaryDirectory() as folder:
        print()
        one_server(Path(folder) / "unseen")  # now every module is compiled, as an installation has it
        report_server("first start, which makes the database", [one_server(Path(folder) / "new")])
        report_server("later starts", [one_server(Path(folder) / "new") for _ in range(STARTS)])


def report_server(what: str, starts: list[tuple[float, ...]]) -> None:
    live_s, cpu_s, plan_s, idle_mb, planned_mb = (
        statistics.median(values) for values in zip(*starts, strict=True)
    )
    print(
        f"server, {what}: first answer after {live_s:.2f} s ({cpu_s:.2f} s of them reckoning), "
        f"first plan after {plan_s:.2f} s; memory {idle_mb:.0f} MB idle, {planned_mb:.0f} MB with a plan"
    )


def one_server(folder: Path) -> tuple[float, ...]:
    """Seconds to the first answer, of processor till then, to the first plan; megabytes before and after."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environ = {name: value for name, value in os.environ.items() if not name.startswith("ROOTLEDGER_")}
    environ.pop("PYTHONDONTWRITEBYTECODE", None)
    environ["ROOTLEDGER_DATABASE_URL"] = f"sqlite:///{folder / 'store.db'}"
    environ["ROOTLEDGER_CACHE_URL"] = f"sqlite:///{folder / 'cache.db'}"
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "api", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environ,
        stderr=subprocess.DEVNULL,
    )
    try:
        while not asked(port, "GET", "/health/live"):
            if process.poll() is not None or time.perf_counter() - start > 30:
                raise SystemExit("the server did not start")
            time.sleep(0.005)
        live_s = time.perf_counter() - start
        cpu_s, idle_mb = cpu_s_of(process.pid), memory_mb(process.pid)
        garden = f"/v1/gardens/{demo.GARDEN_ID}"
        begun = time.perf_counter()
        assert asked(port, "PUT", garden, orjson.dumps(demo.garden_document()))
        start += time.perf_counter() - begun
        assert asked(port, "GET", f"{garden}/plan")
        return live_s, cpu_s, time.perf_counter() - start, idle_mb, memory_mb(process.pid)
    finally:
        process.terminate()
        process.wait(10)


def asked(port: int, method: str, path: str, body: bytes | None = None) -> bool:
    """Whether a request is answered well; False where nobody listens yet."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
        return connection.getresponse().status in (200, 201)
    except ConnectionRefusedError:
        return False
    finally:
        connection.close()


def cpu_s_of(pid: int) -> float:
    """Processor time that a process has used; NaN where there is no /proc. [s]"""
    try:
        after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return float("nan")
    return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def memory_mb(pid: int) -> float:
    """Resident memory of a process; NaN where there is no /proc. [MB]"""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return float("nan")
    return next(float(line.split()[1]) for line in lines if line.startswith("VmRSS:")) / 1000


if __name__ == "__main__":
    main()
