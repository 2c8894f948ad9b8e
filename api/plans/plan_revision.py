"""Holding stored final plans against what has become known since, and keeping what is left of them."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass, replace

from api.errors import GardenNotFound
from api.plans.garden_now import GardenNow
from api.plans.plan_maker import LEAST_LIFE, Again, PlanMaker, weather_holds_until
from api.schemas.stored_bodies import KeptPlan, final_body
from api.store.store import Store
from api.watering_hours import Hours
from api.weather.errors import SourceIncomplete, WeatherUnavailable
from api.weather.fetch.fetching import ACCEPTABLE_S
from scheduling.garden.description import Allowance
from scheduling.plan.final_plan import standing
from scheduling.plan.revision import Known, revise, runs_to_come
from scheduling.tap.allocation import AllowanceLeft, allowance_left

MOST_REMEMBERED = 1000
"""Gardens whose last look a process remembers."""


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A final plan that was held against what is known since."""

    final: KeptPlan
    seen: GardenNow
    """The garden as it is after that."""
    place_version: int | None = None
    """Of the weather it was held against; None where that has no part in it."""
    until: dt.datetime | None = None
    """When the clock alone asks for another look; None: never again."""


@dataclass(frozen=True, slots=True)
class _Remembered:
    """A look after which nothing had to be taken off any more."""

    version: int
    """Of the garden."""
    date: dt.date
    seen_at: dt.datetime
    place_version: int | None
    until: dt.datetime | None


class SecondLook:
    """Holds final plans against what is known since; for any number of threads."""

    def __init__(self, store: Store, maker: PlanMaker) -> None:
        self._store = store
        self._maker = maker
        self._last: dict[str, _Remembered] = {}

    def at(
        self, seen: GardenNow, hours: Hours, final: KeptPlan, begins: str | None = None
    ) -> LookedAt | None:
        """Hold a final plan against what is known now, and keep what is left of it.

        `begins` is the zone of which a run is about to be opened. None where a report, an edit or
        somebody else's look came meanwhile.
        """
        reports = seen.reports_of(hours.date)
        still_open = {zone.id for zone in final.plan.zones if runs_to_come(zone, reports, seen.now)}
        if seen.now >= final.plan.valid_until or not still_open:
            return LookedAt(final, seen)
        if begins is None and (last := self._still_holds(seen, hours.date)) is not None:
            return LookedAt(final, seen, last.place_version, last.until)
        known, looked_at = self._known(seen, hours, final, still_open)
        smaller = revise(final.plan, replace(known, begins=begins))
        if smaller is not None:
            final = replace(final, plan=smaller)
            with self._store.changing(seen.stored.id) as change:
                if change.garden is None:
                    raise GardenNotFound(seen.stored.id)
                if change.garden.version != seen.stored.version:
                    return None
                change.replace_final(hours.date, final_body(final))
                looked_at = replace(looked_at, final=final, seen=seen.after(change.garden, hours.date, final))
        if len(self._last) >= MOST_REMEMBERED:
            self._last.clear()
        self._last[seen.stored.id] = _Remembered(
            looked_at.seen.stored.version, hours.date, seen.now, looked_at.place_version, looked_at.until
        )
        return looked_at

    def _still_holds(self, seen: GardenNow, date: dt.date) -> "_Remembered | None":
        """The last look of this process, where nothing has changed since: zones are polled one by one."""
        last = self._last.get(seen.stored.id)
        if last is None or (last.date, last.version) != (date, seen.stored.version) or last.until is None:
            return None
        if last.place_version is None or not last.seen_at <= seen.now < last.until:
            return None
        place_version = self._store.place_version(seen.stored.place_key)
        return last if last.place_version == place_version else None

    def _known(
        self, seen: GardenNow, hours: Hours, final: KeptPlan, still_open: Collection[str]
    ) -> tuple[Known, LookedAt]:
        """What is known now of a date that has its final plan."""
        garden = seen.garden
        reports = seen.reports_of(hours.date)
        known = Known(
            garden,
            hours.date,
            hours.spans if hours.warm is None else (*hours.spans, hours.warm),
            hours.bans,
            hours.opens.tzinfo,
            reports,
            seen.now,
            allowance=_allowance(seen, hours.date),
            told=seen.record(hours.date).told_since().keys(),
        )
        looked_at = LookedAt(final, seen, None, seen.now + LEAST_LIFE)
        zones = tuple(zone for zone in garden.zones if zone.id in still_open)
        if not zones:
            return known, looked_at
        enough = replace(
            garden.water_supply, flow_l_min=None, zones_at_once=len(zones), gap_s=0, allowance_l=Allowance()
        )
        again = Again(
            replace(garden, zones=zones, water_supply=enough),
            final.plan.made_at,
            {(zone_id, run.id) for zone_id, run in final.plan.runs},
        )
        try:
            plan, weather, changes_at = self._maker.plan(
                seen, hours, newest_within_s=ACCEPTABLE_S, again=again
            )
        except (WeatherUnavailable, SourceIncomplete):
            # The rules that need no weather hold all the same.
            return known, looked_at
        wanted = {zone.zone: zone for zone in plan.zones}
        moments = (standing(final.plan, reports, seen.now).changes_at, *changes_at)
        coming = (moment for moment in moments if moment is not None and moment > seen.now)
        until = min([weather_holds_until(weather, seen.now), *coming])
        return (
            replace(known, wanted=wanted, by_hour=weather.by_hour(hours)),
            replace(looked_at, place_version=weather.version, until=until),
        )


def _allowance(seen: GardenNow, date: dt.date) -> AllowanceLeft | None:
    """What the tightest allowance leaves after all that has flowed, or counts so."""
    allowance = seen.garden.water_supply.allowance_l
    if allowance == Allowance():
        return None
    used_l: dict[dt.date, float] = {}
    for delivery in seen.record(date).deliveries(date, seen.now)[0]:
        used_l[delivery.date] = used_l.get(delivery.date, 0.0) + delivery.volume_l
    return allowance_left(allowance, used_l, date)
