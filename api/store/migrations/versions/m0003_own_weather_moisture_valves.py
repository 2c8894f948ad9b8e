"""What the owner's own gauges and stations, soil probes and valves tell."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
INSTANT = sa.Text().with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "observations",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "date", name="pk_observations"),
        _of_a_garden("observations"),
    )
    op.create_table(
        "moisture_readings",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("zone", IDENTIFIER, nullable=False),
        sa.Column("id", IDENTIFIER, nullable=False),
        sa.Column("measured_at", INSTANT, nullable=False),
        sa.Column("night", sa.Date, nullable=True),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "zone", "id", name="pk_moisture_readings"),
        _of_a_garden("moisture_readings"),
    )
    op.create_index(
        "ix_moisture_readings_garden_id_measured_at", "moisture_readings", ["garden_id", "measured_at"]
    )
    op.create_index("ix_moisture_readings_garden_id_night", "moisture_readings", ["garden_id", "night"])
    op.create_table(
        "valves",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("zone", IDENTIFIER, nullable=False),
        sa.Column("told_at", INSTANT, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "zone", name="pk_valves"),
        _of_a_garden("valves"),
    )


def downgrade() -> None:
    """Drop the tables."""
    op.drop_table("valves")
    op.drop_table("moisture_readings")
    op.drop_table("observations")


def _of_a_garden(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["garden_id"], ["gardens.id"], name=f"fk_{table}_garden_id", ondelete="CASCADE"
    )
