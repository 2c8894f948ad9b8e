"""Ledger, usage and reports of water as tables, by an address that a spreadsheet can load."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

import orjson
from flask import Response

from api.http.request_params import FROM, MOST_LISTED, TO, query, query_dates, query_word
from api.http.responses import Routes, describes, known_answer
from api.plans.answer_cache import Answers, ledger_question, usage_question
from api.reports.deliveries import Deliveries
from api.reports.records import Page
from api.reviews.ledgers import Ledgers
from api.reviews.usage import Usages
from api.routes.ledger import CSV_TOLD, CSV_TYPE, TABLE
from api.routes.usage import PERIODS, TIMER
from api.schemas.ledger import CSV
from api.schemas.tables import DELIVERY_COLUMNS, USAGE_COLUMNS, delivery_table, usage_table
from api.store.rows import strong_etag
from scheduling.review.usage import BY


def _columns(names: Sequence[str]) -> Mapping[str, Any]:
    return {CSV_TYPE: {"schema": {"type": "string", "description": f"Its columns: {', '.join(names)}."}}}


LEDGER: Final[Mapping[str, Any]] = {CSV_TYPE: TABLE}


def table_routes(
    ledgers: Ledgers,
    usages: Usages,
    deliveries: Deliveries,
    answers: Answers,
    clock: Callable[[], dt.datetime],
) -> Routes:
    """Build the routes from what knows of water, what keeps answers, and a clock."""
    routes = Routes("tables", __name__, url_prefix="/v1", description="The same as tables.")

    @routes.route("/gardens/<id:garden>/ledger/<id:zone>.csv")
    @describes({200: None}, (404, 503), parameters=[FROM, TO], has_etag=True, other_types=LEDGER)
    def get_ledger_table(garden: str, zone: str) -> Response:
        """A zone's account as a table, with a line for each date and planting."""
        first, last = query_dates(query("from", "to"))
        kept = answers.read(garden, ledger_question(zone, first, last, CSV), clock())
        answer = kept or ledgers.ledger(garden, zone, first, last, CSV)
        return known_answer(answer.body, answer.etag, CSV_TOLD)

    @routes.route("/gardens/<id:garden>/usage.csv")
    @describes(
        {200: None},
        (404, 503),
        parameters=[FROM, TO, PERIODS, TIMER],
        has_etag=True,
        other_types=_columns(USAGE_COLUMNS),
    )
    def get_usage_table(garden: str) -> Response:
        """What was used as a table, with a line for each period and zone; what is not known is empty."""
        values = query("from", "to", "by", "timer")
        first, last = query_dates(values)
        by = next(one for one in BY if one == query_word(values, "by", BY, "month"))
        timer = values.get("timer")
        kept = answers.read(garden, usage_question(first, last, by, timer), clock())
        answer = kept or usages.usage(garden, first, last, by, timer)
        return _table(usage_table(orjson.loads(answer.body)))

    @routes.route("/gardens/<id:garden>/deliveries.csv")
    @describes(
        {200: None},
        (404, 503),
        parameters=[FROM, TO],
        has_etag=True,
        other_types=_columns(DELIVERY_COLUMNS),
    )
    def get_delivery_table(garden: str) -> Response:
        """Reports of water as a table, by the plan's date that they count for."""
        first, last = query_dates(query("from", "to"))
        return _table(delivery_table(_every_delivery(deliveries, garden, first, last)))

    return routes


def _every_delivery(
    deliveries: Deliveries, garden: str, first: dt.date | None, last: dt.date | None
) -> Iterator[Mapping[str, Any]]:
    found, further = deliveries.listed(garden, Page(first, last, None, MOST_LISTED))
    yield from found
    while further is not None:
        found, further = deliveries.listed(garden, Page(first, last, further, MOST_LISTED))
        yield from found


def _table(text: str) -> Response:
    body = text.encode()
    return known_answer(body, strong_etag(body), CSV_TOLD)
