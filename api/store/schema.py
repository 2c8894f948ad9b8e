"""Bring a database to the tables of this release."""

from pathlib import Path
from typing import Final

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    inspect,
    text,
)

from api.errors import StoreUnavailable
from api.store.tables import METADATA

HEAD: Final = "0006"
"""The newest migration; a test keeps it equal to what the folder holds."""

MIGRATIONS: Final = Path(__file__).parent / "migrations"

ONE_AT_A_TIME: Final = 0x526F6F746C
"""Key of the advisory lock under which PostgreSQL is migrated ("Rootl")."""


REVISION: Final = Table(
    "alembic_version",
    MetaData(),
    Column("version_num", String(32), nullable=False),
    PrimaryKeyConstraint("version_num", name="alembic_version_pkc"),
)
"""Where Alembic writes which migration a database is at, as Alembic itself makes it."""


def bring_up_to_date(engine: Engine) -> None:
    """Make the tables of a new database, or run the migrations that an older one lacks: all or none.

    Several processes may do so at the same moment: the first one migrates, the others wait, look
    again and find nothing to do. A database that is up to date costs one look.

    Raises
    ------
    StoreUnavailable
        Where the database has been migrated by a newer release.
    """
    with engine.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": ONE_AT_A_TIME})
        tables = inspect(connection).get_table_names()
        if not tables:
            _make(connection)
        elif (at := _revision(connection, tables)) != HEAD:
            _migrate(connection, at)


def _make(connection: Connection) -> None:
    """Make all tables as the migrations would; this spares a first start the time to load Alembic."""
    METADATA.create_all(connection, checkfirst=False)
    REVISION.create(connection)
    connection.execute(REVISION.insert(), {"version_num": HEAD})


def _revision(connection: Connection, tables: list[str]) -> str | None:
    if REVISION.name not in tables:
        return None
    revision: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return revision


def _migrate(connection: Connection, at: str | None) -> None:
    # Imported here: other starts spare the time and the memory.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if at is not None and at not in known:
        raise StoreUnavailable(
            f"The database has tables of a newer release: migration {at!r}, where this one ends at {HEAD!r}. "
            "Start the newer release, or restore the backup from before it."
        )
    command.upgrade(config, "head")
