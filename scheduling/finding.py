"""Something odd about a garden, told before it costs water."""

from dataclasses import dataclass
from typing import Final

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
