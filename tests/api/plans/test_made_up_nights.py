"""Nights that a program makes up: two controllers, lost messages, restarts, edits, and weather that turns.

Each controller does as README tells it: it polls, announces, opens a valve on 201 only with the limits
of the answer, reports, and sends again what was not acknowledged.
"""

import datetime as dt
import shutil
import tempfile
from pathlib import Path
from typing import Any

import orjson
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from api.errors import AlreadyBegun, RunNotOpen
from api.reports.records import ReportName
from api.schemas.deliveries import DeliveryReport
from tests.api.stored_garden import EVENING, ONE_DAY, Clock, House, Steady, document, lawn
from tests.profile import examples

METER_ERROR = 0.03
CLAY = {"field_capacity": 0.28, "wilting_point": 0.14, "texture": "clay-loam"}
BOTH = {"lawn": lawn(soil=CLAY), "bed": lawn(area_m2=20)}
EDITS = {
    "as it was": document(zones=BOTH),
    "paused": document(zones=BOTH, rules={"pauses": [{"from": "2026-07-15", "to": "2026-07-16"}]}),
    "smaller": document(zones={"lawn": lawn(soil=CLAY, area_m2=30), "bed": lawn(area_m2=15)}),
    "larger": document(zones={"lawn": lawn(soil=CLAY, area_m2=80), "bed": lawn(area_m2=40)}),
    "quiet hours": document(zones=BOTH, rules={"forbidden_hours": [{"from": "03:00", "to": "05:00"}]}),
    "without the bed": document(zones={"lawn": lawn(soil=CLAY)}),
    "short of water": document(zones=BOTH, water_supply={"allowance_l": {"day": 700}}),
    "silence is no water": document(zones=BOTH, unreported_watering="none"),
}
WEATHERS: dict[str, Any] = {
    "fair": lambda start: {},
    "cold": lambda start: {"temperature_c": 2.0} if start.hour < 5 else {},
    "windy": lambda start: {"wind_m_s": 7.0} if start.hour in (2, 3) else {},
    "a shower": lambda start: {"rain_mm": 9.0, "rain_probability": 1.0} if start.hour == 20 else {},
}
CONTROLLERS = st.sampled_from([0, 1])
ERROR = st.sampled_from([METER_ERROR, METER_ERROR, 0.0, -METER_ERROR])
OUTCOME = st.sampled_from(["done", "done", "done", "stopped", "lost-contact"])
LOST = st.sampled_from(["nothing", "nothing", "nothing", "request", "answer"])


class Nights(RuleBasedStateMachine):
    """A garden, two processes that serve it, and a controller at each."""

    database: Path
    """With its tables, to be copied."""

    @initialize()
    def store_the_garden(self) -> None:
        self.folder = Path(tempfile.mkdtemp(dir=self.database.parent))
        shutil.copy(self.database, self.folder / "nights.db")
        self.clock = Clock()
        self.source = Steady(self.clock)
        self.houses = [self.opened(), self.opened()]
        self.clock.now = EVENING - 3 * ONE_DAY
        self.houses[0].put(EDITS["as it was"])
        self.clock.now = EVENING + dt.timedelta(minutes=20)
        self.to_do: list[dict[str, dict[str, Any]]] = [{}, {}]
        self.unsent: list[list[dict[str, Any]]] = [[], []]
        self.open: dict[str, dict[str, Any]] = {}
        self.openers: dict[str, int] = {}
        self.acknowledged: dict[tuple[str, str], tuple[str, float | None]] = {}
        self.finals: dict[dt.date, tuple[dict[str, Any], dict[str, Any]]] = {}
        self.flowed_l: dict[tuple[dt.date, str], float] = {}
        self.hands = 0
        self.zones = set(BOTH)

    def opened(self) -> House:
        return House(f"sqlite:///{self.folder}/nights.db", self.clock, self.source)

    def teardown(self) -> None:
        if hasattr(self, "houses"):
            self.nothing_acknowledged_is_lost()
            for house in self.houses:
                house.settle()
                house.close()
            shutil.rmtree(self.folder)

    # What happens

    @rule(minutes=st.sampled_from([1, 7, 20, 45, 240]))
    def time_passes(self, minutes: int) -> None:
        self.clock.now += dt.timedelta(minutes=minutes)

    @rule(who=CONTROLLERS, polled=LOST, announced=LOST, closed=LOST, error=ERROR, outcome=OUTCOME)
    def a_controller_does_a_whole_run(
        self, who: int, polled: str, announced: str, closed: str, error: float, outcome: str
    ) -> None:
        self.a_controller_goes_on(who, polled, announced)
        mine = [run for run in self.open.values() if run["who"] == who]
        if mine:
            closes = mine[0]["began"] + dt.timedelta(seconds=mine[0]["run_time_s"])
            self.clock.now = max(self.clock.now, closes)
            self.a_valve_closes(who, error, outcome, closed)

    @rule(who=CONTROLLERS, error=ERROR, closed=LOST, outcome=OUTCOME)
    def the_rest_of_the_night_goes_alike(self, who: int, error: float, closed: str, outcome: str) -> None:
        for _ in range(8):
            self.a_controller_does_a_whole_run(who, "nothing", "nothing", closed, error, outcome)
            if not self.to_do[who]:
                return

    @rule(who=CONTROLLERS, polled=LOST, announced=LOST)
    def a_controller_goes_on(self, who: int, polled: str, announced: str) -> None:
        self.a_controller_polls(who, polled)
        starts = [dt.datetime.fromisoformat(run["start"]) for run in self.to_do[who].values()]
        if starts and starts[0] > self.clock.now:
            self.clock.now = starts[0]
        self.a_controller_announces(who, announced)

    @rule(who=CONTROLLERS, lost=LOST)
    def a_controller_polls(self, who: int, lost: str) -> None:
        if lost == "request":
            return
        house = self.houses[who]
        answer = house.answers.read("orchard", "plan:next", self.clock.now) or house.life.plan(
            "orchard", "next"
        )
        house.settle()
        self.final_plans_only_shrink()  # before it is followed: what was planned at first counts
        if lost == "answer":
            return
        plan = orjson.loads(answer.body)
        runs = [(zone["zone"], run) for zone in plan["zones"] for run in zone["runs"]]
        for zone, run in runs:
            if (zone, run["id"]) in self.acknowledged and plan["phase"] != "draft":
                assert run["state"] != "to-do"
        self.to_do[who] = {
            run["id"]: {**run, "zone": zone}
            for zone, run in sorted(runs, key=lambda entry: str(entry[1]["start"]))
            if plan["phase"] == "final" and run["state"] == "to-do"
        }

    @rule(who=CONTROLLERS, lost=LOST)
    def a_controller_announces(self, who: int, lost: str) -> None:
        due = [
            run
            for run in self.to_do[who].values()
            if dt.datetime.fromisoformat(run["start"]) <= self.clock.now
        ]
        if not due or lost == "request":
            return
        run = due[0]
        house, key = self.houses[who], (run["zone"], run["id"])
        report = DeliveryReport(self.clock.now, "running")
        try:
            _, kept = house.reports.put("orchard", ReportName(*key), report, must_be_new=True)
        except (AlreadyBegun, RunNotOpen):
            self.to_do[who].pop(run["id"])
            return
        finally:
            house.settle()
        self.acknowledged.setdefault(key, ("running", None))
        if lost == "answer":
            return  # whoever has no 201 opens nothing, now or later
        assert run["id"] not in self.openers
        self.openers[run["id"]] = who
        date = dt.date.fromisoformat(kept["date"])
        self.open[run["id"]] = {**run, **kept["run"], "who": who, "date": date, "began": self.clock.now}
        self.to_do[who].pop(run["id"])

    @rule(who=CONTROLLERS, error=ERROR, outcome=OUTCOME, lost=LOST)
    def a_valve_closes(self, who: int, error: float, outcome: str, lost: str) -> None:
        run_id = next((name for name, run in self.open.items() if run["who"] == who), None)
        if run_id is None:
            return
        run = self.open.pop(run_id)
        share = 0.4 if outcome == "stopped" else 1.0 + error
        volume_l = round(run["volume_l"] * share, 2)
        place = run["date"], run["zone"]
        self.flowed_l[place] = self.flowed_l.get(place, 0.0) + volume_l
        # A controller that lost its valve knows no litres; the valve has closed by itself.
        told_l = None if outcome == "lost-contact" else volume_l
        self.tell(who, lost, run["zone"], run_id, run["began"], outcome, told_l)

    @rule(who=CONTROLLERS, lost=LOST, zone=st.sampled_from(["lawn", "bed"]), volume_l=st.integers(1, 60))
    def somebody_waters_by_hand(self, who: int, lost: str, zone: str, volume_l: int) -> None:
        if zone not in self.zones:
            return  # there is nothing to water by this name
        self.hands += 1
        began = self.clock.now - dt.timedelta(minutes=30)
        self.tell(who, lost, zone, f"hand-{self.hands}", began, "done", float(volume_l))

    @rule(who=CONTROLLERS)
    def a_controller_sends_again_what_was_not_acknowledged(self, who: int) -> None:
        reports, self.unsent[who] = self.unsent[who], []
        if not reports:
            return
        outcomes = self.houses[who].report_all(reports)
        for told, outcome in zip(reports, outcomes, strict=True):
            if told["zone"] not in self.zones and told["id"].startswith("hand"):
                continue  # of a zone that was taken out before any of its water was told
            assert outcome.result in ("kept", "known"), outcome
            self.acknowledged[told["zone"], told["id"]] = (told["outcome"], told["volume_l"])

    @rule(edit=st.sampled_from(sorted(EDITS)))
    def the_owner_edits(self, edit: str) -> None:
        self.houses[0].put(EDITS[edit])
        self.zones = set(EDITS[edit]["zones"])

    @rule(weather=st.sampled_from(sorted(WEATHERS)))
    def the_weather_turns(self, weather: str) -> None:
        self.source.told = WEATHERS[weather]

    @rule(who=CONTROLLERS)
    def a_process_is_started_anew(self, who: int) -> None:
        self.houses[who].close()
        self.houses[who] = self.opened()

    def tell(
        self,
        who: int,
        lost: str,
        zone: str,
        report_id: str,
        began: dt.datetime,
        outcome: Any,
        volume_l: float | None,
    ) -> None:
        told = {
            "zone": zone,
            "id": report_id,
            "started_at": began.isoformat(timespec="seconds"),
            "outcome": outcome,
            "volume_l": volume_l,
        }
        if lost != "request":
            report = DeliveryReport(dt.datetime.fromisoformat(told["started_at"]), outcome, volume_l)
            self.houses[who].reports.put("orchard", ReportName(zone, report_id), report)
            self.houses[who].settle()
        if lost == "nothing":
            self.acknowledged[zone, report_id] = (outcome, volume_l)
        else:
            self.unsent[who].append(told)

    # What holds

    @invariant()
    def final_plans_only_shrink(self) -> None:
        for final in self.houses[0].store.finals("orchard", None, None):
            first, before = self.finals.get(final.date, (final.body, final.body))
            assert_no_more_than(final.body, before)
            self.finals[final.date] = first, final.body

    @invariant()
    def no_more_has_flowed_than_was_planned(self) -> None:
        for (date, zone_id), flowed_l in self.flowed_l.items():
            first, _ = self.finals[date]
            (zone,) = (zone for zone in first["zones"] if zone["zone"] == zone_id)
            largest_l = max(run["volume_l"] for run in zone["runs"])
            assert flowed_l <= zone["volume_l"] + METER_ERROR * largest_l + 0.01

    def nothing_acknowledged_is_lost(self) -> None:
        kept = {
            (one["zone"], one["id"]): (one["outcome"], one["volume_l"]) for one in self.houses[1].reported()
        }
        announced = {key for key, (outcome, _) in self.acknowledged.items() if outcome == "running"}
        for key, told in self.acknowledged.items():
            # What was announced may have been completed by a message whose answer was lost.
            assert key in kept if key in announced else kept[key] == told


def assert_no_more_than(plan: dict[str, Any], before: dict[str, Any]) -> None:
    """Hold a final plan against what it was."""
    assert plan["volume_l"] <= before["volume_l"]
    assert [zone["zone"] for zone in plan["zones"]] == [zone["zone"] for zone in before["zones"]]
    for zone, zone_before in zip(plan["zones"], before["zones"], strict=True):
        assert zone["volume_l"] <= zone_before["volume_l"]
        assert len(zone["runs"]) == len(zone_before["runs"])
        for run, run_before in zip(zone["runs"], zone_before["runs"], strict=True):
            assert (run["id"], run["start"]) == (run_before["id"], run_before["start"])
            assert run["state"] in (run_before["state"], "withdrawn")
            for limit in ("volume_l", "run_time_s", "max_open_s"):
                assert run[limit] <= run_before[limit]


@pytest.fixture
def database(request: pytest.FixtureRequest) -> Path:
    """An SQLite file with its tables, to be copied."""
    return Path(request.getfixturevalue("_sqlite_file"))


def make_up(database: Path, nights: int, steps: int) -> None:
    Nights.database = database
    run_state_machine_as_test(
        Nights,
        settings=settings(
            max_examples=nights,
            stateful_step_count=steps,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_no_run_is_opened_twice_no_more_flows_than_planned_and_nothing_is_lost(database):
    make_up(database, nights=examples(12).max_examples, steps=30)


@pytest.mark.long
def test_the_same_holds_in_very_many_nights(database):
    make_up(database, nights=500, steps=20)
