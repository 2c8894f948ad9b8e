"""A zone's ledger: the account behind its plans, day by day."""

import datetime as dt
from collections.abc import Callable
from typing import Any, Final

from flask import Response

from api.http.request_params import FROM, TO, query, query_dates, query_word
from api.http.responses import JSON as JSON_TYPE
from api.http.responses import Routes, describes, known_answer
from api.plans.answer_cache import Answers, ledger_question
from api.reviews.ledgers import Ledgers
from api.schemas.ledger import COLUMNS, CSV, FORMATS, JSON, ZoneLedgerSchema

CSV_TYPE: Final = "text/csv"
CSV_TOLD: Final = "text/csv; charset=utf-8; header=present"

FORMAT: Final = {
    "in": "query",
    "name": "format",
    "schema": {"type": "string", "enum": list(FORMATS), "default": JSON},
    "description": "csv: a table (RFC 4180) with a line for each date and planting.",
}
TABLE: Final[dict[str, Any]] = {
    "schema": {"type": "string", "description": f"Its columns: {', '.join(COLUMNS)}."},
}


def ledger_routes(ledgers: Ledgers, answers: Answers, clock: Callable[[], dt.datetime]) -> Routes:
    """Build the route from what knows ledgers, what keeps their bytes, and a clock."""
    routes = Routes("ledger", __name__, url_prefix="/v1", description="The account behind the plans.")

    @routes.route("/gardens/<id:garden>/ledger/<id:zone>")
    @describes(
        {200: ZoneLedgerSchema},
        (404, 503),
        parameters=[FROM, TO, FORMAT],
        has_etag=True,
        other_types={CSV_TYPE: TABLE},
    )
    def get_ledger(garden: str, zone: str) -> Response:
        """A zone's account, day by day, from where it begins to today, each day with whose weather it has.

        Every row closes, and every day begins as the one before has ended. Reports that come late, and edits
        of the garden, correct it from where they belong on.
        """
        values = query("from", "to", "format")
        first, last = query_dates(values)
        form = query_word(values, "format", FORMATS, JSON)
        kept = answers.read(garden, ledger_question(zone, first, last, form), clock())
        answer = kept or ledgers.ledger(garden, zone, first, last, form)
        return known_answer(answer.body, answer.etag, CSV_TOLD if form == CSV else JSON_TYPE)

    return routes
