"""A zone prepared for the water balance: its numbers, rules and days."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.zone_series import ZoneDays, with_water, zone_days, zone_days_once
from scheduling.garden.description import Garden, Zone
from scheduling.zone.from_catalogue import stands_of
from scheduling.zone.metering import LearnedFlow
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import Chances, ZoneRules, chances_of, zone_rules
from scheduling.zone.surface_layer import TopLayerState


@dataclass(frozen=True, slots=True)
class PreparedZone:
    """A stand: one planting of a zone over the days of its garden. Most zones have one."""

    numbers: ZoneNumbers
    rules: ZoneRules
    days: ZoneDays
    chances: Chances

    def with_water(
        self, irrigation_mm: Mapping[int, float], first: int, morning: TopLayerState | None = None
    ) -> "PreparedZone":
        """The same with other watering from a day on, see `scheduling.balance.zone_series.with_water`."""
        if self.days.top_layer is None:
            return self
        return replace(self, days=with_water(self.days, irrigation_mm, first, morning))


def prepare_stands(
    zone: Zone,
    garden: Garden,
    days: GardenDays,
    decides_from: int,
    lowest_on: dict[int, float | None],
    learned: LearnedFlow | None = None,
) -> tuple[PreparedZone, ...]:
    """Prepare a zone. Raises `UnknownName` and `InvalidGarden` for impossible values.

    `decides_from` is the first day, by index, on which anything is decided. `lowest_on` replaces
    the lowest temperature of a date, by index: the plan's own date is judged from the opening of
    its watering hours on. `learned` is the flow learned from the zone's meter.
    """
    stands = stands_of(zone, garden, learned)
    return prepared_of(stands, rules_of(stands, garden), days, decides_from, lowest_on, zone_days_once)


def rules_of(stands: Sequence[ZoneNumbers], garden: Garden) -> ZoneRules:
    """The rules of a zone, with the exceptions for its new plantings."""
    zone = stands[0].zone
    new = (numbers.growth.establishing for numbers in stands)
    return zone_rules(garden, zone.rules, zone.id, next((way for way in new if way is not None), None))


def prepared_of(
    stands: Sequence[ZoneNumbers],
    rules: ZoneRules,
    days: GardenDays,
    decides_from: int,
    lowest_on: dict[int, float | None],
    columns_of: Callable[[ZoneNumbers, GardenDays], ZoneDays] = zone_days,
) -> tuple[PreparedZone, ...]:
    """The plantings of a zone over some days; the zone is watered while any of them is not dormant."""
    columns = [columns_of(numbers, days) for numbers in stands]
    dormant = columns[0].dormant
    if len(columns) > 1:
        dormant = [all(asleep) for asleep in zip(*(zone.dormant for zone in columns), strict=True)]
    chances = chances_of(rules, dormant, days.dates, days.lowest_c, decides_from, lowest_on)
    return tuple(
        PreparedZone(numbers, rules, zone, chances) for numbers, zone in zip(stands, columns, strict=True)
    )
