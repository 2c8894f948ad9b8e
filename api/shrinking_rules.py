"""Which rules speak against runs of a final plan: its document, cold, wind, and plants that can wait."""

import datetime as dt
from collections.abc import Sequence
from typing import Final

from api.shrinking_zone import Known, Plan, Why, ZoneOfPlan
from scheduling import catalogue
from scheduling.decision import HOURS_FULL, RAIN_EXPECTED, SOIL_MOIST, TOO_WINDY
from scheduling.rules import FROST_RISK, NOT_A_WATERING_DAY, PAUSED, rule_against, zone_rules
from scheduling.windows import HOUR_S, Window, permitted

ALREADY_DELIVERED: Final = "already-delivered"
ZONE_REMOVED: Final = "zone-removed"
FORBIDDEN_HOURS: Final = "forbidden-hours"
OUTSIDE_HOURS: Final = "outside-hours"

SLACK_S: Final = 60
"""Starts are whole minutes, and hours may be left in the middle of one."""


def by_rules(zone: ZoneOfPlan, known: Known) -> None:
    """Withdraw what rules speak against: of the document, of cold and wind, or that of need."""
    if not zone.open:
        return
    if zone.zone is None:
        zone.withdraw_all(Why(ZONE_REMOVED, "The zone was taken out of the garden."))
        return
    wanted = zone.wanted
    against = _against(zone, known)
    if against is not None:
        zone.withdraw_all(against)
        return
    hours, bans = known.hours, known.hours.bans.of(zone.id)
    spans = [*hours.spans, *([] if hours.warm is None else [hours.warm])]
    within_hours = [window for span in spans for window in permitted(span, ())]
    within_bans = [window for span in spans for window in permitted(span, bans)]
    windows = None if wanted is None else [window for of_span in wanted.windows for window in of_span]
    for run in list(zone.open):
        if not _lies_in(run, within_hours):
            text = "The watering hours were changed, and it lies outside of them."
            zone.withdraw(run, Why(OUTSIDE_HOURS, text))
        elif not _lies_in(run, within_bans):
            zone.withdraw(run, Why(FORBIDDEN_HOURS, "No water may flow then: forbidden_hours were set."))
        elif windows is not None and not _lies_in(run, windows):
            by_the_hour = _by_the_hour(zone, run, known)
            if by_the_hour is not None:
                zone.withdraw(run, by_the_hour)


def _against(zone: ZoneOfPlan, known: Known) -> Why | None:
    """What speaks against the zone's being watered on the date at all."""
    wanted = zone.wanted
    if wanted is not None:
        first = wanted.reasons[0]
        if wanted.decision == "water" or first.code == HOURS_FULL:
            # The hours have to do for the runs as they are; where they were changed, runs lie outside.
            return None
        if zone.beside_l and first.code in (SOIL_MOIST, RAIN_EXPECTED):
            return Why(ALREADY_DELIVERED, f"{zone.beside_told} {first.text}")
        return Why(first.code, first.text)
    assert zone.zone is not None
    rules = zone_rules(known.garden, zone.zone.rules, zone.id)
    code = rule_against(rules, known.hours.date, False, None)
    texts = {
        PAUSED: f"A pause covers {known.hours.date}.",
        NOT_A_WATERING_DAY: f"{known.hours.date} is not a watering day any more.",
    }
    return None if code is None else Why(code, texts[code])


def _by_the_hour(zone: ZoneOfPlan, run: Plan, known: Known) -> Why | None:
    """Why cold or wind speak against the hours of a run, though there are others; None: plants first."""
    assert zone.zone is not None
    assert zone.wanted is not None
    begins = dt.datetime.fromisoformat(run["start"]).timestamp()
    ends = begins + run["run_time_s"]
    rules = zone_rules(known.garden, zone.zone.rules, zone.id)
    winds = [
        hour.wind_2m_m_s
        for hour in known.by_hour
        if hour.wind_2m_m_s is not None and begins < hour.start_s + HOUR_S and hour.start_s < ends
    ]
    limit_m_s, wind_m_s = rules.wind_limit_m_s, max(winds, default=0.0)
    is_overhead = catalogue.method(zone.zone.watering.method).overhead
    if is_overhead and limit_m_s is not None and wind_m_s > limit_m_s:
        if zone.wanted.is_pressing:
            return None
        text = f"Wind of {wind_m_s:.1f} m/s at 2 m is forecast for its time, above {limit_m_s:g} m/s."
        return Why(TOO_WINDY, text)
    return Why(FROST_RISK, "Its time, or the three hours after it, may be too cold by the newest forecast.")


def _lies_in(run: Plan, windows: Sequence[Window]) -> bool:
    opens = dt.datetime.fromisoformat(run["start"]).timestamp()
    closes = opens + run["run_time_s"]
    return any(first - SLACK_S <= opens and closes <= last + SLACK_S for first, last in windows)
