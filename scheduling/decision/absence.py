"""What is different while the owner is away: no plan depends on somebody being there.

On its last chance before, every zone is filled to field capacity. While nobody looks, containers
are watered sooner, and by no promise of rain. What is watered by hand waits, see `rules`.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.garden.description import Absence

CONTAINERS_RAW_SHARE = 0.5
"""Of its readily available water, what a container is let lose while nobody sees it wilt. Our choice."""
DAYS_OF_NOTICE = 5
"""So many days before it begins, plans speak of an absence: time to ask a neighbour. Our choice."""


def absence_on(absence: Sequence[Absence], date: dt.date) -> Absence | None:
    """The absence by which nobody sees what a date's plan does; None: somebody is there."""
    return next((away for away in absence if away.covers(date)), None)


def absence_ahead(absence: Sequence[Absence], date: dt.date) -> Absence | None:
    """The next absence that a date's plan should speak of."""
    soon = [away for away in absence if 0 <= (away.leaves_on - date).days <= DAYS_OF_NOTICE]
    return min(soon, default=None)


def absence_filled_for(index: int, zone: PreparedZone, garden: GardenDays) -> Absence | None:
    """The absence that a date is a zone's last chance before; None: there will be another."""
    date = garden.dates[index]
    next_chance = zone.chances.next_chance[index]
    after = date + dt.timedelta(days=next_chance - index)
    return next((away for away in zone.rules.absence if date <= away.leaves_on < after), None)


def as_nobody_sees_it(index: int, zone: PreparedZone, garden: GardenDays) -> PreparedZone:
    """A zone as it is decided on: a container that nobody sees has a larger margin.

    It counts no rain that has not fallen, and is watered before half of its readily available
    water is used. The ledger stays what it is.
    """
    if zone.numbers.container_mm is None or absence_on(zone.rules.absence, garden.dates[index]) is None:
        return zone
    raw_mm = [CONTAINERS_RAW_SHARE * raw for raw in zone.days.raw_mm]
    allowed_mm = zone.days.allowed_mm
    if allowed_mm is not None:
        allowed_mm = [CONTAINERS_RAW_SHARE * allowed for allowed in allowed_mm]
    days = replace(
        zone.days,
        raw_mm=raw_mm,
        allowed_mm=allowed_mm,
        counted_rain_mm=zone.days.certain_rain_mm,
        ensembles={},
    )
    return replace(zone, rules=replace(zone.rules, counts_forecast_rain=False), days=days)
