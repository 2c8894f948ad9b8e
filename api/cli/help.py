"""`rootledger help`: the guide in the terminal."""

import difflib

import click

from api.cli.terminal import WRONG_INPUT, stop
from api.pages.guide import guide
from scheduling.reasons.tables import KINDS, rows


def print_help(topic: str | None) -> None:
    """Print a page of the guide, what a code means, or the list of pages.

    An unknown word ends with the nearest one.
    """
    pages = guide()
    if topic is None:
        for page in pages.values():
            click.echo(f"{page.topic:<14}{page.title}")
        click.echo("\nRead one with: rootledger help first-week; or a code: rootledger help frost-risk")
        return
    wanted = topic.lower().removesuffix(".md")
    meanings = {row.code: (kind, row) for kind in KINDS for row in rows(kind)}
    if wanted in meanings:
        kind, row = meanings[wanted]
        click.echo(f"{row.code}, one of the {kind.replace('run-reasons', 'reasons of a run')}")
        for head, text in (("When", row.when), ("What it means", row.means), ("What to do", row.do)):
            click.echo(f"\n{head}: {text}")
        return
    if wanted not in pages:
        near = difflib.get_close_matches(wanted, [*pages, *meanings], n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]}?" if near else "rootledger help lists the pages."
        stop(WRONG_INPUT, f'The guide has no page "{topic}", and no code is called so. {hint}')
    from rich.console import Console  # 0.1 s that only readers of a page have to wait for
    from rich.markdown import Markdown

    Console().print(Markdown(pages[wanted].text))
