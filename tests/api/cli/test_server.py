"""The server itself: a connection stays open for a poller, and closes where the asker wants it."""

import http.client
import threading
from collections.abc import Iterator

import pytest
from flask import Flask, Response

from api.cli.server import make_server
from api.settings import Settings


@pytest.fixture
def port() -> Iterator[int]:
    """A real server with an answer of each kind."""
    app = Flask("answers", static_folder=None)
    app.add_url_rule("/unchanged", view_func=lambda: Response(status=304), endpoint="unchanged")
    app.add_url_rule("/nothing", view_func=lambda: Response(status=204), endpoint="nothing")
    app.add_url_rule("/whole", view_func=lambda: Response("whole"), endpoint="whole")
    server = make_server(app, Settings(port=0))
    running = threading.Thread(target=server.run, daemon=True)
    running.start()
    yield server.effective_port
    # Closed by its own thread: it waits for these sockets.
    server.trigger.pull_trigger(lambda: server.asyncore.close_all(server._map))
    running.join()


def ask(connection: http.client.HTTPConnection, path: str, **headers: str) -> http.client.HTTPResponse:
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    answer.read()
    return answer


@pytest.mark.parametrize("path", ["/unchanged", "/nothing", "/whole"])
def test_a_poller_keeps_its_connection(port: int, path: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    first = ask(connection, path)
    socket = connection.sock
    second = ask(connection, path)

    assert first.getheader("Connection") is None
    assert connection.sock is socket
    assert first.status == second.status
    connection.close()


def test_who_wants_to_close_is_closed(port: int) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    answer = ask(connection, "/unchanged", Connection="close")

    assert answer.getheader("Connection") == "close"
    assert connection.sock is None
