"""The guide: pages written in Markdown, read in the browser, in the terminal and in the repository."""

import functools
import importlib.resources
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from api.pages.templates import template

PLACE: Final = "openapi.guide"
READ_IN_THIS_ORDER: Final = (
    "first-week", "year", "zone", "controller", "reasons", "alerts", "reports", "weather", "looking-back",
    "running", "settings", "safety", "method", "api",
)  # fmt: skip
"""An owner's pages first, then a caretaker's; a page that is not named here comes last."""
TITLE: Final = re.compile(r"^# (.+)$", re.MULTILINE)
COMMENT: Final = re.compile(r"^<!--.*?-->\n?", re.MULTILINE | re.DOTALL)
"""Where a table begins and ends that is made from code; readers need not see it."""
LINK: Final = re.compile(r"\]\((?!https?:|#)([a-z-]+)\.md(#[a-z0-9-]+)?\)")


@dataclass(frozen=True, slots=True)
class GuidePage:
    """One page of the guide."""

    topic: str
    """Its file's name without `.md`; what `rootledger help` takes."""
    title: str
    text: str
    """Markdown, as it is written."""


@functools.cache
def guide() -> Mapping[str, GuidePage]:
    """All pages by topic, in the order in which to read them; files of this release, so read once."""
    folder = importlib.resources.files(PLACE)
    texts = {
        entry.name.removesuffix(".md"): COMMENT.sub("", entry.read_text("utf-8"))
        for entry in folder.iterdir()
        if entry.name.endswith(".md")
    }
    order: list[str] = [topic for topic in READ_IN_THIS_ORDER if topic in texts]
    order += sorted(set(texts) - set(order))
    return {topic: GuidePage(topic, _title(topic, texts[topic]), texts[topic]) for topic in order}


def _title(topic: str, text: str) -> str:
    found = TITLE.search(text)
    return found[1] if found else topic


@functools.cache
def guide_html(topic: str, root: str) -> str:
    """A page as HTML. Raises KeyError where there is no such topic.

    Parameters
    ----------
    root
        What comes before `/docs`, where the service answers below a prefix. It may be empty.

    Rendering a page takes up to 20 ms, and it never changes within a release.
    """
    from markdown_it import MarkdownIt  # 0.03 s that only readers of the guide have to wait for

    page = guide()[topic]
    linked = LINK.sub(lambda link: f"]({root}/docs/{link[1]}{link[2] or ''})", page.text)
    body = MarkdownIt("commonmark", {"html": False}).enable("table").render(linked)
    return template("guide.html").render(
        page=page, pages=list(guide().values()), body=Markup(body), root=root
    )


def problem_html(title: str, status: int, when: str, do: str, root: str) -> str:
    """What a kind of problem means, as a page of the guide.

    Parameters
    ----------
    when, do
        When it arises, and what to do about it.
    root
        What comes before `/docs`.
    """
    return template("problem.html").render(
        title=title, status=status, when=when, do=do, pages=list(guide().values()), root=root
    )
