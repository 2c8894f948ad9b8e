"""`rootledger help`: the guide in the terminal."""

import difflib

import click

from api.cli.terminal import WRONG_INPUT, stop
from api.pages.guide import guide


def print_help(topic: str | None) -> None:
    """Print a page of the guide, or the list of pages; an unknown word ends with the nearest one."""
    pages = guide()
    if topic is None:
        for page in pages.values():
            click.echo(f"{page.topic:<14}{page.title}")
        click.echo("\nRead one with: rootledger help first-week")
        return
    wanted = topic.lower().removesuffix(".md")
    if wanted not in pages:
        near = difflib.get_close_matches(wanted, pages, n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]}?" if near else "rootledger help lists them."
        stop(WRONG_INPUT, f"The guide has no page {topic!r}. {hint}")
    from rich.console import Console  # 0.1 s that only readers of a page have to wait for
    from rich.markdown import Markdown

    Console().print(Markdown(pages[wanted].text))
