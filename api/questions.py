"""What answers are kept under: the question that they answer, with all that makes it another one."""

import datetime as dt
from typing import Final

from api.store.etags import strong_etag
from scheduling.usage import By

ALERTS: Final = "alerts"


def ledger_question(zone_id: str, first: dt.date | None, last: dt.date | None, form: str) -> str:
    """Which rows of which zone, and in which form."""
    return f"ledger/{zone_id}:{first or ''}:{last or ''}:{form}"


def usage_question(first: dt.date | None, last: dt.date | None, by: By, timer: str | None) -> str:
    """Which dates, in which periods, against which timer.

    Of the timer a hash: it is any text, of any length, that has not been looked at yet.
    """
    beside = "" if timer is None else strong_etag(timer.encode("utf-8", "surrogatepass"))
    return f"usage:{first or ''}:{last or ''}:{by}:{beside}"
