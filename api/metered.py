"""Which reports of water tell how fast it flowed."""

import datetime as dt
from collections.abc import Iterator, Sequence

from api.deliveries import run_date
from api.store.rows import StoredDelivery
from scheduling.reports import Metered

TELLS_ITS_FLOW = frozenset({"done", "stopped"})
"""Outcomes after which litres and time are both known; of a lost contact the end is not."""


def metered_runs(reports: Sequence[StoredDelivery]) -> tuple[Metered, ...]:
    """The runs of plans of which litres, begin and end were reported, in the order in which they flowed.

    Hand watering counts for nothing: who opens a valve by hand may open it half-way.
    """
    runs = sorted(_with_begin(reports), key=lambda run: run[0])
    return tuple(run for _, run in runs)


def _with_begin(reports: Sequence[StoredDelivery]) -> Iterator[tuple[dt.datetime, Metered]]:
    for report in reports:
        body = report.body
        if body["outcome"] not in TELLS_ITS_FLOW or body["volume_l"] is None or "ended_at" not in body:
            continue
        if run_date(report.zone, report.id) is None:
            continue
        begun = dt.datetime.fromisoformat(body["started_at"])
        open_s = int((dt.datetime.fromisoformat(body["ended_at"]) - begun).total_seconds())
        yield begun, Metered(report.zone, report.date, float(body["volume_l"]), open_s)
