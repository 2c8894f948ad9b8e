"""Every code that is told to people: reasons, notes, findings and alerts."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

DORMANT: Final = "dormant"
PAUSED: Final = "paused"
NOT_A_WATERING_DAY: Final = "not-a-watering-day"
FROST_RISK: Final = "frost-risk"
BEFORE_ABSENCE: Final = "before-absence"
SOIL_MOIST: Final = "soil-moist"
RAIN_EXPECTED: Final = "rain-expected"
TOO_WINDY: Final = "too-windy"
ALLOWANCE_SPENT: Final = "allowance-spent"
HOURS_FULL: Final = "hours-full"
RAIN_NOT_ENOUGH: Final = "rain-not-enough"
SOIL_DRYING_OUT: Final = "soil-drying-out"

REASONS: Final = (
    DORMANT,
    PAUSED,
    NOT_A_WATERING_DAY,
    FROST_RISK,
    BEFORE_ABSENCE,
    SOIL_MOIST,
    RAIN_EXPECTED,
    TOO_WINDY,
    ALLOWANCE_SPENT,
    HOURS_FULL,
    RAIN_NOT_ENOUGH,
    SOIL_DRYING_OUT,
)
"""Every reason to wait, or to water, in order of precedence."""
WATERS = frozenset({BEFORE_ABSENCE, RAIN_NOT_ENOUGH, SOIL_DRYING_OUT})
"""The reasons to water; any other is one to wait."""

Decision = Literal["water", "wait"]


CloseBy = Literal["volume", "time"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a zone is watered or waits: a stable code, and a sentence that may improve."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Note:
    """Something about a zone that its owner should know; no reason to water or to wait."""

    code: str
    text: str


CODES: Final = (
    "absence-by-hand",
    "absence-over",
    "absences-overlap",
    "cannot-last-between-days",
    "container-cannot-last",
    "efficiency-above-published",
    "flow-above-supply",
    "flow-assumed",
    "flow-below-meter",
    "hours-never-open",
    "hours-sometimes-closed",
    "hours-too-short",
    "intake-assumed",
    "leaf-out-assumed",
    "never-watered",
    "planting-date-unknown",
    "plants-differ",
    "rate-above-intake",
    "rate-unusual",
    "run-longer-than-hours",
    "smallest-depth-large",
)
"""Every code that a finding may have; they are stable."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What is odd, where it stands, and what would make sense."""

    code: str
    pointer: str
    """JSON pointer within the garden, `/zones/fescue-lawn/watering/efficiency`."""
    text: str
    """A sentence with the numbers."""
    advice: str
    """What would make sense."""


def within(zone_id: str, part: str) -> str:
    """Pointer to a part of a zone."""
    return f"/zones/{zone_id}/{part}"


def lasting(seconds: float) -> str:
    """A length of time as a sentence tells it: 16 min, 2.5 h."""
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


VALVE_NOT_SHUT: Final = "valve-not-shut"
FROST_AHEAD: Final = "frost-ahead"
CANNOT_KEEP_ALIVE: Final = "cannot-keep-alive"
UNDER_DELIVERED: Final = "under-delivered"
FLOW_HAS_DRIFTED: Final = "flow-has-drifted"
NO_REPORTS: Final = "no-reports"
FORECAST_OLD: Final = "forecast-old"
ALLOWANCE_NEARLY_SPENT: Final = "allowance-nearly-spent"
PROBE_DOUBTFUL: Final = "probe-doubtful"
BATTERY_LOW: Final = "battery-low"

WHAT_TO_DO: Final[Mapping[str, str]] = {
    VALVE_NOT_SHUT: "Look at the valve now and shut it, or the main valve ahead of it. Then complete the run "
    "with what flowed, or tell the valve's state. Where water has run against a building, a wall or a slope, "
    "let somebody qualified look at it.",
    FROST_AHEAD: "Drain battery valves, hoses and filters and bring them in before the cold; drain or cover "
    "what stays outside as its maker says. Backflow preventers are a matter for local codes and licensed "
    "practice. A pause of the garden then keeps the tap shut, and ends this alert.",
    CANNOT_KEEP_ALIVE: "Let it be watered on more days or for longer hours, raise its priority or the "
    "allowance, or give its plants more to root in; by hand, if it is urgent. Local bans go first.",
    UNDER_DELIVERED: "Watch a run: look for a blocked filter or emitter, low pressure, a tap half shut, an "
    "empty battery, or limits of the valve that close it too early.",
    FLOW_HAS_DRIFTED: "Watch a run. Less flow: clean filter and emitters, look at the pressure. More: look "
    "for a burst pipe or a lost emitter. If all is well, give the zone the flow that the meter tells.",
    NO_REPORTS: "See whether the controller reaches the valves and this service. If it is not meant to "
    "report, unreported_watering says how its runs count; look at the soil now and then.",
    FORECAST_OLD: "See whether this machine reaches the network, and whether the source still serves the "
    "place. A second one in weather_sources stands in for the first.",
    ALLOWANCE_NEARLY_SPENT: "Choose what is to live: give it high priority, and let the rest go dry or "
    "pause. Raise allowance_l only as far as your water company and local rules let you.",
    PROBE_DOUBTFUL: "Look at the probe: firm contact with the soil, its cable and battery, its depth. It is "
    "followed again once its readings agree with each other and with the ledger.",
    BATTERY_LOW: "Change the battery: a valve without power may stay as it is, open too.",
}
"""By code, the most urgent first."""


@dataclass(frozen=True, slots=True)
class Alert:
    """Something that wants a person's eye."""

    code: str
    """Stable."""
    zone: str | None
    """None: it concerns the whole garden."""
    since: dt.datetime | dt.date
    """Since when it has been so; of what is forecast, when it begins. Told by the data, not by the clock."""
    text: str

    @property
    def what_to_do(self) -> str:
        """What a person may do about it."""
        return WHAT_TO_DO[self.code]


def urgency(alert: Alert) -> tuple[int, str, str]:
    """What alerts are put in order by: the most urgent first, then by zone."""
    return list(WHAT_TO_DO).index(alert.code), alert.zone or "", alert.text
