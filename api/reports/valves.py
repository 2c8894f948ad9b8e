"""Keeping what is told of the state of valves."""

import datetime as dt
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from api.errors import GardenNotFound, InvalidRequest, ValveNotFound, ZoneNotFound
from api.reports.plausible import CLOCK_TOLERANCE
from api.schemas.valves import ValveReport
from api.store.rows import StoredGarden, StoredValve
from api.store.store import Store
from scheduling.errors import Problem


class Valves:
    """The valves of stored gardens, as they were last told of."""

    def __init__(self, store: Store, clock: Callable[[], dt.datetime]) -> None:
        self._store = store
        self._clock = clock

    def put(self, garden_id: str, zone_id: str, report: ValveReport) -> tuple[bool, dict[str, Any]]:
        """Keep how a valve is, unless something newer is known already.

        Returns whether it is the first that is told of it, and what stands.

        Raises
        ------
        GardenNotFound, ZoneNotFound
            There is no such garden or zone.
        InvalidRequest
            It tells of the future.
        """
        now = self._clock()
        told_at = report.told_at or now
        if told_at > now + CLOCK_TOLERANCE:
            sentence = f"told_at is {told_at.isoformat()}, which has not come yet."
            raise InvalidRequest(Problem("/told_at", sentence))
        with self._store.changing(garden_id) as change:
            garden = change.garden
            if garden is None:
                raise GardenNotFound(garden_id)
            if zone_id not in garden.document["zones"]:
                raise ZoneNotFound(zone_id)
            kept = change.valve(zone_id)
            told = StoredValve(zone_id, told_at.astimezone(dt.UTC), dict(report.values))
            if kept is None or (told.told_at >= kept.told_at and told != kept):
                change.put_valve(told)
            else:
                told = kept
        return kept is None, dump_valve(told, garden)

    def valve(self, garden_id: str, zone_id: str) -> dict[str, Any]:
        """How a zone's valve was when it was last told of. Raises GardenNotFound, ValveNotFound."""
        garden = self._garden(garden_id)
        kept = self._store.valve(garden_id, zone_id)
        if kept is None:
            raise ValveNotFound(zone_id)
        return dump_valve(kept, garden)

    def valves(self, garden_id: str) -> list[dict[str, Any]]:
        """The same of all valves of which anything was told, by zone. Raises GardenNotFound."""
        garden = self._garden(garden_id)
        return [dump_valve(kept, garden) for kept in self._store.valves(garden_id)]

    def _garden(self, garden_id: str) -> StoredGarden:
        garden = self._store.garden(garden_id)
        if garden is None:
            raise GardenNotFound(garden_id)
        return garden


def dump_valve(kept: StoredValve, garden: StoredGarden) -> dict[str, Any]:
    """A valve as it was last told of, with every key; null is not known."""
    told_at = kept.told_at.astimezone(ZoneInfo(garden.document["timezone"]))
    return {
        "zone": kept.zone,
        "battery_share": kept.body.get("battery_share"),
        "state": kept.body.get("state"),
        "told_at": told_at.isoformat(timespec="seconds"),
    }
