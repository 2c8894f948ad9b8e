"""Processes that use one store at the same moment.

`python contenders.py URL race`: eight processes open the store, create a garden unless it is there, make
a plan final, and change the garden ten times; each prints what it came upon as a line of JSON.
`python contenders.py URL crash`: one dies in the middle of a change.
"""

import datetime as dt
import json
import multiprocessing
import os
import sys
from multiprocessing.synchronize import Barrier

import alembic.command  # noqa: F401  here, so that eight processes do not load it, nor the driver, one by one
import psycopg  # noqa: F401

from api.store import engines
from api.store.rows import StoredDelivery
from api.store.store import Store
from tests.profile import PATIENCE_S

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
DATE = dt.date(2026, 7, 15)


def race(url: str) -> None:
    forking = multiprocessing.get_context("fork")  # no store is open yet, and no thread runs
    start = forking.Barrier(8)
    contenders = [forking.Process(target=contend, args=(url, str(number), start)) for number in range(8)]
    for contender in contenders:
        contender.start()
    for contender in contenders:
        contender.join()
    sys.exit(max(abs(contender.exitcode or 0) for contender in contenders))


def contend(url: str, number: str, start: Barrier) -> None:
    engines.LONGEST_WAIT_S = PATIENCE_S
    start.wait()
    store = Store.open(url, release="1")
    with store.changing("quince-court") as change:
        created = change.garden is None
        if created:
            change.put_document({"count": 0}, "here", NOW)
    start.wait()
    final = store.keep_final("quince-court", DATE, NOW, {"made_by": number})
    for turn in range(10):
        with store.changing("quince-court") as change:
            change.put_document({"count": change.garden.document["count"] + 1}, "here", NOW)
            change.put_report(StoredDelivery("lawn", f"{number}-{turn}", DATE, {}))
    # One write, so that no line of another process comes between.
    os.write(sys.stdout.fileno(), json.dumps({"created": created, "final": final}).encode() + b"\n")


def crash(url: str) -> None:
    store = Store.open(url, release="1")
    with store.changing("quince-court") as change:
        change.put_document({"count": -1}, "here", NOW)
        change.put_report(StoredDelivery("lawn", "lost", DATE, {}))
        os._exit(9)


if __name__ == "__main__":
    {"race": race, "crash": crash}[sys.argv[2]](sys.argv[1])
