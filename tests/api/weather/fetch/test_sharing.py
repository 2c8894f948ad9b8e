"""Processes that share a store share their fetches, and what they know of a source's bans."""

import threading

import pytest

from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.errors import Forbidden, RateLimited, Unreachable, WeatherUnavailable
from api.weather.fetch.fetching import FRESH_S, LEASE, SPREAD_S, due_after_s
from api.weather.fetch.forecasts import Forecasts
from api.weather.fetch.repository import KeptInMemory
from api.weather.fetch.source_order import Pauses
from api.weather.place import Place
from tests.api.stored_garden import Clock, settle
from tests.api.weather.series.test_combining import Source
from tests.api.weather.weather_service import MONTPELLIER, NOON
from tests.profile import PATIENCE_S
from tests.together import together

NEIGHBOUR = Place(43.6132, 3.8769, "Europe/Paris", ("open-meteo",))
ELSEWHERE = Place(47.0, 8.0, "Europe/Zurich", ("open-meteo",))


class Counted(Source):
    """Answers when it is let."""

    def __init__(self, clock: Clock) -> None:
        super().__init__(clock, "open-meteo", knows_past=True, solar=True)
        self.gate = threading.Event()
        self.gate.set()
        self.entered = threading.Event()

    def hours(self, place, *, past_days):
        self.entered.set()
        assert self.gate.wait(PATIENCE_S)
        return super().hours(place, past_days=past_days)


@pytest.fixture(params=["memory", "sqlite", pytest.param("postgresql", marks=pytest.mark.long)])
def a_keep(request):
    if request.param == "memory":
        yield KeptInMemory()
        return
    store = Store.open(request.getfixturevalue(f"{request.param}_url"), release="1")
    yield WeatherRows(store)
    store.close()


@pytest.fixture
def shared(a_keep, clock, monkeypatch):
    """Three processes on one keep: their sources, and their forecasts."""
    monkeypatch.setattr("api.weather.fetch.fetching.LOOKS_AGAIN_S", 0.01)
    keep = a_keep
    sources = [Counted(clock) for _ in range(3)]
    processes = [Forecasts({"open-meteo": source}, keep, clock) for source in sources]
    yield sources, processes, keep
    for source in sources:
        source.gate.set()
    for process in processes:
        process.close()


def asked(sources) -> int:
    return sum(len(source.asked) for source in sources)


def test_one_of_them_fetches_and_all_have_it(shared):
    sources, processes, _ = shared
    found = together(3, lambda number: processes[number].at(MONTPELLIER, past_days=3))
    assert asked(sources) == 1
    assert {forecast.retrieved_at for forecast in found} == {NOON}
    assert len({forecast.version for forecast in found}) == 1


def test_neighbours_share_one_place_and_one_question(shared):
    sources, processes, _ = shared
    processes[0].at(MONTPELLIER, past_days=3)
    processes[1].at(NEIGHBOUR, past_days=3)
    assert asked(sources) == 1


def test_a_process_that_died_in_its_fetch_is_waited_for_a_minute(shared, clock):
    sources, processes, keep = shared
    assert keep.hold(f"fetch {MONTPELLIER.key}", "a process that is gone", NOON, NOON + LEASE)
    hasty = Forecasts({"open-meteo": sources[0]}, keep, clock, wait_s=0.01)
    with pytest.raises(WeatherUnavailable):
        hasty.at(MONTPELLIER, past_days=3)
    assert asked(sources) == 0

    clock.forward(seconds=LEASE.total_seconds())
    assert processes[0].at(MONTPELLIER, past_days=3)
    assert asked(sources) == 1
    hasty.close()


def test_a_place_is_free_again_after_a_fetch_that_failed(shared, clock):
    sources, processes, keep = shared
    sources[0].error = Unreachable("open-meteo", "did not answer.")
    with pytest.raises(WeatherUnavailable):
        processes[0].at(MONTPELLIER, past_days=3)
    assert f"fetch {MONTPELLIER.key}" not in keep.held(clock())


@pytest.mark.parametrize(
    ("error", "pause_s", "everywhere"),
    [
        (RateLimited("open-meteo", "Hourly.", retry_after_s=2400), 2400, True),
        (Forbidden("open-meteo", "answered with 403."), 3600, True),
        (Unreachable("open-meteo", "did not answer."), 300, False),
    ],
)
def test_all_processes_heed_what_a_service_answered_one_of_them(shared, clock, error, pause_s, everywhere):
    sources, processes, _ = shared
    sources[0].error = error
    with pytest.raises(WeatherUnavailable):
        processes[0].at(MONTPELLIER, past_days=3)
    for process in processes[1:]:
        with pytest.raises(WeatherUnavailable):
            process.at(MONTPELLIER, past_days=3)
    assert asked(sources) == 1

    if everywhere:
        with pytest.raises(WeatherUnavailable):
            processes[1].at(ELSEWHERE, past_days=3)
    else:
        assert processes[1].at(ELSEWHERE, past_days=3)
    before = asked(sources)
    clock.forward(seconds=pause_s)
    assert processes[2].at(MONTPELLIER, past_days=3)
    assert asked(sources) == before + 1


def test_a_source_that_bans_us_is_asked_ever_more_seldom(clock):
    source = Counted(clock)
    source.error = Forbidden("open-meteo", "answered with 403.")
    process = Forecasts({"open-meteo": source}, KeptInMemory(), clock)
    asked_at_h = []
    for hour in range(100):
        before = len(source.asked)
        with pytest.raises(WeatherUnavailable):
            process.at(MONTPELLIER, past_days=3)
        asked_at_h += [hour] * (len(source.asked) - before)
        clock.forward(hours=1)
    assert asked_at_h == [0, 1, 3, 7, 15, 31, 55, 79]  # after 1, 2, 4, 8 and 16 hours, then once a day

    source.error = None
    clock.forward(hours=24)
    assert process.at(MONTPELLIER, past_days=3)
    source.error = Forbidden("open-meteo", "answered with 403.")
    for _ in range(2):
        clock.forward(hours=1)
        process.at(MONTPELLIER, past_days=3)
        settle()
    assert len(source.asked) == 8 + 3
    process.close()


def test_a_fetch_that_asks_several_sources_is_not_overtaken_by_another_process(a_keep, clock):
    """Two sources do not answer for 40 s each: that is longer than the lease of one."""
    overtaken = []

    class Slow(Source):
        def hours(self, place, *, past_days):
            clock.forward(seconds=40)
            now = clock()
            overtaken.append(a_keep.hold(f"fetch {place.key}", "another process", now, now + LEASE))
            return super().hours(place, past_days=past_days)

    names = ("open-meteo", "met-norway", "dwd")
    sources = {name: Slow(clock, name, knows_past=True, solar=True) for name in names}
    for name in names[:2]:
        sources[name].error = Unreachable(name, "did not answer.")
    process = Forecasts(sources, a_keep, clock)
    assert process.at(Place(43.61, 3.88, "Europe/Paris", names), past_days=3).source == "dwd"
    process.close()
    assert overtaken == [False, False, False]


def test_a_shorter_pause_does_not_end_a_longer_one(clock):
    keep = KeptInMemory()
    here, there = Pauses(keep, clock), Pauses(keep, clock)
    here.begin("dwd", "", 3600.0)
    there.begin("dwd", "", 300.0)
    here.learn()
    there.learn()
    assert here.of("dwd", "anywhere") == there.of("dwd", "anywhere") == 3600.0
    assert here.of("open-meteo", "anywhere") == 0.0


def test_places_are_due_again_within_the_last_ten_minutes_of_the_hour_each_at_its_own():
    places = [Place(40.0 + number / 100, 3.0, "UTC", ("open-meteo",)) for number in range(500)]
    ages = [due_after_s(place) for place in places]
    assert all(FRESH_S - SPREAD_S < age <= FRESH_S for age in ages)
    # 500 draws from 600: about 340 differ, and no minute has a fifth of them.
    assert len(set(ages)) > 250
    minutes = [sum(1 for age in ages if age // 60 == minute) for minute in range(50, 61)]
    assert max(minutes) < 100
    assert due_after_s(MONTPELLIER) == due_after_s(Place(43.61, 3.88, "Europe/Paris", ("open-meteo",)))
