"""When water may flow to one zone on a date: the watering hours, less bans, cold and wind."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from scheduling.balance.weather import HourAhead
from scheduling.tap.runs import ValveOpening, rests_of
from scheduling.tap.windows import Bans, Span, Windows, calm, calmest, permitted, warm
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import ZoneRules


@dataclass(frozen=True, slots=True)
class DateHours:
    """What is known of the hours of a plan's date."""

    spans: tuple[Span | None, ...]
    """Spans of the watering hours, in order; None for one that is over."""
    bans: Bans = field(default_factory=Bans)
    by_hour: tuple[HourAhead, ...] = ()
    """Temperature and wind by the hour, in order; empty where they are not known."""
    warm: Span | None = None
    """Where warm hours may be looked for beyond the spans, for zones with `frost_warm_hours`."""


@dataclass(frozen=True, slots=True)
class Permission:
    """When water may flow to one zone."""

    windows: tuple[Windows, ...]
    """For each span of the watering hours."""
    moved_to_warm_hours: bool = False
    least_wind_m_s: float | None = None
    """Where every permitted hour is above the wind limit, the wind of the calmest."""
    wind_is_unknown: bool = False
    """The zone has a wind limit of its owner's, and nothing is known of the wind by the hour."""


def permission_of(zone_id: str, rules: ZoneRules, lowest_c: float | None, hours: DateHours) -> Permission:
    """What bans leave of the hours, or of the warm hours of a date on which the hours may freeze.

    `lowest_c` is the lowest temperature to fear from the opening of the hours to the date's end.
    """
    bans = hours.bans.of(zone_id)
    limit_c = rules.frost_limit_c
    freezes = limit_c is not None and lowest_c is not None and lowest_c < limit_c
    if freezes and limit_c is not None and rules.frost_warm_hours and hours.warm is not None:
        first = warm(permitted(hours.warm, bans), hours.by_hour, limit_c)
        later = (warm(permitted(span, bans), hours.by_hour, limit_c) for span in hours.spans[1:])
        if first:
            return Permission((first, *later), moved_to_warm_hours=True)
    return Permission(tuple(permitted(span, bans) for span in hours.spans))


def out_of_the_wind(
    permission: Permission, numbers: ZoneNumbers, rules: ZoneRules, by_hour: Sequence[HourAhead]
) -> Permission:
    """The permission without hours whose wind is above the limit, for water that comes overhead.

    Where all are, the windows stay, and `least_wind_m_s` says how calm it gets.
    """
    limit_m_s = rules.wind_limit_m_s
    if not numbers.is_overhead or limit_m_s is None or not any(permission.windows):
        return permission
    if all(hour.wind_2m_m_s is None for hour in by_hour):
        return replace(permission, wind_is_unknown=rules.wind_limit_is_given)
    windows = tuple(calm(of_span, by_hour, limit_m_s) for of_span in permission.windows)
    if any(windows):
        return replace(permission, windows=windows)
    first = next(of_span for of_span in permission.windows if of_span)
    return replace(permission, least_wind_m_s=calmest(first, by_hour, 0.0)[1])


def in_the_calmest_hours(
    permission: Permission,
    numbers: ZoneNumbers,
    openings: Sequence[ValveOpening],
    by_hour: Sequence[HourAhead],
) -> tuple[Permission, float]:
    """The permission with the calmest of its hours that are long enough, and their wind. [m/s]"""
    rests_s = rests_of(numbers, openings).between_s * (len(openings) - 1)
    needed_s = sum(opening.run_time_s for opening in openings) + rests_s
    first = next(of_span for of_span in permission.windows if of_span)
    limit_m_s = calmest(first, by_hour, needed_s)[1]
    windows = tuple(calm(of_span, by_hour, limit_m_s) for of_span in permission.windows)
    return replace(permission, windows=windows), limit_m_s
