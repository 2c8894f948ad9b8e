"""What is odd about when a garden may be watered: its hours, its days, its pauses."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from scheduling.decision.endurance import HOT_DAY_ETO_MM, days_each, peak_coefficient
from scheduling.garden.description import Garden, Zone
from scheduling.landscape.application import gross_depth_mm, run_time_s, volume_of_depth_l
from scheduling.reasons import PAUSED, Finding, within
from scheduling.reasons.findings import (
    AllZonesTooLong,
    HoursNeverOpen,
    HoursSometimesClosed,
    NeverWatered,
)
from scheduling.tap.windows import Span
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import rule_against, zone_rules

HOURS: Final = "/rules/watering_hours"


@dataclass(frozen=True, slots=True)
class HoursOverYear:
    """The watering hours of a year to come."""

    dates: Sequence[dt.date]
    """Every date of it."""
    spans: Sequence[tuple[dt.date, tuple[Span, ...]]]
    """Hours on some of them, evenly over the year."""
    described: int
    """How many spans a date should have."""

    @property
    def has_two_spans(self) -> bool:
        """Whether a second run a day is possible, at least at times."""
        return any(len(spans) > 1 for _, spans in self.spans)

    @property
    def closed(self) -> Sequence[dt.date]:
        """Dates on which a span is closed."""
        return [date for date, spans in self.spans if len(spans) < self.described]

    @property
    def shortest(self) -> tuple[dt.date, float] | None:
        """The date with the shortest first span, and its length in seconds; None: it is never open."""
        nights = [(date, length_s(spans[0])) for date, spans in self.spans if spans]
        return min(nights, key=lambda night: night[1], default=None)


def length_s(span: Span) -> float:
    """Length of a span, by elapsed time. [s]"""
    return span.closes.timestamp() - span.opens.timestamp()


def hours_findings(zones: Sequence[ZoneNumbers], garden: Garden, hours: HoursOverYear) -> Iterator[Finding]:
    """Hours that are never open, or not always, or too short for all zones on a hot day."""
    if hours.shortest is None:
        yield Finding(HOURS, HoursNeverOpen())
        return
    if closed := hours.closed:
        months = tuple(sorted({date.month for date in closed}))
        yield Finding(HOURS, HoursSometimesClosed(months))
        return  # how long they are tells nothing before that is mended
    yield from _too_short(zones, garden, hours)


def _too_short(zones: Sequence[ZoneNumbers], garden: Garden, hours: HoursOverYear) -> Iterator[Finding]:
    """All zones together on hot days, each watered on every date it may be, beside the shortest night."""
    assert hours.shortest is not None
    date, night_s = hours.shortest
    gaps_s = garden.water_supply.gap_s * (len(zones) - 1)
    wanted_s = gaps_s + sum(
        _daily_s(numbers) * days_each(zone_rules(garden, numbers.zone.rules, numbers.zone.id), hours.dates)
        for numbers in zones
    )
    supply = garden.water_supply
    if supply.zones_at_once > 1:
        litres = sum(zone.flow_l_min * _daily_s(zone) for zone in zones) / 60.0
        by_flow_s = 0.0 if supply.flow_l_min is None else litres / supply.flow_l_min * 60.0
        wanted_s = max(wanted_s / supply.zones_at_once, by_flow_s)
    if len(zones) > 1 and wanted_s > night_s:
        yield Finding(HOURS, AllZonesTooLong(wanted_s, date, night_s))


def _daily_s(numbers: ZoneNumbers) -> float:
    """Run time of what a zone uses on a hot day. [s]"""
    net_mm = peak_coefficient(numbers.growth) * HOT_DAY_ETO_MM
    volume_l = volume_of_depth_l(gross_depth_mm(net_mm, numbers.efficiency), numbers.zone.area_m2)
    return run_time_s(volume_l, numbers.flow_l_min)


def rules_findings(zone: Zone, garden: Garden, dates: Sequence[dt.date]) -> Iterator[Finding]:
    """Rules that leave a zone no date of the whole year to come."""
    rules = zone_rules(garden, zone.rules, zone.id)
    against = Counter(rule_against(rules, date, False, None) for date in dates)
    if against[None]:
        return
    yield Finding(
        within(zone.id, "rules/pauses") if zone.rules.pauses else "/rules/pauses",
        NeverWatered(dates[0], dates[-1], against[PAUSED] == len(dates)),
    )
