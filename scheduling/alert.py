"""What wants a person's eye: each alert by its code, what it means, and what to do about it.

An alert is read off what is known at a moment; nothing is kept of it. It is gone when its cause is.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

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
