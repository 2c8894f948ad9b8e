"""Bodies that are made to hurt: each is refused in words, none is a 500."""

import orjson
import pytest
from werkzeug.test import create_environ, run_wsgi_app

from openapi.conversation import Clock, service
from tests.api.stored_garden import LOAM_LAWN

GARDEN = {
    "latitude": 43.61,
    "longitude": 3.88,
    "timezone": "Europe/Paris",
    "weather_sources": ["demo"],
    "zones": {"lawn": LOAM_LAWN},
}
JSON = "application/json"


@pytest.fixture(scope="module")
def client():
    with service(Clock()) as app:
        client = app.test_client()
        client.put("/v1/gardens/home", json=GARDEN)
        yield client


@pytest.fixture(scope="module")
def etag(client):
    return client.get("/v1/gardens/home").headers["ETag"]


WRITES = [
    ("POST", "/v1/plan"),
    ("POST", "/v1/replay"),
    ("POST", "/v1/check"),
    ("PUT", "/v1/gardens/home"),
    ("PATCH", "/v1/gardens/home"),
    ("PUT", "/v1/gardens/home/deliveries/lawn/2026-07-15-lawn-1"),
    ("POST", "/v1/gardens/home/deliveries"),
    ("PUT", "/v1/gardens/home/observations/2026-07-13"),
    ("POST", "/v1/gardens/home/observations"),
    ("PUT", "/v1/gardens/home/moisture/lawn/0714-0430"),
    ("POST", "/v1/gardens/home/moisture"),
    ("PUT", "/v1/gardens/home/valves/lawn"),
]

NOT_JSON = {
    "nothing": b"",
    "cut off": b'{"garden": ',
    "5,000 brackets": b"[" * 5000,
    "5,000 brackets and their ends": b"[" * 5000 + b"]" * 5000,
    "100 objects in each other": b'{"zones":' * 100 + b"1" + b"}" * 100,
    "a lone surrogate": rb'{"name": "\ud800"}',
    "a NUL": b'{"name": "a\x00b"}',
    "NaN": b'{"latitude": NaN}',
    "Infinity": b'{"latitude": Infinity}',
    "a number beyond any double": b'{"latitude": 1e999}',
    "not UTF-8": b'{"name": "\xff"}',
    "UTF-16": '{"name": "x"}'.encode("utf-16"),
    "a byte order mark": b"\xef\xbb\xbf{}",
    "HTML": b"<html><body>no</body></html>",
    "two documents": b"{} {}",
    "a trailing comma": b'{"name": "x",}',
    "a comment": b"{} // x",
}

NO_DOCUMENT = {
    "null": b"null",
    "a list": b"[]",
    "text": b'"garden"',
    "a number": b"5",
    "true": b"true",
    "a NUL that is escaped": rb'{"name": "\u0000"}',
    "a key that is a NUL": rb'{"\u0000": 1}',
    "a key of 100,000 characters": b'{"' + b"k" * 100_000 + b'": 1}',
    "20,000 keys": b"{" + b",".join(b'"k%d":1' % number for number in range(20_000)) + b"}",
    "text of 200,000 characters": b'{"name": "' + b"x" * 200_000 + b'"}',
    "an integer of 5,000 digits": b'{"latitude": ' + b"9" * 300 + b"}",
    "a key from a prototype": b'{"__proto__": {"x": 1}, "constructor": 1}',
    "a schema's own word": b'{"_schema": 1}',
}


def send(client, method, address, body, content_type=JSON, **headers):
    return client.open(address, method=method, data=body, content_type=content_type, headers=headers)


@pytest.mark.parametrize(("method", "address"), WRITES)
@pytest.mark.parametrize("body", NOT_JSON.values(), ids=NOT_JSON)
def test_what_is_no_json_is_refused_as_that(client, etag, method, address, body):
    refused = send(client, method, address, body, **{"If-Match": etag})

    assert refused.status_code == 400
    assert refused.content_type == "application/problem+json"
    assert refused.json["type"] == "/problems/not-json"
    assert len(refused.data) < 1000


@pytest.mark.parametrize(
    ("method", "address", "body"),
    [
        pytest.param(
            *write,
            body,
            id=f"{what}-{'-'.join(write)}",
            # Each of the keys is refused, which takes long: the plain suite tries it at one address only.
            marks=pytest.mark.long if what == "20,000 keys" and write != WRITES[0] else (),
        )
        for what, body in NO_DOCUMENT.items()
        for write in WRITES
    ],
)
def test_json_that_is_no_document_is_refused_in_words(client, etag, method, address, body):
    refused = send(client, method, address, body, **{"If-Match": etag})

    assert refused.status_code == 422
    assert refused.json["errors"]
    assert all(len(error["detail"]) < 300 and len(error["pointer"]) < 300 for error in refused.json["errors"])
    assert len(refused.data) < 30_000


def test_an_integer_of_5000_digits_is_refused(client):
    refused = send(client, "PUT", "/v1/gardens/home", b'{"latitude": ' + b"9" * 5000 + b"}")

    assert refused.status_code == 400


@pytest.mark.parametrize(("method", "address"), WRITES)
def test_a_body_of_300_kib_is_too_large(client, etag, method, address):
    refused = send(client, method, address, b'{"name": "' + b"x" * 300 * 1024 + b'"}', **{"If-Match": etag})

    assert refused.status_code == 413
    assert refused.json["detail"] == "The body must be at most 262144 bytes."


def test_a_body_that_hides_its_length_is_cut_too(client):
    environ = create_environ("/v1/plan", method="POST", content_type=JSON)
    environ.pop("CONTENT_LENGTH", None)
    environ.update({"REMOTE_ADDR": "127.0.0.1", "wsgi.input": Endless(), "wsgi.input_terminated": True})

    _, status, _ = run_wsgi_app(client.application, environ)

    assert status.startswith("413 ")


class Endless:
    """A body without an end."""

    def read(self, size=-1):
        return b" " * (size if size and size > 0 else 65_536)

    def close(self):
        """Nothing to close."""


@pytest.mark.parametrize(("method", "address"), WRITES)
@pytest.mark.parametrize(
    "content_type",
    [
        "text/html",
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        None,
        "json",
    ],
)
def test_another_content_type_is_not_taken(client, etag, method, address, content_type):
    refused = send(client, method, address, orjson.dumps(GARDEN), content_type, **{"If-Match": etag})

    assert refused.status_code == 415
    assert "application/json" in refused.json["detail"]


@pytest.mark.parametrize("content_type", ["application/json; charset=utf-8", "Application/JSON"])
def test_json_by_any_spelling_is_taken(client, content_type):
    assert send(client, "PUT", "/v1/gardens/home", orjson.dumps(GARDEN), content_type).status_code == 200


@pytest.mark.parametrize("method", ["TRACE", "QUERY", "POST", "LINK"])
def test_another_method_is_told_which_ones_there_are(client, method):
    refused = client.open("/v1/gardens/home", method=method)

    assert refused.status_code == 405
    assert refused.content_type == "application/problem+json"
    assert {"GET", "PUT", "PATCH", "DELETE"} <= set(refused.headers["Allow"].split(", "))


@pytest.mark.parametrize(
    "address",
    [
        "/v1/gardens/%00/plan",
        "/v1/gardens/a%2Fb",
        "/v1/gardens/../../etc/passwd",
        "/v1/gardens/%ED%A0%80",
        "/v1/" + "a" * 5000,
    ],
)
def test_an_address_made_to_hurt_leads_nowhere(client, address):
    refused = client.get(address)

    assert refused.status_code == 404
    assert len(refused.data) < 1000
