"""The guide's pages lead to each other, hold no page too long, and read easily."""

import re

import pytest

from api.pages.guide import guide, guide_html

MOST_WORDS = 900


def prose(text: str) -> str:
    """A page without code and tables."""
    text = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    return "\n".join(line for line in text.splitlines() if not line.startswith("|"))


@pytest.mark.parametrize("topic", guide())
def test_a_page_has_one_title_and_no_more_words_than_can_be_read_at_once(topic: str) -> None:
    page = guide()[topic]

    assert len(re.findall(r"^# ", page.text, re.MULTILINE)) == 1
    assert len(prose(page.text).split()) <= MOST_WORDS


@pytest.mark.parametrize("topic", guide())
def test_every_link_leads_to_a_page(topic: str) -> None:
    targets = re.findall(r"\]\(([a-z-]+)\.md", guide()[topic].text)

    assert set(targets) <= set(guide())


@pytest.mark.parametrize("topic", guide())
def test_a_page_is_rendered_with_links_below_its_prefix(topic: str) -> None:
    html = guide_html(topic, "/garden")

    assert f"<h1>{guide()[topic].title}" in html.replace("&amp;", "&")
    assert ".md" not in "".join(re.findall(r'href="([^"]*)"', html)).replace(".md#", "")
    assert 'href="/garden/docs/safety"' in html
    assert "<script" not in html


def test_tables_are_tables() -> None:
    assert "<table>" in guide_html("weather", "")


def test_an_unknown_topic_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        guide_html("nothing", "")
