"""The guide in a browser: pages that run nothing, links that hold behind a prefix."""

import html
import re

import pytest

from api.http.problems import EXPLANATIONS, INTERNAL, KINDS, REFUSED_BY_SERVER
from api.pages.guide import guide


@pytest.mark.parametrize("topic", guide())
def test_every_page_of_the_guide_is_answered(client, topic):
    answer = client.get(f"/docs/{topic}")

    assert answer.status_code == 200
    assert answer.content_type == "text/html; charset=utf-8"
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


def test_every_link_of_every_page_leads_somewhere(client):
    for topic in guide():
        for target in set(re.findall(r'href="(/[^"#]*)', client.get(f"/docs/{topic}").text)):
            assert client.get(target).status_code == 200, (topic, target)


def test_a_page_that_is_known_is_not_sent_again(client):
    etag = client.get("/docs/zone").headers["ETag"]

    assert client.get("/docs/zone", headers={"If-None-Match": etag}).status_code == 304


def test_links_hold_behind_a_prefix(client):
    page = client.get("/docs/zone", environ_overrides={"SCRIPT_NAME": "/garden"}).text

    assert 'href="/garden/docs/safety"' in page


def test_a_page_that_is_not_there_is_a_problem(client):
    assert client.get("/docs/nothing").json["status"] == 404


def test_the_root_leads_a_browser_to_the_guide_and_a_program_to_the_contract(client):
    browser = client.get("/", headers={"Accept": "text/html,application/xhtml+xml"})
    program = client.get("/")

    assert browser.headers["Location"] == "/docs/first-week"
    assert program.json["contract"] == "/v1/openapi.json"
    assert client.get(program.json["guide"]).status_code == 200


def test_the_guide_is_found_without_its_page_and_with_a_slash_too_many(client):
    assert client.get("/docs").headers["Location"].endswith("/docs/first-week")
    assert client.get("/docs/").headers["Location"].endswith("/docs/first-week")


def test_a_slash_too_many_leads_to_the_root_of_this_server_and_to_no_other(client):
    assert client.get("//").headers["Location"] == "http://localhost/"


@pytest.mark.parametrize("kind", [*KINDS.values(), INTERNAL, REFUSED_BY_SERVER], ids=lambda kind: kind.slug)
def test_the_type_of_a_problem_leads_to_a_page_that_says_what_to_do(client, kind):
    page = client.get(f"/problems/{kind.slug}")

    assert page.status_code == 200
    assert f"<h1>{kind.title}</h1>" in page.text
    assert EXPLANATIONS[kind.slug].do in html.unescape(page.text)


def test_a_problem_that_is_none_is_not_found(client):
    assert client.get("/problems/nothing").status_code == 404
