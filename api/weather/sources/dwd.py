"""Germany's weather service DWD through Bright Sky, the source `dwd`.

Observations of stations and their forecasts (MOSMIX) in one list, hour by hour: back to 2010 and
about ten days ahead. Stations are dense in Germany, and there are some on every continent; nothing
is answered where none is within 50 km. Nearly every value may be missing: forecasts have no
relative humidity, and often no radiation, where sunshine or cloud stand in for it. Nothing is
corrected for the height of the station. Bright Sky is free software and can be hosted anywhere.
Format: https://brightsky.dev/docs/
"""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from api.weather.errors import PAUSE_AFTER_REFUSAL_S, BadAnswer, Forbidden, Refused
from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, HourlyWeather
from api.weather.sources import decode as reading
from api.weather.sources.services import Service, Setting, address

if TYPE_CHECKING:
    from api.weather.sources.session import WeatherSession

NAME: Final = "dwd"
URL: Final = "https://api.brightsky.dev"
PATH: Final = "/weather"
ATTRIBUTION: Final = Attribution(
    "Datenbasis: Deutscher Wetterdienst, eigene Bearbeitung"
    " (source: Deutscher Wetterdienst, through https://brightsky.dev/, made into local days)",
    "https://www.dwd.de/copyright",
)
WIND_HEIGHT_M: Final = 10.0
MOST_PAST_DAYS: Final = 400
"""A season and a month; a question for more would have an answer of several megabytes."""
DAYS_AHEAD: Final = 10
"""To midnight of UTC that begins the tenth day after today; the stations' forecasts go no further."""
CHANCE: Final = "precipitation_probability_6h"
CHANCE_OF_HOURS: Final = 6
"""What the latter looks back on."""

SERVICE: Final = Service(
    NAME,
    ATTRIBUTION,
    knows_past=True,
    gives_radiation=True,
    knows="dense in Germany, and some places elsewhere; past days; radiation at times "
    "(Deutscher Wetterdienst through Bright Sky)",
    make=lambda here: Dwd(here.session, base_url=here.settings.get("DWD_URL"), clock=here.clock),
    settings=(Setting("DWD_URL", address, "the service's own", "another address of `dwd`"),),
    only_where="where a station is within 50 km",
)


class Field(NamedTuple):
    """One value of a record, and how it becomes one of our quantities."""

    name: str
    quantity: str
    convert: reading.Convert
    of_hour_before: bool
    """True if it covers the hour up to its time, false if it is the value at that moment."""


FIELDS: Final = (
    Field("temperature", "temperature_c", reading.same, False),
    Field("dew_point", "dew_point_c", reading.same, False),
    Field("relative_humidity", "humidity_pct", reading.same, False),
    Field("cloud_cover", "cloud_share", reading.times(0.01), False),
    Field("wind_speed", "wind_m_s", reading.times(1 / 3.6), True),
    Field("precipitation", "rain_mm", reading.same, True),
    Field("solar", "solar_mj_m2", reading.times(3.6), True),
    Field("sunshine", "sunshine_h", reading.times(1 / 60), True),
    Field("precipitation_probability", "rain_probability", reading.times(0.01), True),
)
"""In the service's units `dwd`, which are asked for: °C, %, km/h, mm, kWh/m², minutes."""


class Dwd:
    """Asks Bright Sky. `clock` gives the present instant, aware."""

    name = NAME

    def __init__(
        self, session: "WeatherSession", *, base_url: str | None = None, clock: Callable[[], dt.datetime]
    ) -> None:
        base = (base_url or URL).rstrip("/").removesuffix(PATH)
        self._session = session
        self._url = base + PATH
        self._clock = clock
        session.accept(self._url, NAME, self._check)
        session.accept(base, NAME, self._check)

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from at least `past_days` local days back (400 at most) to about 9 ahead.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        latitude, longitude = place.coordinates
        today = self._clock().astimezone(dt.UTC).date()
        first = today - dt.timedelta(days=min(past_days, MOST_PAST_DAYS) + 1)
        parameters = {
            "lat": latitude,
            "lon": longitude,
            "date": first.isoformat(),
            "last_date": (today + dt.timedelta(days=DAYS_AHEAD)).isoformat(),
            "tz": "Etc/UTC",
            "units": "dwd",
        }
        try:
            return self._session.hours(NAME, self._url, parameters, read, self._clock)
        except Forbidden:
            raise
        except Refused as refused:
            if refused.status != 404:
                raise
            failure = Refused(
                NAME,
                f"knows no weather station within 50 km of this position. It {refused.detail}",
                pause_s=PAUSE_AFTER_REFUSAL_S,
                status=404,
            )
            failure.older = refused.older
            raise failure from None

    def _check(self, body: object, url: str) -> None:
        reading.require_reach(read(body, retrieved_at=self._clock()))
        asked = reading.asked_position(url, "lat", "lon")
        for station in _stations(body).values():
            reading.require_near(NAME, asked, station.get("lat"), station.get("lon"))


def read(body: object, /, *, retrieved_at: dt.datetime) -> HourlyWeather:
    """The hours of an answer, of observations and forecasts alike. Raises BadAnswer."""
    records = reading.part(NAME, body).get("weather")
    if not isinstance(records, list):
        raise BadAnswer(NAME, "the answer holds no list 'weather'.")
    values: dict[dt.datetime, dict[str, Any]] = {}
    chances: dict[dt.datetime, float] = {}
    read_times: set[dt.datetime] = set()
    used: Counter[object] = Counter()
    for entry in records:
        record = reading.part(NAME, entry)
        time = reading.whole_hour(NAME, record.get("timestamp"))
        if time in read_times:
            raise BadAnswer(NAME, f"{time.isoformat()} is there twice.")
        read_times.add(time)
        used[_id(record.get("source_id"))] += 1
        for field in FIELDS:
            given = record.get(field.name)
            value = reading.known(NAME, field.quantity, given, field.convert, field.name, time)
            if value is not None:
                values.setdefault(time - HOUR if field.of_hour_before else time, {})[field.quantity] = value
        given = record.get(CHANCE)
        chance = reading.known(NAME, "rain_probability", given, reading.times(0.01), CHANCE, time)
        if chance is not None:
            chances.update({time - number * HOUR: chance for number in range(1, CHANCE_OF_HOURS + 1)})
    for hour, chance in chances.items():
        if hour in values:
            values[hour].setdefault("rain_probability", chance)
    return HourlyWeather(
        source=NAME,
        attribution=ATTRIBUTION,
        retrieved_at=retrieved_at,
        elevation_m=_elevation_m(_stations(body), used),
        wind_height_m=WIND_HEIGHT_M,
        hours=reading.made_of(NAME, values),
    )


def _stations(body: object) -> dict[object, Mapping[str, Any]]:
    """The stations of an answer by their number in it."""
    stations = body.get("sources") if isinstance(body, dict) else None
    found = stations if isinstance(stations, list) else []
    return {_id(station.get("id")): station for station in found if isinstance(station, dict)}


def _id(given: object) -> object:
    return given if isinstance(given, int | str) else None


def _elevation_m(stations: Mapping[object, Mapping[str, Any]], used: Counter[object]) -> float | None:
    """The height of the station that most records are of."""
    for number, _ in used.most_common():
        if number is not None and number in stations:
            return reading.elevation_m(NAME, stations[number].get("height"))
    return None
