"""Asking the database, as close to its driver as it gets.

Reads are most of the work: a poll is one, a plan made anew half a dozen. SQLAlchemy writes the SQL of
each question once, opens the connections, sets them up and knows how its types are read; from then on
the driver's own cursors are used again and again. Measured on SQLite, that is a tenth of the time of
a statement that is built and executed by SQLAlchemy each time.
"""

import threading
from collections.abc import Callable
from typing import Any, NamedTuple

from sqlalchemy import Engine, PoolProxiedConnection, Select

from api.store.engines import AT_ONCE, LONGEST_WAIT_S, reporting_unavailable, unavailable

Convert = Callable[[Any], Any]


class _Question(NamedTuple):
    """A SELECT as one database's driver takes it."""

    sql: str
    order: tuple[str, ...] | None
    """The names of its parameters in their order; None where the driver takes them by name."""
    fixed: dict[str, Any]
    """Parameters that are part of the question, as the OFFSET 0 that SQLite is told after a LIMIT."""
    to_driver: dict[str, Convert]
    """By parameter: what makes the driver's form of it, where that differs."""
    from_driver: tuple[tuple[int, Convert], ...]
    """By column: what reads the driver's form of it, where that differs."""


class Reader:
    """Asks questions, each a statement of its own; for any number of threads."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._is_sqlite = engine.dialect.name == "sqlite"
        driver = engine.dialect.loaded_dbapi
        self._no_answer: tuple[type[Exception], ...] = (driver.OperationalError, driver.InterfaceError)
        self._questions: dict[Select[Any], _Question] = {}
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
        question = self._questions.get(select)
        if question is None:
            question = self._questions[select] = _question(select, self._engine)
        values |= question.fixed
        for name, convert in question.to_driver.items():
            values[name] = convert(values[name])
        parameters = values if question.order is None else [values[name] for name in question.order]
        rows = self._in_turn(question.sql, parameters)
        if not question.from_driver or not rows:
            return rows
        return [_read(row, question.from_driver) for row in rows]

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
            except BaseException:
                connection.close()
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


def _question(select: Select[Any], engine: Engine) -> _Question:
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
    return _Question(str(compiled), order, fixed, to_driver, from_driver)


def _read(row: tuple[Any, ...], from_driver: tuple[tuple[int, Convert], ...]) -> tuple[Any, ...]:
    values = list(row)
    for index, convert in from_driver:
        values[index] = convert(values[index])
    return tuple(values)
