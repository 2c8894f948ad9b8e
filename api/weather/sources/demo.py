"""The source `demo`: weather that is invented, and says so.

For any place and date, from nothing but the two: the same question always has the same answer, and
nothing is asked over a network. Summers are warm and dry with a few showers, winters have frosts
outside the tropics, and south of the equator they come half a year later. Only the sun is real.
"""

import datetime as dt
import hashlib
import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.sources.services import Service
from scheduling.fao56.humidity import dew_point, saturation_vapour_pressure
from scheduling.fao56.radiation import inverse_relative_distance, solar_declination

NAME = "demo"
ATTRIBUTION = Attribution("Invented weather for demonstration. It has never been, and forecasts nothing.")
ELEVATION_M = 50.0
WIND_HEIGHT_M = 10.0
DAYS_AHEAD = 9
SERVICE = Service(
    NAME,
    ATTRIBUTION,
    knows_past=True,
    gives_radiation=True,
    knows="invents weather, and says so; no network",
    make=lambda here: Demo(here.clock),
)

SOLAR_CONSTANT_MJ_M2_H = 4.92
"""FAO-56 equation 28: 0.0820 MJ/m² a minute."""
WARMEST_DAY_OF_YEAR = 201
"""20 July; half a year later in the south."""
SPELL_C = 14.0
"""How far warm and cold spells could be apart at most; seldom more than half of it."""
CHANCE_BESIDE_RAIN = 0.15
"""Said of the other hours of a rainy day."""
DRYING_C = 2.0
"""How far the night's minimum stays above the day's dew point in dry weather."""


class Demo:
    """Invents hours around the present of `clock`, which gives an aware instant."""

    name = NAME

    def __init__(self, clock: Callable[[], dt.datetime]) -> None:
        self._clock = clock

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from `past_days` local days back to 8 ahead; the answer is as old as the clock says."""
        now = self._clock()
        today = now.astimezone(dt.UTC).date()
        first, last = today - dt.timedelta(days=past_days + 1), today + dt.timedelta(days=DAYS_AHEAD)
        start = dt.datetime.combine(first, dt.time(), dt.UTC)
        return HourlyWeather(
            source=NAME,
            attribution=ATTRIBUTION,
            retrieved_at=now,
            elevation_m=ELEVATION_M,
            wind_height_m=WIND_HEIGHT_M,
            hours=tuple(_hours(place, start, 24 * (last - first).days + 24)),
        )


def _hours(place: Place, start: dt.datetime, count: int) -> Iterator[Hour]:
    days: dict[dt.date, _Day] = {}
    for number in range(count):
        moment = start + HOUR * number
        solar = moment + dt.timedelta(hours=place.longitude / 15.0)
        date = solar.date()
        if date not in days:
            days[date] = _invented_day(place, date)
        yield _hour(place, moment, solar, days[date])


class _Day(NamedTuple):
    """What is drawn once for a day of the sun's clock."""

    mean_c: float
    half_range_c: float
    vapour_kpa: float
    wind_m_s: float
    cloud_share: float
    rain_mm: float
    rain_from_hour: int
    rain_hours: int
    """0 on a dry day."""
    rain_probability: float
    """In the hours of the rain, or all day where there is none."""


def _invented_day(place: Place, date: dt.date) -> _Day:
    """The weather of a day; rain falls by night or in the morning, in summer as a late shower."""
    summer = _summer(place, date)
    wetness = max(0.0, 1.0 - _chance(place, date, "rain") / (0.28 - 0.14 * summer))
    cloud_share = min(1.0, 0.08 + 0.85 * wetness + 0.12 * _chance(place, date, "cloud"))
    from_equator = min(90.0, abs(place.latitude))
    mean_c = 27.0 - 0.0065 * from_equator**2 + 0.22 * from_equator * summer
    mean_c += SPELL_C * (_smooth(place, date, "spell") - 0.5)
    half_range_c = 3.0 + 4.5 * (1.0 - cloud_share)
    onset = _chance(place, date, "onset")
    rain_from_hour, rain_hours = (14 + int(4 * onset), 2) if summer > 0.3 else (int(12 * onset), 8)
    wet = wetness > 0.0
    return _Day(
        mean_c=mean_c,
        half_range_c=half_range_c,
        vapour_kpa=saturation_vapour_pressure(mean_c - half_range_c - DRYING_C * (1.0 - cloud_share)),
        wind_m_s=1.4 + 1.8 * _chance(place, date, "wind"),
        cloud_share=cloud_share,
        rain_mm=1.0 + 14.0 * wetness * wetness if wet else 0.0,
        rain_from_hour=rain_from_hour,
        rain_hours=rain_hours if wet else 0,
        rain_probability=0.45 + 0.45 * wetness if wet else 0.08 * _chance(place, date, "doubt"),
    )


def _hour(place: Place, start: dt.datetime, solar: dt.datetime, day: _Day) -> Hour:
    """One hour of a day; `solar` is its start by the sun's clock, whose noon is the sun's highest."""
    hour_of_day = solar.hour + solar.minute / 60.0
    swing = math.cos(2.0 * math.pi * (hour_of_day - 15.0) / 24.0)  # coldest at 3, warmest at 15
    temperature_c = day.mean_c + day.half_range_c * swing
    raining = day.rain_from_hour <= solar.hour < day.rain_from_hour + day.rain_hours
    chance = day.rain_probability if raining or day.rain_hours == 0 else CHANCE_BESIDE_RAIN
    return Hour(
        start=start,
        temperature_c=round(temperature_c, 1),
        dew_point_c=round(dew_point(day.vapour_kpa), 1),
        humidity_pct=round(min(100.0, 100.0 * day.vapour_kpa / saturation_vapour_pressure(temperature_c))),
        wind_m_s=round(day.wind_m_s * (1.0 + 0.45 * max(0.0, swing)), 1),
        solar_mj_m2=round(_solar_mj_m2(place, solar.date(), hour_of_day + 0.5, day.cloud_share), 4),
        cloud_share=round(day.cloud_share, 2),
        rain_mm=round(day.rain_mm / day.rain_hours, 2) if raining else 0.0,
        rain_probability=round(chance, 2),
    )


def _summer(place: Place, date: dt.date) -> float:
    """The season: 1 in the middle of summer, -1 in the middle of winter."""
    day = date.timetuple().tm_yday - WARMEST_DAY_OF_YEAR
    north: float = math.cos(2.0 * math.pi * day / 365.25)
    return north if place.latitude >= 0 else -north


def _solar_mj_m2(place: Place, date: dt.date, hour_of_day: float, cloud_share: float) -> float:
    """Radiation of an hour from the height of the sun in its middle. [MJ/m²]

    Three quarters of what arrives outside the atmosphere on a clear day (FAO-56 equation 37 at
    sea level); under cloud after Kasten and Czeplak (1980).
    """
    day_of_year = date.timetuple().tm_yday
    declination, latitude = solar_declination(day_of_year), math.radians(place.latitude)
    angle = math.pi / 12.0 * (hour_of_day - 12.0)
    height = math.sin(latitude) * math.sin(declination) + (
        math.cos(latitude) * math.cos(declination) * math.cos(angle)
    )
    outside = SOLAR_CONSTANT_MJ_M2_H * inverse_relative_distance(day_of_year) * max(0.0, height)
    return 0.75 * outside * (1.0 - 0.75 * math.pow(cloud_share, 3.4))


def _smooth(place: Place, date: dt.date, what: str) -> float:
    """Spells of a few days: the mean of the chances of five."""
    days = (date + dt.timedelta(days=offset) for offset in range(-2, 3))
    return sum(_chance(place, day, what) for day in days) / 5.0


def _chance(place: Place, date: dt.date, what: str) -> float:
    """A number from 0 to 1 that looks like chance, and is always the same for the same question."""
    question = f"{what} {date.isoformat()} {place.latitude:.3f},{place.longitude:.3f}"
    digest = hashlib.blake2b(question.encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big") / 2**64
