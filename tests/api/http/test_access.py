"""One token for everything, and no answer under a foreign name."""

import functools

import pytest

from api.app import create_app
from api.settings import Settings

TOKEN = "a-token-of-some-length"


class NoForecasts:
    """Never asked here."""


@pytest.fixture(scope="module")
def client_of(tmp_path_factory):
    """Makes a client of an application with some settings, each once."""
    url = f"sqlite:///{tmp_path_factory.mktemp('access')}/rootledger.db"

    @functools.cache
    def client_of(**settings):
        return create_app(Settings(database_url=url, **settings), forecasts=NoForecasts()).test_client()

    return client_of


@pytest.fixture
def guarded(client_of):
    return client_of(token=TOKEN)


@pytest.mark.parametrize(
    "authorisation",
    [
        None,
        "",
        TOKEN,
        f"Basic {TOKEN}",
        "Bearer",
        "Bearer ",
        f"Bearer {TOKEN}x",
        "Bearer ä",
        f"Bearer {TOKEN[:-1]}",
    ],
)
@pytest.mark.parametrize(
    "address", ["/v1/gardens", "/v1/gardens/home/plan", "/v1/catalogue/plants", "/nowhere", "/docs/x/y"]
)
def test_without_the_token_nothing_is_answered(guarded, authorisation, address):
    headers = {} if authorisation is None else {"Authorization": authorisation}
    refused = guarded.get(address, headers=headers)

    assert refused.status_code == 401
    assert refused.content_type == "application/problem+json"
    assert refused.json["type"] == "/problems/unauthorised"
    assert refused.headers["WWW-Authenticate"].startswith("Bearer")
    assert TOKEN not in refused.text


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_with_the_token_requests_are_answered(guarded, scheme):
    assert guarded.get("/v1/gardens", headers={"Authorization": f"{scheme} {TOKEN}"}).status_code == 200


@pytest.mark.parametrize("address", ["/health/live", "/health/ready", "/v1/openapi.json"])
def test_health_and_contract_are_open(guarded, address):
    assert guarded.get(address).status_code == 200


def test_a_method_that_an_open_address_lacks_is_told_so_without_a_token(guarded):
    assert guarded.post("/health/live").status_code == 405


def test_without_a_token_set_every_request_of_this_machine_is_answered(client_of):
    assert client_of().get("/v1/gardens").status_code == 200


@pytest.mark.parametrize("host", ["localhost", "localhost:8425", "127.0.0.1:8425", "[::1]:8425"])
def test_this_machine_is_answered_under_its_own_names(client_of, host):
    assert client_of().get("/health/live", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example", "192.168.0.9"]
)
def test_a_foreign_name_is_refused(client_of, host):
    refused = client_of().get("/health/live", headers={"Host": host})

    assert refused.status_code == 400
    assert refused.content_type == "application/problem+json"
    assert refused.json["type"] == "/problems/unknown-host"
    assert "ROOTLEDGER_TRUSTED_HOSTS" in refused.json["detail"]


def test_a_name_that_is_trusted_is_answered(client_of):
    client = client_of(trusted_hosts=("garden.example", ".home.example"))

    assert client.get("/health/live", headers={"Host": "garden.example"}).status_code == 200
    assert client.get("/health/live", headers={"Host": "pi.home.example:8425"}).status_code == 200
    assert client.get("/health/live", headers={"Host": "pi.garden.example"}).status_code == 400


def test_a_request_of_old_without_host_header_is_answered(client_of):
    # HTTP/1.0 has none; a browser, which a foreign page could misuse, always sends one.
    client = client_of()
    answer = client.get("/health/live", environ_overrides={"HTTP_HOST": None})

    assert answer.status_code == 200
