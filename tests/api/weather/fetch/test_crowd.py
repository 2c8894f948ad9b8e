"""Many threads in each of four processes ask for one place at once; the service is asked once."""

import json
import subprocess
import sys
from pathlib import Path

from tests.api.weather.weather_service import NOON
from tests.profile import PATIENCE_S

SCRIPT = Path(__file__).with_name("crowd.py")
ROOT = Path(__file__).parents[4]


THREADS = 64


# A PostgreSQL server has 100 connections unless it is told otherwise, and here are 256 threads.
def test_a_cold_place_is_asked_for_once_by_all_processes_together(service, tmp_path, empty_database_url):
    cache = tmp_path / "cache.db"
    ran = subprocess.run(
        [sys.executable, SCRIPT, empty_database_url, service.url, cache, NOON.isoformat(), str(THREADS)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": ""},
    )
    told = [json.loads(line) for line in ran.stdout.splitlines()]

    assert ran.returncode == 0, ran.stderr
    assert [process["failures"] for process in told] == [[]] * 4
    assert [process["answers"] for process in told] == [THREADS] * 4
    assert len({tuple(process["versions"]) for process in told}) == 1
    assert len(service.questions) == 1
