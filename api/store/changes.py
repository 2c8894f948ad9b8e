"""One change of one garden: a transaction that nobody else's change can come between."""

import datetime as dt
import secrets
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, Final, TypeVar

import orjson
from sqlalchemy import Connection, Select, Table, delete, update

from api.errors import GardenGone, StoreUnavailable
from api.store import queries as selects
from api.store.reports import ROWS_OF
from api.store.rows import (
    JsonObject,
    ReportRow,
    StoredFinal,
    StoredGarden,
    StoredMorning,
    StoredReading,
    StoredTurn,
    strong_etag,
)
from api.store.tables import (
    ANSWERS,
    DELIVERIES,
    FINALS,
    GARDENS,
    MOISTURE_READINGS,
    MORNINGS,
    OBSERVATIONS,
    OPENINGS,
    TURNS,
)
from api.store.upsert import insert_into, insert_or_replace

RowT = TypeVar("RowT", bound=ReportRow)

MOST_TRIES: Final = 20
"""How often to try to hold a garden that others make and delete all the while."""

_HELD: Final = selects.GARDEN.with_for_update(key_share=True)
"""Against other changes, but not against those who only refer to the garden, as an answer does."""

THE_BEGINNING: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def first_version() -> int:
    """Where a new row's version begins: anywhere, so that a garden deleted and made anew shares no version.

    Otherwise an answer that was reckoned for the old one, and is kept a moment too late, would pass
    for an answer of the new one.
    """
    return secrets.randbits(48) + 1


def as_read_back(body: JsonObject) -> JsonObject:
    """What somebody else will read, so that its maker has it in the same form: no tuples, no moments."""
    read: JsonObject = orjson.loads(orjson.dumps(body))
    return read


class Change:
    """What `Store.changing` hands out: the garden, held, and what may be done to it.

    `garden` is what stands now, this change included; None where no garden has the id.
    """

    def __init__(self, connection: Connection, garden_id: str) -> None:
        self._connection = connection
        self._garden_id = garden_id
        self._raised = False
        self._finals: dict[dt.date, JsonObject | None] = {}
        self.is_empty = False
        """No garden had the id, and none has been put: there is nothing to commit."""
        self.garden: StoredGarden | None = self._hold()

    def put_document(self, document: JsonObject, place_key: str, now: dt.datetime) -> StoredGarden:
        """Create the garden, or give it another document.

        Parameters
        ----------
        document
            As it is to be read back.
        place_key
            The place whose weather the garden has.
        now
            When the garden was made, should it be new.
        """
        if self.garden is None:
            self._raised = True
            version = document_version = first_version()
            created_at = now.astimezone(dt.UTC)
        else:
            garden = self._raise_version()
            version, document_version = garden.version, garden.document_version + 1
            created_at = garden.created_at
        values: dict[str, Any] = {
            "document": document,
            "etag": strong_etag(orjson.dumps(document)),
            "version": version,
            "document_version": document_version,
            "place_key": place_key,
            "created_at": created_at,
        }
        self._connection.execute(
            insert_into(self._connection, GARDENS)
            .values(id=self._garden_id, **values)
            .on_conflict_do_update(index_elements=["id"], set_=values)
        )
        self.is_empty = False
        self.garden = StoredGarden(id=self._garden_id, **values)
        return self.garden

    def delete(self) -> int:
        """Delete the garden with everything that is kept for it; how many reports went with it.

        Raises
        ------
        GardenGone
            Where there is none.
        """
        self._there()
        reports = sum(
            self._connection.execute(delete(table).where(table.c.garden_id == self._garden_id)).rowcount
            for table in (DELIVERIES, OBSERVATIONS, MOISTURE_READINGS)
        )
        self._connection.execute(delete(GARDENS).where(GARDENS.c.id == self._garden_id))
        self.garden = None
        return reports

    def report(self, row: type[RowT], *key: Any) -> RowT | None:
        """The report of a class of rows and a key, as `Store.report`; nobody else can change it meanwhile."""
        rows_of = ROWS_OF[row]
        found = self._ask(rows_of.one, **dict(zip(rows_of.key, key, strict=True)))
        return None if found is None else row(*found)

    def has_reports(self, zone: str) -> bool:
        """Whether any report of a zone is kept, wherever the zone has gone."""
        row = self._ask(selects.HAS_REPORTS, zone=zone)
        return row is not None and bool(row[0])

    def put_report(self, row: ReportRow) -> None:
        """Keep a report, in the place of any other of its key.

        Raises
        ------
        GardenGone
            Where there is no garden to keep it for.
        """
        values = {field.name: getattr(row, field.name) for field in fields(row)}
        self._replace(ROWS_OF[type(row)].table, values)

    def delete_report(self, row: type[Any], *key: Any) -> bool:
        """Delete a report; False where there is none, and then nothing changes."""
        if self.report(row, *key) is None:
            return False
        rows_of = ROWS_OF[row]
        self._delete(rows_of.table, **dict(zip(rows_of.key, key, strict=True)))
        return True

    def readings_of_night(self, zone: str, night: dt.date) -> list[StoredReading]:
        """What the probes of a zone read in a night, in any order."""
        values = {"garden_id": self._garden_id, "zone": zone, "night": night}
        return [StoredReading(*row) for row in self._connection.execute(selects.READINGS_OF_NIGHT, values)]

    def put_mornings(self, zone: str, night: dt.date, mornings: Sequence[StoredMorning]) -> None:
        """Keep what a night's readings of a zone come to, in the place of all that was kept of it before."""
        self._delete(MORNINGS, zone=zone, night=night)
        for one in mornings:
            self._replace(MORNINGS, {"night": night, "zone": zone, "probe": one.probe, "body": one.body})

    def turn(self, zone: str, run: str) -> StoredTurn | None:
        """The turn that a run has had."""
        row = self._ask(selects.TURN, zone=zone, run=run)
        return None if row is None else StoredTurn(*row)

    def keep_turn(self, turn: StoredTurn) -> None:
        """Keep the one turn of a run. Raises sqlalchemy's IntegrityError where it has had one."""
        self._raise_version()
        self._connection.execute(
            insert_into(self._connection, TURNS).values(
                garden_id=self._garden_id,
                zone=turn.zone,
                run=turn.run,
                date=turn.date,
                key=turn.key,
                closed_at=turn.closed_at,
                body=turn.body,
            )
        )

    def close_turn(self, zone: str, run: str, closed_at: dt.datetime | None) -> None:
        """Say when the valve of a turn was shut; None: nobody knows after all."""
        self._raise_version()
        self._connection.execute(
            update(TURNS)
            .where(TURNS.c.garden_id == self._garden_id, TURNS.c.zone == zone, TURNS.c.run == run)
            .values(closed_at=closed_at)
        )

    def final(self, date: dt.date) -> JsonObject | None:
        """The final plan of a date, as it stands; nobody else can change it during this change."""
        if date not in self._finals:
            row = self._ask(selects.FINAL, date=date)
            self._finals[date] = None if row is None else StoredFinal(*row).body
        return self._finals[date]

    def keep_final(self, date: dt.date, made_at: dt.datetime, body: JsonObject) -> JsonObject:
        """Make a plan final unless one is already; the one that stands.

        Raises
        ------
        GardenGone
            Where there is no garden to keep it for.
        """
        self._there()
        stands = self._finals.get(date)
        if stands is None:
            made = self._connection.execute(
                insert_into(self._connection, FINALS)
                .values(garden_id=self._garden_id, date=date, made_at=made_at, body=body)
                .on_conflict_do_nothing()
                .returning(FINALS.c.date)
            )
            if made.one_or_none() is not None:
                self._raise_version()
                stands = self._finals[date] = as_read_back(body)
            else:
                self._finals.pop(date, None)
                stands = self.final(date)
        assert stands is not None
        return stands

    def replace_final(self, date: dt.date, body: JsonObject) -> JsonObject:
        """Put a plan that has shrunk in the place of the final one of its date; as it is read back."""
        self._raise_version()
        self._connection.execute(
            update(FINALS)
            .where(FINALS.c.garden_id == self._garden_id, FINALS.c.date == date)
            .values(body=body)
        )
        kept = as_read_back(body)
        self._finals[date] = kept
        return kept

    def keep_opening(self, document_version: int, body: JsonObject) -> JsonObject:
        """Keep a first guess unless there is one for this version of the document; the one that stands.

        For a version that is no longer the garden's, nothing is kept and `body` comes back.
        """
        if self.garden is None or self.garden.document_version != document_version:
            return body
        row = self._ask(selects.OPENING, document_version=document_version)
        if row is not None:
            stands: JsonObject = row[0]
            return stands
        values = {"document_version": document_version, "body": body}
        self._connection.execute(
            insert_into(self._connection, OPENINGS)
            .values(garden_id=self._garden_id, **values)
            .on_conflict_do_update(index_elements=["garden_id"], set_=values)
        )
        return as_read_back(body)

    def guess_anew(self) -> None:
        """Let the first guess that is kept for the document count no more: its weather has changed."""
        garden = self._raise_version()
        self.garden = replace(garden, document_version=garden.document_version + 1)
        self._connection.execute(
            update(GARDENS)
            .where(GARDENS.c.id == self._garden_id)
            .values(document_version=self.garden.document_version)
        )

    def _replace(self, table: Table, values: dict[str, Any]) -> None:
        self._raise_version()
        self._connection.execute(
            insert_or_replace(self._connection, table), {"garden_id": self._garden_id, **values}
        )

    def _delete(self, table: Table, **key: Any) -> None:
        self._raise_version()
        conditions = [table.c[name] == value for name, value in key.items()]
        self._connection.execute(delete(table).where(table.c.garden_id == self._garden_id, *conditions))

    def _ask(self, select: Select[Any], **values: Any) -> tuple[Any, ...] | None:
        row = self._connection.execute(select, {"garden_id": self._garden_id, **values}).one_or_none()
        return None if row is None else tuple(row)

    def _hold(self) -> StoredGarden | None:
        """Read the garden under a lock that lasts until the end of the transaction.

        SQLite has one writer at a time, so there the transaction itself is the lock. Elsewhere it
        is the garden's row; where there is none, an empty row takes its place, which a second
        creator has to wait for, and which is taken back unless a document follows.
        """
        for _ in range(MOST_TRIES):
            row = self._ask(_HELD)
            if row is not None:
                return StoredGarden(*row)
            placeholder = (
                insert_into(self._connection, GARDENS)
                .values(
                    id=self._garden_id,
                    version=0,
                    document_version=0,
                    place_key="",
                    etag="",
                    created_at=THE_BEGINNING,
                    document={},
                )
                .on_conflict_do_nothing(index_elements=["id"])
                .returning(GARDENS.c.id)
            )
            if self._connection.execute(placeholder).one_or_none() is not None:
                self.is_empty = True
                return None
        raise StoreUnavailable(f'The garden "{self._garden_id}" is made and deleted too fast to be held.')

    def _there(self) -> StoredGarden:
        if self.garden is None:
            raise GardenGone(self._garden_id)
        return self.garden

    def _raise_version(self) -> StoredGarden:
        """Raise the garden's version, once a change; the answers kept for the old one go with it."""
        garden = self._there()
        if self._raised:
            return garden
        self._raised = True
        raised = replace(garden, version=garden.version + 1)
        self._connection.execute(
            update(GARDENS).where(GARDENS.c.id == self._garden_id).values(version=raised.version)
        )
        self._connection.execute(delete(ANSWERS).where(ANSWERS.c.garden_id == self._garden_id))
        self.garden = raised
        return raised
