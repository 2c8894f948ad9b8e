"""Everything a service may send, over all sources: never a wrong day, never a good answer destroyed.

Each case is met twice: at a place of which nothing is known, and at one with a good forecast of seven
hours ago. Numbers are invented; what they must become is said beside them.
"""

import copy
import datetime as dt
import json
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import cycle
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from api.weather.errors import BadAnswer, SourceFailed, WeatherUnavailable
from api.weather.fetch.forecasts import Forecast, Forecasts
from api.weather.place import Place
from api.weather.series.hours import HOUR
from api.weather.series.local_days import local_days
from api.weather.sources import dwd, met_norway, open_meteo, us_nws
from api.weather.sources.session import Limits, WeatherSession
from scheduling.balance.weather import WeatherDay
from tests.api.stored_garden import Clock
from tests.api.weather.answers import (
    LATITUDE,
    LONGITUDE,
    WESTERN_LONGITUDE,
    dwd_body,
    every,
    layer,
    met_body,
    nws_grid,
    nws_point,
)
from tests.api.weather.weather_service import (
    NOON,
    PATIENT,
    MemoryKeep,
    Service,
    dropping,
    endlessly,
    expire,
    limits_for,
    open_meteo_body,
    send,
    silently,
    trickling,
)

TODAY = dt.date(2026, 7, 14)
MIDNIGHT = dt.datetime(2026, 7, 14, tzinfo=dt.UTC)
LATER = dt.datetime(2026, 7, 14, 19, 10, tzinfo=dt.UTC)
"""When the hostile answer comes: seven hours after the good one."""
NOW = MIDNIGHT + 19 * HOUR

Body = Any
Spoil = Callable[[Body], object]


@dataclass(frozen=True)
class Kind:
    """One source: how it is made, what it answers when all is well, and how that is spoiled."""

    name: str
    make: Callable[..., Any]
    good: Callable[[dt.datetime], Body]
    """From a whole hour on; where the source knows the past, from the midnight before."""

    def place(self, zone: str = "Europe/Paris") -> Place:
        return Place(LATITUDE, self.longitude, zone, (self.name,))

    @property
    def longitude(self) -> float:
        """Where the answers are for."""
        return WESTERN_LONGITUDE if self.name == us_nws.NAME else LONGITUDE


def good_open_meteo(now: dt.datetime) -> Body:
    return open_meteo_body(now.date() - dt.timedelta(days=2), 5)


def good_dwd(now: dt.datetime) -> Body:
    return dwd_body(now.replace(hour=0) - 48 * HOUR, 5 * 24)


OPEN_METEO = Kind("open-meteo", open_meteo.OpenMeteo, good_open_meteo)
MET_NORWAY = Kind("met-norway", met_norway.MetNorway, lambda now: met_body(now, hourly=30, until_h=60))
US_NWS = Kind("us-nws", us_nws.UsNws, lambda now: nws_grid(now - 7 * HOUR, days=3))
DWD = Kind("dwd", dwd.Dwd, good_dwd)
KINDS = (OPEN_METEO, MET_NORWAY, US_NWS, DWD)
READ = {
    kind.name: module.read for kind, module in zip(KINDS, (open_meteo, met_norway, us_nws, dwd), strict=True)
}


def spoiled(kind: Kind, spoil: Spoil) -> Body:
    body = copy.deepcopy(kind.good(NOW))
    spoil(body)
    return body


# What is wrong with an answer that must be refused as a whole.


def cut_off(kind: Kind) -> str:
    return json.dumps(kind.good(NOW))[:3000]


ANY_FORMAT = [
    ("JSON cut off", lambda kind: send(cut_off(kind))),
    ("HTML with 200", lambda kind: send("<html>Bad gateway</html>")),
    ("null", lambda kind: send("null")),
    ("an empty object", lambda kind: send({})),
    ("an empty list", lambda kind: send([])),
    ("a text", lambda kind: send('"weather"')),
    ("a problem with 200", lambda kind: send({"type": "about:blank", "status": 503, "detail": "down"})),
    ("a forecast of a year ago", lambda kind: send(kind.good(NOW - dt.timedelta(days=365)))),
]  # fmt: skip
"""Met with each source, for each reads in its own way."""
ANY_SERVICE = [
    ("JSON cut off by a sentence", lambda kind: send(cut_off(kind) + "Unexpected error: timeoutReached")),
    ("nothing with 200", lambda kind: send("")),
    ("an error body with 200", lambda kind: send({"error": True, "reason": "overloaded"})),
    ("brackets without end", lambda kind: send("[" * 100_000)),
    ("a number of 5000 digits", lambda kind: send('{"properties":' + "9" * 5000 + "}")),
    ("not a number", lambda kind: send('{"hourly": NaN, "properties": Infinity}')),
    ("bytes that are no text", lambda kind: send(b"\xff\xfe\x00\x80")),
    ("400", lambda kind: send({"detail": "no"}, 400)),
    ("403", lambda kind: send("banned", 403)),
    ("404", lambda kind: send("no", 404)),
    ("429 with Retry-After", lambda kind: send("", 429, Retry_After="1200")),
    ("500 with brackets without end", lambda kind: send("[" * 100_000, 500)),
    ("503 with a date of nonsense", lambda kind: send("", 503, Retry_After="Fri, 99 Foo 99999 99:99 +9999")),
    ("a redirection to another host", lambda kind: send("", 302, Location="https://elsewhere.example/")),
    ("a redirection to nowhere", lambda kind: send("", 302, Location="http://[")),
    ("a redirection in a circle", lambda kind: lambda handler: send("", 302, Location=handler.path)(handler)),
    ("nothing at all", lambda kind: silently),
    ("a trickle", lambda kind: trickling),
    ("a body without end", lambda kind: endlessly),
    ("a connection that drops", lambda kind: dropping),
]  # fmt: skip
"""Met with one source in turn, for all of them ask through the same session."""


def hourly(name: str, change: Callable[[list[Any]], object]) -> Spoil:
    return lambda body: change(body["hourly"][name])


def put(place: int, value: object) -> Callable[[list[Any]], object]:
    return lambda series: series.__setitem__(place, value)


def units(name: str, unit: object) -> Spoil:
    return lambda body: body["hourly_units"].__setitem__(name, unit)


def detail(period: str, name: str, value: object) -> Spoil:
    return lambda body: body["properties"]["timeseries"][9]["data"][period]["details"].__setitem__(
        name, value
    )


def met_unit(name: str, unit: object) -> Spoil:
    return lambda body: body["properties"]["meta"]["units"].__setitem__(name, unit)


def steps(change: Callable[[list[Any]], object]) -> Spoil:
    return lambda body: change(body["properties"]["timeseries"])


def at_step(place: int, time: str) -> Spoil:
    return steps(lambda series: series[place].update(time=time))


def of_layer(name: str, place: int, member: str, value: object) -> Spoil:
    return lambda body: body["properties"][name]["values"][place].__setitem__(member, value)


def uom(name: str, unit: object) -> Spoil:
    return lambda body: body["properties"][name].__setitem__("uom", unit)


def record(place: int, name: str, value: object) -> Spoil:
    return lambda body: body["weather"][place].__setitem__(name, value)


def in_geojson(body: Body) -> None:
    """Latitude and longitude in each other's place, wherever the answer tells them."""
    corners = body["geometry"]["coordinates"]
    for corner in corners[0] if isinstance(corners[0], list) else [corners]:
        corner[0], corner[1] = corner[1], corner[0]


def at_top(body: Body) -> None:
    body["latitude"], body["longitude"] = body["longitude"], body["latitude"]


def in_stations(body: Body) -> None:
    for station in body["sources"]:
        station["lat"], station["lon"] = station["lon"], station["lat"]


ONE_SERVICE: list[tuple[Kind, str, Spoil]] = [
    (OPEN_METEO, "swapped coordinates", at_top),
    (OPEN_METEO, "coordinates that are none", lambda body: body.update(latitude="north")),
    (OPEN_METEO, "kelvin", units("temperature_2m", "K")),
    (OPEN_METEO, "80 °C", hourly("temperature_2m", put(60, 80.0))),
    (OPEN_METEO, "negative rain", hourly("precipitation", put(60, -0.1))),
    (OPEN_METEO, "a metre of rain in an hour", hourly("precipitation", put(60, 1000.0))),
    (OPEN_METEO, "a chance of 130 %", hourly("precipitation_probability", put(60, 130))),
    (OPEN_METEO, "a text for a number", hourly("wind_speed_10m", put(60, "2.0"))),
    (OPEN_METEO, "an hour twice", hourly("time", put(60, int((MIDNIGHT + 11 * HOUR).timestamp())))),
    (OPEN_METEO, "a value too few", hourly("precipitation", list.pop)),
    (OPEN_METEO, "no hours", lambda body: body.pop("hourly")),
    (OPEN_METEO, "a stamp in the year 6000", hourly("time", put(-1, 3600 * 35_326_000))),
    (OPEN_METEO, "half an hour off", hourly("time", put(-1, 1785000600))),
    (OPEN_METEO, "above all mountains", lambda body: body.update(elevation=12000.0)),
    (MET_NORWAY, "swapped coordinates", in_geojson),
    (MET_NORWAY, "kelvin", met_unit("air_temperature", "K")),
    (MET_NORWAY, "km/h", met_unit("wind_speed", "km/h")),
    (MET_NORWAY, "no units", lambda body: body["properties"]["meta"].pop("units")),
    (MET_NORWAY, "80 °C", detail("instant", "air_temperature", 80.0)),
    (MET_NORWAY, "negative rain", detail("next_1_hours", "precipitation_amount", -0.1)),
    (MET_NORWAY, "cloud of 140 %", detail("instant", "cloud_area_fraction", 140.0)),
    (MET_NORWAY, "a list for a number", detail("instant", "wind_speed", [2.0])),
    (MET_NORWAY, "a step twice", steps(lambda series: series.append(series[4]))),
    (MET_NORWAY, "no steps", steps(list.clear)),
    (MET_NORWAY, "steps that are none", steps(put(5, "step"))),
    (MET_NORWAY, "a step without data", steps(lambda series: series[5].pop("data"))),
    (MET_NORWAY, "a step at ten past", at_step(5, "2026-07-15T00:10:00Z")),
    (MET_NORWAY, "a time without offset", at_step(5, "2026-07-15T00:00:00")),
    (MET_NORWAY, "a step in the year 6000", at_step(-1, "6000-01-01T00:00:00Z")),
    (US_NWS, "swapped coordinates", in_geojson),
    (US_NWS, "an unknown unit", uom("temperature", "wmoUnit:K")),
    (US_NWS, "rain without unit", uom("quantitativePrecipitation", None)),
    (US_NWS, "80 °C", of_layer("temperature", 9, "value", 80.0)),
    (US_NWS, "a night of 99 °C", lambda body: body["properties"].update(
        minTemperature=layer("degC", (f"{NOW.isoformat()}/PT14H", 99.0)))),
    (US_NWS, "negative rain", of_layer("quantitativePrecipitation", 2, "value", -0.6)),
    (US_NWS, "six metres of rain", of_layer("quantitativePrecipitation", 2, "value", 6000.0)),
    (US_NWS, "a text for a number", of_layer("temperature", 9, "value", "20")),
    (US_NWS, "an interval that is none", of_layer("temperature", 9, "validTime", "tomorrow")),
    (US_NWS, "an interval of a month", of_layer("temperature", 9, "validTime", "2026-07-14T12:00Z/P1M")),
    (US_NWS, "an interval of 27 years", of_layer("skyCover", 0, "validTime", "2026-07-14T12:00:00Z/P9999D")),
    (US_NWS, "an interval in the year 6000", of_layer("skyCover", 0, "validTime", "6000-07-14T12Z/P1D")),
    (US_NWS, "no layers", lambda body: body.pop("properties")),
    (US_NWS, "layers without values", lambda body: body["properties"]["temperature"].pop("values")),
    (US_NWS, "temperature alone missing", lambda body: body["properties"].pop("temperature")),
    (DWD, "swapped coordinates", in_stations),
    (DWD, "kelvin", record(60, "temperature", 293.15)),
    (DWD, "joule", record(60, "solar", 720000)),
    (DWD, "negative rain", record(60, "precipitation", -0.1)),
    (DWD, "sunshine of two hours in one", record(60, "sunshine", 120)),
    (DWD, "a truth for a number", record(60, "wind_speed", True)),
    (DWD, "an hour twice", lambda body: body["weather"].append(body["weather"][9])),
    (DWD, "a time that is none", record(60, "timestamp", "noon")),
    (DWD, "a time without offset", record(60, "timestamp", "2026-07-14T12:00:00")),
    (DWD, "a record in the year 6000", record(60, "timestamp", "6000-07-14T12:00:00+00:00")),
    (DWD, "no records", lambda body: body["weather"].clear()),
    (DWD, "records that are none", lambda body: body["weather"].append(None)),
]  # fmt: skip

ANSWERS = [
    (kind, what, reply)
    for kind, what, reply in (
        *((kind, what, reply(kind)) for kind in KINDS for what, reply in ANY_FORMAT),
        *((kind, what, reply(kind)) for kind, (what, reply) in zip(cycle(KINDS), ANY_SERVICE, strict=False)),
        *((kind, what, send(spoiled(kind, spoil))) for kind, what, spoil in ONE_SERVICE),
    )
]
REFUSED = [pytest.param(kind, reply, id=f"{kind.name}, {what}") for kind, what, reply in ANSWERS]

NOT_JSON = "is not JSON, or was cut off"
NO_OBJECT = "is not a JSON object|holds no object|holds no list"
NOT_HERE = "the answer is for"
NO_UNIT = "the unit of"
NO_INSTANT = "is no instant with an offset"
TOO_LONG = "500 days are possible"
TWICE = "is there twice|times have to ascend"
WHY: dict[str, str] = {
    "JSON cut off": NOT_JSON,
    "HTML with 200": NOT_JSON,
    "null": NO_OBJECT,
    "an empty object": NO_OBJECT,
    "an empty list": NO_OBJECT,
    "a text": NO_OBJECT,
    "a problem with 200": NO_OBJECT,
    "a forecast of a year ago": "end before the moment",
    "JSON cut off by a sentence": NOT_JSON,
    "nothing with 200": NOT_JSON,
    "an error body with 200": "reports an error: overloaded",
    "brackets without end": NOT_JSON,
    "a number of 5000 digits": NOT_JSON,
    "not a number": NOT_JSON,
    "bytes that are no text": NOT_JSON,
    "400": "answered with 400: no",
    "403": "answered with 403",
    "404": "answered with 404",
    "429 with Retry-After": "answered with 429",
    "500 with brackets without end": "answered with 500",
    "503 with a date of nonsense": "answered with 503",
    "a redirection to another host": "redirects to 'elsewhere.example'",
    "a redirection to nowhere": "redirects to",
    "a redirection in a circle": "TooManyRedirects",
    "nothing at all": "did not answer in time",
    "a trickle": "did not answer in time",
    "a body without end": "is longer than",
    "a connection that drops": "could not be reached",
    "swapped coordinates": NOT_HERE,
    "coordinates that are none": "no position",
    "kelvin": f"{NO_UNIT}|temperature_c is -95 to 62",
    "km/h": NO_UNIT,
    "joule": "solar_mj_m2 is",
    "no units": "'meta.units'",
    "an unknown unit": NO_UNIT,
    "rain without unit": "'quantitativePrecipitation' is None",
    "80 °C": "is 80.0; temperature_c",
    "a night of 99 °C": "'minTemperature' at .* is 99.0",
    "negative rain": "is -0.[16]; rain_mm",
    "a metre of rain in an hour": "is 1000.0; rain_mm",
    "six metres of rain": "is 6000.0; rain_mm",
    "a chance of 130 %": "is 130; rain_probability",
    "cloud of 140 %": "is 140.0; cloud_share",
    "sunshine of two hours in one": "is 120; sunshine_h",
    "a text for a number": "is '2.0'; wind_m_s|is '20'; temperature_c",
    "a list for a number": r"is \[2.0\]; wind_m_s",
    "a truth for a number": "is True; wind_m_s",
    "an hour twice": TWICE,
    "a step twice": TWICE,
    "a value too few": "119 values of 'precipitation' for 120 times",
    "no hours": "'hourly'",
    "no steps": "none of the values",
    "no records": "none of the values",
    "no layers": "'properties'",
    "steps that are none": NO_OBJECT,
    "records that are none": NO_OBJECT,
    "a step without data": "'data'",
    "layers without values": "'temperature' holds no list",
    "temperature alone missing": "temperatures end before",
    "half an hour off": "is not a whole hour",
    "a step at ten past": "is not a whole hour",
    "a time that is none": NO_INSTANT,
    "a time without offset": NO_INSTANT,
    "above all mountains": "the elevation is 12000.0",
    "an interval that is none": "'tomorrow' is no interval",
    "an interval of a month": "'P1M' is no",
    "an interval of 27 years": "longer than 1440 hours",
    "an interval in the year 6000": TOO_LONG,
    "a stamp in the year 6000": TOO_LONG,
    "a step in the year 6000": TOO_LONG,
    "a record in the year 6000": TOO_LONG,
}
"""What the refusal of each has to say, so that none is refused for another reason."""


class Told:
    """A service that is told what to answer; a position that is looked up still leads to its square."""

    def __init__(self, service: Service) -> None:
        self.url = service.url
        self.point = send(nws_point())
        self.reply: Any = None
        service.reply = lambda handler: (self.point if "/points/" in handler.path else self.reply)(handler)


@pytest.fixture(scope="module")
def told() -> Iterator[Told]:
    service = Service(Clock(NOON))
    yield Told(service)
    service.close()


class Asked:
    """A place and its source, with all that is remembered of it."""

    def __init__(self, told: Told, kind: Kind, limits: Limits = PATIENT) -> None:
        self.told, self.kind = told, kind
        self.clock = Clock(LATER)
        self.session = WeatherSession(cache=None, user_agent="rootledger/0 (tests)", limits=limits)
        self.source = kind.make(self.session, base_url=told.url, clock=self.clock)
        self.keep = MemoryKeep()
        self.forecasts = Forecasts({kind.name: self.source}, self.keep, self.clock)

    def forecast(self, reply: Any) -> Forecast:
        """What there is to plan from when the service answers so."""
        self.told.reply = reply
        return self.forecasts.at(self.kind.place(), past_days=0)

    def close(self) -> None:
        self.forecasts.close()
        self.session.close()


@pytest.fixture(scope="module")
def good_ones(told: Told) -> Iterator[dict[Kind, tuple[Asked, Forecast]]]:
    """Each source, asked at noon when all was well."""
    asked: dict[Kind, tuple[Asked, Forecast]] = {}
    for kind in KINDS:
        place = Asked(told, kind)
        place.clock.now = NOON
        asked[kind] = place, place.forecast(send(kind.good(NOON.replace(minute=0))))
        expire(place.session, age_h=7)
    yield asked
    for place, _ in asked.values():
        place.close()


@pytest.mark.parametrize(
    ("kind", "what", "reply"),
    [pytest.param(*answer, id=f"{answer[0].name}, {answer[1]}") for answer in ANSWERS],
)
def test_each_is_refused_for_what_is_wrong_with_it(told, kind, what, reply):
    place = Asked(told, kind, limits_for(reply))
    told.reply = reply
    with pytest.raises(SourceFailed, match=WHY[what]):
        place.source.hours(kind.place(), past_days=0)
    place.close()


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_in_the_same_way_what_is_not_spoiled_is_taken(told, kind):
    place = Asked(told, kind)
    told.reply = send(kind.good(NOW))
    assert len(place.source.hours(kind.place(), past_days=0).hours) >= 60
    place.close()


@pytest.mark.parametrize(("kind", "reply"), REFUSED)
def test_where_nothing_is_known_a_hostile_answer_is_no_weather(told, kind, reply):
    place = Asked(told, kind, limits_for(reply))
    with pytest.raises(WeatherUnavailable):
        place.forecast(reply)
    place.close()

    assert not place.keep.answers
    assert not place.keep.kept_days
    assert all("/points/" in entry.url for entry in place.session.cache.responses.values())


@pytest.mark.parametrize(("kind", "reply"), REFUSED)
def test_a_hostile_answer_leaves_a_good_one_as_it_was(told, good_ones, kind, reply):
    before, good = good_ones[kind]
    place = Asked(told, kind, limits_for(reply))
    place.session.cache.responses.update(before.session.cache.responses)
    place.keep.answers.update(before.keep.answers)
    place.keep.kept_days.update({key: dict(days) for key, days in before.keep.kept_days.items()})
    again = place.forecast(reply)
    place.close()

    assert (again.days, again.hours, again.retrieved_at) == (good.days, good.hours, good.retrieved_at)
    assert again.stale
    assert place.keep.kept_days == before.keep.kept_days
    cached = {key: entry.content for key, entry in before.session.cache.responses.items()}
    assert {key: entry.content for key, entry in place.session.cache.responses.items()} == cached


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_after_a_hostile_answer_a_good_one_is_taken(told, kind):
    place = Asked(told, kind)
    for reply in (send("<html>"), send("", 503), send(kind.good(NOW - dt.timedelta(days=365)))):
        with pytest.raises(WeatherUnavailable):
            place.forecast(reply)
        place.clock.forward(minutes=6)

    assert place.forecast(send(kind.good(NOW))).retrieved_at == place.clock.now
    place.close()


def test_the_table_has_at_least_sixty_answers_and_every_source():
    assert len(REFUSED) >= 60
    assert {kind for kind, *_ in ONE_SERVICE} == set(KINDS)


# What is wrong in a part only: the rest is used, and the part is unknown.


def day_of(
    kind: Kind, body: Body, zone: str = "UTC", date: dt.date = TODAY + dt.timedelta(days=1)
) -> WeatherDay:
    weather = READ[kind.name](body, retrieved_at=LATER)
    return next(day for day in local_days(weather, ZoneInfo(zone)) if day.date == date)


def tomorrow(hour: int) -> dt.datetime:
    return MIDNIGHT + (24 + hour) * HOUR


def without_step(time: dt.datetime) -> Spoil:
    return steps(
        lambda series: series.remove(
            next(step for step in series if step["time"][:13] == f"{time:%Y-%m-%dT%H}")
        )
    )


def without_record(body: Body) -> None:
    body["weather"] = [
        entry for entry in body["weather"] if entry["timestamp"][:13] != f"{tomorrow(9):%Y-%m-%dT%H}"
    ]


def without_column(body: Body) -> None:
    for series in body["hourly"].values():
        del series[3 * 24 + 9]


IN_PART: list[tuple[Kind, str, Spoil, set[str]]] = [
    (OPEN_METEO, "one null of rain", hourly("precipitation", put(3 * 24 + 9, None)), {"rain_mm"}),
    (OPEN_METEO, "no radiation", lambda body: body["hourly"].pop("shortwave_radiation"), {"solar_mj_m2"}),
    (OPEN_METEO, "an hour left out", without_column, {
        "t_min_c", "t_max_c", "rain_mm", "wind_m_s", "cloud_share", "solar_mj_m2", "rain_probability"}),
    (MET_NORWAY, "nothing unusual", lambda body: None, {"solar_mj_m2"}),
    (MET_NORWAY, "an hour left out", without_step(tomorrow(9)), {
        "t_min_c", "t_max_c", "rain_mm", "wind_m_s", "cloud_share", "rain_probability", "solar_mj_m2"}),
    (MET_NORWAY, "a null of rain", detail("next_1_hours", "precipitation_amount", None), {
        "rain_mm", "solar_mj_m2"}),
    (MET_NORWAY, "a step without its own amount",
        steps(lambda series: series[9]["data"].pop("next_1_hours")), {"solar_mj_m2"}),
    (MET_NORWAY, "a step without amounts", steps(lambda series: [
        series[place]["data"].pop(name, None) for place in range(4, 10)
        for name in ("next_1_hours", "next_6_hours")]), {"rain_mm", "rain_probability", "solar_mj_m2"}),
    (US_NWS, "nothing unusual", lambda body: None, {"solar_mj_m2"}),
    (US_NWS, "no cloud", lambda body: body["properties"].pop("skyCover"), {"cloud_share", "solar_mj_m2"}),
    (US_NWS, "an hour left out", lambda body: body["properties"]["temperature"]["values"].pop(21), {
        "t_min_c", "t_max_c", "solar_mj_m2"}),
    (US_NWS, "an amount of null", of_layer("quantitativePrecipitation", 3, "value", None), {
        "rain_mm", "solar_mj_m2"}),
    (US_NWS, "no rain at all", lambda body: body["properties"].pop("quantitativePrecipitation"), {
        "rain_mm", "solar_mj_m2"}),
    (US_NWS, "a layer of rain without anything", lambda body: body["properties"].update(
        quantitativePrecipitation={"values": []}), {"rain_mm", "solar_mj_m2"}),
    (US_NWS, "rain that ends at noon", lambda body: body["properties"].update(
        quantitativePrecipitation=layer("mm", *every(NOW - 7 * HOUR, 4, 6, 0.6))), {
        "rain_mm", "solar_mj_m2"}),
    (DWD, "nothing unusual", lambda body: None, set()),
    (DWD, "radiation of null", record(3 * 24 + 9, "solar", None), {"solar_mj_m2"}),
    (DWD, "nothing but nulls at an hour", lambda body: body["weather"][3 * 24 + 9].update(
        {name: None for name in body["weather"][0] if name != "timestamp"}), {
        "t_min_c", "t_max_c", "rain_mm", "wind_m_s", "cloud_share", "solar_mj_m2", "rain_probability"}),
    (DWD, "an hour left out", without_record, {
        "t_min_c", "t_max_c", "rain_mm", "wind_m_s", "cloud_share", "solar_mj_m2", "rain_probability"}),
]  # fmt: skip
EXPECTED = {
    "t_min_c": 20.0,
    "t_max_c": 20.0,
    "rain_mm": 2.4,
    "wind_m_s": 2.0,
    "cloud_share": 0.25,
    "rain_probability": 0.3,
}
OF_OPEN_METEO = {"t_min_c": 15.0, "t_max_c": 26.5, "solar_mj_m2": 24 * 200 * 0.0036}
OF_DWD = {"solar_mj_m2": 24 * 0.2 * 3.6}


@pytest.mark.parametrize(
    ("kind", "spoil", "unknown"),
    [pytest.param(kind, spoil, unknown, id=f"{kind.name}, {what}") for kind, what, spoil, unknown in IN_PART],
)
def test_what_is_missing_is_unknown_and_the_rest_as_it_would_be(kind, spoil, unknown):
    day = day_of(kind, spoiled(kind, spoil))
    more = {OPEN_METEO: OF_OPEN_METEO, DWD: OF_DWD}.get(kind, {})

    for name, expected in {**EXPECTED, "solar_mj_m2": None, **more}.items():
        value = getattr(day, name)
        assert value is None if name in unknown else value == pytest.approx(expected), name


# Days as they are on Earth.

ZONES = {
    "Europe/Paris": (dt.date(2026, 3, 29), 23, dt.date(2026, 10, 25), 25),
    "America/New_York": (dt.date(2026, 3, 8), 23, dt.date(2026, 11, 1), 25),
    "Asia/Kolkata": (dt.date(2026, 3, 29), 24, dt.date(2026, 10, 25), 24),
    "Australia/Lord_Howe": (dt.date(2026, 10, 4), 23.5, dt.date(2026, 4, 5), 24.5),
    "Pacific/Chatham": (dt.date(2026, 9, 27), 23, dt.date(2026, 4, 5), 25),
    "America/St_Johns": (dt.date(2026, 3, 8), 23, dt.date(2026, 11, 1), 25),
}
"""Days on which clocks go forward and back, and their hours, from the tz database."""
ANY_DAY = (dt.date(2027, 1, 1), dt.date(2026, 12, 31), dt.date(2028, 2, 29))


def answer_around(kind: Kind, date: dt.date) -> Body:
    """An answer that is given two days before a date at 00:00 UTC."""
    given = dt.datetime.combine(date, dt.time(), dt.UTC) - 48 * HOUR
    if kind is US_NWS:
        return nws_grid(given, days=5)
    if kind is MET_NORWAY:  # so that a part of the date comes in steps of 6 hours
        return met_body(given, hourly=40, until_h=120)
    return open_meteo_body(given.date(), 5) if kind is OPEN_METEO else dwd_body(given, 5 * 24)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
@pytest.mark.parametrize("zone", ZONES)
def test_a_local_day_has_the_rain_of_its_own_hours(kind, zone):
    spring, spring_h, autumn, autumn_h = ZONES[zone]
    lengths_h = {spring: spring_h, autumn: autumn_h, **dict.fromkeys(ANY_DAY, 24)}

    for date, length_h in lengths_h.items():
        body = answer_around(kind, date)
        day = day_of(kind, body, zone, date)
        assert day.rain_mm == pytest.approx(0.1 * length_h)
        assert day.t_max_c is not None


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_an_island_below_the_sea_has_its_height(kind):
    body = kind.good(NOW)
    if kind is OPEN_METEO:
        body["elevation"] = -60.0
    elif kind is MET_NORWAY:
        body["geometry"]["coordinates"][2] = -60
    elif kind is US_NWS:
        body["properties"]["elevation"]["value"] = -60.0
    else:
        body["sources"][0]["height"] = -60.0

    assert READ[kind.name](body, retrieved_at=LATER).elevation_m == -60.0


@pytest.mark.parametrize("kind", [OPEN_METEO, DWD], ids=lambda kind: kind.name)
def test_in_a_polar_night_radiation_is_known_to_be_nothing(kind):
    def darken(body: Body) -> None:
        if kind is OPEN_METEO:
            body["hourly"]["shortwave_radiation"] = [0.0] * len(body["hourly"]["time"])
        else:
            for entry in body["weather"]:
                entry["solar"] = 0.0

    assert day_of(kind, spoiled(kind, darken)).solar_mj_m2 == 0.0


# What nobody thought of: any member of a good answer replaced by anything.

ANYTHING = (
    None, True, 0, -1, 7, 1e308, 10**30, "", "x", "%", "mm", "2026-07-14T12:00:00Z",
    "9999-12-31T23:00:00Z/P1W", "0001-01-01T00:00:00+14:00", [], [None], [[]], {},
    {"value": None}, {"details": []},
)  # fmt: skip


def members_of(body: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The way to every member of an answer; of long lists only to the first and a later one."""
    children = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    chosen = [(key, child) for key, child in children if not isinstance(key, int) or key in (0, 30)]
    return [path, *(way for key, child in chosen for way in members_of(child, (*path, key)))]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_whatever_stands_anywhere_in_an_answer_it_is_read_or_refused(kind):
    good = {
        OPEN_METEO: lambda: open_meteo_body(TODAY, 2),
        MET_NORWAY: lambda: met_body(NOW, hourly=42, until_h=60),
        US_NWS: lambda: nws_grid(NOW, days=2),
        DWD: lambda: dwd_body(NOW, 48),
    }[kind]()
    for number, way in enumerate(members_of(good)[1:]):
        holder = good
        for key in way[:-1]:
            holder = holder[key]
        before = holder[way[-1]]
        for value in ANYTHING[number % 8 :: 8]:
            holder[way[-1]] = value
            with suppress(BadAnswer):
                weather = READ[kind.name](good, retrieved_at=LATER)
                for day in local_days(weather, ZoneInfo("Europe/Paris")):
                    assert day.rain_mm is None or 0.0 <= day.rain_mm <= 12.0
                    assert day.t_max_c is None or 7.0 <= day.t_max_c <= 27.0
        holder[way[-1]] = before
