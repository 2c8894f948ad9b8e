"""The server: waitress around the application, for one machine or one household."""

import json
import logging
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any, Final

import orjson
from flask import Flask
from waitress import create_server
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer
from waitress.task import ErrorTask, WSGITask

from api.app import MAX_BODY_BYTES, CacheUnusable, create_app, open_store
from api.cli import demo
from api.cli.terminal import NO_STORE, WRONG_INPUT, stop
from api.errors import StoreUnavailable
from api.http.problems import PROBLEM_JSON, REFUSED_BY_SERVER
from api.settings import Settings, with_changes
from api.store.outages import TOLD_AGAIN_AFTER_S

THREADS: Final = 8
LARGEST_HEADER_BYTES: Final = 32 * 1024

log = logging.getLogger(__name__)


class CannotListen(Exception):
    """The address or the port is not to be had; the text says which and why."""


class ProblemTask(ErrorTask):  # type: ignore[misc]
    """What the server itself refuses, before the application sees it, leaves as a problem too."""

    def execute(self) -> None:
        """Write the refusal."""
        error = self.request.error
        body = orjson.dumps(
            {
                "type": f"/problems/{REFUSED_BY_SERVER.slug}",
                "title": error.reason,
                "status": error.code,
                "detail": _sentence(error.code, error.body),
            }
        )
        self.status = f"{error.code} {error.reason}"
        self.response_headers.append(("Content-Type", PROBLEM_JSON))
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class StayingOpenTask(WSGITask):  # type: ignore[misc]
    """Keeps the connection after an answer that has no body by its nature, such as 304.

    waitress closes it for want of a Content-Length, which such an answer must not need (RFC 9110,
    section 8.6). A poller would open a connection for each question.
    """

    _has_no_body = False

    def build_response_header(self) -> bytes:
        """The head of the answer, with `Connection: close` only where the asker wants it."""
        wants_to_close = self.request.headers.get("CONNECTION", "").lower() == "close"
        self._has_no_body = self.version == "1.1" and not self.has_body and not wants_to_close
        try:
            head: bytes = super().build_response_header()
            return head
        finally:
            self._has_no_body = False

    def set_close_on_finish(self) -> None:
        """Close after this answer, unless the only reason is that it has no length."""
        if not self._has_no_body:
            super().set_close_on_finish()


class ProblemChannel(HTTPChannel):  # type: ignore[misc]
    """A connection that refuses with problems, and stays open for a poller."""

    task_class = StayingOpenTask
    error_task_class = ProblemTask


def _sentence(code: int, told: str) -> str:
    if code == 413:
        return f"The body must be at most {MAX_BODY_BYTES} bytes."
    if code == 431:
        return f"The header must be at most {LARGEST_HEADER_BYTES} bytes."
    return f"The request cannot be read: {told}."


def serve(settings: Settings, *, with_demo: bool = False) -> None:
    """Answer requests until the process is told to end.

    With `with_demo`, the invented garden is held in a database that goes with the process.
    """
    set_up_logging(settings)
    signal.signal(signal.SIGTERM, _end)
    try:
        _serve(settings, with_demo)
    except StoreUnavailable as error:
        stop(NO_STORE, str(error))
    except CacheUnusable as error:
        stop(WRONG_INPUT, str(error))
    except CannotListen as error:
        stop(WRONG_INPUT, str(error))


def _serve(settings: Settings, with_demo: bool) -> None:
    if not with_demo:
        _serve_app(create_app(settings), settings)
        return
    with tempfile.TemporaryDirectory(prefix="rootledger-demo-", ignore_cleanup_errors=True) as folder:
        settings = with_changes(settings, database_url=f"sqlite:///{Path(folder) / 'demo.db'}")
        store = open_store(settings)
        demo.hold_garden(store)
        try:
            _serve_app(create_app(settings, store=store), settings)
        finally:
            store.close()


def make_server(app: Flask, settings: Settings) -> BaseWSGIServer:
    """A server around an application, bound to its address and not yet running. Raises CannotListen."""
    sockets: dict[int, Any] = {}
    try:
        server: BaseWSGIServer = create_server(
            app,
            map=sockets,
            host=settings.host,
            port=settings.port,
            threads=THREADS,
            max_request_body_size=MAX_BODY_BYTES,
            max_request_header_size=LARGEST_HEADER_BYTES,
            ident=None,
        )
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise CannotListen(
            f"The server cannot listen on {settings.host} port {settings.port}: {why}. "
            "Give another ROOTLEDGER_PORT or ROOTLEDGER_HOST, or end what listens there."
        ) from error
    for part in sockets.values():
        if isinstance(part, BaseWSGIServer):
            part.channel_class = ProblemChannel
    return server


def _serve_app(app: Flask, settings: Settings) -> None:
    server = make_server(app, settings)
    log.info("rootledger answers on http://%s:%s", settings.host, settings.port)
    try:
        server.run()
    finally:
        server.close()


def _end(signum: int, frame: FrameType | None) -> None:
    sys.exit(0)


class JsonLines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """Write a record."""
        line = {
            "at": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)


def set_up_logging(settings: Settings) -> None:
    """Log to the standard error stream, as text or as JSON lines."""
    handler = logging.StreamHandler()
    if settings.log_format == "json":
        handler.setFormatter(JsonLines())
    else:
        handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    logging.getLogger("alembic").setLevel(logging.WARNING)
    logging.getLogger("waitress.queue").addFilter(QueueFilter())


class QueueFilter(logging.Filter):
    """Lets one line a minute through of those that say how many requests wait, with how many there were.

    waitress writes one for each request that waits, and a burst would fill the log.
    """

    def __init__(self, clock_s: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._clock_s = clock_s
        self._told_s: float | None = None
        self.left_out = 0
        """Lines since the last one that was let through."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a line may be written."""
        now_s = self._clock_s()
        if self._told_s is not None and now_s - self._told_s < TOLD_AGAIN_AFTER_S:
            self.left_out += 1
            return False
        if self.left_out:
            record.msg, record.args = f"{record.getMessage()} ({self.left_out} more times before)", ()
        self._told_s, self.left_out = now_s, 0
        return True
