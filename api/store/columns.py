"""The two column types of our own: a moment, and a JSON object."""

import datetime as dt
from typing import Any

import orjson
from sqlalchemy import TIMESTAMP, Dialect, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

from api.store.rows import JsonObject


def instant_as_text(instant: dt.datetime) -> str:
    """A moment as SQLite keeps it: ISO 8601 in UTC, always 32 characters, so that text sorts as time.

    Raises
    ------
    ValueError
        For a moment without a time zone: which one was meant would be a guess.
    """
    zone = instant.tzinfo
    if zone is None:
        raise ValueError(f"{instant.isoformat()} has no time zone, so it is no moment")
    in_utc = instant if zone is dt.UTC else instant.astimezone(dt.UTC)
    return in_utc.isoformat("T", "microseconds")


class UtcInstant(TypeDecorator[dt.datetime]):
    """A moment, read back in UTC; TIMESTAMP WITH TIME ZONE, or text where there is no such type."""

    impl = Text
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Choose the column type of a database."""
        if dialect.name == "postgresql":
            return dialect.type_descriptor(TIMESTAMP(timezone=True))
        return dialect.type_descriptor(Text())

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> Any:
        """On the way in."""
        if value is None:
            return None
        text = instant_as_text(value)
        return value if dialect.name == "postgresql" else text

    def process_result_value(self, value: Any | None, dialect: Dialect) -> dt.datetime | None:
        """On the way out."""
        if value is None:
            return None
        if dialect.name == "postgresql":
            instant: dt.datetime = value
            return instant.astimezone(dt.UTC)
        return dt.datetime.fromisoformat(value)


class Json(TypeDecorator[JsonObject]):
    """A JSON object as text: members keep their order, and any shell of the database shows it."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: JsonObject | None, dialect: Dialect) -> str | None:
        """On the way in."""
        return None if value is None else orjson.dumps(value).decode()

    def process_result_value(self, value: Any | None, dialect: Dialect) -> JsonObject | None:
        """On the way out."""
        if value is None:
            return None
        document: JsonObject = orjson.loads(value)
        if type(document) is not dict:
            raise ValueError("no JSON object")
        return document
