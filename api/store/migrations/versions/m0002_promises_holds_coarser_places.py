"""What forecasts promised the day before; who is asking a weather service; places to 2 decimals.

Until here, the key of a place began with its coordinates to 3 decimals. Where several become one, the
days of the one that was asked for last stay.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
INSTANT = sa.Text().with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    """Make the tables, and move what is kept to the new keys."""
    op.create_table(
        "rain_promises",
        sa.Column("place_key", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("place_key", "date", name="pk_rain_promises"),
        sa.ForeignKeyConstraint(
            ["place_key"], ["places.key"], name="fk_rain_promises_place_key", ondelete="CASCADE"
        ),
    )
    op.create_table(
        "holds",
        sa.Column("key", IDENTIFIER, nullable=False),
        sa.Column("holder", sa.Text, nullable=False),
        sa.Column("until", INSTANT, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_holds"),
    )
    connection = op.get_bind()
    for (key,) in connection.execute(sa.text("SELECT DISTINCT place_key FROM gardens")).all():
        _execute("UPDATE gardens SET place_key = :new WHERE place_key = :old", key)
    kept = connection.execute(sa.text("SELECT key FROM places ORDER BY retrieved_at DESC")).all()
    taken = set()
    for (key,) in kept:
        if (new := _coarser(key)) == key:
            taken.add(key)
            continue
        if new not in taken:
            taken.add(new)
            _execute(
                "INSERT INTO places (key, version, retrieved_at, source, answer)"
                " SELECT :new, version, retrieved_at, source, answer FROM places WHERE key = :old",
                key,
            )
            _execute("UPDATE weather_days SET place_key = :new WHERE place_key = :old", key)
        connection.execute(sa.text("DELETE FROM places WHERE key = :old"), {"old": key})


def downgrade() -> None:
    """Drop the tables; places keep their coarser keys."""
    op.drop_table("holds")
    op.drop_table("rain_promises")


def _execute(statement: str, key: str) -> None:
    op.get_bind().execute(sa.text(statement), {"old": key, "new": _coarser(key)})


def _coarser(key: str) -> str:
    """The key of a place with 2 decimals for 3; whatever does not begin with coordinates stays."""
    try:
        latitude, longitude, rest = key.split(",", 2)
        coordinates = [f"{round(float(degrees), 2) + 0.0:.2f}" for degrees in (latitude, longitude)]
    except ValueError:
        return key
    return ",".join((*coordinates, rest))
