"""The only place where the parts are joined; importing it does nothing."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Protocol

import orjson
from flask import Flask, Response
from flask.json.provider import JSONProvider
from flask_smorest import Api  # type: ignore[import-untyped]
from werkzeug.routing import BaseConverter

from api import RELEASE
from api.access import guard
from api.answers import Answers
from api.errors import register_error_handlers
from api.ids import ID_PATTERN, REPORT_ID_PATTERN
from api.lifecycle import PlanLife
from api.routes.answering import add_problems
from api.routes.catalogue import catalogue_routes
from api.routes.contract import add_contract
from api.routes.deliveries import Deliveries, delivery_routes
from api.routes.gardens import garden_routes
from api.routes.health import health_routes
from api.routes.plan import Plans, plan_routes
from api.schemas.problem import ProblemSchema
from api.settings import Settings
from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.forecasts import Forecasts
from api.weather.sources import weather_sources

MAX_BODY_BYTES: Final = 256 * 1024
"""Bytes; the server that runs the application must refuse more, too."""

DESCRIPTION: Final = """\
Tomorrow's litres for every zone of a garden, from a daily soil water balance after FAO-56.

Errors are `application/problem+json` (RFC 9457). Unknown fields and query parameters are refused. Instants
are ISO 8601 with offset; nobody should act on a plan after its `valid_until`.
"""

Clock = Callable[[], dt.datetime]


class PlansAndReports(Plans, Deliveries, Protocol):
    """Makes plans, and keeps what is reported about them."""


@dataclass(frozen=True, slots=True)
class Parts:
    """What the routes are built from."""

    store: Store
    plans: PlansAndReports
    clock: Clock


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


class IdConverter(BaseConverter):
    """The id of a garden or a zone in an address."""

    regex = ID_PATTERN
    part_isolating = True


class ReportIdConverter(BaseConverter):
    """The id of a report in an address."""

    regex = REPORT_ID_PATTERN
    part_isolating = True


class Contract(Api):  # type: ignore[misc]
    """flask-smorest with our own errors."""

    DEFAULT_ERROR_RESPONSE_NAME = None
    ERROR_SCHEMA = ProblemSchema


def create_app(
    settings: Settings,
    *,
    store: Store | None = None,
    forecasts: Forecasts | None = None,
    clock: Clock | None = None,
) -> Flask:
    """Join the parts into an application.

    Parameters
    ----------
    store, forecasts, clock
        In place of those that the settings ask for.

    Raises
    ------
    StoreUnavailable
        Where the database cannot be opened.
    """
    now = clock or _now
    kept = store or open_store(settings)
    weather = forecasts or open_forecasts(settings, kept, now)
    plans = PlanLife(kept, weather, Answers(kept), now)
    return build_app(settings, Parts(kept, plans, now))


def open_store(settings: Settings) -> Store:
    """The database that the settings name, made and migrated as needed. Raises StoreUnavailable."""
    return Store.open(settings.database_url, release=RELEASE)


def open_forecasts(settings: Settings, store: Store, clock: Clock) -> Forecasts:
    """The weather sources that the settings ask for, with what they answered kept in the store."""
    sources = weather_sources(
        cache=settings.cache_path,
        contact=settings.contact,
        open_meteo_url=settings.open_meteo_url,
        open_meteo_key=settings.open_meteo_key,
        clock=clock,
    )
    return Forecasts(sources, WeatherRows(store), clock)


def build_app(settings: Settings, parts: Parts) -> Flask:
    """Build the routes around parts that are there."""
    app = Flask("rootledger", static_folder=None)
    app.json = OrjsonProvider(app)
    app.config.update(
        MAX_CONTENT_LENGTH=MAX_BODY_BYTES,
        API_TITLE="Rootledger",
        API_VERSION=RELEASE,
        OPENAPI_VERSION="3.1.0",
        API_SPEC_OPTIONS={
            "info": {"description": DESCRIPTION},
            "security": [{"bearer": []}, {}],
        },
    )
    app.url_map.converters["id"] = IdConverter
    app.url_map.converters["report"] = ReportIdConverter
    guard(app, settings)

    contract = Contract(app)
    contract.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})
    contract.register_converter(IdConverter, _pattern)
    contract.register_converter(ReportIdConverter, _pattern)
    add_problems(contract.spec)
    answers = Answers(parts.store)
    for routes in (
        plan_routes(parts.plans, answers, parts.clock),
        garden_routes(parts.store, parts.clock),
        delivery_routes(parts.plans),
        catalogue_routes(),
        health_routes(parts.store, parts.clock),
    ):
        contract.register_blueprint(routes)
    add_contract(app, contract)
    register_error_handlers(app)
    return app


def _pattern(converter: BaseConverter) -> dict[str, str]:
    return {"type": "string", "pattern": f"^{converter.regex}$"}


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)
