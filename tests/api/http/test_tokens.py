"""Tokens with scopes: who may read, report and manage, and how a refusal says what is missing."""

import datetime as dt
import threading
from collections.abc import Callable

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from sqlalchemy import text

from api.app import create_app
from api.cli.commands import main
from api.http.access import scope_of
from api.settings import Settings
from api.store import tokens as stored_tokens
from api.store.store import Store
from api.store.tokens import Tokens
from tests.api.stored_garden import EVENING, document

OWN = "a-token-of-some-length"


class NoForecasts:
    """Never asked here."""


@pytest.fixture
def tokens(store: Store) -> Tokens:
    with store.changing("home") as change:
        change.put_document(document(id="home"), "here", EVENING)
    return Tokens(store)


@pytest.fixture
def client_of(store: Store) -> Callable[..., FlaskClient]:
    def made(**settings: object) -> FlaskClient:
        app = create_app(Settings(**settings), store=store, forecasts=NoForecasts(), clock=lambda: EVENING)  # type: ignore[arg-type]
        return app.test_client()

    return made


@pytest.fixture
def statements(store: Store) -> list[str]:
    """Every question that the store is asked."""
    asked: list[str] = []
    ask = store.ask

    def counted(select: object, **values: object) -> object:
        asked.append(str(select))
        return ask(select, **values)  # type: ignore[arg-type]

    store.ask = counted  # type: ignore[assignment,method-assign]
    return asked


def bearing(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


def refusal(client: FlaskClient, token: str, method: str, address: str) -> tuple[int, str]:
    answer = client.open(address, method=method, headers=bearing(token), json={})
    return answer.status_code, answer.json.get("type", "")


GET_GARDEN = ("GET", "/v1/gardens/home")
POST_REPORT = ("PUT", "/v1/gardens/home/deliveries/lawn/x")
DELETE_GARDEN = ("DELETE", "/v1/gardens/home")


def test_each_scope_allows_what_it_names_and_no_more(
    tokens: Tokens, client_of: Callable[..., FlaskClient]
) -> None:
    made = {scope: tokens.create(scope, scope, None, EVENING) for scope in stored_tokens.SCOPES}
    client = client_of()
    allowed = {
        scope: {
            request
            for request in (GET_GARDEN, POST_REPORT, DELETE_GARDEN)
            if refusal(client, token, *request)[0] not in (401, 403)
        }
        for scope, token in made.items()
    }
    assert allowed == {
        "read": {GET_GARDEN},
        "report": {GET_GARDEN, POST_REPORT},
        "manage": {GET_GARDEN, POST_REPORT, DELETE_GARDEN},
    }


@pytest.mark.parametrize(
    ("method", "path", "scope"),
    [
        ("GET", "/v1/gardens", "read"),
        ("HEAD", "/v1/gardens/home/plan", "read"),
        ("POST", "/v1/plan", "read"),
        ("POST", "/v1/replay", "read"),
        ("POST", "/v1/gardens/home/turns", "report"),
        ("POST", "/v1/gardens/home/deliveries", "report"),
        ("POST", "/v1/gardens/home/moisture", "report"),
        ("PUT", "/v1/gardens/home/observations/2026-07-14", "report"),
        ("PUT", "/v1/gardens/turns", "manage"),
        ("PATCH", "/v1/gardens/home", "manage"),
        ("DELETE", "/v1/gardens/deliveries", "manage"),
    ],
)
def test_what_a_request_needs(method: str, path: str, scope: str) -> None:
    assert scope_of(method, path) == scope


def test_a_refusal_names_the_scope_that_is_missing(
    tokens: Tokens, client_of: Callable[..., FlaskClient]
) -> None:
    token = tokens.create("porch", "read", None, EVENING)
    refused = client_of().delete("/v1/gardens/home", headers=bearing(token))
    assert (refused.status_code, refused.json["type"]) == (403, "/problems/missing-scope")
    assert "'porch' has the scope 'read'" in refused.json["detail"]
    assert "needs the scope 'manage'" in refused.json["detail"]
    assert token not in refused.text


def test_a_token_of_one_garden_opens_no_other_and_not_the_list(
    tokens: Tokens, client_of: Callable[..., FlaskClient]
) -> None:
    client, token = client_of(), tokens.create("porch", "manage", "home", EVENING)
    assert refusal(client, token, "GET", "/v1/gardens/home")[0] == 200
    assert refusal(client, token, "GET", "/v1/catalogue/plants")[0] == 200
    for address in ("/v1/gardens/other", "/v1/gardens/other/plan", "/v1/gardens", "/v1/gardens/home-2"):
        assert refusal(client, token, "GET", address) == (403, "/problems/missing-scope")
    assert refusal(client, token, "PUT", "/v1/gardens/other")[0] == 403


@pytest.mark.parametrize("given", ["Basic eA==", "Bearer", "Bearer rl_wrong", "Bearer ä"])
def test_a_refusal_says_how_to_authenticate(
    tokens: Tokens, client_of: Callable[..., FlaskClient], given: str
) -> None:
    tokens.create("porch", "read", None, EVENING)
    refused = client_of().get("/v1/gardens", headers={"Authorization": given})
    assert refused.status_code == 401
    assert "rootledger token create" in refused.json["detail"]
    assert refused.headers["WWW-Authenticate"].startswith("Bearer")


def test_no_token_is_needed_on_this_machine_until_there_is_one(
    tokens: Tokens, client_of: Callable[..., FlaskClient]
) -> None:
    client = client_of()
    assert client.get("/v1/gardens").status_code == 200
    through_a_proxy = {"X-Forwarded-For": "203.0.113.7"}
    assert client.get("/v1/gardens", headers=through_a_proxy).status_code == 401
    elsewhere = {"REMOTE_ADDR": "192.0.2.1"}
    assert client.get("/v1/gardens", environ_overrides=elsewhere).status_code == 401
    tokens.create("porch", "read", None, EVENING)
    assert client_of().get("/v1/gardens").status_code == 401


def test_the_token_of_the_settings_manages_beside_the_others(
    tokens: Tokens, client_of: Callable[..., FlaskClient]
) -> None:
    client, token = client_of(token=OWN), tokens.create("porch", "read", None, EVENING)
    assert refusal(client, OWN, *DELETE_GARDEN)[0] == 428
    assert refusal(client, token, *GET_GARDEN)[0] == 200
    assert refusal(client, token, *DELETE_GARDEN)[0] == 403
    assert client.get("/v1/gardens").status_code == 401


def test_the_store_holds_no_token(tokens: Tokens, store: Store) -> None:
    token = tokens.create("porch", "read", None, EVENING)
    with store.writing() as connection:
        rows = str(connection.execute(text("SELECT * FROM tokens")).all())
    assert token not in rows
    assert len(token) >= 3 + 256 / 6  # 256 bits, six to a character


def test_a_poll_with_a_token_asks_for_tokens_once_a_minute(
    tokens: Tokens, client_of: Callable[..., FlaskClient], statements: list[str]
) -> None:
    client, token = client_of(), tokens.create("porch", "read", None, EVENING)
    for _ in range(20):
        assert refusal(client, token, *GET_GARDEN)[0] == 200
    assert len([asked for asked in statements if "FROM tokens" in asked]) == 1


def test_wrong_tokens_make_the_store_be_asked_at_most_once_a_second(
    tokens: Tokens,
    client_of: Callable[..., FlaskClient],
    statements: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tokens.create("porch", "read", None, EVENING)
    monkeypatch.setattr(stored_tokens.time, "monotonic", lambda: 1000.0)
    client = client_of()
    for number in range(50):
        assert refusal(client, f"rl_{number}", *GET_GARDEN)[0] == 401
    assert len([asked for asked in statements if "FROM tokens" in asked]) == 1


def test_a_revoked_token_opens_nothing_after_a_minute(
    tokens: Tokens, client_of: Callable[..., FlaskClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [1000.0]
    monkeypatch.setattr(stored_tokens.time, "monotonic", lambda: now_s[0])
    client, token = client_of(token=OWN), tokens.create("porch", "read", None, EVENING)
    assert refusal(client, token, *GET_GARDEN)[0] == 200
    assert tokens.revoke("porch")
    now_s[0] += 61.0
    assert refusal(client, token, *GET_GARDEN)[0] == 401
    assert not tokens.revoke("porch")


def test_the_day_of_the_last_use_is_kept(tokens: Tokens, client_of: Callable[..., FlaskClient]) -> None:
    token = tokens.create("porch", "read", None, EVENING)
    assert [one.last_used for one in tokens.all()] == [None]
    refusal(client_of(), token, *GET_GARDEN)
    assert [one.last_used for one in tokens.all()] == [dt.date(2026, 7, 14)]


def test_many_threads_may_ask_at_once(tokens: Tokens) -> None:
    token, found = tokens.create("porch", "read", None, EVENING), []
    threads = [
        threading.Thread(target=lambda: found.append(tokens.of(token, EVENING.date()))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {one.name for one in found if one is not None} == {"porch"}
    assert len(found) == 8


# The command


@pytest.fixture
def command(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[int, str]]:
    monkeypatch.setenv("ROOTLEDGER_DATABASE_URL", sqlite_url)

    def run(*arguments: str) -> tuple[int, str]:
        result = CliRunner().invoke(main, ["token", *arguments])
        return result.exit_code, result.output

    return run


def test_the_command_makes_lists_and_revokes(command: Callable[..., tuple[int, str]]) -> None:
    assert command("list") == (0, "There are no tokens.\n")
    code, made = command("create", "--name", "porch", "--scope", "report")
    assert (code, made[:3], made.count("\n")) == (0, "rl_", 1)
    assert command("list")[1].split() == ["porch", "report", "every", "garden", "never", "used"]
    assert command("create", "--name", "porch", "--scope", "read")[0] == 2
    assert command("revoke", "porch") == (0, "porch opens nothing any more.\n")
    code, said = command("revoke", "porch")
    assert (code, "There is no token 'porch'" in said) == (2, True)


def test_the_command_refuses_what_cannot_be(command: Callable[..., tuple[int, str]]) -> None:
    code, said = command("create", "--name", "porch", "--scope", "read", "--garden", "nowhere")
    assert (code, said) == (2, "No garden is stored as 'nowhere'.\n")
    assert "is no id" in command("create", "--name", "a b", "--scope", "read")[1]
    assert "'admin' is not one of" in command("create", "--name", "porch", "--scope", "admin")[1]
