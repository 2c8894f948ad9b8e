"""A stored garden's date: where its ledgers begin, what has flowed since and the weather become a plan."""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from api.deliveries import counted_l, ends_at, run_of
from api.measured import Measurements
from api.metered import metered_runs
from api.night_water import readings_beside_water
from api.planning import opening_guess, plan_date
from api.schemas.plan import WITHDRAWN
from api.schemas.state import dump_state, state_as_written
from api.store.rows import StoredDelivery, StoredFinal, StoredGarden
from api.store.store import Store
from api.watering_hours import Hours, garden_date
from api.weather.forecasts import Forecasts
from api.weather_at_hand import Weather, anchor_before, fetched_weather
from scheduling.garden import Garden
from scheduling.metering import learned_flows
from scheduling.openings import History
from scheduling.plan import Plan
from scheduling.reports import Delivery, Opening

LEAST_LIFE = dt.timedelta(seconds=60)
"""An answer holds at least so long while a forecast is due: a new one ends it at once anyway."""


@dataclass(frozen=True, slots=True)
class Again:
    """How a date that has its final plan is planned once more."""

    garden: Garden
    """As it is to be planned; its ledgers begin as those of the whole garden do."""
    made_at: dt.datetime
    """When the plan was made: its hours are those that were left then."""
    runs: Collection[tuple[str, str]]
    """The plan's own runs, by zone and id: what they gave is not taken off."""


class PlanMaker:
    """Makes plans of stored gardens, whatever becomes of them."""

    def __init__(self, store: Store, forecasts: Forecasts) -> None:
        self._store = store
        self._forecasts = forecasts
        self._measurements = Measurements(store)

    def plan(
        self,
        stored: StoredGarden,
        garden: Garden,
        hours: Hours,
        now: dt.datetime,
        newest_within_s: int,
        explain: bool = False,
        again: Again | None = None,
    ) -> tuple[Plan, Weather, list[dt.datetime]]:
        """The plan of a stored garden's date, from its ledger and the newest weather.

        Also the moments at which the clock alone would change it, by what is still to flow.
        """
        begins = garden_date(stored.created_at, garden.timezone)
        # The same days at every reading: they also tell the season's rain and wind.
        since = anchor_before(begins)
        measured = self._measurements.of(stored, since)
        weather = fetched_weather(
            self._forecasts, garden, since, hours.date, now, newest_within_s, measured.observations
        )
        opening = self._opening(stored, garden, weather, begins, hours.date)
        finals = self._store.finals(stored.id, since, hours.date)
        reports = self._store.deliveries(stored.id, since, hours.date)
        deliveries, changes_at = delivered(garden, finals, reports, hours.date, now, again)
        turns = _turns_without(finals, hours.date)
        opening = replace(opening, turns_without=turns, turns_after=turns)
        flows = learned_flows(garden, metered_runs(reports), hours.date)
        moisture = readings_beside_water(
            measured.mornings, finals, reports, garden.unreported_watering != "none"
        )
        history = History(opening, True, tuple(deliveries), moisture=moisture, flows=flows)
        if again is None:
            plan = plan_date(garden, weather, hours, now, history, explain)
        else:
            plan = plan_date(again.garden, weather, hours, again.made_at, history, explain)
        return plan, weather, changes_at

    def used_l(
        self, stored: StoredGarden, garden: Garden, date: dt.date, now: dt.datetime
    ) -> dict[dt.date, float]:
        """What has flowed, or counts so, within the allowances of a date, by plan date. [l]"""
        finals = self._store.finals(stored.id, date - ALLOWANCES_REACH_BACK, date)
        reports = self._store.deliveries(stored.id, date - ALLOWANCES_REACH_BACK, date)
        used: dict[dt.date, float] = {}
        for delivery in delivered(garden, finals, reports, date, now)[0]:
            used[delivery.date] = used.get(delivery.date, 0.0) + delivery.volume_l
        return used

    def _opening(
        self, stored: StoredGarden, garden: Garden, weather: Weather, begins: dt.date, date: dt.date
    ) -> Opening:
        """Where the ledgers begin: a first guess, reckoned once for each version of the document."""
        kept = self._store.opening(stored.id, stored.document_version)
        if kept is None:
            guess = opening_guess(garden, weather, min(begins, date))
            with self._store.changing(stored.id) as change:
                kept = change.keep_opening(stored.document_version, dump_state(guess, digits=9))
        opening = state_as_written(kept)
        if opening.date > date:
            # The plan of a date before the garden was known, while its hours are still open.
            return opening_guess(garden, weather, date)
        return opening


ALLOWANCES_REACH_BACK = dt.timedelta(days=31)
"""How far back an allowance reaches: a month."""


def delivered(
    garden: Garden,
    finals: Sequence[StoredFinal],
    reports: Sequence[StoredDelivery],
    planned: dt.date,
    now: dt.datetime,
    again: Again | None = None,
) -> tuple[list[Delivery], list[dt.datetime]]:
    """What has flowed by reports, and what final plans count as flowing.

    Of the date that is `planned`, only reports count. Also the moments at which runs still to come
    would no longer count.
    """
    plans = {final.date: final.body for final in finals}
    reported = {(report.zone, report.id) for report in reports}
    left_out = () if again is None else again.runs
    deliveries = [
        Delivery(report.zone, report.date, _counted(report, plans.get(report.date)))
        for report in reports
        if (report.zone, report.id) not in left_out
    ]
    changes_at = []
    for date, body in plans.items():
        if date == planned:
            continue
        for zone in body["zones"]:
            for run in zone["runs"]:
                if (zone["zone"], run["id"]) in reported or run["state"] == WITHDRAWN:
                    continue
                if garden.unreported_watering == "none":
                    if now >= ends_at(run):
                        continue
                    changes_at.append(ends_at(run))
                deliveries.append(Delivery(zone["zone"], date, float(run["volume_l"])))
    return deliveries, changes_at


def weather_holds_until(weather: Weather, now: dt.datetime) -> dt.datetime:
    """The first moment at which the clock alone asks for newer weather, or takes this for stale."""
    assert weather.forecast is not None
    due, *later = weather.forecast.changes_at
    return min(moment for moment in (max(due, now + LEAST_LIFE), *later) if moment > now)


def _turns_without(finals: Sequence[StoredFinal], date: dt.date) -> dict[str, int]:
    """Who went without for want of hours, and how often in a row, by the last final plan before a date."""
    before = [final for final in finals if final.date < date]
    return state_as_written(before[-1].body["state"]).turns_for(date) if before else {}


def _counted(report: StoredDelivery, final: dict[str, Any] | None) -> float:
    return counted_l(report.body, run_of(final, report.zone, report.id))
