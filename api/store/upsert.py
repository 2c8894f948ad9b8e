"""INSERT ... ON CONFLICT, which SQLite and PostgreSQL share and SQLAlchemy keeps with each of them."""

from typing import TypeAlias

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite

Insert: TypeAlias = postgresql.Insert | sqlite.Insert


def insert_into(connection: Connection, table: Table) -> Insert:
    """An INSERT that can say what to do should the row be there already."""
    if connection.dialect.name == "postgresql":
        return postgresql.insert(table)
    return sqlite.insert(table)
