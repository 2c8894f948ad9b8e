"""Every SELECT, each built once, and what runs them.

Columns stand in the order of the fields of the row classes.
"""

import threading
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from sqlalchemy import (
    Date,
    Engine,
    Integer,
    PoolProxiedConnection,
    Select,
    Text,
    bindparam,
    exists,
    or_,
    select,
    tuple_,
    type_coerce,
)

from api.store.columns import UtcInstant
from api.store.engines import AT_ONCE, LONGEST_WAIT_S, reporting_unavailable, unavailable
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
_FINAL: Final = select(FINALS.c.date, FINALS.c.made_at, FINALS.c.body)

GARDEN: Final[Select[Any]] = _GARDEN.where(GARDENS.c.id == bindparam("garden_id"))

GARDENS_AFTER: Final[Select[Any]] = (
    _GARDEN.where(GARDENS.c.id > bindparam("after"))
    .order_by(GARDENS.c.id)
    .limit(bindparam("limit", type_=Integer))
)
"""No id is empty, so the list begins after the empty one."""

IS_GARDEN_PLACE: Final[Select[Any]] = select(exists().where(GARDENS.c.place_key == bindparam("place_key")))

DELIVERY: Final[Select[Any]] = _DELIVERY.where(
    DELIVERIES.c.garden_id == bindparam("garden_id"),
    DELIVERIES.c.zone == bindparam("zone"),
    DELIVERIES.c.id == bindparam("delivery_id"),
)

DELIVERIES_BETWEEN: Final[Select[Any]] = _DELIVERY.where(
    DELIVERIES.c.garden_id == bindparam("garden_id"),
    DELIVERIES.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
).order_by(DELIVERIES.c.date, DELIVERIES.c.zone, DELIVERIES.c.id)

OBSERVATION: Final[Select[Any]] = _OBSERVATION.where(
    OBSERVATIONS.c.garden_id == bindparam("garden_id"), OBSERVATIONS.c.date == bindparam("date")
)

OBSERVATIONS_BETWEEN: Final[Select[Any]] = (
    _OBSERVATION.where(
        OBSERVATIONS.c.garden_id == bindparam("garden_id"),
        OBSERVATIONS.c.date.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
    )
    .order_by(OBSERVATIONS.c.date)
    .limit(bindparam("limit", type_=Integer))
)

READING: Final[Select[Any]] = _READING.where(
    MOISTURE_READINGS.c.garden_id == bindparam("garden_id"),
    MOISTURE_READINGS.c.zone == bindparam("zone"),
    MOISTURE_READINGS.c.id == bindparam("reading_id"),
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

MORNINGS_BETWEEN: Final[Select[Any]] = (
    select(MORNINGS.c.night, MORNINGS.c.zone, MORNINGS.c.probe, MORNINGS.c.body)
    .where(
        MORNINGS.c.garden_id == bindparam("garden_id"),
        MORNINGS.c.night.between(bindparam("first", type_=Date), bindparam("last", type_=Date)),
    )
    .order_by(MORNINGS.c.night, MORNINGS.c.zone, MORNINGS.c.probe)
)

VALVE: Final[Select[Any]] = _VALVE.where(
    VALVES.c.garden_id == bindparam("garden_id"), VALVES.c.zone == bindparam("zone")
)

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

HELD: Final[Select[Any]] = select(HOLDS.c.key, HOLDS.c.until).where(HOLDS.c.until > bindparam("now"))

ANYTHING: Final[Select[Any]] = select(GARDENS.c.id).limit(1)


Convert = Callable[[Any], Any]


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

    It keeps its connections with an open cursor each. Measured on SQLite, the statement of a poll takes 7 us
    in this way, 13 through SQLAlchemy's pool and 34 through `Connection.execute`; a poll is then 1.8, 2.2 or
    2.6 times a bare route, where 2 is what it may be.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._is_sqlite = engine.dialect.name == "sqlite"
        driver = engine.dialect.loaded_dbapi
        self._no_answer: tuple[type[Exception], ...] = (driver.OperationalError, driver.InterfaceError)
        self._damaged: type[Exception] = driver.DatabaseError
        self._statements: dict[Select[Any], _Statement] = {}
        self._idle: list[tuple[PoolProxiedConnection, Any]] = []  # append and pop are atomic
        # A file may be opened as often as one likes; a server has so many connections and no more.
        self._turns = None if self._is_sqlite else threading.BoundedSemaphore(AT_ONCE)

    def ask(self, select: Select[Any], **values: Any) -> list[tuple[Any, ...]]:
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
        """
        statement = self._statements.get(select)
        if statement is None:
            statement = self._statements[select] = _compiled(select, self._engine)
        values |= statement.fixed
        for name, convert in statement.to_driver.items():
            values[name] = convert(values[name])
        parameters = values if statement.order is None else [values[name] for name in statement.order]
        rows = self._in_turn(statement.sql, parameters)
        if not statement.from_driver or not rows:
            return rows
        return [_read(row, statement.from_driver) for row in rows]

    def close(self) -> None:
        """Close the connections that are not in use."""
        while self._idle:
            self._idle.pop()[0].close()

    def _in_turn(self, sql: str, parameters: Any) -> list[tuple[Any, ...]]:
        """The rows, as soon as a connection is free; nobody has one who is not just using it."""
        if self._turns is None:
            return self._rows(sql, parameters)
        if not self._turns.acquire(timeout=LONGEST_WAIT_S):
            raise unavailable(self._engine.url, TimeoutError(f"all {AT_ONCE} connections are busy"))
        try:
            return self._rows(sql, parameters)
        finally:
            self._turns.release()

    def _rows(self, sql: str, parameters: Any) -> list[tuple[Any, ...]]:
        while True:
            try:
                held = self._idle.pop()
                is_new = False
            except IndexError:
                held = self._open()
                is_new = True
            connection, cursor = held
            try:
                cursor.execute(sql, parameters)
                rows: list[tuple[Any, ...]] = cursor.fetchall()
            except self._no_answer as error:
                # An older connection may have died with a restart of the server: try the next one,
                # and at last a new one, whose word is final.
                connection.close()
                if is_new:
                    raise unavailable(self._engine.url, error) from error
                continue
            except BaseException as error:
                connection.close()
                if type(error) is self._damaged:  # not its children, which are our own mistakes
                    raise unavailable(self._engine.url, error) from error
                raise
            self._idle.append(held)
            return rows

    def _open(self) -> tuple[PoolProxiedConnection, Any]:
        with reporting_unavailable(self._engine.url):
            connection = self._engine.raw_connection()
            connection.detach()  # ours from now on, and closed by us
            # PostgreSQL would otherwise send bytes as hexadecimal digits.
            cursor = connection.cursor() if self._is_sqlite else connection.cursor(binary=True)
            return connection, cursor


def _compiled(select: Select[Any], engine: Engine) -> _Statement:
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


def _read(row: tuple[Any, ...], from_driver: tuple[tuple[int, Convert], ...]) -> tuple[Any, ...]:
    values = list(row)
    for index, convert in from_driver:
        values[index] = convert(values[index])
    return tuple(values)
