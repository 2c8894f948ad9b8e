"""Bring a database to the tables of this release."""

from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Engine, inspect, text

from api.store.errors import StoreUnavailable

HEAD: Final = "0003"
"""The newest migration; a test keeps it equal to what the folder holds."""

MIGRATIONS: Final = Path(__file__).parent / "migrations"

ONE_AT_A_TIME: Final = 0x526F6F746C
"""Key of the advisory lock under which PostgreSQL is migrated ("Rootl")."""


def bring_up_to_date(engine: Engine) -> None:
    """Run the migrations that a database lacks: all of them or none.

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
        at = _revision(connection)
        if at != HEAD:
            _migrate(connection, at)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    revision: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return revision


def _migrate(connection: Connection, at: str | None) -> None:
    # Imported here: a start that finds the tables up to date spares the time and the memory.
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
