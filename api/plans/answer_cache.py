"""Answers: bytes made once and given until something changes them.

Making a plan takes milliseconds, asking for it again should not. An answer holds until its garden or
its place changes, until another release runs, or until the clock alone would change it.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final

from api.errors import StoredUnreadable, StoreUnavailable
from api.store.outages import outage_log
from api.store.rows import Answer, strong_etag
from api.store.store import Store
from scheduling.review.usage import By

__all__ = ["Answer", "Answers"]


class Answers:
    """The answers that a store keeps; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def read(self, garden_id: str, what: str, now: dt.datetime) -> Answer | None:
        """The answer to a question about a garden, while it holds; one statement, body included.

        Parameters
        ----------
        what
            The question, as its asker names it: `plan`, `plan/fescue-lawn`.
        """
        try:
            return self._store.answer(garden_id, what, now)
        except StoredUnreadable:
            return None  # it is made anew, and takes the place of the damaged one

    def keep(
        self,
        garden_id: str,
        what: str,
        version: int,
        place_version: int | None,
        fresh_until: dt.datetime,
        body: bytes,
        made_at: dt.datetime,
    ) -> Answer:
        """Keep an answer for those who ask next.

        Parameters
        ----------
        version
            The garden's version that was read before anything else the answer is made of.
        place_version
            Likewise of its place; None where the weather has no part in the answer.
        fresh_until
            The first moment at which the clock alone would change the answer.
        made_at
            The present moment.

        An answer that cannot be kept is given all the same; the log says why.
        """
        answer = Answer(etag=strong_etag(body), body=body, fresh_until=fresh_until)
        try:
            self._store.keep_answer(garden_id, what, version, place_version, answer, made_at)
        except StoreUnavailable as error:
            outage_log.tell(f"Answers are not kept. {error}")
        return answer


ALERTS: Final = "alerts"
NOW: Final = "now"
CHART: Final = "chart.svg"
PAGE: Final = "plan.html"
CALENDAR: Final = "plan.ics"


def chart_question(zone_id: str) -> str:
    """The picture of one zone."""
    return f"chart/{zone_id}.svg"


def plan_question(which: str, zone_id: str | None = None) -> str:
    """Which plan, or which zone of it alone."""
    return f"plan:{which}" if zone_id is None else f"plan/{zone_id}:{which}"


def turn_question(zones: Sequence[str] | None) -> str:
    """A turn for which zones, None for all; of the zones a hash: there may be many."""
    return "turn" if zones is None else f"turn:{strong_etag(' '.join(zones).encode())}"


def ledger_question(zone_id: str, first: dt.date | None, last: dt.date | None, form: str) -> str:
    """Which rows of which zone, and in which form."""
    return f"ledger/{zone_id}:{first or ''}:{last or ''}:{form}"


def usage_question(first: dt.date | None, last: dt.date | None, by: By, timer: str | None) -> str:
    """Which dates, in which periods, against which timer.

    Of the timer a hash: it is any text, of any length, that has not been looked at yet.
    """
    beside = "" if timer is None else strong_etag(timer.encode("utf-8", "surrogatepass"))
    return f"usage:{first or ''}:{last or ''}:{by}:{beside}"
