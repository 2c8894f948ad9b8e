"""`python crowd.py DATABASE_URL SERVICE_URL CACHE NOW THREADS`: four processes ask for one cold place.

Each process opens the store as a server does; all threads of all ask at the same moment. Every process
prints how many threads got an answer, the versions that they got, and what went wrong, as a line of JSON.
"""

import datetime as dt
import json
import multiprocessing
import os
import sys
import threading
from multiprocessing.synchronize import Barrier
from pathlib import Path

import psycopg  # noqa: F401  here, so that no process loads the driver by itself

from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.fetch.forecasts import Forecasts
from api.weather.place import Place
from api.weather.sources.registry import weather_sources
from tests.profile import PATIENCE_S

PROCESSES = 4
PLACE = Place(43.61, 3.88, "Europe/Paris", ("open-meteo",))


def process(url: str, service: str, cache: str, now: dt.datetime, crowd: int, start: Barrier) -> None:
    store = Store.open(url, release="1")
    sources = weather_sources({"OPEN_METEO_URL": service}, cache=Path(cache), contact=None, clock=lambda: now)
    forecasts = Forecasts(sources, WeatherRows(store), lambda: now, wait_s=PATIENCE_S)
    together = threading.Barrier(crowd + 1)
    versions: list[int] = []
    failures: list[str] = []

    def ask() -> None:
        together.wait()
        try:
            versions.append(forecasts.at(PLACE, past_days=60).version)
        except Exception as error:
            failures.append(repr(error))

    threads = [threading.Thread(target=ask) for _ in range(crowd)]
    for thread in threads:
        thread.start()
    start.wait()
    together.wait()
    for thread in threads:
        thread.join()
    told = {"answers": len(versions), "versions": sorted(set(versions)), "failures": failures[:3]}
    os.write(sys.stdout.fileno(), json.dumps(told).encode() + b"\n")
    forecasts.close()
    store.close()


def main(url: str, service: str, cache: str, now: str, threads: str) -> None:
    forking = multiprocessing.get_context("fork")  # no store is open yet, and no thread runs
    start = forking.Barrier(PROCESSES)
    moment = dt.datetime.fromisoformat(now)
    crowd = [
        forking.Process(target=process, args=(url, service, cache, moment, int(threads), start))
        for _ in range(PROCESSES)
    ]
    for one in crowd:
        one.start()
    for one in crowd:
        one.join()
    sys.exit(max(abs(one.exitcode or 0) for one in crowd))


if __name__ == "__main__":
    main(*sys.argv[1:])
