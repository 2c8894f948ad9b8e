"""The guard in conftest.py: no test reaches another machine.

The addresses are those that RFC 5737 and RFC 3849 keep for documentation.
"""

import socket
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
import requests


@pytest.mark.parametrize("address", ["192.0.2.1", "2001:db8::1"])
def test_another_machine_is_refused(address):
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family) as client, pytest.raises(pytest.fail.Exception, match=address):
        client.connect((address, 80))


def test_names_are_not_looked_up():
    with pytest.raises(pytest.fail.Exception, match=r"example\.org"):
        requests.get("http://example.org/", timeout=1)


def test_a_server_on_this_machine_is_reached():
    server = HTTPServer(("127.0.0.1", 0), BaseHTTPRequestHandler)
    thread = threading.Thread(target=server.handle_request)
    thread.start()
    with socket.create_connection(("localhost", server.server_port), timeout=5) as client:
        client.sendall(b"GET / HTTP/1.0\r\n\r\n")
        assert client.recv(12) == b"HTTP/1.0 501"
    thread.join()
    server.server_close()
