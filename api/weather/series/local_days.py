"""The one step from hours in UTC to the local calendar days of a place."""

import bisect
import datetime as dt
import itertools
import math
import operator
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from api.weather.series.gap_filling import expected_rain_mm
from api.weather.series.hours import HOUR, Hour, HourlyWeather
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.fao56.humidity import dew_point, vapour_pressure_from_dew_point

ONE_DAY = dt.timedelta(days=1)
NOON = dt.timedelta(hours=12)
MOST_HOURS_ASSUMED = 12
"""Half of a day: of one that was mostly over, nothing is made up. Our choice, no source."""


def local_days(weather: HourlyWeather, zone: ZoneInfo) -> tuple[WeatherDay, ...]:
    """All local days that the hours touch, in ascending order and without a gap.

    A day runs from one local midnight to the next: 23, 24 or 25 hours, or what else the zone's
    clocks make of it. A sum, mean or extreme with an hour missing is None: a day that is known in
    part is incomplete, it is not a smaller day. So the first and the last day usually are; but of the
    day on which a source without past was first asked, a few hours are assumed, and their number told.
    """
    if not weather.hours:
        return ()
    by_start = {hour.start: hour for hour in weather.hours}
    assumed = _hours_before_it_began(weather, zone, by_start)
    by_start.update((hour.start, hour) for hour in assumed)
    first = weather.hours[0].start.astimezone(zone).date()
    last = weather.hours[-1].start.astimezone(zone).date()
    if _midnight(last + ONE_DAY, zone) < weather.hours[-1].start + HOUR:
        last += ONE_DAY  # local midnight cuts the last hour
    dates = (first + ONE_DAY * number for number in range((last - first).days + 1))
    spans = ((date, _midnight(date, zone), _midnight(date + ONE_DAY, zone)) for date in dates)
    # A zone that crosses the date line leaves a date out: a span of no length.
    days = [
        _day(date, end, _hours_of_day(start, end, by_start), weather)
        for date, start, end in spans
        if start < end
    ]
    if assumed:
        begun = (assumed[-1].start + HOUR).astimezone(zone).date()
        days = [replace(day, hours_assumed=len(assumed)) if day.date == begun else day for day in days]
    return tuple(
        replace(day, rain_day_before_mm=expected_rain_mm(before))
        for before, day in itertools.pairwise((WeatherDay(first - ONE_DAY), *days))
    )


def _hours_before_it_began(
    weather: HourlyWeather, zone: ZoneInfo, by_start: Mapping[dt.datetime, Hour]
) -> list[Hour]:
    """Hours of the day under way that were over when a source without past was first asked.

    Each is like the same hour of the day after, and without rain: a garden that is new by night would
    else have no weather for that date. None at all where more than half of the day was over.
    """
    begins = next((hour.start for hour in weather.hours if hour.temperature_c is not None), None)
    if weather.knows_past or begins is None:
        return []
    midnight = _midnight(begins.astimezone(zone).date(), zone)
    over = list(_whole_hours(_whole_hour(midnight), begins))
    if len(over) > MOST_HOURS_ASSUMED:
        return []
    return [
        _like(alike, moment, by_start.get(moment))
        for moment in over
        if (alike := by_start.get(moment + ONE_DAY)) is not None
    ]


def _like(hour: Hour, start: dt.datetime, told: Hour | None) -> Hour:
    """An hour like another one, but for its rain: what sources say of it, or none."""
    if told is not None and told.rain_mm is not None:
        rain_mm: float | None = told.rain_mm
        chance = told.rain_probability
    else:
        rain_mm = None if hour.rain_mm is None else 0.0
        chance = None if hour.rain_probability is None else 0.0
    return replace(
        hour, start=start, rain_mm=rain_mm, rain_probability=chance, rain_members_mm=None, eto_mm=None
    )


def lowest_temperature_c(hours: Sequence[Hour], start: dt.datetime, end: dt.datetime) -> float | None:
    """The lowest temperature of the hours that the span from `start` to `end` touches. [°C]

    None where one of them is missing or unknown, and for an empty span. `hours` ascend.
    """
    position = bisect.bisect_left(hours, _whole_hour(start), key=operator.attrgetter("start"))
    lowest: float | None = None
    for offset, expected in enumerate(_whole_hours(_whole_hour(start), end)):
        if position + offset >= len(hours):
            return None
        hour = hours[position + offset]
        if hour.start != expected or hour.temperature_c is None:
            return None
        lowest = min(_known_ones((lowest, hour.temperature_c, hour.low_c)))
    return lowest


def _midnight(date: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The instant at which a local date begins, in UTC; where clocks skip midnight, that moment."""
    return dt.datetime.combine(date, dt.time(), zone).astimezone(dt.UTC)


def _whole_hour(instant: dt.datetime) -> dt.datetime:
    """The last whole hour of UTC not after an instant."""
    return instant.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)


def _whole_hours(start: dt.datetime, end: dt.datetime) -> Iterator[dt.datetime]:
    while start < end:
        yield start
        start += HOUR


@dataclass(frozen=True, slots=True)
class _HoursOfDay:
    """The hours that a local day touches, those that nobody told among them with nothing known."""

    start: dt.datetime
    hours: tuple[Hour, ...]
    shares: tuple[float, ...]
    """Of each hour, what lies within the day: below 1 where the zone's midnight is not a whole hour of
    UTC, as in India or Newfoundland."""

    def readings(self, quantity: str) -> list[float]:
        """Values that belong to the day in which they are read; none at all where one is missing."""
        first = 1 if self.hours[0].start < self.start else 0
        return _all_known(getattr(hour, quantity) for hour in self.hours[first:])

    def extremes(self, quantity: str) -> list[float]:
        """What is known of minima or maxima between readings."""
        first = 1 if self.hours[0].start < self.start else 0
        return _known_ones(getattr(hour, quantity) for hour in self.hours[first:])

    def sum_of(self, quantity: str, count: int | None = None) -> float | None:
        """The sum over the first so many hours, or all; None where one is missing."""
        known = _all_known(getattr(hour, quantity) for hour in self.hours[:count])
        return math.fsum(map(operator.mul, known, self.shares)) if known else None

    def members_mm(self, asked: dt.datetime) -> tuple[float, ...] | None:
        """Rain in each member of an ensemble, what has fallen being the same for all.

        None where an hour to come has no members. [mm]
        """
        fallen_mm, to_come = 0.0, []
        for hour, share in zip(self.hours, self.shares, strict=True):
            if hour.rain_members_mm is not None:
                to_come.append([member_mm * share for member_mm in hour.rain_members_mm])
            elif hour.start + HOUR <= asked and hour.rain_mm is not None:
                fallen_mm += hour.rain_mm * share
            else:
                return None
        if not to_come or len({len(members) for members in to_come}) > 1:
            return None
        return tuple(fallen_mm + math.fsum(member) for member in zip(*to_come, strict=True))


def _hours_of_day(start: dt.datetime, end: dt.datetime, by_start: Mapping[dt.datetime, Hour]) -> _HoursOfDay:
    starts = list(_whole_hours(_whole_hour(start), end))
    return _HoursOfDay(
        start,
        tuple(by_start.get(moment) or Hour(moment) for moment in starts),
        tuple((min(moment + HOUR, end) - max(moment, start)) / HOUR for moment in starts),
    )


def _day(date: dt.date, end: dt.datetime, day: _HoursOfDay, weather: HourlyWeather) -> WeatherDay:
    asked = weather.retrieved_at
    over = sum(hour.start + HOUR <= asked for hour in day.hours)
    before_noon = sum(hour.start < day.start + NOON for hour in day.hours)
    temperatures = day.readings("temperature_c")
    # Minima and maxima between the readings refine a day whose readings are all there.
    lows = day.extremes("low_c") if temperatures else []
    highs = day.extremes("high_c") if temperatures else []
    humidities, winds = day.readings("humidity_pct"), day.readings("wind_m_s")
    # The chance for the day is that of its likeliest hour still to come. Hours of one front are
    # anything but independent, so combining them as if they were would promise rain; the largest
    # is the one figure that the day's chance cannot be below.
    to_come = day.hours[over:] if weather.knows_past else day.hours
    is_under_way = weather.knows_past and day.start < asked < end
    is_past = weather.knows_past and end <= asked
    return WeatherDay(
        date=date,
        t_min_c=min(temperatures + lows, default=None),
        t_max_c=max(temperatures + highs, default=None),
        t_dew_c=_mean_dew_point_c(day.readings("dew_point_c")),
        rh_min_pct=min(humidities, default=None),
        rh_max_pct=max(humidities, default=None),
        rh_mean_pct=_mean(humidities),
        wind_m_s=_mean(winds),
        wind_height_m=weather.wind_height_m,
        wind_max_m_s=max(winds, default=None),
        solar_mj_m2=day.sum_of("solar_mj_m2"),
        sunshine_h=day.sum_of("sunshine_h"),
        cloud_share=_mean(day.readings("cloud_share")),
        rain_mm=day.sum_of("rain_mm"),
        rain_until_noon_mm=day.sum_of("rain_mm", before_noon),
        rain_fallen_mm=day.sum_of("rain_mm", over) if is_under_way else None,
        rain_probability=max(_all_known(hour.rain_probability for hour in to_come), default=None),
        rain_is_expected_value=bool(to_come) and all(hour.rain_members_mm is not None for hour in to_come),
        rain_members_mm=day.members_mm(asked),
        source_eto_mm=day.sum_of("eto_mm"),
        origin=Origin.ANALYSED if is_past else Origin.FORECAST,
        source=weather.source,
        retrieved_at=asked,
    )


def _known_ones(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _all_known(values: Iterable[float | None]) -> list[float]:
    """The values, or none at all where one of them is missing."""
    known: list[float] = []
    for value in values:
        if value is None:
            return []
        known.append(value)
    return known


def _mean(values: list[float]) -> float | None:
    return math.fsum(values) / len(values) if values else None


def _mean_dew_point_c(dew_points_c: list[float]) -> float | None:
    """The dew point of the day's mean vapour pressure. [°C]

    What a day's evapotranspiration wants is the mean vapour pressure, to which FAO-56 equation 14
    leads back from here. The curve bends upwards, so the mean of the dew points would stand for
    too little vapour on a day on which they vary.
    """
    mean_kpa = _mean([vapour_pressure_from_dew_point(value) for value in dew_points_c])
    return None if mean_kpa is None else dew_point(mean_kpa)
