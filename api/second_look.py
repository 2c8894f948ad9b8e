"""Second looks at a final plan: what an edit, a report or newer weather takes off it is kept.

Reading drives it. Whoever keeps what is left does so only while the garden is as it was looked at;
so two processes agree, and a run that is announced meanwhile is left alone.
"""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from api.errors import GardenNotFound
from api.making import LEAST_LIFE, Again, PlanMaker, weather_holds_until
from api.running import overlay
from api.shrinking import open_zones, shrunk
from api.shrinking_zone import Known
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store
from api.watering_hours import Hours
from api.weather.errors import WeatherUnavailable
from api.weather.forecasts import ACCEPTABLE_S
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.garden import Allowance, Garden
from scheduling.supply import AllowanceLeft, allowance_left

MOST_REMEMBERED = 1000
"""Gardens whose last look a process remembers."""


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A final plan that was held against what is known since."""

    final: dict[str, Any]
    stored: StoredGarden
    """The garden as it then stands."""
    date: dt.date
    seen_at: dt.datetime
    place_version: int | None = None
    """Of the weather it was held against; None where that has no part in it."""
    until: dt.datetime | None = None
    """When the clock alone asks for another look; None: never again."""


class SecondLook:
    """Holds final plans against what is known since; for any number of threads."""

    def __init__(self, store: Store, maker: PlanMaker) -> None:
        self._store = store
        self._maker = maker
        self._last: dict[str, LookedAt] = {}

    def at(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any],
        now: dt.datetime,
        begins: str | None = None,
    ) -> LookedAt | None:
        """Hold a final plan against what is known now, and keep what is left of it.

        `begins` is the zone of which a run is about to be opened. None where a report, an edit or
        somebody else's look came meanwhile.
        """
        reports = self._store.deliveries(stored.id, hours.date, hours.date)
        ends = dt.datetime.fromisoformat(final["valid_until"])
        still_open = open_zones(final, reports, now)
        if now >= ends or not still_open:
            return LookedAt(final, stored, hours.date, now)
        if begins is None and (last := self._still_holds(stored, hours.date, now)) is not None:
            return last
        known, looked_at = self._known(stored, garden, hours, final, reports, still_open, now)
        smaller = shrunk(final, replace(known, begins=begins))
        if smaller is not None:
            with self._store.changing(stored.id) as change:
                if change.garden is None:
                    raise GardenNotFound(stored.id)
                if change.garden.version != stored.version:
                    return None
                final = change.replace_final(hours.date, smaller)
                looked_at = replace(looked_at, final=final, stored=change.garden)
        if len(self._last) >= MOST_REMEMBERED:
            self._last.clear()
        self._last[stored.id] = looked_at
        return looked_at

    def _still_holds(self, stored: StoredGarden, date: dt.date, now: dt.datetime) -> LookedAt | None:
        """The last look of this process, where nothing has changed since: zones are polled one by one."""
        last = self._last.get(stored.id)
        if last is None or last.date != date or last.stored.version != stored.version or last.until is None:
            return None
        if not last.seen_at <= now < last.until:
            return None
        if last.place_version is None or last.place_version != self._store.place_version(stored.place_key):
            return None
        return last

    def _known(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        final: dict[str, Any],
        reports: Sequence[StoredDelivery],
        still_open: Collection[str],
        now: dt.datetime,
    ) -> tuple[Known, LookedAt]:
        """What is known now of a date that has its final plan."""
        known = Known(garden, hours, reports, now, allowance=self._allowance(stored, garden, hours, now))
        looked_at = LookedAt(final, stored, hours.date, now, None, now + LEAST_LIFE)
        zones = tuple(zone for zone in garden.zones if zone.id in still_open)
        if not zones:
            return known, looked_at
        enough = replace(
            garden.water_supply, flow_l_min=None, zones_at_once=len(zones), gap_s=0, allowance_l=Allowance()
        )
        again = Again(
            replace(garden, zones=zones, water_supply=enough),
            dt.datetime.fromisoformat(final["made_at"]),
            {(zone["zone"], run["id"]) for zone in final["zones"] for run in zone["runs"]},
        )
        try:
            plan, weather, changes_at = self._maker.plan(
                stored, garden, hours, now, newest_within_s=ACCEPTABLE_S, again=again
            )
        except (WeatherUnavailable, WeatherGap, WeatherIncomplete):
            # The rules that need no weather hold all the same.
            return known, looked_at
        wanted = {zone.zone: zone for zone in plan.zones}
        moments = (overlay(final, reports, now).changes_at, *changes_at)
        coming = (moment for moment in moments if moment is not None and moment > now)
        until = min([weather_holds_until(weather, now), *coming])
        return (
            replace(known, wanted=wanted, by_hour=weather.by_hour(hours)),
            replace(looked_at, place_version=weather.version, until=until),
        )

    def _allowance(
        self, stored: StoredGarden, garden: Garden, hours: Hours, now: dt.datetime
    ) -> AllowanceLeft | None:
        allowance = garden.water_supply.allowance_l
        if allowance == Allowance():
            return None
        return allowance_left(allowance, self._maker.used_l(stored, garden, hours.date, now), hours.date)
