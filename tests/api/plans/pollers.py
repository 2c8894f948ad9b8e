"""Processes that read one garden's plan at the same moment.

`python pollers.py URL MOMENT`: four processes with two threads each read the plan that is next at a
moment (ISO 8601); each of the eight prints what it read as one line.
"""

import datetime as dt
import multiprocessing
import os
import sys
import threading
from multiprocessing.synchronize import Barrier

import psycopg  # noqa: F401  here, so that four processes do not load it one by one

from api.store import engines
from tests.api.stored_garden import Clock, House, Steady
from tests.profile import PATIENCE_S

PROCESSES = 4
THREADS = 2


def poll_together(url: str, moment: str) -> None:
    forking = multiprocessing.get_context("fork")  # no store is open yet, and no thread runs
    start = forking.Barrier(PROCESSES * THREADS)
    pollers = [forking.Process(target=poll, args=(url, moment, start)) for _ in range(PROCESSES)]
    for poller in pollers:
        poller.start()
    for poller in pollers:
        poller.join()
    sys.exit(max(abs(poller.exitcode or 0) for poller in pollers))


def poll(url: str, moment: str, start: Barrier) -> None:
    engines.LONGEST_WAIT_S = PATIENCE_S
    clock = Clock(dt.datetime.fromisoformat(moment))
    house = House(url, clock, Steady(clock))

    def read() -> None:
        start.wait()
        body = house.life.plan("orchard", "next").body
        os.write(sys.stdout.fileno(), body + b"\n")  # one write, so that no other's line comes between

    threads = [threading.Thread(target=read) for _ in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    house.settle()
    house.close()


if __name__ == "__main__":
    poll_together(*sys.argv[1:])
