"""Commands about the database: whether it is whole."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from api.cli.terminal import NO_STORE, opened_store, stop
from api.errors import StoreUnavailable

if TYPE_CHECKING:
    from api.store.store import Store


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
