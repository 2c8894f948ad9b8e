"""Named reports of a garden: kept one by one or many at once, read back, listed, deleted.

What differs between kinds of reports (water that flowed, own weather, probes' readings, valves) is in a
description of each kind; everything else is here, once.
"""

import datetime as dt
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Generic, NamedTuple, TypeAlias, TypeVar

from api.errors import (
    ApiError,
    DeliveryConflict,
    GardenNotFound,
    InvalidRequest,
    RunNotOpen,
    ZoneNotFound,
)
from api.schemas.batch import CONFLICT, KEPT, KNOWN, REFUSED, Named, Unread
from api.store.changes import Change
from api.store.rows import ReportRow, StoredGarden
from api.store.store import Store

MOST_TRIES: Final = 5
"""How often to prepare a report anew where the garden changes while the report is being kept."""

JsonObject: TypeAlias = dict[str, Any]
Clock: TypeAlias = Callable[[], dt.datetime]

RowT = TypeVar("RowT", bound=ReportRow)
"""A row of the store."""
KeyT = TypeVar("KeyT")
"""What names a report within its garden."""
ToldT = TypeVar("ToldT")
"""A report as it is sent."""
RecordT = TypeVar("RecordT")
"""A report as it is kept."""
PlaceT = TypeVar("PlaceT")
"""The place of a report in the order in which reports are listed."""


class ReportName(NamedTuple):
    """What names a report of a zone."""

    zone: str
    id: str


class Page(NamedTuple, Generic[PlaceT]):
    """Which reports to list."""

    first: dt.date | None
    last: dt.date | None
    """Dates, both included; None is an open end."""
    after: PlaceT | None
    """The place of the last report that is known already."""
    limit: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one report of a batch."""

    name: Mapping[str, str | None]
    """What names it; None for what cannot be read."""
    result: str
    body: JsonObject | None = None
    """As it is kept."""
    error: Exception | None = None
    """Why it is not."""


class RecordKind(ABC, Generic[KeyT, ToldT, RecordT, PlaceT, RowT]):
    """Describes a kind of reports: what is refused, how it is kept, listed and shown."""

    row: type[RowT]
    """The class of its rows in the store."""

    def prepare(self, garden_id: str, key: KeyT, told: ToldT) -> int | None:
        """Do what has to be done before a report is kept alone.

        Returns the version of the garden for which that holds; None where it holds for every version.
        """
        return None

    @abstractmethod
    def check(self, change: Change, garden: StoredGarden, key: KeyT, told: ToldT, now: dt.datetime) -> None:
        """Refuse what cannot be, whatever is kept already. Raises ZoneNotFound, InvalidRequest."""

    @abstractmethod
    def record(
        self,
        change: Change,
        garden: StoredGarden,
        key: KeyT,
        told: ToldT,
        kept: RecordT | None,
        now: dt.datetime,
    ) -> RecordT:
        """The report as it will be kept in the place of `kept`; `kept` itself where nothing changes."""

    @abstractmethod
    def read(self, row: RowT, garden: StoredGarden) -> RecordT:
        """A stored report. Raises UnknownFormat."""

    @abstractmethod
    def row_of(self, record: RecordT) -> RowT:
        """A report as it is stored."""

    def take_back(self, change: Change, garden: StoredGarden, key: KeyT, record: RecordT) -> None:
        """Delete a report that is kept."""
        change.delete_report(self.row, *_parts(key))

    def settle(self, change: Change, garden: StoredGarden, changed: Sequence[RecordT]) -> None:
        """Bring up to date what depends on reports that were written, replaced or deleted."""
        return

    @abstractmethod
    def listed(self, store: Store, garden: StoredGarden, page: Page[PlaceT]) -> list[RecordT]:
        """The reports of a page in their order."""

    @abstractmethod
    def place(self, record: RecordT) -> PlaceT:
        """The place of a report in that order."""

    @abstractmethod
    def dump(self, store: Store, garden: StoredGarden, records: Sequence[RecordT]) -> list[JsonObject]:
        """Reports as an answer has them."""

    @abstractmethod
    def not_found(self, key: KeyT) -> ApiError:
        """What to raise where no report has a key."""

    @abstractmethod
    def already_there(self, key: KeyT) -> ApiError:
        """What to raise where a report must be new and is not."""


class Records(Generic[KeyT, ToldT, RecordT, PlaceT, RowT]):
    """The reports of one kind of stored gardens. Every method raises GardenNotFound."""

    def __init__(
        self, store: Store, clock: Clock, kind: RecordKind[KeyT, ToldT, RecordT, PlaceT, RowT]
    ) -> None:
        self._store = store
        self._clock = clock
        self._kind = kind

    def put(
        self, garden_id: str, key: KeyT, told: ToldT, must_be_new: bool = False
    ) -> tuple[bool, JsonObject]:
        """Keep a report; whether it is the first of its key, and how it is kept.

        Raises
        ------
        ApiError
            What the kind refuses, and, where it must be new, that a report of this key is there.
        """
        for tries_left in reversed(range(MOST_TRIES)):
            version = self._kind.prepare(garden_id, key, told)
            with self._store.changing(garden_id) as change:
                garden = _garden(change.garden, garden_id)
                if version is not None and tries_left and garden.version != version:
                    continue
                kept, record = self._keep(change, garden, key, told, self._clock(), must_be_new)
                if record is not kept:
                    self._kind.settle(change, garden, [one for one in (kept, record) if one is not None])
            return kept is None, self._kind.dump(self._store, garden, [record])[0]
        raise AssertionError("the last try keeps the report")

    def put_all(self, garden_id: str, batch: Sequence[Named[KeyT, ToldT] | Unread]) -> list[Outcome]:
        """Keep many in one change, each as if it came alone, in their order.

        Whatever is wrong with a report is an outcome of that report.
        """
        now = self._clock()
        outcomes: list[Outcome] = []
        records: dict[int, RecordT] = {}
        changed: list[RecordT] = []
        with self._store.changing(garden_id) as change:
            garden = _garden(change.garden, garden_id)
            for number, entry in enumerate(batch):
                if isinstance(entry, Unread):
                    outcomes.append(Outcome(entry.name, REFUSED, error=entry.error))
                    continue
                try:
                    kept, record = self._keep(change, garden, entry.key, entry.told, now)
                except DeliveryConflict as error:
                    outcomes.append(Outcome(entry.name, CONFLICT, error=error))
                except (ZoneNotFound, RunNotOpen, InvalidRequest) as error:
                    outcomes.append(Outcome(entry.name, REFUSED, error=error))
                else:
                    if record is not kept:
                        changed += [one for one in (kept, record) if one is not None]
                    outcomes.append(Outcome(entry.name, KNOWN if record is kept else KEPT))
                    records[number] = record
            if changed:
                self._kind.settle(change, garden, changed)
        bodies = self._kind.dump(self._store, garden, list(records.values()))
        for number, body in zip(records, bodies, strict=True):
            outcomes[number] = replace(outcomes[number], body=body)
        return outcomes

    def get(self, garden_id: str, key: KeyT) -> JsonObject:
        """One report as it is kept."""
        garden = _garden(self._store.garden(garden_id), garden_id)
        row = self._store.report(self._kind.row, garden_id, *_parts(key))
        if row is None:
            raise self._kind.not_found(key)
        record = self._kind.read(row, garden)
        return self._kind.dump(self._store, garden, [record])[0]

    def listed(self, garden_id: str, page: Page[PlaceT]) -> tuple[list[JsonObject], PlaceT | None]:
        """The reports of a page; and after which to read on, where there are more."""
        garden = _garden(self._store.garden(garden_id), garden_id)
        found = self._kind.listed(self._store, garden, page._replace(limit=page.limit + 1))
        further = self._kind.place(found[page.limit - 1]) if len(found) > page.limit else None
        return self._kind.dump(self._store, garden, found[: page.limit]), further

    def delete(self, garden_id: str, key: KeyT) -> None:
        """Delete a report."""
        with self._store.changing(garden_id) as change:
            garden = _garden(change.garden, garden_id)
            record = self._held(change, garden, key)
            if record is None:
                raise self._kind.not_found(key)
            self._kind.take_back(change, garden, key, record)
            self._kind.settle(change, garden, [record])

    def _keep(
        self,
        change: Change,
        garden: StoredGarden,
        key: KeyT,
        told: ToldT,
        now: dt.datetime,
        must_be_new: bool = False,
    ) -> tuple[RecordT | None, RecordT]:
        """What was kept of a key, and what is now: the same where nothing changes."""
        self._kind.check(change, garden, key, told, now)
        kept = self._held(change, garden, key)
        if must_be_new and kept is not None:
            raise self._kind.already_there(key)
        record = self._kind.record(change, garden, key, told, kept, now)
        if record is not kept:
            change.put_report(self._kind.row_of(record))
        return kept, record

    def _held(self, change: Change, garden: StoredGarden, key: KeyT) -> RecordT | None:
        """The report of a key within a change: nobody else can replace it before the change ends."""
        row = change.report(self._kind.row, *_parts(key))
        return None if row is None else self._kind.read(row, garden)


def _parts(key: Any) -> tuple[Any, ...]:
    return key if isinstance(key, tuple) else (key,)


def _garden(garden: StoredGarden | None, garden_id: str) -> StoredGarden:
    if garden is None:
        raise GardenNotFound(garden_id)
    return garden
