"""Tokens, and the moment by its maker's clock at which an answer or a hold was made."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
INSTANT = sa.Text().with_variant(postgresql.TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    """Make the table; answers and holds, which can be made again, begin anew with their new column."""
    op.create_table(
        "tokens",
        sa.Column("name", IDENTIFIER, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("scope", sa.Text, nullable=False),
        sa.Column("garden_id", IDENTIFIER),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("last_used", sa.Date),
        sa.PrimaryKeyConstraint("name", name="pk_tokens"),
    )
    op.drop_table("answers")
    op.create_table(
        "answers",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("version", sa.BigInteger, nullable=False),
        sa.Column("place_version", sa.BigInteger),
        sa.Column("release", sa.Text, nullable=False),
        sa.Column("fresh_until", INSTANT, nullable=False),
        sa.Column("made_at", INSTANT),
        sa.Column("etag", sa.Text, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "what", name="pk_answers"),
        sa.ForeignKeyConstraint(
            ["garden_id"], ["gardens.id"], name="fk_answers_garden_id", ondelete="CASCADE"
        ),
    )
    op.add_column("holds", sa.Column("made_at", INSTANT))


def downgrade() -> None:
    """Drop what was added."""
    op.drop_column("holds", "made_at")
    op.drop_column("answers", "made_at")
    op.drop_table("tokens")
