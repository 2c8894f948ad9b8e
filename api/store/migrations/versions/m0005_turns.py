"""Turns: leave to open a valve for a run, kept for good."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
INSTANT = sa.Text().with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "turns",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("zone", IDENTIFIER, nullable=False),
        sa.Column("run", IDENTIFIER, nullable=False),
        sa.Column("date", sa.Date, nullable=False),
        sa.Column("key", IDENTIFIER),
        sa.Column("closed_at", INSTANT),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "zone", "run", name="pk_turns"),
        sa.ForeignKeyConstraint(["garden_id"], ["gardens.id"], name="fk_turns_garden_id", ondelete="CASCADE"),
    )
    op.create_index("ix_turns_garden_id_date", "turns", ["garden_id", "date"])
    op.create_index("ix_turns_garden_id_key", "turns", ["garden_id", "key"], unique=True)


def downgrade() -> None:
    """Drop the table."""
    op.drop_table("turns")
