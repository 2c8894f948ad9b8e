"""Every SELECT, each built once, and what runs them.

Columns stand in the order of the fields of the row classes.
"""

import threading
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from sqlalchemy import (
    CompoundSelect,
    Date,
    Engine,
    Integer,
    PoolProxiedConnection,
    Select,
    Text,
    and_,
    bindparam,
    cast,
    exists,
    literal_column,
    null,
    or_,
    select,
    tuple_,
    type_coerce,
    union_all,
)

from api.errors import StoredUnreadable
from api.store.columns import UtcInstant
from api.store.engines import reporting_unavailable, unavailable
from api.store.outages import outage_log
from api.store.tables import (
    ANSWERS,
    DELIVERIES,
    FINALS,
    GARDENS,
    HOLDS,
    MOISTURE_READINGS,
    MORNINGS,
    OBSERVATIONS,
    OPENINGS,
    PLACES,
    RAIN_PROMISES,
    TOKENS,
    TURNS,
    VALVES,
    WEATHER_DAYS,
)

_GARDEN: Final = select(
    GARDENS.c.id,
    GARDENS.c.document,
    GARDENS.c.etag,
    GARDENS.c.version,
    GARDENS.c.document_version,
    GARDENS.c.place_key,
    GARDENS.c.created_at,
)
_DELIVERY: Final = select(DELIVERIES.c.zone, DELIVERIES.c.id, DELIVERIES.c.date, DELIVERIES.c.body)
_OBSERVATION: Final = select(OBSERVATIONS.c.date, OBSERVATIONS.c.body)
_READING: Final = select(
    MOISTURE_READINGS.c.zone,
    MOISTURE_READINGS.c.id,
    MOISTURE_READINGS.c.measured_at,
    MOISTURE_READINGS.c.night,
    MOISTURE_READINGS.c.body,
)
_VALVE: Final = select(VALVES.c.zone, VALVES.c.told_at, VALVES.c.body)
_TURN: Final = select(TURNS.c.zone, TURNS.c.run, TURNS.c.date, TURNS.c.key, TURNS.c.closed_at, TURNS.c.body)
_FINAL: Final = select(FINALS.c.date, FINALS.c.made_at, FINALS.c.body)

GARDEN: Final[Select[Any]] = _GARDEN.where(GARDENS.c.id == bindparam("garden_id"))

GARDEN_AND_OPENING: Final[Select[Any]] = (
    _GARDEN.add_columns(OPENINGS.c.body)
    .outerjoin(
        OPENINGS,
        and_(OPENINGS.c.garden_id == GARDENS.c.id, OPENINGS.c.document_version == GARDENS.c.document_version),
    )
    .where(GARDENS.c.id == bindparam("garden_id"))
)
"""With the first guess that is kept for its document; null where there is none."""

GARDENS_AFTER: Final[Select[Any]] = (
    _GARDEN.where(GARDENS.c.id > bindparam("after"))
    .order_by(GARDENS.c.id)
    .limit(bindparam("limit", type_=Integer))
)
"""No id is empty, so the list begins after the empty one."""

DOCUMENTS_AFTER: Final[Select[Any]] = (
    select(GARDENS.c.id, type_coerce(GARDENS.c.document, Text).label("document"))
    .where(GARDENS.c.id > bindparam("after"))
    .order_by(GARDENS.c.id)
    .limit(bindparam("limit", type_=Integer))
)
"""As they are written, so that a damaged one costs no other."""

IS_GARDEN_PLACE: Final[Select[Any]] = select(exists().where(GARDENS.c.place_key == bindparam("place_key")))

DELIVERIES_BETWEEN: Final[Select[Any]] = _DELIVERY.where(
    DELIVERIES.c.garden_id == bindparam("garden_id"),
    DELIVERIES.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
).order_by(DELIVERIES.c.date, DELIVERIES.c.zone, DELIVERIES.c.id)

OBSERVATIONS_BETWEEN: Final[Select[Any]] = (
    _OBSERVATION.where(
        OBSERVATIONS.c.garden_id == bindparam("garden_id"),
        OBSERVATIONS.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
    )
    .order_by(OBSERVATIONS.c.date)
    .limit(bindparam("limit", type_=Integer))
)

READINGS_AFTER: Final[Select[Any]] = (
    _READING.where(
        MOISTURE_READINGS.c.garden_id == bindparam("garden_id"),
        MOISTURE_READINGS.c.measured_at >= bindparam("start", type_=UtcInstant),
        MOISTURE_READINGS.c.measured_at < bindparam("end", type_=UtcInstant),
        tuple_(MOISTURE_READINGS.c.measured_at, MOISTURE_READINGS.c.zone, MOISTURE_READINGS.c.id)
        > tuple_(bindparam("after", type_=UtcInstant), bindparam("after_zone"), bindparam("after_id")),
    )
    .order_by(MOISTURE_READINGS.c.measured_at, MOISTURE_READINGS.c.zone, MOISTURE_READINGS.c.id)
    .limit(bindparam("limit", type_=Integer))
)

READINGS_OF_NIGHT: Final[Select[Any]] = _READING.where(
    MOISTURE_READINGS.c.garden_id == bindparam("garden_id"),
    MOISTURE_READINGS.c.zone == bindparam("zone"),
    MOISTURE_READINGS.c.night == bindparam("night"),
)
"""In no order: SQLite would take the index that has it, and go through all that was ever measured."""

_NO_DATE: Final = cast(null(), Date)
_NO_TEXT: Final = cast(null(), Text)

MEASURED_SINCE: Final[CompoundSelect[Any]] = union_all(
    select(
        literal_column("'observation'"),
        OBSERVATIONS.c.date,
        _NO_TEXT,
        _NO_TEXT,
        cast(null(), UtcInstant),
        OBSERVATIONS.c.body,
    ).where(
        OBSERVATIONS.c.garden_id == bindparam("garden_id"),
        OBSERVATIONS.c.date >= bindparam("first", type_=Date),
    ),
    select(
        literal_column("'morning'"),
        MORNINGS.c.night,
        MORNINGS.c.zone,
        MORNINGS.c.probe,
        cast(null(), UtcInstant),
        MORNINGS.c.body,
    ).where(
        MORNINGS.c.garden_id == bindparam("garden_id"),
        MORNINGS.c.night >= bindparam("first", type_=Date),
    ),
    select(
        literal_column("'valve'"), _NO_DATE, VALVES.c.zone, _NO_TEXT, VALVES.c.told_at, VALVES.c.body
    ).where(VALVES.c.garden_id == bindparam("garden_id")),
)
"""All that a plan or an alert goes by beside reports of water, in no order: which of the three, its date, its
zone, its probe, its moment and its body."""

VALVES_OF_GARDEN: Final[Select[Any]] = _VALVE.where(VALVES.c.garden_id == bindparam("garden_id")).order_by(
    VALVES.c.zone
)

DELIVERIES_AFTER: Final[Select[Any]] = (
    _DELIVERY.where(
        DELIVERIES.c.garden_id == bindparam("garden_id"),
        DELIVERIES.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
        tuple_(DELIVERIES.c.date, DELIVERIES.c.zone, DELIVERIES.c.id)
        > tuple_(bindparam("after_date", type_=Date), bindparam("after_zone"), bindparam("after_id")),
    )
    .order_by(DELIVERIES.c.date, DELIVERIES.c.zone, DELIVERIES.c.id)
    .limit(bindparam("limit", type_=Integer))
)
"""One page, from a place in their order on: whatever is added meanwhile, none is told twice or left out."""

HAS_REPORTS: Final[Select[Any]] = select(
    exists().where(DELIVERIES.c.garden_id == bindparam("garden_id"), DELIVERIES.c.zone == bindparam("zone"))
)

TURN: Final[Select[Any]] = _TURN.where(
    TURNS.c.garden_id == bindparam("garden_id"),
    TURNS.c.zone == bindparam("zone"),
    TURNS.c.run == bindparam("run"),
)

TURN_OF_KEY: Final[Select[Any]] = _TURN.where(
    TURNS.c.garden_id == bindparam("garden_id"), TURNS.c.key == bindparam("key")
)

TURNS_SINCE: Final[Select[Any]] = _TURN.where(
    TURNS.c.garden_id == bindparam("garden_id"), TURNS.c.date >= bindparam("first", type_=Date)
).order_by(TURNS.c.date, TURNS.c.zone, TURNS.c.run)

FINAL: Final[Select[Any]] = _FINAL.where(
    FINALS.c.garden_id == bindparam("garden_id"), FINALS.c.date == bindparam("date")
)

FINALS_BETWEEN: Final[Select[Any]] = _FINAL.where(
    FINALS.c.garden_id == bindparam("garden_id"),
    FINALS.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
).order_by(FINALS.c.date)

OPENING: Final[Select[Any]] = select(OPENINGS.c.body).where(
    OPENINGS.c.garden_id == bindparam("garden_id"),
    OPENINGS.c.document_version == bindparam("document_version"),
)

ANSWER: Final[Select[Any]] = (
    select(ANSWERS.c.etag, ANSWERS.c.body, ANSWERS.c.fresh_until)
    .join_from(ANSWERS, GARDENS, ANSWERS.c.garden_id == GARDENS.c.id)
    .outerjoin(PLACES, GARDENS.c.place_key == PLACES.c.key)
    .where(
        ANSWERS.c.garden_id == bindparam("garden_id"),
        ANSWERS.c.what == bindparam("what"),
        ANSWERS.c.version == GARDENS.c.version,
        or_(ANSWERS.c.place_version.is_(None), ANSWERS.c.place_version == PLACES.c.version),
        ANSWERS.c.release == bindparam("release"),
        ANSWERS.c.fresh_until > bindparam("now"),
        ANSWERS.c.made_at <= bindparam("latest", type_=UtcInstant),
    )
)
"""The answer, if garden, place, release and clock are still those that it was made for."""

PLACE_VERSION: Final[Select[Any]] = select(PLACES.c.version).where(PLACES.c.key == bindparam("place_key"))

PLACE_ANSWER: Final[Select[Any]] = select(PLACES.c.answer).where(PLACES.c.key == bindparam("place_key"))

WEATHER_BETWEEN: Final[Select[Any]] = (
    select(
        WEATHER_DAYS.c.date,
        WEATHER_DAYS.c.origin,
        WEATHER_DAYS.c.source,
        WEATHER_DAYS.c.retrieved_at,
        type_coerce(WEATHER_DAYS.c.body, Text).label("body"),
    )
    .where(
        WEATHER_DAYS.c.place_key == bindparam("place_key"),
        WEATHER_DAYS.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
    )
    .order_by(WEATHER_DAYS.c.date)
)
"""The body as it is written: most days have been read before, see `api.store.weather`."""

PROMISES_SINCE: Final[Select[Any]] = (
    select(RAIN_PROMISES.c.date, RAIN_PROMISES.c.made_at, RAIN_PROMISES.c.body)
    .where(
        RAIN_PROMISES.c.place_key == bindparam("place_key"),
        RAIN_PROMISES.c.date >= bindparam("first", type_=Date),
    )
    .order_by(RAIN_PROMISES.c.date)
)

HELD: Final[Select[Any]] = select(HOLDS.c.key, HOLDS.c.until).where(
    HOLDS.c.until > bindparam("now"), HOLDS.c.made_at <= bindparam("latest", type_=UtcInstant)
)

TOKENS_BY_NAME: Final[Select[Any]] = select(
    TOKENS.c.name, TOKENS.c.hash, TOKENS.c.scope, TOKENS.c.garden_id, TOKENS.c.created_at, TOKENS.c.last_used
).order_by(TOKENS.c.name)

ANYTHING: Final[Select[Any]] = select(GARDENS.c.version).limit(1)
"""Of the table itself: its ids alone would come from the index."""


Convert = Callable[[Any], Any]

UNREADABLE: Final = (ValueError, TypeError)
"""What reading a damaged row raises: no JSON, no moment, no date."""


class _Statement(NamedTuple):
    """A SELECT as one database's driver takes it."""

    sql: str
    order: tuple[str, ...] | None
    """The names of its parameters in their order; None where the driver takes them by name."""
    fixed: dict[str, Any]
    """Parameters that are part of the statement, as the OFFSET 0 that SQLite gets after a LIMIT."""
    to_driver: dict[str, Convert]
    """By parameter: what makes the driver's form of it, where that differs."""
    from_driver: tuple[tuple[int, Convert], ...]
    """By column: what reads the driver's form of it, where that differs."""


class Reader:
    """Runs SELECTs, each a statement of its own; for any number of threads.

    SQLAlchemy writes the SQL once and keeps the connections; the driver's own cursor runs it. On SQLite a
    thread does not give its connection back, as a file may be opened as often as one likes: within a poll,
    the statement then takes 10 us, with SQLAlchemy's check-out 21 and by `Connection.execute` more than 40
    (measured), and a poll 1.8, 2.2 or more than 2.6 times a bare route.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._of_thread = threading.local() if engine.dialect.name == "sqlite" else None
        # PostgreSQL would otherwise send bytes as hexadecimal digits.
        self._cursor_options = {} if self._of_thread is not None else {"binary": True}
        driver = engine.dialect.loaded_dbapi
        self._failed: type[Exception] = driver.Error
        self._no_answer: tuple[type[Exception], ...] = (driver.OperationalError, driver.InterfaceError)
        self._statements: dict[Select[Any] | CompoundSelect[Any], _Statement] = {}

    def ask(self, select: Select[Any] | CompoundSelect[Any], **values: Any) -> list[tuple[Any, ...]]:
        """All rows of a SELECT.

        Parameters
        ----------
        select
            Built once, when its module is imported, and always the same object; what varies is a
            `bindparam`.
        values
            By the name of each `bindparam`.

        Raises
        ------
        StoreUnavailable
            Where the database does not answer.
        StoredUnreadable
            Where a row is not what this service wrote.
        """
        statement, rows = self._found(select, values)
        if not statement.from_driver or not rows:
            return rows
        try:
            return [_read(row, statement.from_driver) for row in rows]
        except UNREADABLE as error:
            raise StoredUnreadable(f"A row of {_named(values)}") from error

    def ask_each(self, select: Select[Any], **values: Any) -> list[tuple[Any, ...]]:
        """The rows that can be read; one that cannot is left out, and the log says so.

        For what can be fetched again. Parameters and errors are those of `ask`.
        """
        statement, rows = self._found(select, values)
        read = []
        for row in rows:
            try:
                read.append(_read(row, statement.from_driver))
            except UNREADABLE:
                outage_log.tell(f"A row of {_named(values)} cannot be read, and is left out.")
        return read

    def _found(
        self, select: Select[Any] | CompoundSelect[Any], values: dict[str, Any]
    ) -> tuple[_Statement, list[tuple[Any, ...]]]:
        statement = self._statements.get(select)
        if statement is None:
            statement = self._statements[select] = _compiled(select, self._engine)
        values |= statement.fixed
        for name, convert in statement.to_driver.items():
            values[name] = convert(values[name])
        parameters = values if statement.order is None else [values[name] for name in statement.order]
        try:
            rows = self._rows(statement.sql, parameters)
        except self._no_answer:
            # A restart of the server ends every connection in the pool; a new one has the last word.
            self._engine.dispose()
            try:
                rows = self._rows(statement.sql, parameters)
            except self._failed as error:
                raise unavailable(self._engine.url, error) from error
        except self._failed as error:
            raise unavailable(self._engine.url, error) from error
        return statement, rows

    def _rows(self, sql: str, parameters: Any) -> list[tuple[Any, ...]]:
        connection, cursor = getattr(self._of_thread, "connected", None) or self._connect()
        try:
            cursor.execute(sql, parameters)
            rows: list[tuple[Any, ...]] = cursor.fetchall()
        except BaseException:
            connection.invalidate()
            if self._of_thread is not None:
                self._of_thread.connected = None
            raise
        if self._of_thread is None:
            connection.close()
        return rows

    def _connect(self) -> tuple[PoolProxiedConnection, Any]:
        with reporting_unavailable(self._engine.url):
            connection = self._engine.raw_connection()
        connected = connection, connection.cursor(**self._cursor_options)
        if self._of_thread is not None:
            self._of_thread.connected = connected
        return connected


def _compiled(select: Select[Any] | CompoundSelect[Any], engine: Engine) -> _Statement:
    dialect = engine.dialect
    compiled = select.compile(dialect=dialect)
    to_driver: dict[str, Convert] = {
        name: convert
        for parameter, name in compiled.bind_names.items()
        if (convert := parameter.type.dialect_impl(dialect).bind_processor(dialect)) is not None
    }
    from_driver = tuple(
        (index, convert)
        for index, column in enumerate(select.selected_columns)
        if (convert := column.type.dialect_impl(dialect).result_processor(dialect, None)) is not None
    )
    order = None if compiled.positiontup is None else tuple(compiled.positiontup)
    fixed = {name: value for name, value in compiled.params.items() if value is not None}
    return _Statement(str(compiled), order, fixed, to_driver, from_driver)


def _named(values: dict[str, Any]) -> str:
    """Whose row it is, by the values that it was asked for with."""
    whose = [f"{name} {values[name]!r}" for name in ("garden_id", "place_key") if name in values]
    return f"the store for {', '.join(whose)}" if whose else "the store"


def _read(row: tuple[Any, ...], from_driver: tuple[tuple[int, Convert], ...]) -> tuple[Any, ...]:
    values = list(row)
    for index, convert in from_driver:
        values[index] = convert(values[index])
    return tuple(values)
