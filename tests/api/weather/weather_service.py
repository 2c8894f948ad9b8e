"""A weather service on this machine, answers in the documented format, a keep in memory, a clock."""

import datetime as dt
import json
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from api.weather.fetch.repository import KeptAnswer, KeptInMemory
from api.weather.place import Place
from api.weather.series.hours import HourlyWeather
from api.weather.sources.open_meteo import OpenMeteo
from api.weather.sources.session import Limits, WeatherSession
from tests.api.stored_garden import Clock
from tests.profile import PATIENCE_S

NOON = dt.datetime(2026, 7, 14, 12, 10, tzinfo=dt.UTC)
MONTPELLIER = Place(43.61, 3.88, "Europe/Paris", ("open-meteo",))

UNITS = {
    "time": "unixtime",
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "wind_speed_10m": "m/s",
    "cloud_cover": "%",
    "shortwave_radiation": "W/m²",
    "precipitation": "mm",
    "precipitation_probability": "%",
}


def open_meteo_body(first: dt.date, days: int, **changes: Any) -> dict[str, Any]:
    """An answer of the service in GMT: whole days of 24 stamps, header members in its order.

    `changes` replace series of `hourly` by name; None leaves a series out.
    """
    start = int(dt.datetime.combine(first, dt.time(), dt.UTC).timestamp())
    stamps = [start + 3600 * number for number in range(24 * days)]
    hourly: dict[str, Any] = {
        "time": stamps,
        "temperature_2m": [15.0 + number % 24 / 2 for number in range(len(stamps))],
        "dew_point_2m": [10.0] * len(stamps),
        "relative_humidity_2m": [60] * len(stamps),
        "wind_speed_10m": [2.0] * len(stamps),
        "cloud_cover": [25] * len(stamps),
        "shortwave_radiation": [200.0] * len(stamps),
        "precipitation": [0.1] * len(stamps),
        "precipitation_probability": [30] * len(stamps),
    }
    hourly = {name: series for name, series in {**hourly, **changes}.items() if series is not None}
    return {
        "latitude": 43.6,
        "longitude": 3.8799996,
        "generationtime_ms": 0.21,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": 48.0,
        "hourly_units": {name: UNITS[name] for name in hourly},
        "hourly": hourly,
    }


class MemoryKeep(KeptInMemory):
    """A WeatherKeep for one process, which counts how often hours are read."""

    def __init__(self) -> None:
        super().__init__()
        self.answers = self._answers
        self.kept_days = self._days
        self.read = 0

    def latest(self, place_key: str) -> KeptAnswer | None:
        found = super().latest(place_key)
        if found is None:
            return None

        def read() -> HourlyWeather:
            self.read += 1
            return found.weather

        return KeptAnswer(found.version, read)


Reply = Callable[[BaseHTTPRequestHandler], None]


def send(body: bytes | str | dict[str, Any] | list[Any], status: int = 200, **headers: str) -> Reply:
    """An answer with a length that is true, unless `headers` give another."""
    if isinstance(body, dict | list):
        body = json.dumps(body, ensure_ascii=False, separators=(",", ":"))
    data = body if isinstance(body, bytes) else body.encode()

    def reply(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(status)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        for name, value in {"Content-Length": str(len(data)), **named}.items():
            handler.send_header(name, value)
        handler.end_headers()
        handler.wfile.write(data)

    return reply


class Service:
    """A weather service on this machine that answers as it is told, and remembers the questions.

    Unless told, it answers like Open-Meteo on the day of its clock.
    """

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.reply: Reply | None = None
        self.questions: list[dict[str, str]] = []
        self.headers: list[dict[str, str]] = []
        self.paths: list[str] = []
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                service.answer(self)

            def log_message(self, format: str, *args: Any) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.server.handle_error = lambda request, client_address: None  # type: ignore[method-assign]
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        threading.Thread(target=self.server.serve_forever, args=(0.01,), daemon=True).start()

    def answer(self, handler: BaseHTTPRequestHandler) -> None:
        question = {name: values[0] for name, values in parse_qs(urlsplit(handler.path).query).items()}
        self.questions.append(question)
        self.paths.append(urlsplit(handler.path).path)
        self.headers.append(dict(handler.headers))
        (self.reply or send(self.good(question)))(handler)

    def good(self, question: dict[str, str]) -> dict[str, Any]:
        past, ahead = int(question["past_days"]), int(question["forecast_days"])
        today = self.clock().date()
        return open_meteo_body(today - dt.timedelta(days=past), past + ahead)

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()


def silently(handler: BaseHTTPRequestHandler) -> None:
    """No answer, until the client has gone."""
    handler.connection.settimeout(PATIENCE_S)
    handler.connection.recv(1)


def trickling(handler: BaseHTTPRequestHandler) -> None:
    """One byte after the other, until the client has gone."""
    _begin_body(handler, Content_Length="100000")
    for _ in range(100_000):
        handler.wfile.write(b" ")
        handler.wfile.flush()
        time.sleep(0.01)


def endlessly(handler: BaseHTTPRequestHandler) -> None:
    """More and more, until the client has gone."""
    _begin_body(handler)
    while True:
        handler.wfile.write(b"[" * 65536)


def dropping(handler: BaseHTTPRequestHandler) -> None:
    """The beginning of a body, and then no connection any more."""
    _begin_body(handler, Content_Length="100000")
    handler.wfile.write(b'{"hourly":')
    handler.wfile.flush()
    handler.connection.shutdown(socket.SHUT_RDWR)


def _begin_body(handler: BaseHTTPRequestHandler, **headers: str) -> None:
    handler.send_response(200)
    for name, value in headers.items():
        handler.send_header(name.replace("_", "-"), value)
    handler.end_headers()


PATIENT = Limits(
    body_bytes=200_000,
    total_s=PATIENCE_S,
    connect_s=PATIENCE_S,
    read_s=PATIENCE_S,
    retries=1,
    backoff_s=0.01,
)
"""Where an answer comes, however slow the machine is."""
HASTY = replace(PATIENT, total_s=0.12, read_s=0.08)
"""Where none comes in time, however fast the machine is."""


def limits_for(reply: Reply) -> Limits:
    """How long a question may take that is answered so."""
    return HASTY if reply in (silently, trickling) else PATIENT


def open_meteo_at(
    service: Service, limits: Limits = PATIENT, key: str | None = None
) -> tuple[WeatherSession, OpenMeteo]:
    session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=limits)
    return session, OpenMeteo(session, base_url=service.url, key=key, clock=service.clock)


def expire(session: WeatherSession, age_h: float = 0.0) -> None:
    """Make every entry of the HTTP cache old enough to be asked for again, and hours older than it is."""
    make_older(session, dt.timedelta(hours=age_h))
    for key, entry in list(session.cache.responses.items()):
        entry.expires = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
        session.cache.responses[key] = entry


def make_older(session: WeatherSession, age: dt.timedelta) -> None:
    """Let every entry of the HTTP cache have been answered so much earlier, and serve as long as it did."""
    for key, entry in list(session.cache.responses.items()):
        entry.created_at -= age
        session.cache.responses[key] = entry
