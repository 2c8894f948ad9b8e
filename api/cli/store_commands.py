"""Commands about the database: whether it is whole, a copy of it, and the tokens in it."""

import datetime as dt
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from api.cli.terminal import NO_STORE, WRONG_INPUT, opened_store, stop
from api.errors import NameTaken, StoreUnavailable
from api.ids import ID_ALLOWED, is_id

if TYPE_CHECKING:
    from api.store.store import Store
    from api.store.tokens import Scope


@contextmanager
def _store() -> "Iterator[Store]":
    """The database that the environment names, for one command; where it fails, the command ends."""
    store = opened_store()
    try:
        yield store
    except StoreUnavailable as error:
        stop(NO_STORE, str(error))
    finally:
        store.close()


@click.command("check-store")
def check_store() -> None:
    """Look through the database for damage: the file itself, and the documents of all gardens."""
    with _store() as store:
        found = store.damages()
    if found:
        stop(NO_STORE, *found, "The database is damaged. Stop the service, and restore a backup.")
    click.echo("The database is whole.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(file: Path) -> None:
    """Copy the database into FILE while the service runs; FILE must not exist yet."""
    if os.path.lexists(file):
        stop(WRONG_INPUT, f"{file}: there is a file already; name another one, or move it away.")
    with _store() as store:
        store.back_up(file)
    click.echo(f"{file}: {file.stat().st_size} bytes, whole.")


@click.group()
def token() -> None:
    """Tokens, by which others may read a garden, report what happened in it, or manage it."""


def _id(_context: click.Context, parameter: click.Parameter, value: str | None) -> str | None:
    if value is not None and not is_id(value):
        raise click.BadParameter(f"{value!r} is no id; ids are {ID_ALLOWED}.", param=parameter)
    return value


@token.command()
@click.option("--name", required=True, callback=_id, help="What you know it by, as porch.")
@click.option(
    "--scope",
    type=click.Choice(["read", "report", "manage"]),
    required=True,
    help="read: GET only; report: also turns and reports of what happened; manage: everything.",
)
@click.option("--garden", callback=_id, help="The only garden that it opens; by default every one.")
def create(name: str, scope: "Scope", garden: str | None) -> None:
    """Make a token, and print it. It is not kept, so it cannot be printed again."""
    from api.store.tokens import Tokens

    with _store() as store:
        if garden is not None and store.garden(garden) is None:
            stop(WRONG_INPUT, f"No garden is stored as {garden!r}.")
        try:
            made = Tokens(store).create(name, scope, garden, dt.datetime.now(dt.UTC))
        except NameTaken as error:
            stop(WRONG_INPUT, str(error))
    click.echo(made)


@token.command("list")
def list_() -> None:
    """Names of all tokens, what each may do, and the day of its last use."""
    from api.store.tokens import Tokens

    with _store() as store:
        tokens = Tokens(store).all()
    if not tokens:
        click.echo("There are no tokens.")
    for one in tokens:
        used = "never used" if one.last_used is None else f"last used on {one.last_used}"
        click.echo(f"{one.name:<24}{one.scope:<8}{one.garden_id or 'every garden':<24}{used}")


@token.command()
@click.argument("name")
def revoke(name: str) -> None:
    """Let the token NAME open nothing any more; running services heed it within a minute."""
    from api.store.tokens import Tokens

    with _store() as store:
        if not Tokens(store).revoke(name):
            stop(WRONG_INPUT, f"There is no token {name!r}; rootledger token list has the names.")
    click.echo(f"{name} opens nothing any more.")
