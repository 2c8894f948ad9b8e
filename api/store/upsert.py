"""INSERT ... ON CONFLICT, which SQLite and PostgreSQL share and SQLAlchemy keeps with each of them."""

from typing import TYPE_CHECKING, TypeAlias

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import sqlite

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql

Insert: TypeAlias = "postgresql.Insert | sqlite.Insert"


def insert_into(connection: Connection, table: Table) -> Insert:
    """An INSERT that can say what to do should the row be there already."""
    if connection.dialect.name == "postgresql":
        # Only here: it costs every start on SQLite a twentieth of a second.
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)
    return sqlite.insert(table)


def insert_or_replace(connection: Connection, table: Table) -> Insert:
    """An INSERT of a whole row that takes the place of the one with the same primary key."""
    insert = insert_into(connection, table)
    key = [column.name for column in table.primary_key]
    given = {column.name: insert.excluded[column.name] for column in table.c if column.name not in key}
    return insert.on_conflict_do_update(index_elements=key, set_=given)
