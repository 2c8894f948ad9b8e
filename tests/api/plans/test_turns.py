"""Turns over HTTP: one question opens a valve, whatever the controller's clock and rhythm."""

import datetime as dt

import pytest

from tests.api.stored_garden import document, lawn

TURNS = "/v1/gardens/orchard/turns"
TWO = {"lawn": lawn(), "bed": lawn(area_m2=20)}


@pytest.fixture
def client(house):
    """A garden of a lawn and a bed, in the middle of its night."""
    house.put(document(zones=TWO))
    return house.client()


def ask(client, key=None, **body):
    headers = {} if key is None else {"Idempotency-Key": key}
    answer = client.post(TURNS, json=body, headers=headers)
    assert answer.status_code in (200, 201), answer.json
    assert answer.json["granted"] == (answer.status_code == 201) == ("Location" in answer.headers)
    assert set(answer.json) == set(KEYS)
    return answer.json


KEYS = (
    *("granted", "garden", "zone", "run", "volume_l", "run_time_s", "max_open_s", "close_by", "open_by"),
    *("shut_by", "delivery", "main_valve", "why", "text", "next_at"),
)


def to_the_first_run(client, clock):
    """Move to the start of the night's first run."""
    clock.to(21, 5)
    plan = client.get("/v1/gardens/orchard/plan").json
    clock.now = min(moment(run["start"]) for zone in plan["zones"] for run in zone["runs"])


def until_granted(client, clock, minutes=5, key=None, **body):
    """Ask every five minutes until there is a turn."""
    for _ in range(150):
        answer = ask(client, key, **body)
        if answer["granted"]:
            return answer
        clock.forward(minutes=minutes)
    raise AssertionError(answer)


def close(client, turn, volume_l=None, outcome="done", **moments):
    told = {"outcome": outcome, "volume_l": turn["volume_l"] if volume_l is None else volume_l, **moments}
    answer = client.put(turn["delivery"], json=told)
    assert answer.status_code in (200, 201), answer.json
    return answer


def moment(text):
    return dt.datetime.fromisoformat(text)


def test_a_draft_gives_no_turn_and_says_when_it_becomes_final(client):
    answer = ask(client)
    assert (answer["why"], answer["next_at"]) == ("draft", "2026-07-14T21:00:00+02:00")
    assert all(answer[name] is None for name in ("zone", "run", "volume_l", "open_by", "main_valve"))


def test_before_the_first_run_the_answer_says_when_to_ask(client, clock):
    clock.to(21, 5)
    answer = ask(client)
    assert answer["why"] == "not-yet"
    plan = client.get("/v1/gardens/orchard/plan").json
    first = min(run["start"] for zone in plan["zones"] for run in zone["runs"])
    assert moment(answer["next_at"]) == moment(first) - dt.timedelta(minutes=15)


def test_a_turn_has_its_limits_and_counts_in_full_until_it_is_reported(client, clock):
    clock.to(21, 5)
    turn = until_granted(client, clock)
    assert moment(turn["open_by"]) == clock.now + dt.timedelta(minutes=2)
    assert moment(turn["shut_by"]) == moment(turn["open_by"]) + dt.timedelta(seconds=turn["max_open_s"])
    assert turn["main_valve"] == {"open": True, "shut_by": turn["shut_by"]}
    assert turn["delivery"] == f"/v1/gardens/orchard/deliveries/{turn['zone']}/{turn['run']}"
    flat = client.get(f"/v1/gardens/orchard/plan/{turn['zone']}").json
    assert flat["delivered_l"] == turn["volume_l"]
    assert client.get(turn["delivery"]).json["counted_l"] == turn["volume_l"]
    close(client, turn, 12.0, "stopped")
    assert client.get(f"/v1/gardens/orchard/plan/{turn['zone']}").json["delivered_l"] == 12.0


def test_the_tap_is_busy_until_the_report_and_the_gap_after_it(client, clock):
    clock.to(21, 5)
    turn = until_granted(client, clock)
    clock.now = moment(turn["open_by"]) + dt.timedelta(minutes=1)
    busy = ask(client)
    assert busy["why"] in ("tap-busy", "not-yet")
    close(client, turn)
    second = until_granted(client, clock, minutes=1)
    assert second["zone"] != turn["zone"]


def test_every_run_of_a_night_gets_one_turn_and_then_there_is_nothing_to_do(client, clock):
    clock.to(21, 5)
    turns = []
    for _ in range(2):
        turns.append(until_granted(client, clock))
        clock.forward(seconds=turns[-1]["run_time_s"])
        close(client, turns[-1])
    assert {turn["zone"] for turn in turns} == {"lawn", "bed"}
    done = ask(client)
    assert done["why"] == "nothing-to-do"
    assert moment(done["next_at"]) > clock.now


def test_whoever_was_away_gets_the_run_later_in_the_same_hours(house, clock):
    spans = [{"from": "22:00", "to": "02:00"}, {"from": "05:00", "to": "06:00"}]
    house.put(document(rules={"watering_hours": spans}))
    client = house.client()
    clock.to(21, 5)
    ask(client)
    clock.to(3, day=15)
    missed = ask(client)
    assert (missed["why"], missed["next_at"]) == ("not-yet", "2026-07-15T05:00:00+02:00")
    clock.to(5, day=15)
    (zone,) = client.get("/v1/gardens/orchard/plan").json["zones"]
    assert ask(client)["volume_l"] == zone["runs"][0]["volume_l"] == zone["volume_l"]


def test_no_second_of_a_turn_lies_after_the_hours_or_in_a_ban(house, clock):
    house.put(
        document(
            rules={
                "watering_hours": [{"from": "22:00", "to": "06:00"}],
                "forbidden_hours": [{"from": "05:30", "to": "12:00"}],
            }
        )
    )
    client = house.client()
    clock.to(21, 5)
    ask(client)
    clock.to(5, 20, day=15)
    turn = ask(client)
    assert (turn["run_time_s"], turn["max_open_s"]) == (480, 480)
    assert turn["shut_by"] == "2026-07-15T05:30:00+02:00"
    assert turn["volume_l"] == 160.0  # 8 minutes of 20 l/min
    (zone,) = client.get("/v1/gardens/orchard/plan").json["zones"]
    (run,) = zone["runs"]
    assert (run["volume_l"], run["reason"]["code"], zone["delivered_l"]) == (160.0, "turn-came-late", 160.0)


def test_too_little_of_the_hours_is_no_turn(house, clock):
    house.put(document(rules={"watering_hours": [{"from": "22:00", "to": "06:00"}]}))
    client = house.client()
    clock.to(21, 5)
    ask(client)
    clock.to(5, 57, day=15)
    assert ask(client)["why"] == "hours-over"


def test_a_lost_answer_is_asked_again_under_its_key_until_open_by(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client, key="night-1")
    assert turn["granted"]
    assert ask(client, key='"night-1"') == turn
    clock.forward(seconds=120)
    assert ask(client, key="night-1") == turn
    clock.forward(seconds=1)
    over = ask(client, key="night-1")
    assert (over["granted"], over["why"]) == (False, "turn-over")
    assert ask(client, key="night-2")["why"] == "tap-busy"


def test_a_reported_turn_is_not_granted_again_by_its_key(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client, key="night-1")
    close(client, turn, 0.0, "no-water")
    assert ask(client, key="night-1")["why"] == "turn-over"


def test_another_body_under_a_key_is_refused(client, clock):
    to_the_first_run(client, clock)
    ask(client, key="night-1")
    answer = client.post(TURNS, json={"zones": ["bed"]}, headers={"Idempotency-Key": "night-1"})
    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/key-used-otherwise"


def test_a_refusal_is_judged_anew_under_its_key(client, clock):
    clock.to(21, 5)
    assert not ask(client, key="night-1")["granted"]
    to_the_first_run(client, clock)
    assert ask(client, key="night-1")["granted"]


def test_a_key_that_cannot_be_is_refused(client):
    answer = client.post(TURNS, json={}, headers={"Idempotency-Key": "two words"})
    assert answer.status_code == 422


def test_a_turn_is_given_of_the_zones_that_the_controller_can_open(client, clock):
    clock.to(21, 5)
    assert until_granted(client, clock, zones=["bed"])["zone"] == "bed"


def test_a_zone_that_is_not_there_is_told_with_those_that_are(client):
    answer = client.post(TURNS, json={"zones": ["bed", "pond"]})
    assert answer.status_code == 404
    assert '"pond"' in answer.json["detail"]
    assert "lawn, bed" in answer.json["detail"] or "bed, lawn" in answer.json["detail"]


def test_a_garden_that_is_not_there_gives_no_turns(client):
    assert client.post("/v1/gardens/nowhere/turns", json={}).status_code == 404


def test_zones_that_somebody_waters_by_hand_get_no_turns(house, clock):
    by_hand = lawn(watering={"method": "by-hand", "flow_l_min": 20})
    house.put(document(zones={"lawn": by_hand}))
    clock.to(4, day=15)
    assert ask(house.client())["why"] == "nothing-to-do"


def test_the_report_of_an_open_turn_cannot_be_taken_back(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client)
    refused = client.delete(turn["delivery"])
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/turn-is-open")


def test_a_report_that_is_taken_back_opens_its_turn_again_and_gives_no_second_one(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client)
    close(client, turn, 5.0, "stopped")
    assert client.delete(turn["delivery"]).status_code == 204
    assert client.get(turn["delivery"]).json["counted_l"] == turn["volume_l"]
    other = until_granted(client, clock)
    assert other["run"] != turn["run"]
    clock.now = moment(other["shut_by"])
    assert ask(client)["why"] in ("nothing-to-do", "draft")


def test_the_same_report_again_is_equal_though_it_has_no_moments(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client)
    clock.forward(minutes=10)
    first = close(client, turn, 77.0, "stopped")
    clock.forward(minutes=3)
    again = close(client, turn, 77.0, "stopped")
    assert again.status_code == 200
    assert again.json == first.json
    assert moment(first.json["started_at"]) == moment(turn["open_by"]) - dt.timedelta(minutes=2)


def test_a_lost_contact_frees_nothing_sooner(client, clock):
    to_the_first_run(client, clock)
    turn = ask(client)
    close(client, turn, outcome="lost-contact", volume_l=50.0)
    clock.forward(minutes=5)
    busy = ask(client)
    assert busy["why"] == "tap-busy"
    assert moment(busy["next_at"]) == moment(turn["shut_by"]) + dt.timedelta(minutes=2)


def test_a_valve_that_says_it_is_open_after_its_turn_keeps_the_tap_until_it_says_shut(client, clock):
    clock.to(23, 0)
    ask(client)
    clock.to(2, 0, day=15)
    turn = until_granted(client, clock)
    clock.now = moment(turn["shut_by"]) + dt.timedelta(minutes=3)
    valve = f"/v1/gardens/orchard/valves/{turn['zone']}"
    assert client.put(valve, json={"state": "open"}).status_code == 201
    assert ask(client)["why"] in ("tap-busy", "hours-over")
    client.put(valve, json={"state": "shut"})
    clock.forward(minutes=1)
    assert until_granted(client, clock, minutes=1)["zone"] != turn["zone"]


def test_who_announces_in_a_night_of_turns_is_told_to_ask_for_one(client, clock):
    clock.to(21, 5)
    ask(client)
    plan = client.get("/v1/gardens/orchard/plan").json
    zone, run = next((zone["zone"], run) for zone in plan["zones"] for run in zone["runs"])
    clock.now = moment(run["start"])
    told = {"outcome": "running", "started_at": run["start"]}
    answer = client.put(f"/v1/gardens/orchard/deliveries/{zone}/{run['id']}", json=told)
    assert (answer.status_code, answer.json["type"]) == (409, "/problems/run-not-open")


def test_two_questions_at_once_get_one_turn(client, clock):
    to_the_first_run(client, clock)
    answers = [ask(client) for _ in range(3)]
    assert [answer["granted"] for answer in answers] == [True, False, False]


def test_refusals_are_answered_from_what_is_kept_and_write_nothing(house, client, clock):
    clock.to(21, 5)
    first = ask(client)
    version = house.store.garden("orchard").version
    clock.forward(minutes=5)
    assert ask(client) == first
    assert house.store.garden("orchard").version == version


def test_a_pause_that_came_since_gives_no_turn(house, client, clock):
    clock.to(21, 5)
    ask(client)
    to_the_first_run(client, clock)
    house.put(document(zones=TWO, rules={"pauses": [{"from": "2026-07-15", "to": "2026-07-15"}]}))
    assert ask(client)["why"] == "nothing-to-do"


def test_the_turns_of_a_garden_do_not_stand_in_its_plan(client, clock):
    clock.to(21, 5)
    ask(client)
    assert "turns_since" not in client.get("/v1/gardens/orchard/plan").json
