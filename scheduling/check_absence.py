"""What is odd about when nobody is there."""

import datetime as dt
import itertools
from collections.abc import Iterator, Sequence

from scheduling.endurance import SUMMER_DAY_ETO_MM, days_unwatered, peak_coefficient
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.finding import Finding, within
from scheduling.garden import Garden
from scheduling.zone_numbers import ZoneNumbers


def absence_findings(
    zones: Sequence[ZoneNumbers], garden: Garden, dates: Sequence[dt.date]
) -> Iterator[Finding]:
    """Absences that are over or overlap, and what is watered by hand through them."""
    today = dates[0]
    places = {away: place for place, away in reversed(list(enumerate(garden.absence)))}
    for away, place in places.items():
        if away.returns_on < today:
            yield Finding(
                "absence-over",
                f"/absence/{place}",
                f"It was from {away.leaves_on} to {away.returns_on}, and is over.",
                "Take it out, or correct its year.",
            )
    for away, following in itertools.pairwise(sorted(garden.absence)):
        if following.leaves_on < away.returns_on:
            yield Finding(
                "absences-overlap",
                f"/absence/{places[following]}",
                f"It begins on {following.leaves_on}, before that from {away.leaves_on} to "
                f"{away.returns_on} ends.",
                "Make one of the two.",
            )
    lengths = [(away.returns_on - away.leaves_on).days for away in garden.absence if away.returns_on >= today]
    for numbers in zones:
        yield from _by_hand(numbers, max(lengths, default=0))


def _by_hand(numbers: ZoneNumbers, longest_d: int) -> Iterator[Finding]:
    if not numbers.zone.is_by_hand:
        return
    taw_mm = numbers.total_available_mm(numbers.growth.root_depth_m)
    etc_mm = peak_coefficient(numbers.growth) * SUMMER_DAY_ETO_MM
    raw_mm = depletion_fraction_for_demand(numbers.depletion_fraction, etc_mm) * taw_mm
    lasts_d = days_unwatered(0.0, etc_mm, taw_mm, raw_mm)
    if lasts_d < longest_d:
        yield Finding(
            "absence-by-hand",
            within(numbers.zone.id, "watering/method"),
            f"It is watered by hand, and nobody is there for {longest_d} days; filled up, it lasts about "
            f"{lasts_d} in summer (reference ET {SUMMER_DAY_ETO_MM:g} mm).",
            "Ask somebody to water it, or give it a valve.",
        )
