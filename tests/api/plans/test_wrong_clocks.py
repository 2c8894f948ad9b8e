"""A clock that was ten days ahead and is put right: what was made by it does not count any more."""

import datetime as dt
from collections.abc import Iterator

import pytest

from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.fetch.repository import KeptInMemory
from api.weather.fetch.source_order import Pauses
from tests.api.stored_garden import Clock, House, Steady

TEN_DAYS = dt.timedelta(days=10)
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def house(database_url: str) -> Iterator[House]:
    """A garden that is polled in the morning of 14 July."""
    clock = Clock()
    house = House(database_url, clock, Steady(clock))
    clock.to(10)
    house.put()
    house.client().get("/v1/gardens/orchard/plan")
    house.settle()
    yield house
    house.close()


def restarted(house: House) -> House:
    url = house.store._reading.url.render_as_string(hide_password=False)
    return House(url, house.clock, house.source)


@pytest.mark.parametrize("a_new_process", [False, True])
def test_plan_and_forecast_of_ten_days_ahead_are_replaced(house: House, a_new_process: bool) -> None:
    client = house.client()
    right = client.get("/v1/gardens/orchard/plan").json
    house.clock.now += TEN_DAYS
    ahead = client.get("/v1/gardens/orchard/plan").json
    house.settle()
    assert ahead["date"] > right["date"]
    house.clock.now -= TEN_DAYS
    later = restarted(house) if a_new_process else house
    again = later.client().get("/v1/gardens/orchard/plan").json
    later.settle()
    assert again["date"] == right["date"]
    assert again["weather"]["stale"] is False
    assert dt.datetime.fromisoformat(again["weather"]["retrieved_at"]) <= house.clock.now
    assert [zone["volume_l"] for zone in again["zones"]] == [zone["volume_l"] for zone in right["zones"]]

    house.clock.now += 2 * HOUR  # the next forecast is newer than the one of the right clock
    later.client().get("/v1/gardens/orchard/plan")
    later.settle()
    newest = later.client().get("/v1/gardens/orchard/plan").json["weather"]["retrieved_at"]
    assert newest > again["weather"]["retrieved_at"]
    if a_new_process:
        later.close()


def test_a_final_plan_of_a_wrong_clock_and_its_report_still_count(house: House) -> None:
    house.clock.now += TEN_DAYS
    house.clock.now = house.clock.now.replace(hour=19, minute=30)
    final = house.plan()
    assert final["phase"] == "final"
    house.settle()
    house.report("by-hand", "done", 10.0)
    house.clock.now -= TEN_DAYS
    date = dt.date.fromisoformat(final["date"])
    assert house.store.final("orchard", date) is not None
    assert [report["id"] for report in house.reported()] == ["by-hand"]


@pytest.mark.parametrize("ahead", [dt.timedelta(minutes=6), TEN_DAYS])
def test_an_answer_made_ahead_does_not_hold_and_one_made_just_ahead_does(
    house: House, ahead: dt.timedelta
) -> None:
    house.clock.now += ahead
    house.report("by-hand", "done", 1.0)
    house.plan()
    house.settle()
    house.plan()
    assert house.answers.read("orchard", "plan:next", house.clock.now) is not None
    assert house.answers.read("orchard", "plan:next", house.clock.now - dt.timedelta(minutes=5)) is not None
    assert house.answers.read("orchard", "plan:next", house.clock.now - ahead) is None


def test_a_hold_and_a_pause_begun_ahead_are_nobodys(store: Store) -> None:
    rows, now = WeatherRows(store), Clock().now
    ahead = now + TEN_DAYS
    assert rows.hold("fetch here", "another", ahead, ahead + HOUR)
    rows.forbid("pause demo ", ahead, ahead + HOUR)
    assert set(rows.held(ahead)) == {"fetch here", "pause demo "}
    assert rows.held(now) == {}
    assert rows.hold("fetch here", "mine", now, now + HOUR)
    rows.forbid("pause demo ", now, now + HOUR)
    assert rows.held(now) == {"fetch here": now + HOUR, "pause demo ": now + HOUR}


def test_a_process_forgets_its_pauses_when_its_clock_is_put_right() -> None:
    clock = Clock()
    pauses = Pauses(KeptInMemory(), clock)
    clock.now += TEN_DAYS
    pauses.begin("demo", "here", 3600.0)
    assert pauses.of("demo", "here") == 3600.0
    clock.now -= dt.timedelta(minutes=4)  # as clocks are corrected every day
    assert pauses.of("demo", "here") == 3600.0 + 240.0
    clock.now -= TEN_DAYS
    assert pauses.of("demo", "here") == 0.0
