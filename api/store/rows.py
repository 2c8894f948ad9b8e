"""What the store gives back: one frozen class for each kind of row."""

import datetime as dt
import hashlib
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias

JsonObject: TypeAlias = dict[str, Any]
"""An object as orjson reads it; what is in it is the business of whoever wrote it."""


@dataclass(frozen=True, slots=True)
class StoredGarden:
    """A garden as it was given, and how often it has changed."""

    id: str
    document: JsonObject
    etag: str
    """Strong hash of the document, without quotes."""
    version: int
    """Rises with every change of the document, of a report, of a valve or of a final plan."""
    document_version: int
    """Rises with every change of the document, and of the weather before the garden was made."""
    place_key: str
    """The place whose weather the garden has."""
    created_at: dt.datetime


class DeliveryKey(NamedTuple):
    """The place of a report in the order in which reports are listed."""

    date: dt.date
    zone: str
    id: str


@dataclass(frozen=True, slots=True)
class StoredDelivery:
    """A report of water through a zone's valve."""

    zone: str
    id: str
    """Id of a run, or the reporter's own."""
    date: dt.date
    """The plan's date that the water counts for."""
    body: JsonObject

    @property
    def key(self) -> DeliveryKey:
        """Its place among all."""
        return DeliveryKey(self.date, self.zone, self.id)


@dataclass(frozen=True, slots=True)
class StoredObservation:
    """What the owner measured of a day's weather."""

    date: dt.date
    body: JsonObject


@dataclass(frozen=True, slots=True)
class StoredReading:
    """What a soil probe read in a zone."""

    zone: str
    id: str
    """The reporter's own."""
    measured_at: dt.datetime
    night: dt.date | None
    """The date whose morning it belongs to; None for what was measured by day."""
    body: JsonObject


@dataclass(frozen=True, slots=True)
class StoredMorning:
    """What the readings of one probe and one night come to."""

    night: dt.date
    zone: str
    probe: str
    body: JsonObject


@dataclass(frozen=True, slots=True)
class StoredValve:
    """What was last told of the state of a zone's valve."""

    zone: str
    told_at: dt.datetime
    body: JsonObject


ReportRow: TypeAlias = StoredDelivery | StoredObservation | StoredReading | StoredValve


@dataclass(frozen=True, slots=True)
class StoredFinal:
    """A plan that was made final: it stands, whoever made it."""

    date: dt.date
    made_at: dt.datetime
    body: JsonObject


@dataclass(frozen=True, slots=True)
class StoredTurn:
    """Leave that was given to open a zone's valve for a run."""

    zone: str
    run: str
    date: dt.date
    """The plan's date."""
    key: str | None
    """The Idempotency-Key that it was asked with."""
    closed_at: dt.datetime | None
    """When a report said that the valve is shut."""
    body: JsonObject


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer that still holds."""

    etag: str
    body: bytes
    fresh_until: dt.datetime
    """The first moment at which the clock alone would change the answer."""


def strong_etag(content: bytes) -> str:
    """A hash of bytes, without quotes: equal bytes have equal tags, others do not."""
    return hashlib.blake2b(content, digest_size=16).hexdigest()
