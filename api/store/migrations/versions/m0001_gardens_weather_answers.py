"""Gardens, their reports, final plans and openings; places and their weather; answers.

A migration is written once and never edited, so it spells its columns out and borrows none from
`api.store.tables`.
"""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
INSTANT = sa.Text().with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "gardens",
        sa.Column("id", IDENTIFIER, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("document_version", sa.BigInteger, nullable=False),
        sa.Column("place_key", IDENTIFIER, nullable=False),
        sa.Column("etag", sa.Text, nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_gardens"),
    )
    op.create_index("ix_gardens_place_key", "gardens", ["place_key"])
    op.create_table(
        "deliveries",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("zone", IDENTIFIER, nullable=False),
        sa.Column("id", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "zone", "id", name="pk_deliveries"),
        _of_a_garden("deliveries"),
    )
    op.create_index("ix_deliveries_garden_id_date", "deliveries", ["garden_id", "date"])
    op.create_table(
        "finals",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("made_at", INSTANT, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "date", name="pk_finals"),
        _of_a_garden("finals"),
    )
    op.create_table(
        "openings",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("document_version", sa.BigInteger, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", name="pk_openings"),
        _of_a_garden("openings"),
    )
    op.create_table(
        "answers",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("place_version", sa.BigInteger, nullable=True),
        sa.Column("release", sa.Text, nullable=False),
        sa.Column("fresh_until", INSTANT, nullable=False),
        sa.Column("etag", sa.Text, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "what", name="pk_answers"),
        _of_a_garden("answers"),
    )
    op.create_table(
        "places",
        sa.Column("key", IDENTIFIER, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("retrieved_at", INSTANT, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("answer", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_places"),
    )
    op.create_table(
        "weather_days",
        sa.Column("place_key", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("origin", sa.Text, nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("retrieved_at", INSTANT, nullable=True),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("place_key", "date", name="pk_weather_days"),
        sa.ForeignKeyConstraint(
            ["place_key"], ["places.key"], name="fk_weather_days_place_key", ondelete="CASCADE"
        ),
    )


def downgrade() -> None:
    """Drop the tables, and everything in them."""
    for table in (
        "weather_days",
        "places",
        "answers",
        "openings",
        "finals",
        "deliveries",
        "gardens",
    ):
        op.drop_table(table)


def _of_a_garden(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["garden_id"], ["gardens.id"], name=f"fk_{table}_garden_id", ondelete="CASCADE"
    )
