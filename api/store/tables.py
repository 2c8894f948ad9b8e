"""The tables. The migrations make the same ones; a test compares the two.

Columns that can be long stand last: a poll reads the versions, and SQLite fetches a row's further
pages only for the columns that are asked for.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Date,
    ForeignKey,
    Index,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

from api.store.columns import Json, UtcInstant

METADATA = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

IDENTIFIER = Text().with_variant(Text(collation="C"), "postgresql")
"""Ids sort by their characters, hyphens included, on every database."""


def _of_a_garden() -> Column[str]:
    return Column("garden_id", IDENTIFIER, ForeignKey("gardens.id", ondelete="CASCADE"), primary_key=True)


GARDENS = Table(
    "gardens",
    METADATA,
    Column("id", IDENTIFIER, primary_key=True),
    Column("version", BigInteger, nullable=False),
    Column("document_version", BigInteger, nullable=False),
    # No foreign key: a garden is stored before its weather is first fetched.
    Column("place_key", IDENTIFIER, nullable=False, index=True),
    Column("etag", Text, nullable=False),
    Column("created_at", UtcInstant, nullable=False),
    Column("document", Json, nullable=False),
)

DELIVERIES = Table(
    "deliveries",
    METADATA,
    _of_a_garden(),
    # A zone that is removed from the document keeps its reports.
    Column("zone", IDENTIFIER, primary_key=True),
    Column("id", IDENTIFIER, primary_key=True),
    Column("date", Date, nullable=False),
    Column("body", Json, nullable=False),
    Index("ix_deliveries_garden_id_date", "garden_id", "date"),
)

OBSERVATIONS = Table(
    "observations",
    METADATA,
    _of_a_garden(),
    Column("date", Date, primary_key=True),
    Column("body", Json, nullable=False),
)

MOISTURE_READINGS = Table(
    "moisture_readings",
    METADATA,
    _of_a_garden(),
    Column("zone", IDENTIFIER, primary_key=True),
    Column("id", IDENTIFIER, primary_key=True),
    Column("measured_at", UtcInstant, nullable=False),
    # Null by day: only those of the hours before sunrise make a morning's value.
    Column("night", Date),
    Column("body", Json, nullable=False),
    Index("ix_moisture_readings_garden_id_measured_at", "garden_id", "measured_at"),
    Index("ix_moisture_readings_garden_id_zone_night", "garden_id", "zone", "night"),
)

MORNINGS = Table(
    "mornings",
    METADATA,
    _of_a_garden(),
    Column("night", Date, primary_key=True),
    Column("zone", IDENTIFIER, primary_key=True),
    Column("probe", IDENTIFIER, primary_key=True),
    Column("body", Json, nullable=False),
)

VALVES = Table(
    "valves",
    METADATA,
    _of_a_garden(),
    Column("zone", IDENTIFIER, primary_key=True),
    Column("told_at", UtcInstant, nullable=False),
    Column("body", Json, nullable=False),
)

FINALS = Table(
    "finals",
    METADATA,
    _of_a_garden(),
    Column("date", Date, primary_key=True),
    Column("made_at", UtcInstant, nullable=False),
    Column("body", Json, nullable=False),
)

TURNS = Table(
    "turns",
    METADATA,
    _of_a_garden(),
    Column("zone", IDENTIFIER, primary_key=True),
    Column("run", IDENTIFIER, primary_key=True),
    Column("date", Date, nullable=False),
    # Of whoever asked; null where no key was given.
    Column("key", IDENTIFIER),
    # Null until a report says that the valve is shut.
    Column("closed_at", UtcInstant),
    Column("body", Json, nullable=False),
    Index("ix_turns_garden_id_date", "garden_id", "date"),
    Index("ix_turns_garden_id_key", "garden_id", "key", unique=True),
)
"""No turn is ever deleted but with its garden, so that no run gets a second one."""

OPENINGS = Table(
    "openings",
    METADATA,
    _of_a_garden(),
    Column("document_version", BigInteger, nullable=False),
    Column("body", Json, nullable=False),
)

ANSWERS = Table(
    "answers",
    METADATA,
    _of_a_garden(),
    Column("what", Text, primary_key=True),
    Column("version", BigInteger, nullable=False),
    # Null where the weather has no part in the answer.
    Column("place_version", BigInteger),
    Column("release", Text, nullable=False),
    Column("fresh_until", UtcInstant, nullable=False),
    # By the clock of its maker: one that was ahead must not be believed. Null before there was this column.
    Column("made_at", UtcInstant),
    Column("etag", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
)

PLACES = Table(
    "places",
    METADATA,
    Column("key", IDENTIFIER, primary_key=True),
    Column("version", BigInteger, nullable=False),
    Column("retrieved_at", UtcInstant, nullable=False),
    Column("source", Text, nullable=False),
    Column("answer", Json, nullable=False),
)

WEATHER_DAYS = Table(
    "weather_days",
    METADATA,
    Column("place_key", IDENTIFIER, ForeignKey("places.key", ondelete="CASCADE"), primary_key=True),
    Column("date", Date, primary_key=True),
    Column("origin", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("retrieved_at", UtcInstant),
    Column("body", Json, nullable=False),
)

RAIN_PROMISES = Table(
    "rain_promises",
    METADATA,
    Column("place_key", IDENTIFIER, ForeignKey("places.key", ondelete="CASCADE"), primary_key=True),
    Column("date", Date, primary_key=True),
    Column("made_at", UtcInstant, nullable=False),
    Column("body", Json, nullable=False),
)

HOLDS = Table(
    "holds",
    METADATA,
    Column("key", IDENTIFIER, primary_key=True),
    Column("holder", Text, nullable=False),
    Column("until", UtcInstant, nullable=False),
    # By the clock of its maker, likewise.
    Column("made_at", UtcInstant),
)

TOKENS = Table(
    "tokens",
    METADATA,
    Column("name", IDENTIFIER, primary_key=True),
    # SHA-256 of the token, in hexadecimal digits.
    Column("hash", Text, nullable=False),
    Column("scope", Text, nullable=False),
    # No foreign key: a token outlives its garden, and opens nothing else. Null: every garden.
    Column("garden_id", IDENTIFIER),
    Column("created_at", UtcInstant, nullable=False),
    Column("last_used", Date),
)
