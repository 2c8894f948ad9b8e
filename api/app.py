"""Where the parts are joined; importing it does nothing."""

import datetime as dt
import os
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import orjson
from flask import Flask, Response
from flask.json.provider import JSONProvider

from api import RELEASE
from api.http.access import guard
from api.http.converters import add_converters
from api.http.origins import let_origins_read
from api.http.place_limit import Visitors
from api.http.problems import register_error_handlers
from api.plans.answer_cache import Answers
from api.plans.plans import PlanLife
from api.plans.turns import Turns
from api.reports.deliveries import DeliveryKind
from api.reports.observations import ObservationKind
from api.reports.records import Records
from api.reports.soil_moisture import ReadingKind
from api.reports.valves import ValveKind
from api.reviews.alerts import AlertsOfGardens
from api.reviews.garden_pages import PagesOfGardens
from api.reviews.garden_today import GardensToday
from api.reviews.ledgers import Ledgers
from api.reviews.replays import Replays
from api.reviews.usage import Usages
from api.routes.alerts import alert_routes
from api.routes.catalogue import catalogue_routes
from api.routes.check import check_routes
from api.routes.contract import contract_routes
from api.routes.docs import docs_routes
from api.routes.gardens import garden_routes
from api.routes.health import health_routes
from api.routes.ledger import ledger_routes
from api.routes.pages import page_routes
from api.routes.plan import plan_routes
from api.routes.replay import replay_routes
from api.routes.reports import DELIVERIES, OBSERVATIONS, READINGS, VALVES, report_routes
from api.routes.tables import table_routes
from api.routes.turns import turn_routes
from api.routes.usage import usage_routes
from api.routes.weather import weather_routes
from api.settings import Settings, read_settings
from api.store.store import Store
from api.store.tokens import Tokens
from api.store.weather import WeatherRows
from api.weather.fetch.forecasts import Forecasts
from api.weather.sources.registry import weather_sources

MAX_BODY_BYTES: Final = 256 * 1024
"""Bytes; the server that runs the application must refuse more, too."""

Clock = Callable[[], dt.datetime]


@dataclass(frozen=True, slots=True)
class Parts:
    """What the routes are built from."""

    store: Store
    plans: PlanLife
    turns: Turns
    replays: Replays
    clock: Clock
    ledgers: Ledgers
    usages: Usages
    alerts: AlertsOfGardens


class OrjsonProvider(JSONProvider):
    """Flask's JSON, written and read by orjson."""

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        """Write an object."""
        return orjson.dumps(obj).decode()

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        """Read an object."""
        return orjson.loads(s)

    def response(self, *args: Any, **kwargs: Any) -> Response:
        """An answer with an object as its body."""
        return Response(orjson.dumps(self._prepare_response_obj(args, kwargs)), content_type=self.mimetype)

    mimetype = "application/json"


class CacheUnusable(Exception):
    """The file that keeps answers of weather services cannot be used; the text says why."""


def from_environment() -> Flask:
    """The application as the environment sets it up, for a WSGI server of your choice.

    Such a server may bind any address, and a proxy may stand before it: a token is always needed.

    Raises
    ------
    SettingsError, StoreUnavailable, CacheUnusable
        A sentence that says what is wrong.
    """
    settings = read_settings(os.environ)
    store = open_store(settings)
    store.close()  # it opens connections again: a server that forks later must not share one
    return create_app(settings, store=store, needs_token=True)


def create_app(
    settings: Settings,
    *,
    store: Store | None = None,
    forecasts: Forecasts | None = None,
    clock: Clock | None = None,
    needs_token: bool = False,
) -> Flask:
    """Join the parts into an application.

    Parameters
    ----------
    store, forecasts, clock
        In place of those that the settings ask for.
    needs_token
        Whether even requests of this machine need a token while none exists.

    Raises
    ------
    StoreUnavailable
        Where the database cannot be opened.
    """
    now = clock or _now
    kept = store or open_store(settings)
    weather = forecasts or open_forecasts(settings, kept, now)

    answers = Answers(kept)
    place_limit = Visitors(kept.is_garden_place, now)
    plans = PlanLife(kept, weather, answers, now, place_limit)
    return build_app(
        settings,
        Parts(
            store=kept,
            plans=plans,
            turns=Turns(kept, plans, answers, now),
            replays=Replays(weather, place_limit, now),
            clock=now,
            ledgers=Ledgers(plans, answers),
            usages=Usages(plans, answers),
            alerts=AlertsOfGardens(plans, answers),
        ),
        needs_token=needs_token,
    )


def open_store(settings: Settings) -> Store:
    """The database that the settings name, made and migrated as needed. Raises StoreUnavailable."""
    return Store.open(settings.database_url, release=RELEASE)


def open_forecasts(settings: Settings, store: Store, clock: Clock) -> Forecasts:
    """The weather sources that the settings ask for, with what they answered kept in the store.

    Raises CacheUnusable.
    """
    try:
        sources = weather_sources(
            settings.sources, cache=settings.cache_path, contact=settings.contact, clock=clock
        )
    except (OSError, sqlite3.Error) as error:
        raise CacheUnusable(
            f"ROOTLEDGER_CACHE_URL: {settings.cache_path} cannot be used: {error}."
        ) from error
    return Forecasts(sources, WeatherRows(store), clock)


def build_app(settings: Settings, parts: Parts, *, needs_token: bool = False) -> Flask:
    """Build the routes around parts that are there."""
    app = Flask("rootledger", static_folder=None)
    app.json = OrjsonProvider(app)
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY_BYTES
    add_converters(app)
    let_origins_read(app, settings.origins)
    guard(app, settings, Tokens(parts.store), parts.clock, needs_token=needs_token)

    answers = Answers(parts.store)
    today = GardensToday(parts.plans, parts.alerts, parts.usages, answers)
    pages = PagesOfGardens(parts.plans, parts.alerts, answers)
    deliveries = Records(parts.store, parts.clock, DeliveryKind(parts.plans.look_again))
    described = (
        plan_routes(parts.plans, today, answers, parts.clock),
        garden_routes(parts.store, parts.clock),
        turn_routes(parts.turns),
        report_routes(DELIVERIES, deliveries),
        report_routes(OBSERVATIONS, Records(parts.store, parts.clock, ObservationKind())),
        report_routes(READINGS, Records(parts.store, parts.clock, ReadingKind())),
        report_routes(VALVES, Records(parts.store, parts.clock, ValveKind())),
        replay_routes(parts.replays),
        check_routes(parts.clock),
        weather_routes(parts.plans),
        ledger_routes(parts.ledgers, answers, parts.clock),
        usage_routes(parts.usages, answers, parts.clock),
        table_routes(parts.ledgers, parts.usages, deliveries, answers, parts.clock),
        alert_routes(parts.alerts, answers, parts.clock),
        page_routes(pages, answers, parts.clock, settings.origins),
        catalogue_routes(),
        health_routes(parts.store, parts.clock),
    )
    for routes in (*described, contract_routes(described)):
        app.register_blueprint(routes)
    app.register_blueprint(docs_routes())
    register_error_handlers(app)
    return app


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)
