"""How much water a zone needs on a date, to last until its next chance to water.

Two questions are asked backwards, from the day before the next chance to the date itself: how
dry may the zone start, so that every day closes at RAW, and so that Ks never falls below 0.7?
The depletion above the answer is what watering has to make up.
"""

from collections.abc import Sequence
from typing import NamedTuple

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.balance.zone_series import ZoneDays

LEAST_KS = 0.7
"""Stress that a zone may be left to, should tomorrow's rain not come. Our choice, no source."""
DAYS_LEFT_FOR_RAIN = 3
"""Forecast rain of so many days is left room for by its depth, later rain by the season's mean."""
SHARE_OF_LATER_RAIN = 0.7
"""Part of the season's mean rain to count beyond the forecast and to leave room for; the same caution as
for forecast rain."""
LARGEST_ROOM_SHARE = 0.7
"""Room for rain never takes more than this share of the depletion."""


class Need(NamedTuple):
    """What a date asks of a zone's watering. All depths are net, over the whole zone."""

    dry_mm: float
    """What would close every day at RAW though no forecast rain fell; the season's mean rain as below."""
    at_raw_mm: float
    """What closes every day before the next chance at RAW, with counted rain and, beyond the forecast, a
    part of the season's mean rain."""
    unstressed_mm: float
    """What keeps Ks at 0.7 on those days should none of the date's forecast rain fall."""
    room_mm: float
    """What is left for rain to fill."""
    cap_mm: float
    """What the wetted ground can take up: wetted share x (depletion - what has fallen for the date)."""

    @property
    def least_mm(self) -> float:
        """Just enough to last to the next chance."""
        return max(self.at_raw_mm, self.unstressed_mm)


def need_on(
    index: int, next_chance: int, depletion_mm: float, prepared: PreparedZone, garden: GardenDays
) -> Need:
    """Reckon what a zone needs on a date.

    Parameters
    ----------
    index, next_chance : int
        The date, and the next one on which the zone may be watered, in the columns.
    depletion_mm : float
        Dr at the start of the date, less what has already been delivered for it. [mm]
    """
    zone, numbers = prepared.days, prepared.numbers
    counted = zone.counted_rain_mm
    certain = zone.certain_rain_mm
    without_rain_today = certain[index]
    dry_rain = _with_mean_rain(certain, index, next_chance, prepared, garden)
    dry = depletion_mm - driest_start_at_raw(index, next_chance, zone, dry_rain)
    rain = _with_mean_rain(counted, index, next_chance, prepared, garden)
    at_raw = depletion_mm - driest_start_at_raw(index, next_chance, zone, rain)
    unstressed = depletion_mm - driest_start_unstressed(index, next_chance, zone, counted, without_rain_today)
    return Need(
        dry_mm=max(0.0, dry),
        at_raw_mm=max(0.0, at_raw),
        unstressed_mm=max(0.0, unstressed),
        room_mm=_room(index, depletion_mm, prepared, garden),
        cap_mm=numbers.wetted_share * max(0.0, depletion_mm - without_rain_today),
    )


def _with_mean_rain(
    rain_mm: Sequence[float], index: int, next_chance: int, prepared: PreparedZone, garden: GardenDays
) -> Sequence[float]:
    """Daily rain with what the season commonly brings on the days beyond the forecast. [mm]

    Demand is looked at up to the next chance, so rain is too. Never for the date itself.
    """
    first = max(garden.known, index + 1)
    daily_mm = SHARE_OF_LATER_RAIN * prepared.numbers.rain_share * garden.mean_rain_mm
    if next_chance <= first or daily_mm == 0.0 or not prepared.rules.counts_forecast_rain:
        return rain_mm
    return [*rain_mm[:first], *(fallen + daily_mm for fallen in rain_mm[first:next_chance])]


def driest_start_at_raw(index: int, next_chance: int, zone: ZoneDays, rain_mm: Sequence[float]) -> float:
    """Largest depletion on the morning of a date from which every day still closes at RAW, or at what is
    allowed in its place. [mm]

    Below 0 where even a full root zone would pass RAW. Of a later day that not even a full root
    zone outlasts, a full one is all that is asked: rain that fills it cannot be bettered.
    """
    due = zone.due_mm
    last = next_chance - 1
    allowed = _start(due[last], zone, last) + rain_mm[last]
    for day in range(last - 1, index - 1, -1):
        # A day that closes at RAW or wetter has Ks = 1, so it adds its whole ETc.
        allowed = _start(min(max(allowed, 0.0), due[day]), zone, day) + rain_mm[day]
    return allowed


def _start(closing_mm: float, zone: ZoneDays, day: int) -> float:
    """Depletion before a day's ETc that leads to a given one after it, which may be allowed beyond RAW."""
    etc_mm, taw_mm, raw_mm = zone.etc_mm[day], zone.taw_mm[day], zone.raw_mm[day]
    if zone.allowed_mm is None or closing_mm <= raw_mm + etc_mm or etc_mm >= taw_mm - raw_mm:
        return closing_mm - etc_mm
    soil_mm = 0.0 if zone.evaporation_mm is None else zone.evaporation_mm[day]
    return _start_that_closes_at(closing_mm - soil_mm, etc_mm - soil_mm, taw_mm, raw_mm)


def driest_start_unstressed(
    index: int, next_chance: int, zone: ZoneDays, rain_mm: Sequence[float], rain_today_mm: float
) -> float:
    """Largest depletion on the morning of a date from which Ks never falls below 0.7. [mm]

    `rain_today_mm` stands for the date's own rain in place of what `rain_mm` has for it. Below 0
    where even a full root zone would fall below; infinite where any start will do.
    """
    etc, taw, raw, evaporation = zone.etc_mm, zone.taw_mm, zone.raw_mm, zone.evaporation_mm
    due = zone.due_mm
    last = next_chance - 1
    allowed = float("inf")
    for day in range(last, index - 1, -1):
        # Where more is allowed than leaves Ks at 0.7, that is what may be left.
        limit = max(taw[day] - LEAST_KS * (taw[day] - raw[day]), 0.0 if due is raw else due[day])
        if allowed < min(limit + etc[day], taw[day]):
            closing = max(allowed, 0.0)  # where full is not enough, full is all that is asked
            soil = 0.0 if evaporation is None else evaporation[day]
            # Bare soil knows no stress: what it loses comes off on the way back, and the rest is stressed.
            start = _start_that_closes_at(closing - soil, etc[day] - soil, taw[day], raw[day])
            limit = min(limit, start)
        allowed = limit + (rain_mm[day] if day > index else rain_today_mm)
        if allowed >= taw[day]:
            allowed = float("inf")
    return allowed


def _start_that_closes_at(closing_mm: float, etc_mm: float, taw_mm: float, raw_mm: float) -> float:
    """Depletion before a day's ETc that leads to a given one after it: `close_day` turned round.

    The given one is below TAW; where ETc is not below TAW - RAW, it is then at most RAW + ETc.
    """
    if closing_mm <= raw_mm + etc_mm:
        return closing_mm - etc_mm
    # closing = start + ETc (TAW - start) / (TAW - RAW), solved for start.
    stressed = taw_mm - raw_mm
    return (closing_mm * stressed - etc_mm * taw_mm) / (stressed - etc_mm)


def _room(index: int, depletion_mm: float, prepared: PreparedZone, garden: GardenDays) -> float:
    """Depth to leave for rain: what is counted on in the next days, then the season's mean rain
    for as long as a full RAW outlasts them. [mm]"""
    zone = prepared.days
    soon = slice(index, index + DAYS_LEFT_FOR_RAIN)
    counted = sum(zone.counted_rain_mm[soon])
    daily_etc = sum(zone.etc_mm[soon]) / DAYS_LEFT_FOR_RAIN
    later_days = 0.0
    if daily_etc > 0.0:
        later_days = max(0.0, zone.due_mm[index] / daily_etc - DAYS_LEFT_FOR_RAIN)
    if not prepared.rules.counts_forecast_rain:
        later_days = 0.0
    later = SHARE_OF_LATER_RAIN * prepared.numbers.rain_share * garden.mean_rain_mm * later_days
    return min(counted + later, LARGEST_ROOM_SHARE * depletion_mm)


def first_day_past_raw(
    index: int, next_chance: int, depletion_mm: float, irrigation_mm: float, zone: ZoneDays
) -> int | None:
    """The first day before the next chance that closes past RAW in spite of the watering."""
    for day in range(index, next_chance):
        depletion_mm = zone.close(day, depletion_mm, irrigation_mm if day == index else 0.0)[3]
        if depletion_mm > zone.due_mm[day] + 1e-9:
            return day
    return None
