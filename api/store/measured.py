"""What was measured in a garden: own weather, soil probes' readings, the state of its valves."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, delete, update

from api.store import queries as selects
from api.store.rows import (
    StoredGarden,
    StoredMorning,
    StoredObservation,
    StoredReading,
    StoredValve,
)
from api.store.tables import GARDENS, MOISTURE_READINGS, MORNINGS, OBSERVATIONS, VALVES
from api.store.upsert import insert_or_replace

ALL: Final = 1_000_000
"""More rows than any garden has of anything."""
BEFORE_ALL: Final = dt.datetime.min.replace(tzinfo=dt.UTC)
AFTER_ALL: Final = dt.datetime.max.replace(tzinfo=dt.UTC)


class AsksMeasured:
    """The part of `Store` that asks for what was measured."""

    ask: Any

    def observation(self, garden_id: str, date: dt.date) -> StoredObservation | None:
        """What the owner measured on a date."""
        rows = self.ask(selects.OBSERVATION, garden_id=garden_id, date=date)
        return StoredObservation(*rows[0]) if rows else None

    def observations(
        self, garden_id: str, first: dt.date | None, last: dt.date | None, limit: int = ALL
    ) -> list[StoredObservation]:
        """What the owner measured in a span of dates, both ends included, by date; None is an open end."""
        rows = self.ask(
            selects.OBSERVATIONS_BETWEEN,
            garden_id=garden_id,
            first=first or dt.date.min,
            last=last or dt.date.max,
            limit=limit,
        )
        return [StoredObservation(*row) for row in rows]

    def reading(self, garden_id: str, zone: str, reading_id: str) -> StoredReading | None:
        """The probe's reading of a zone and an id."""
        rows = self.ask(selects.READING, garden_id=garden_id, zone=zone, reading_id=reading_id)
        return StoredReading(*rows[0]) if rows else None

    def readings(
        self,
        garden_id: str,
        start: dt.datetime | None,
        end: dt.datetime | None,
        after: tuple[dt.datetime, str, str] | None = None,
        limit: int = ALL,
    ) -> list[StoredReading]:
        """Probes' readings from one moment up to but not including another, by moment, zone and id.

        Parameters
        ----------
        start, end
            None is an open end.
        after
            Moment, zone and id of the last one that is known already.
        limit
            At most so many.
        """
        moment, zone, reading_id = after or (BEFORE_ALL, "", "")
        rows = self.ask(
            selects.READINGS_AFTER,
            garden_id=garden_id,
            start=start or BEFORE_ALL,
            end=end or AFTER_ALL,
            after=moment,
            after_zone=zone,
            after_id=reading_id,
            limit=limit,
        )
        return [StoredReading(*row) for row in rows]

    def mornings(self, garden_id: str, first: dt.date, last: dt.date) -> list[StoredMorning]:
        """Each night's value of every probe, both ends included, by date, zone and probe."""
        rows = self.ask(selects.MORNINGS_BETWEEN, garden_id=garden_id, first=first, last=last)
        return [StoredMorning(*row) for row in rows]

    def valve(self, garden_id: str, zone: str) -> StoredValve | None:
        """What was last told of a zone's valve."""
        rows = self.ask(selects.VALVE, garden_id=garden_id, zone=zone)
        return StoredValve(*rows[0]) if rows else None

    def valves(self, garden_id: str) -> list[StoredValve]:
        """What was last told of every valve of a garden, by zone."""
        return [StoredValve(*row) for row in self.ask(selects.VALVES_OF_GARDEN, garden_id=garden_id)]


class ChangesMeasured:
    """The part of `Change` that keeps what was measured, and takes it back.

    Whatever changes raises the garden's version; where there is no garden, GardenGone is raised.
    """

    garden: StoredGarden | None
    _connection: Connection
    _garden_id: str

    def observation(self, date: dt.date) -> StoredObservation | None:
        """What the owner measured on a date, as it stands."""
        row = self._ask(selects.OBSERVATION, date=date)
        return None if row is None else StoredObservation(*row)

    def put_observation(self, observation: StoredObservation) -> None:
        """Keep what the owner measured, in the place of what was told of that date before."""
        self._replace(OBSERVATIONS, {"date": observation.date, "body": observation.body})

    def delete_observation(self, date: dt.date) -> bool:
        """Take it back; False where there is none, and then nothing changes."""
        return self.observation(date) is not None and self._delete(OBSERVATIONS, date=date)

    def reading(self, zone: str, reading_id: str) -> StoredReading | None:
        """A probe's reading, as it stands."""
        row = self._ask(selects.READING, zone=zone, reading_id=reading_id)
        return None if row is None else StoredReading(*row)

    def put_reading(self, reading: StoredReading) -> None:
        """Keep a probe's reading, in the place of any other of its zone and id."""
        values = {"measured_at": reading.measured_at, "night": reading.night, "body": reading.body}
        self._replace(MOISTURE_READINGS, {"zone": reading.zone, "id": reading.id, **values})

    def delete_reading(self, zone: str, reading_id: str) -> bool:
        """Take a reading back; False where there is none, and then nothing changes."""
        is_there = self.reading(zone, reading_id) is not None
        return is_there and self._delete(MOISTURE_READINGS, zone=zone, id=reading_id)

    def readings_of_night(self, zone: str, night: dt.date) -> list[StoredReading]:
        """What the probes of a zone read in a night, in any order."""
        values = {"garden_id": self._garden_id, "zone": zone, "night": night}
        return [StoredReading(*row) for row in self._connection.execute(selects.READINGS_OF_NIGHT, values)]

    def put_mornings(self, zone: str, night: dt.date, mornings: Sequence[StoredMorning]) -> None:
        """Keep what a night's readings of a zone come to, in the place of all that was kept of it before."""
        self._delete(MORNINGS, zone=zone, night=night)
        for one in mornings:
            self._replace(MORNINGS, {"night": night, "zone": zone, "probe": one.probe, "body": one.body})

    def valve(self, zone: str) -> StoredValve | None:
        """What was last told of a zone's valve."""
        row = self._ask(selects.VALVE, zone=zone)
        return None if row is None else StoredValve(*row)

    def put_valve(self, valve: StoredValve) -> None:
        """Keep what is told of a zone's valve, in the place of what was told before."""
        self._replace(VALVES, {"zone": valve.zone, "told_at": valve.told_at, "body": valve.body})

    def delete_valve(self, zone: str) -> None:
        """Forget the state of a zone's valve."""
        self._delete(VALVES, zone=zone)

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

    def _delete(self, table: Table, **key: Any) -> bool:
        self._raise_version()
        conditions = [table.c[name] == value for name, value in key.items()]
        self._connection.execute(delete(table).where(table.c.garden_id == self._garden_id, *conditions))
        return True

    def _ask(self, select: Select[Any], **values: Any) -> tuple[Any, ...] | None:
        raise NotImplementedError

    def _raise_version(self) -> StoredGarden:
        raise NotImplementedError
