"""How many statements the database is sent for an answer: each part of a garden is read once."""

from collections.abc import Callable, Iterator

import pytest
from sqlalchemy import event
from sqlalchemy.engine.interfaces import DBAPIConnection

from tests.api.stored_garden import Clock, House, Steady, document, lawn

NO_STATEMENTS = ("BEGIN", "COMMIT", "ROLLBACK", "PRAGMA")


class Counted:
    """Counts what SQLite is sent by a store that has not been asked anything yet."""

    def __init__(self, house: House) -> None:
        self._said: list[str] = []
        for engine in (house.store._reading, house.store._writing):
            event.listen(engine, "connect", self._listen)
            engine.dispose()

    def _listen(self, connection: DBAPIConnection, _: object) -> None:
        connection.set_trace_callback(self._said.append)

    def of(self, ask: Callable[[], object]) -> list[str]:
        """The statements that one question is answered with."""
        self._said.clear()
        ask()
        return [said for said in self._said if not said.lstrip().upper().startswith(NO_STATEMENTS)]


@pytest.fixture
def house(tmp_path) -> Iterator[House]:
    """A garden after four nights, with an allowance, at ten in the morning of 14 July, in a new process."""
    url = f"sqlite:///{tmp_path}/rootledger.db"
    clock = Clock()
    before = House(url, clock, Steady(clock))
    clock.to(12, day=10)
    supply = {"flow_l_min": 40, "allowance_l": {"month": 60000}}
    before.put(document(zones={"lawn": lawn(), "beds": lawn(area_m2=20)}, water_supply=supply))
    for day in (10, 11, 12, 13):
        clock.to(21, day=day)
        before.plan()
        before.settle()
    clock.to(10)
    before.plan()
    before.settle()
    before.close()
    house = House(url, clock, Steady(clock))
    yield house
    house.close()


@pytest.fixture
def counted(house) -> Counted:
    counted = Counted(house)
    assert len(counted.of(house.store.ping)) == 1
    house.plan()
    house.settle()
    return counted


def test_a_plan_remade_after_a_report_takes_at_most_seven(house, counted):
    house.report("by-hand", "done", 10.0)
    assert 1 < len(counted.of(house.plan)) <= 7


def test_a_final_plan_remade_after_a_report_takes_at_most_seven(house, counted):
    house.clock.to(21)
    house.plan()
    house.settle()
    house.report("by-hand", "done", 10.0)
    assert 1 < len(counted.of(house.plan)) <= 7


def test_a_plan_that_becomes_final_takes_at_most_nine(house, counted):
    house.clock.to(20, 50)
    house.plan()
    house.settle()
    house.plan()  # with the weather that was fetched meanwhile
    house.clock.to(21)
    said = counted.of(house.plan)
    assert any(statement.startswith("INSERT INTO finals") for statement in said)
    assert len(said) <= 9


@pytest.mark.parametrize("what", ["usage", "alerts", "ledger/lawn"])
def test_a_review_takes_at_most_seven(house, counted, what):
    client = house.client()
    client.get("/v1/gardens/orchard")  # tokens are read once a minute
    house.report("by-hand", "done", 10.0)
    said = counted.of(lambda: client.get(f"/v1/gardens/orchard/{what}"))
    assert 1 < len(said) <= 7
