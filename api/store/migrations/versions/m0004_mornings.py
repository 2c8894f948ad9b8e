"""One value a morning of what each soil probe read, so that plans need not go through a season of it."""

import json
import statistics
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

IDENTIFIER = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Make the table, and fill it from the readings that are kept."""
    mornings = op.create_table(
        "mornings",
        sa.Column("garden_id", IDENTIFIER, nullable=False),
        sa.Column("night", sa.Date, nullable=False),
        sa.Column("zone", IDENTIFIER, nullable=False),
        sa.Column("probe", IDENTIFIER, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("garden_id", "night", "zone", "probe", name="pk_mornings"),
        sa.ForeignKeyConstraint(
            ["garden_id"], ["gardens.id"], name="fk_mornings_garden_id", ondelete="CASCADE"
        ),
    )
    op.drop_index("ix_moisture_readings_garden_id_night", "moisture_readings")
    op.create_index(
        "ix_moisture_readings_garden_id_zone_night", "moisture_readings", ["garden_id", "zone", "night"]
    )
    readings = sa.table(
        "moisture_readings", *map(sa.column, ("garden_id", "zone", "id", "measured_at", "body"))
    ).alias()
    night = sa.column("night", sa.Date)
    kept = sa.select(readings.c.garden_id, night, readings.c.zone, readings.c.body).where(night.is_not(None))
    nights: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    in_order = kept.order_by(readings.c.measured_at, readings.c.zone, readings.c.id)
    for garden_id, date, zone, body in op.get_bind().execute(in_order):
        read = json.loads(body)
        nights.setdefault((garden_id, date, zone, read["probe"]), []).append(read)
    for (garden_id, date, zone, probe), told in nights.items():
        values = {"garden_id": garden_id, "night": date, "zone": zone, "probe": probe}
        op.execute(sa.insert(mornings).values(**values, body=json.dumps(_morning(told))))


def downgrade() -> None:
    """Drop the table; it can be made again."""
    op.drop_index("ix_moisture_readings_garden_id_zone_night", "moisture_readings")
    op.create_index("ix_moisture_readings_garden_id_night", "moisture_readings", ["garden_id", "night"])
    op.drop_table("mornings")


def _morning(told: list[dict[str, Any]]) -> dict[str, Any]:
    last = told[-1]
    kind = "water_content" if "water_content" in last else "store_share"
    also: dict[str, Any] = {name: last[name] for name in ("depth_m", "error_share") if name in last}
    return {kind: statistics.median(read[kind] for read in told if kind in read), **also}
