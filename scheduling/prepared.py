"""A zone made ready to be reckoned with: its numbers, its rules and its days."""

from dataclasses import dataclass

from scheduling.garden import Garden, Zone
from scheduling.rules import Chances, ZoneRules, chances_of, zone_rules
from scheduling.season import GardenDays, ZoneDays, zone_days
from scheduling.zone import ZoneNumbers, numbers_of


@dataclass(frozen=True, slots=True)
class PreparedZone:
    """One zone over the days of its garden."""

    numbers: ZoneNumbers
    rules: ZoneRules
    days: ZoneDays
    chances: Chances


def prepare_zone(
    zone: Zone, garden: Garden, days: GardenDays, decides_from: int, lowest_on: dict[int, float | None]
) -> PreparedZone:
    """Make a zone ready; raises `UnknownName` and `InvalidGarden` for what cannot be.

    `decides_from` is the first day, by index, on which anything is decided. `lowest_on` replaces
    the lowest temperature of a date, by index: the plan's own date is judged from the opening of
    its watering hours on.
    """
    numbers = numbers_of(zone, garden, days.climate)
    columns = zone_days(numbers, days)
    rules = zone_rules(garden, zone.rules, zone.id, numbers.growth.establishing)
    return PreparedZone(numbers, rules, columns, chances_of(rules, columns, days, decides_from, lowest_on))
