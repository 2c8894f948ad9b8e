"""The state of valves: the newest report of each stays."""

import datetime as dt
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from api.errors import ApiError, PreconditionWrong, ValveNotFound, ZoneNotFound
from api.reports.plausible import must_have_come
from api.reports.records import JsonObject, Page, RecordKind
from api.schemas.stored_bodies import read_valve, valve_body
from api.schemas.valves import KeptValve, ValveState
from api.store.changes import Change
from api.store.rows import StoredGarden, StoredValve
from api.store.store import Store


class ValveKind(RecordKind[str, ValveState, KeptValve, str, StoredValve]):
    """Valves by their zones: how each was when it was last reported."""

    row = StoredValve

    def check(
        self, change: Change, garden: StoredGarden, key: str, told: ValveState, now: dt.datetime
    ) -> None:
        """Refuse a report of the future, or of a zone that is not there."""
        must_have_come("told_at", told.told_at, now)
        if key not in garden.document["zones"]:
            raise ZoneNotFound(key)

    def record(
        self,
        change: Change,
        garden: StoredGarden,
        key: str,
        told: ValveState,
        kept: KeptValve | None,
        now: dt.datetime,
    ) -> KeptValve:
        """What is kept stays where it is newer, or the same."""
        record = KeptValve(key, (told.told_at or now).astimezone(dt.UTC), told.battery_share, told.state)
        if kept is not None and (record.told_at < kept.told_at or record == kept):
            return kept
        return record

    def read(self, row: StoredValve, garden: StoredGarden) -> KeptValve:
        """A stored report. Raises UnknownFormat."""
        return valve_of(row, garden)

    def row_of(self, record: KeptValve) -> StoredValve:
        """A report as it is stored."""
        return StoredValve(record.zone, record.told_at, valve_body(record))

    def listed(self, store: Store, garden: StoredGarden, page: Page[str]) -> list[KeptValve]:
        """All that have been reported, by zone: there are no more than zones."""
        return [valve_of(row, garden) for row in store.valves(garden.id)]

    def place(self, record: KeptValve) -> str:
        """Its zone."""
        return record.zone

    def dump(self, store: Store, garden: StoredGarden, records: Sequence[KeptValve]) -> list[JsonObject]:
        """Every key of each; null is not known."""
        zone = ZoneInfo(garden.document["timezone"])
        return [
            {
                "zone": one.zone,
                "battery_share": one.battery_share,
                "state": one.state,
                "told_at": one.told_at.astimezone(zone).isoformat(timespec="seconds"),
            }
            for one in records
        ]

    def not_found(self, key: str) -> ApiError:
        """Nothing was reported of a zone's valve."""
        return ValveNotFound(key)

    def already_there(self, key: str) -> ApiError:
        """Something was reported of a zone's valve."""
        return PreconditionWrong(f'The state of the valve of zone "{key}" is kept already.')


def valve_of(row: StoredValve, garden: StoredGarden) -> KeptValve:
    """The stored state of a valve. Raises UnknownFormat."""
    return read_valve(row.zone, row.told_at, row.body, garden.id)
