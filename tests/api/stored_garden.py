"""A garden, weather that is told, a clock that is moved, and a plan's life on a real store."""

import datetime as dt
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import orjson
from flask.testing import FlaskClient

from api.app import Parts, build_app
from api.http.place_limit import Visitors
from api.plans.answer_cache import Answers
from api.plans.plans import PlanLife
from api.plans.turns import Turns
from api.reports.deliveries import DeliveryKind
from api.reports.records import Outcome, Page, Records, ReportName
from api.reviews.alerts import AlertsOfGardens
from api.reviews.ledgers import Ledgers
from api.reviews.replays import Replays
from api.reviews.usage import Usages
from api.routes.reports import DELIVERIES
from api.schemas.deliveries import DeliveryReport
from api.schemas.garden import load_garden
from api.settings import Settings
from api.store.rows import StoredGarden
from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.errors import Unreachable
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place, place_of
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from api.weather.sources.demo import Demo
from api.weather.sources.services import Source
from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.description import Garden
from tests.profile import PATIENCE_S

EVENING = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
"""20:40 in Paris: the hours of 15 July open at 22:00, its plan is final from 21:00 on."""
JULY_15 = dt.date(2026, 7, 15)
ONE_DAY = dt.timedelta(days=1)

Told = Callable[[dt.datetime], Mapping[str, float | None]]


def lawn(**changes: Any) -> dict[str, Any]:
    """A thirsty lawn of 50 m² on shallow soil, under a sprinkler that loses nothing: 1 mm is 50 litres.

    It holds water as loam does, and takes it in as sand does, so that its dose is one run.
    """
    return {
        "area_m2": 50,
        "planting": {"plant": "turf-cool-season", "kc": 1.0, "root_depth_m": 0.15},
        "soil": {"field_capacity": 0.28, "wilting_point": 0.14, "texture": "sand"},
        "watering": {"method": "overhead-spray", "flow_l_min": 20, "efficiency": 1.0},
        **changes,
    }


def document(**changes: Any) -> dict[str, Any]:
    """A garden near Montpellier with that lawn and nothing else."""
    return {
        "id": "orchard",
        "latitude": 43.61,
        "longitude": 3.88,
        "elevation_m": 48,
        "timezone": "Europe/Paris",
        "weather_sources": ["demo"],
        "zones": {"lawn": lawn()},
        **changes,
    }


def garden(**changes: Any) -> Garden:
    """The same, read."""
    return load_garden(document(**changes))


def weather_days(first: dt.date, count: int, **values: Any) -> list[dict[str, Any]]:
    """Dry days with 6.0 mm or so of reference evapotranspiration."""
    day = {
        "t_min_c": 16.0,
        "t_max_c": 30.0,
        "t_dew_c": 12.0,
        "wind_m_s": 2.0,
        "solar_mj_m2": 26.0,
        "rain_mm": 0.0,
    }
    return [{"date": (first + number * ONE_DAY).isoformat(), **day, **values} for number in range(count)]


LOAM_LAWN = {
    "area_m2": 85,
    "planting": {"plant": "turf-cool-season"},
    "soil": {"texture": "loam"},
    "watering": {"method": "overhead-spray"},
}
"""What a document of a lawn holds at least."""


class Clock:
    """Stands still until it is moved."""

    def __init__(self, now: dt.datetime = EVENING) -> None:
        self.now = now

    def __call__(self) -> dt.datetime:
        return self.now

    def to(self, hour: int, minute: int = 0, *, day: int = 14) -> None:
        """Move to a clock time of Paris in July 2026."""
        midnight = dt.datetime(2026, 7, day, tzinfo=dt.UTC) - dt.timedelta(hours=2)
        self.now = midnight + dt.timedelta(hours=hour, minutes=minute)

    def forward(self, **duration: float) -> None:
        """Move by so many `hours`, `minutes` or whatever else a timedelta takes."""
        self.now += dt.timedelta(**duration)


class Steady:
    """The source `demo`, with the same dry hours day after day, except where it is told of others.

    While `fails` is set, it does not answer; unless it `knows_past`, it tells of hours from the present on.
    """

    name = "demo"
    fails = False
    knows_past = True

    def __init__(
        self, clock: Callable[[], dt.datetime], told: Told | None = None, days_ahead: int = 9
    ) -> None:
        self._clock = clock
        self.told = told or (lambda start: {})
        self.days_ahead = days_ahead
        self.elevation_m: float | None = 48.0
        self.wind_height_m = 2.0
        self.asked = 0

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """From some local days back to some ahead."""
        if self.fails:
            raise Unreachable("demo", "did not answer.")
        self.asked += 1
        now = self._clock()
        first = dt.datetime.combine(now.date() - (past_days + 1) * ONE_DAY, dt.time(), dt.UTC)
        count = 24 * (past_days + 2 + self.days_ahead)
        starts = (first + number * HOUR for number in range(count))
        return HourlyWeather(
            source="demo",
            attribution=Attribution("Told."),
            retrieved_at=now,
            elevation_m=self.elevation_m,
            wind_height_m=self.wind_height_m,
            hours=tuple(self._hour(start) for start in starts if self.knows_past or start > now - HOUR),
            knows_past=self.knows_past,
        )

    def _hour(self, start: dt.datetime) -> Hour:
        values: dict[str, Any] = {
            "temperature_c": 16.0 + abs(12 - (start.hour + 9) % 24),
            "dew_point_c": 12.0,
            "wind_m_s": 2.0,
            "solar_mj_m2": 1.0,
            "rain_mm": 0.0,
            "rain_probability": 0.0,
        }
        return Hour(start=start, **{**values, **self.told(start)})


def settle() -> None:
    """Wait for the fetches that go on in the background."""
    for thread in threading.enumerate():
        if thread.name.startswith("weather "):
            thread.join()


class House:
    """A plan's life on a store, as one process has it."""

    def __init__(self, url: str, clock: Clock, source: Source | None = None) -> None:
        self.clock = clock
        self.store = Store.open(url, release="1")
        self.answers = Answers(self.store)
        self.source = source or Demo(clock)
        self.forecasts = Forecasts({"demo": self.source}, WeatherRows(self.store), clock, wait_s=PATIENCE_S)
        self.life = PlanLife(self.store, self.forecasts, self.answers, clock)
        self.water = DeliveryKind(self.life.look_again)
        self.reports = Records(self.store, clock, self.water)
        self.turns = Turns(self.store, self.life, self.answers, clock)

    def client(self, settings: Settings | None = None) -> FlaskClient:
        """The same over HTTP."""
        replays = Replays(self.forecasts, Visitors(self.store.is_garden_place, self.clock), self.clock)
        ledgers = Ledgers(self.life, self.answers)
        usages = Usages(self.life, self.answers)
        alerts = AlertsOfGardens(self.life, self.answers)
        parts = Parts(self.store, self.life, self.turns, replays, self.clock, ledgers, usages, alerts)
        return build_app(settings or Settings(), parts).test_client()

    def close(self) -> None:
        """As when the process ends."""
        self.settle()
        self.forecasts.close()
        self.store.close()

    @staticmethod
    def settle() -> None:
        """Wait for the fetches that go on in the background."""
        settle()

    def put(self, described: dict[str, Any] | None = None) -> StoredGarden:
        """Store a garden."""
        described = document() if described is None else described
        place = place_of(load_garden(described))
        with self.store.changing(described["id"]) as change:
            return change.put_document(described, place.key, self.clock())

    def plan(self, which: str = "next", garden_id: str = "orchard") -> dict[str, Any]:
        """Read a plan anew."""
        read: dict[str, Any] = orjson.loads(self.life.plan(garden_id, which).body)
        return read

    def lawn(self, which: str = "next") -> dict[str, Any]:
        """The lawn's part of a plan."""
        (zone,) = (zone for zone in self.plan(which)["zones"] if zone["zone"] == "lawn")
        return dict(zone)

    def ledger(self) -> tuple[LedgerRow, ...]:
        """The days of the garden's only zone."""
        (zone,) = self.life.explained(self.life.garden_now("orchard")).plan.zones
        assert zone.ledger is not None
        return tuple(zone.ledger)

    def flat(self, which: str = "next", zone: str = "lawn") -> dict[str, Any]:
        """One zone, as a controller reads it."""
        read: dict[str, Any] = orjson.loads(self.life.zone_plan("orchard", zone, which).body)
        return read

    def report(
        self,
        report_id: str,
        outcome: Any,
        volume_l: float | None = None,
        *,
        at: dt.datetime | None = None,
        zone: str = "lawn",
        new: bool = False,
        ended_at: dt.datetime | None = None,
    ) -> bool:
        """Report water; whether it was new."""
        told = DeliveryReport(at or self.clock(), outcome, volume_l, ended_at)
        is_new, _ = self.reports.put("orchard", ReportName(zone, report_id), told, new)
        return is_new

    def report_all(self, reports: Sequence[Any]) -> list[Outcome]:
        """Send reports in a batch."""
        return self.reports.put_all("orchard", DELIVERIES.read_batch({"deliveries": list(reports)}))

    def reported(self, first: dt.date | None = None, last: dt.date | None = None) -> list[dict[str, Any]]:
        """All reports of a span of dates."""
        return self.reports.listed("orchard", Page(first, last, None, 500))[0]

    def report_again(
        self, report_id: str, outcome: Any, volume_l: float | None = None, zone: str = "lawn"
    ) -> None:
        """Take a report back and tell another."""
        self.reports.delete("orchard", ReportName(zone, report_id))
        self.report(report_id, outcome, volume_l, zone=zone)
