"""What was measured in a garden, as its plans take it; read again only when the garden has changed."""

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from api.moisture import morning_reading, read_at
from api.observations import observation_of
from api.store.rows import StoredGarden
from api.store.store import Store
from api.weather.own_weather import Observation
from scheduling.reports import MorningReading

GARDENS_IN_MEMORY: Final = 256


class Morning(NamedTuple):
    """What a probe read in a night, and when."""

    reading: MorningReading
    read_at: dt.datetime | None
    """The middle one of its readings; None where that was not kept."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured in a garden from a date on."""

    observations: Mapping[dt.date, Observation]
    mornings: tuple[Morning, ...]
    """What soil probes read before sunrise."""


class Measurements:
    """Reads what was measured, once for each version of a garden; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._read: OrderedDict[str, tuple[int, dt.date, Measured]] = OrderedDict()

    def of(self, garden: StoredGarden, since: dt.date) -> Measured:
        """What was measured in a garden from a date on."""
        with self._lock:
            version, first, measured = self._read.get(garden.id, (None, since, None))
        if measured is not None and version == garden.version and first == since:
            return measured
        timezone = garden.document["timezone"]
        measured = Measured(
            observations={
                kept.date: observation_of(kept, timezone)
                for kept in self._store.observations(garden.id, since, None)
            },
            mornings=tuple(
                Morning(morning_reading(kept), read_at(kept))
                for kept in self._store.mornings(garden.id, since, dt.date.max)
            ),
        )
        with self._lock:
            self._read[garden.id] = (garden.version, since, measured)
            self._read.move_to_end(garden.id)
            if len(self._read) > GARDENS_IN_MEMORY:
                self._read.popitem(last=False)
        return measured
