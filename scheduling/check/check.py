"""What is odd about when nobody is there."""

import datetime as dt
import itertools
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from scheduling import catalogue
from scheduling.check.hours import HoursOverYear, hours_findings, rules_findings
from scheduling.decision.endurance import (
    SUMMER_DAY_ETO_MM,
    container_findings,
    days_findings,
    days_unwatered,
    peak_coefficient,
)
from scheduling.fao56.root_zone import depletion_fraction_for_demand
from scheduling.garden.description import Garden, Watering
from scheduling.landscape.application import gross_depth_mm, run_time_s, volume_of_depth_l
from scheduling.plan.notes import MUCH_LONGER, season_ends
from scheduling.reasons import Finding, Note, within
from scheduling.reasons.description_notes import KeptAlive, PlantingDateUnknown
from scheduling.reasons.findings import (
    AbsenceByHand,
    AbsenceOver,
    AbsencesOverlap,
    EfficiencyAbovePublished,
    FlowBelowMeter,
    PlantsDifferInSummer,
    RateAboveIntake,
    RunLongerThanHours,
    SmallestDepthLarge,
)
from scheduling.tap.runs import openings_of, rests_of
from scheduling.zone.crop import PRINTED_CLIMATE
from scheduling.zone.from_catalogue import all_numbers
from scheduling.zone.numbers import ZoneNumbers


def absence_findings(
    zones: Sequence[ZoneNumbers], garden: Garden, dates: Sequence[dt.date]
) -> Iterator[Finding]:
    """Absences that are over or overlap, and what is watered by hand through them."""
    today = dates[0]
    places = {away: place for place, away in reversed(list(enumerate(garden.absence)))}
    for away, place in places.items():
        if away.returns_on < today:
            yield Finding(f"/absence/{place}", AbsenceOver(away.leaves_on, away.returns_on))
    for away, following in itertools.pairwise(sorted(garden.absence)):
        if following.leaves_on < away.returns_on:
            yield Finding(
                f"/absence/{places[following]}",
                AbsencesOverlap(following.leaves_on, away.leaves_on, away.returns_on),
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
            within(numbers.zone.id, "watering/method"),
            AbsenceByHand(longest_d, lasts_d),
        )


USUAL_DEMAND_MM: Final = 5.0
"""The demand that FAO-56 table 22 prints p for: RAW is taken at it."""


def check_garden(garden: Garden, hours: HoursOverYear) -> tuple[Finding, ...]:
    """Everything that is odd about a garden, zone by zone, then its hours and rules.

    Parameters
    ----------
    hours : HoursOverYear
        The watering hours of the year to come.

    Raises
    ------
    InvalidGarden, UnknownName
        The numbers of a zone are impossible; the error lists all such zones.
    """
    numbers = all_numbers(garden)
    findings: list[Finding] = []
    for stands in numbers:
        findings.extend(_differing(stands))
        findings.extend(_first_of_each(_of_stand(stand, garden, hours) for stand in stands))
        findings.extend(rules_findings(stands[0].zone, garden, hours.dates))
    thirstiest = [max(stands, key=lambda stand: peak_coefficient(stand.growth)) for stands in numbers]
    findings.extend(hours_findings(thirstiest, garden, hours))
    if garden.absence:
        findings.extend(absence_findings(thirstiest, garden, hours.dates))
    return tuple(findings)


def _first_of_each(findings: Iterable[Iterable[Finding]]) -> Iterator[Finding]:
    """Findings of several plantings, with each code and place only once."""
    seen: set[tuple[str, str]] = set()
    for of_one in findings:
        new = [finding for finding in of_one if (finding.code, finding.pointer) not in seen]
        seen.update((finding.code, finding.pointer) for finding in new)
        yield from new


def _differing(stands: Sequence[ZoneNumbers]) -> Iterator[Finding]:
    """Plantings on one valve whose water needs differ widely."""
    soonest, latest = min(stands, key=_lasts_d), max(stands, key=_lasts_d)
    if _lasts_d(latest) >= MUCH_LONGER * _lasts_d(soonest):
        yield Finding(
            within(stands[0].zone.id, "planting/plants"),
            PlantsDifferInSummer(
                catalogue.plant(soonest.planting.plant).called,
                _lasts_d(soonest),
                catalogue.plant(latest.planting.plant).called,
                _lasts_d(latest),
            ),
        )


def _lasts_d(numbers: ZoneNumbers) -> float:
    """How long a full RAW lasts in summer. [d]"""
    return readily_available_mm(numbers) / (peak_coefficient(numbers.growth) * USUAL_DEMAND_MM)


def _of_stand(zone: ZoneNumbers, garden: Garden, hours: HoursOverYear) -> Iterator[Finding]:
    yield from _notes(zone)
    yield from _season(zone, hours.dates[0])
    yield from _efficiency(zone)
    yield from _meter(zone)
    yield from _smallest_depth(zone)
    yield from _intake(zone)
    yield from _length(zone, hours)
    yield from container_findings(zone, garden, hours.dates, hours.has_two_spans)
    yield from days_findings(zone, garden, hours.dates)


def readily_available_mm(numbers: ZoneNumbers) -> float:
    """RAW of the grown plants on a day of usual demand. [mm]"""
    return numbers.depletion_fraction * numbers.total_available_mm(numbers.growth.root_depth_m)


def refill_mm(numbers: ZoneNumbers) -> float:
    """One refill of what drips and sprays can reach of RAW, net. [mm]"""
    return max(numbers.smallest_depth_mm, numbers.wetted_share * readily_available_mm(numbers))


def refill_s(numbers: ZoneNumbers) -> float:
    """How long the valve is open for one refill. [s]"""
    volume_l = volume_of_depth_l(gross_depth_mm(refill_mm(numbers), numbers.efficiency), numbers.zone.area_m2)
    return run_time_s(volume_l, numbers.flow_l_min)


def _flow_field(watering: Watering) -> str:
    """The field that says how much flows."""
    for name in ("flow_l_min", "rate_mm_h", "emitters"):
        if getattr(watering, name) is not None:
            return f"watering/{name}"
    return "watering"


def _notes(numbers: ZoneNumbers) -> Iterator[Finding]:
    """What was already odd when the numbers were put in place."""
    for note in numbers.notes:
        yield Finding(within(numbers.zone.id, _part_of(note, numbers)), note)


def _season(numbers: ZoneNumbers, today: dt.date) -> Iterator[Finding]:
    note = season_ends(numbers, today, PRINTED_CLIMATE)
    if note is not None:
        yield Finding(within(numbers.zone.id, "planting"), note)


def _part_of(note: Note, numbers: ZoneNumbers) -> str:
    if isinstance(note, PlantingDateUnknown):
        return "planting"
    if isinstance(note, KeptAlive):
        return "planting/aim"
    return _flow_field(numbers.zone.watering)


def _efficiency(numbers: ZoneNumbers) -> Iterator[Finding]:
    given = numbers.zone.watering.efficiency
    method = catalogue.method(numbers.zone.watering.method)
    if given is not None and given > method.efficiency_best:
        yield Finding(
            within(numbers.zone.id, "watering/efficiency"),
            EfficiencyAbovePublished(given, method.efficiency_best, method.efficiency),
        )


def _meter(numbers: ZoneNumbers) -> Iterator[Finding]:
    valve, flow_l_min = numbers.zone.valve, numbers.flow_l_min
    if valve.meter and flow_l_min < valve.min_flow_l_min:
        yield Finding(
            within(numbers.zone.id, "valve/min_flow_l_min"),
            FlowBelowMeter(flow_l_min, valve.min_flow_l_min),
        )


def _smallest_depth(numbers: ZoneNumbers) -> Iterator[Finding]:
    given_mm, raw_mm = numbers.zone.watering.smallest_depth_mm, readily_available_mm(numbers)
    if given_mm is not None and given_mm > 0.5 * raw_mm:
        yield Finding(
            within(numbers.zone.id, "watering/smallest_depth_mm"),
            SmallestDepthLarge(given_mm, raw_mm),
        )


def _intake(numbers: ZoneNumbers) -> Iterator[Finding]:
    """Water that comes faster than the ground takes it in, for longer than its surface holds it."""
    zone = numbers.zone
    method = catalogue.method(zone.watering.method)
    # What drips and soaks wets spots: a few more runs of it are nothing odd.
    if method.wetted_share < 1.0 or refill_s(numbers) <= numbers.longest_run_s:
        return
    openings = openings_of(numbers, refill_mm(numbers))
    yield Finding(
        within(zone.id, _flow_field(zone.watering)),
        RateAboveIntake(
            rate_mm_h=numbers.surface_rate_mm_h,
            slope_pct=zone.site.slope_pct,
            intake_mm_h=numbers.intake_mm_h,
            longest_run_s=numbers.longest_run_s,
            refill_s=refill_s(numbers),
            runs=len(openings),
            rest_s=rests_of(numbers, openings).between_s,
        ),
    )


def _length(numbers: ZoneNumbers, hours: HoursOverYear) -> Iterator[Finding]:
    if hours.shortest is None or hours.closed:
        return
    seconds, (date, night_s) = refill_s(numbers), hours.shortest
    if seconds > night_s:
        yield Finding(
            within(numbers.zone.id, _flow_field(numbers.zone.watering)),
            RunLongerThanHours(seconds, date, night_s),
        )
