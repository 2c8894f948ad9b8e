"""How a zone stands the days between two waterings, in weather of one kind."""

import datetime as dt
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from scheduling.balance.soil_water import close_day
from scheduling.decision.decision import SECOND_RUN_SHARE_OF_TAW
from scheduling.decision.need import LEAST_KS
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.garden.description import Garden, Rules
from scheduling.reasons import Finding, within
from scheduling.reasons.findings import CannotLastBetweenDays, ContainerCannotLast
from scheduling.zone.crop import Growth
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import ZoneRules, rule_against, zone_rules

HOT_DAY_ETO_MM: Final = 8.0
"""Reference ET of a hot, dry, windy day; FAO-56 table 2 has 6 to 9 in warm, dry regions (from memory)."""
SUMMER_DAY_ETO_MM: Final = 5.0
"""Of a summer's day, again and again; FAO-56 table 2 has 4 to 7 in warm, humid regions (from memory)."""
DAYS_UNTIL_STEADY: Final = 60
LONGEST_GAP_LOOKED_AT_D: Final = 31
LONGEST_LOOKED_AT_D: Final = 60
"""What lasts longer than this without water is beyond what a week's weather can tell."""


def container_findings(
    numbers: ZoneNumbers, garden: Garden, dates: Sequence[dt.date], has_two_spans: bool
) -> Iterator[Finding]:
    """A container that runs short on hot days, however it is watered within its rules."""
    if numbers.container_mm is None:
        return
    gap_d = longest_gap_d(zone_rules(garden, numbers.zone.rules, numbers.zone.id), dates)
    etc_mm = peak_coefficient(numbers.growth) * HOT_DAY_ETO_MM
    ks = least_ks(numbers, etc_mm, gap_d, has_two_spans)
    if ks >= LEAST_KS:
        return
    yield Finding(
        within(numbers.zone.id, "soil/container/volume_l"),
        ContainerCannotLast(numbers.container_mm, etc_mm, gap_d, ks, has_two_spans),
    )


def days_findings(numbers: ZoneNumbers, garden: Garden, dates: Sequence[dt.date]) -> Iterator[Finding]:
    """Watering days that are too far apart for what the roots can draw."""
    rules = zone_rules(garden, numbers.zone.rules, numbers.zone.id)
    gap_d = longest_gap_d(rules, dates)
    if numbers.container_mm is not None or gap_d == 1:
        return
    etc_mm = peak_coefficient(numbers.growth) * SUMMER_DAY_ETO_MM
    ks = least_ks(numbers, etc_mm, gap_d, False)
    if ks >= LEAST_KS:
        return
    both = rules.weekdays is not None and rules.odd_even is not None
    yield Finding(
        _where_days_are_ruled(numbers.zone.rules, numbers.zone.id, both),
        CannotLastBetweenDays(gap_d, ks, are_two_rules=both),
    )


def _where_days_are_ruled(own: Rules, zone_id: str, both: bool) -> str:
    """Pointer to the rule that leaves too few days, in the zone if it has one of its own."""
    if own.odd_even is None and own.watering_days is None:
        return "/rules/odd_even" if both else "/rules"
    return within(zone_id, "rules/odd_even" if both and own.odd_even is not None else "rules")


def days_unwatered(
    depletion_mm: float, etc_mm: float, taw_mm: float, raw_mm: float, until_d: int = LONGEST_LOOKED_AT_D
) -> int:
    """How many days pass without water or rain before Ks falls below 0.7, at most `until_d`. [d]

    Days of the same demand, `etc_mm`, from a morning on which so much is missing.
    """
    for days in range(until_d):
        if (taw_mm - depletion_mm) / (taw_mm - raw_mm) < LEAST_KS:
            return days
        depletion_mm = close_day(depletion_mm, 0.0, 0.0, etc_mm, taw_mm, raw_mm)[3]
    return until_d


def longest_gap_d(rules: ZoneRules, dates: Sequence[dt.date]) -> int:
    """Days from one watering day to the next, at the most; pauses, which end, are left out. [d]"""
    days = _watering_days(rules, dates)
    gaps = [(after - before).days for before, after in itertools.pairwise(days)]
    return min(max(gaps, default=1), LONGEST_GAP_LOOKED_AT_D)


def days_each(rules: ZoneRules, dates: Sequence[dt.date]) -> float:
    """How many days each watering day has to serve, on average: 1 where every day is one."""
    return len(dates) / max(1, len(_watering_days(rules, dates)))


def _watering_days(rules: ZoneRules, dates: Sequence[dt.date]) -> list[dt.date]:
    """The dates that weekdays and odd or even dates leave."""
    days = replace(rules, frost_limit_c=None, pauses=())
    return [date for date in dates if rule_against(days, date, False, None) is None]


def peak_coefficient(growth: Growth) -> float:
    """The largest Kc of the year."""
    season = growth.season
    of_season = () if season is None else (season.kc_ini, season.kc_mid, season.kc_end)
    return max(*growth.kc_by_month, *of_season)


def least_ks(numbers: ZoneNumbers, etc_mm: float, gap_d: int, has_two_spans: bool) -> float:
    """The lowest Ks at the end of a day, where it is filled up every so many days without rain.

    Filled as far as the wetted ground takes it; on the way there nothing is counted.
    """
    taw_mm = numbers.total_available_mm(numbers.growth.root_depth_m)
    raw_mm = depletion_fraction_for_demand(numbers.depletion_fraction, etc_mm) * taw_mm
    noon_mm = 0.5 * etc_mm if has_two_spans and etc_mm > SECOND_RUN_SHARE_OF_TAW * taw_mm else 0.0
    depletion, least = 0.0, 1.0
    for day in range(DAYS_UNTIL_STEADY + gap_d):
        waters = day % gap_d == 0
        net_mm = numbers.wetted_share * depletion + noon_mm if waters else 0.0
        depletion = close_day(depletion, 0.0, net_mm, etc_mm, taw_mm, raw_mm)[3]
        if day >= DAYS_UNTIL_STEADY:
            least = min(least, (taw_mm - depletion) / (taw_mm - raw_mm))
    return least
