"""Draft, final, over: a plan's life on a store, with a clock that is moved."""

import datetime as dt
from typing import Any

import orjson
import pytest

from api.errors import DateBeyondPlans, GardenNotFound, NoPlanWasMade, ZoneNotFound
from api.reports.records import ReportName
from tests.api.stored_garden import EVENING, JULY_15, ONE_DAY, House, document, lawn
from tests.together import together

JULY_14 = JULY_15 - ONE_DAY


@pytest.fixture
def house(open_house, clock) -> House:
    """A garden that was stored three days ago, whose lawn is thirsty by now."""
    house = open_house()
    clock.now = EVENING - 3 * ONE_DAY
    house.put()
    clock.now = EVENING
    return house


def starts(zone: dict[str, Any]) -> list[dt.datetime]:
    return [dt.datetime.fromisoformat(run["start"]) for run in zone["runs"]]


def states(zone: dict[str, Any]) -> list[str]:
    return [run["state"] for run in zone["runs"]]


def the_run(house: House, which: str = "next") -> dict[str, Any]:
    (run,) = house.lawn(which)["runs"]
    return dict(run)


def depletion(house: House, which: str = "next") -> float:
    return float(house.lawn(which)["soil_water"]["depletion_mm"])


# Draft


def test_before_its_hour_a_plan_is_a_draft_that_holds_until_then(house, clock):
    plan = house.plan()
    assert (plan["phase"], plan["date"]) == ("draft", "2026-07-15")
    assert plan["final_at"] == plan["valid_until"] == "2026-07-14T21:00:00+02:00"
    assert house.lawn()["remaining_l"] == house.lawn()["volume_l"] > 0


def test_a_draft_follows_the_document(house, clock):
    before = house.lawn()["volume_l"]
    house.put(document(zones={"lawn": lawn(area_m2=100)}))
    assert house.lawn()["volume_l"] == pytest.approx(2 * before, abs=2)


def test_a_draft_follows_the_forecast(house, clock, source):
    clock.to(12)
    assert house.lawn()["reasons"][0]["code"] == "soil-drying-out"
    source.told = lambda start: {"rain_mm": 2.0, "rain_probability": 1.0} if start.date() == JULY_15 else {}
    clock.to(19)
    assert house.lawn()["reasons"][0]["code"] == "rain-not-enough"


def test_a_garden_that_is_not_stored_has_no_plan(house):
    with pytest.raises(GardenNotFound):
        house.plan(garden_id="nowhere")


def test_a_zone_that_is_not_there_has_none_either(house):
    with pytest.raises(ZoneNotFound):
        house.flat(zone="pond")


# Final


def test_the_first_reading_from_its_hour_on_makes_it_final(house, clock):
    clock.to(20, 59)
    assert house.plan()["phase"] == "draft"
    clock.to(21)
    plan = house.plan()
    assert plan["phase"] == "final"
    assert plan["valid_until"].startswith("2026-07-15T06:")
    assert house.store.final("orchard", JULY_15) is not None


def test_a_final_plan_stays_byte_for_byte_where_more_would_be_wanted_now(house, clock, source):
    clock.to(21)
    made = house.life.plan("orchard", "next").body
    source.told = lambda start: {"temperature_c": 36.0, "solar_mj_m2": 3.0}
    clock.to(23, 30)
    house.life.plan("orchard", "next")
    house.settle()
    assert house.life.plan("orchard", "next").body == made
    house.put(document(zones={"lawn": lawn(area_m2=400)}))
    assert house.life.plan("orchard", "next").body == made
    clock.to(0, 30, day=15)
    assert house.life.plan("orchard", "today").body == made


def test_the_first_reading_of_one_zone_makes_the_same_plan_final(house, clock):
    clock.to(21)
    flat = house.flat()
    assert flat["phase"] == "final"
    assert flat["next_run"] == the_run(house)["id"] == "2026-07-15-lawn-1"
    assert flat["volume_l"] == house.lawn()["volume_l"]


def test_read_late_the_runs_take_what_is_left_of_the_hours(house, clock):
    clock.to(6, day=15)
    plan, zone = house.plan(), house.lawn()
    assert plan["phase"] == "final"
    assert zone["runs"]
    assert min(starts(zone)) >= clock()
    assert plan["main_valve"]["closes_at"] <= plan["valid_until"]
    assert [reason["code"] for reason in zone["reasons"]] == ["soil-drying-out", "hours-full"]


def test_a_minute_before_the_end_nothing_fits(house, clock):
    clock.to(6, 15, day=15)
    assert house.lawn()["decision"] == "wait"
    assert house.lawn()["reasons"][0]["code"] == "hours-full"


def test_whoever_goes_without_for_want_of_hours_has_a_turn_though_others_come_first(open_house, clock):
    house = open_house()
    short = {"watering_hours": [{"from": "04:00", "to": "04:17"}]}
    first, last = lawn(priority="high"), lawn(priority="low")
    house.put(document(rules=short, zones={"first": first, "last": last}))
    watered = []
    for day in range(14, 20):
        clock.to(3, 30, day=day + 1)
        plan = house.plan()
        assert plan["phase"] == "final"
        watered.append([zone["zone"] for zone in plan["zones"] if zone["decision"] == "water"])
    assert watered[:3] == [["first"]] * 3
    assert ["last"] in watered[3:]


def test_many_readers_at_that_moment_make_one_final_plan(database_url, open_house, clock):
    houses = [open_house(database_url) for _ in range(2)]
    houses[0].put()
    clock.to(21)
    bodies = together(8, lambda number: houses[number % 2].life.plan("orchard", "next").body)
    assert len(set(bodies)) == 1
    assert len(houses[0].store.finals("orchard", None, None)) == 1


def test_a_report_that_comes_while_a_plan_is_made_final_is_taken_off(house, clock, while_planning):
    clock.to(21)
    while_planning(lambda: house.report("by-hand", "done", 150.0, at=clock() - dt.timedelta(hours=1)))
    zone = house.lawn()
    assert zone["delivered_l"] == 150
    assert [note["code"] for note in zone["notes"]] == ["already-delivered"]
    assert zone["volume_l"] == pytest.approx(50 * zone["soil_water"]["depletion_mm"] - 150, abs=3)


def test_a_pause_that_comes_while_a_plan_is_made_final_holds(house, clock, while_planning):
    clock.to(21)
    pause = {"from": "2026-07-15", "to": "2026-07-20"}
    while_planning(lambda: house.put(document(rules={"pauses": [pause]})))
    assert house.lawn()["reasons"][0]["code"] == "paused"


# Over


def test_when_the_hours_end_the_plan_is_over_and_nothing_remains(house, clock):
    clock.to(21)
    run = the_run(house)
    clock.to(6, 30, day=15)
    plan, zone, flat = house.plan("today"), house.lawn("today"), house.flat("today")
    assert plan["phase"] == flat["phase"] == "over"
    assert zone["remaining_l"] == flat["remaining_l"] == flat["runs_left"] == 0
    assert [flat[name] for name in flat if name.startswith("next_")] == [None, None, 0, 0, 0]
    assert zone["volume_l"] == run["volume_l"]


def test_once_over_the_next_plan_is_that_of_the_next_night(house, clock):
    clock.to(21)
    house.plan()
    clock.to(6, 30, day=15)
    assert (house.plan()["date"], house.plan()["phase"]) == ("2026-07-16", "draft")


def test_a_plan_that_nobody_read_is_not_made_up_afterwards(house, clock):
    clock.to(6, 30, day=15)
    for which in ("today", "2026-07-15", "2026-07-01", "2020-02-29"):
        with pytest.raises(NoPlanWasMade):
            house.plan(which)
    assert house.store.finals("orchard", None, None) == []


def test_a_plan_whose_runs_moved_to_warm_hours_is_the_next_one_until_they_are_over(open_house, clock, source):
    source.told = lambda start: {"temperature_c": 3.0 if start.hour < 7 or start.hour >= 19 else 16.0}
    house = open_house()
    clock.now = EVENING - 3 * ONE_DAY
    house.put(document(rules={"frost_warm_hours": True}))
    clock.to(21, 30)
    plan = house.plan()
    run = next(zone for zone in plan["zones"] if zone["zone"] == "lawn")["runs"][0]
    starts_at = dt.datetime.fromisoformat(run["start"])
    assert (plan["phase"], plan["date"], starts_at.day) == ("final", "2026-07-15", 15)
    clock.now = starts_at  # by day, hours after sunrise
    assert house.plan()["date"] == "2026-07-15"
    assert house.flat()["next_run"] == run["id"]
    house.report(run["id"], "running", new=True)
    clock.now = dt.datetime.fromisoformat(plan["valid_until"])
    assert house.plan("2026-07-15")["phase"] == "over"
    assert (house.plan()["date"], house.plan()["phase"]) == ("2026-07-16", "draft")


def test_a_warm_day_after_a_cold_night_makes_up_for_no_plan_that_nobody_read(open_house, clock, source):
    source.told = lambda start: {"temperature_c": 3.0 if start.hour < 7 or start.hour >= 19 else 16.0}
    house = open_house()
    clock.now = EVENING - 3 * ONE_DAY
    house.put(document(rules={"frost_warm_hours": True}))
    clock.to(10, day=15)
    assert house.plan()["date"] == "2026-07-16"


def test_finals_and_reports_of_the_month_count_for_its_allowance(open_house, clock):
    house = open_house()
    clock.now = EVENING - 3 * ONE_DAY
    house.put(document(water_supply={"allowance_l": {"month": 1050}}))
    house.report("by-hand", "done", 900.0)
    clock.to(21, 30)
    plan = house.plan()
    assert plan["volume_l"] == 150  # all that is left, and just the lawn's smallest dose of 3 mm
    clock.to(12, day=15)
    assert house.plan()["volume_l"] == 0


def test_a_late_report_still_counts(house, clock):
    clock.to(21)
    run = the_run(house)
    clock.to(15, day=15)
    assert states(house.lawn("today")) == ["unreported"]
    before = depletion(house)
    house.report(run["id"], "done", run["volume_l"] - 100, at=clock() - dt.timedelta(hours=9))
    assert states(house.lawn("today")) == ["done"]
    assert house.lawn("today")["delivered_l"] == run["volume_l"] - 100
    assert depletion(house) == pytest.approx(before + 2.0, abs=0.11)  # 100 l on 50 m²


# Which plan


def test_today_tomorrow_and_a_date_name_the_same_plans(house, clock):
    clock.to(10, day=15)
    assert (
        house.plan()["date"]
        == house.plan("tomorrow")["date"]
        == house.plan("2026-07-16")["date"]
        == "2026-07-16"
    )
    clock.to(23)
    assert house.plan()["date"] == house.plan("tomorrow")["date"] == "2026-07-15"
    clock.to(0, 10, day=15)
    assert house.plan()["date"] == house.plan("today")["date"] == "2026-07-15"
    assert house.plan("tomorrow")["date"] == "2026-07-16"


@pytest.mark.parametrize("which", ["2026-07-16", "2026-08-01", "2100-12-31"])
def test_a_date_beyond_tomorrow_is_refused(house, which):
    with pytest.raises(DateBeyondPlans, match="plans reach to 2026-07-15"):
        house.plan(which)


def test_the_plan_of_a_night_that_was_open_when_the_garden_was_stored_can_be_read(open_house, clock):
    house = open_house()
    clock.to(16)
    late = document(rules={"watering_hours": [{"from": "14:00", "to": "18:00"}]})
    house.put(late)
    assert house.plan("tomorrow")["date"] == "2026-07-15"
    assert (house.plan()["date"], house.plan()["phase"]) == ("2026-07-14", "final")


# What flowed, and what counts as if it had


@pytest.fixture
def night(house, clock) -> dict[str, Any]:
    """The run of a final plan, at the time at which it should begin."""
    clock.to(21)
    run = the_run(house)
    clock.now = dt.datetime.fromisoformat(run["start"])
    return run


def next_depletion(house: House) -> float:
    """What the lawn lacks on the morning after, as the next evening's draft has it."""
    house.clock.to(20, day=15)
    assert house.plan()["date"] == "2026-07-16"
    return depletion(house)


def test_a_run_that_nobody_reports_counts_as_planned(house, night):
    silent = next_depletion(house)
    assert states(house.lawn("today")) == ["unreported"]
    assert house.lawn("today")["delivered_l"] == 0
    house.report(night["id"], "done", night["volume_l"])
    assert next_depletion(house) == silent


def test_a_garden_whose_unreported_water_counts_for_nothing_stays_dry(open_house, clock):
    house = open_house()
    house.put(document(unreported_watering="none"))
    clock.to(21)
    run = the_run(house)
    silent = next_depletion(house)
    house.report(run["id"], "no-water", 0.0)
    assert next_depletion(house) == silent
    house.report_again(run["id"], "done", run["volume_l"])
    assert next_depletion(house) < silent - 1.0


def test_what_is_still_to_come_counts_in_the_next_draft_even_so(open_house, clock):
    house = open_house()
    house.put(document(unreported_watering="none"))
    clock.to(21)
    run = the_run(house)
    clock.to(1, day=15)
    coming = depletion(house, "tomorrow")
    clock.now = dt.datetime.fromisoformat(run["start"]) + dt.timedelta(seconds=run["max_open_s"])
    assert depletion(house, "tomorrow") > coming + 1.0


def test_a_reported_volume_takes_the_place_of_the_planned_one(house, night):
    silent = next_depletion(house)
    house.report(night["id"], "stopped", night["volume_l"] - 200)
    assert next_depletion(house) > silent + 1.0


@pytest.mark.parametrize("outcome", ["done", "stopped", "lost-contact"])
def test_an_unknown_volume_counts_as_planned(house, night, outcome):
    silent = next_depletion(house)
    house.report(night["id"], outcome, None)
    assert next_depletion(house) == silent
    assert house.reports.get("orchard", ReportName("lawn", night["id"]))["counted_l"] == night["volume_l"]


@pytest.mark.parametrize("volume_l", [None, 0.0])
def test_no_water_counts_for_nothing(house, night, volume_l):
    silent = next_depletion(house)
    house.report(night["id"], "no-water", volume_l)
    assert next_depletion(house) > silent + 1.0
    assert house.lawn("today")["delivered_l"] == 0


def test_an_announced_run_counts_in_full_at_once(house, night):
    house.report(night["id"], "running", new=True)
    zone = house.lawn()
    assert states(zone) == ["running"]
    assert (zone["delivered_l"], zone["remaining_l"]) == (night["volume_l"], 0)
    assert house.flat()["next_run"] is None


def test_a_run_is_to_do_until_its_limit_and_unreported_from_then_on(house, night, clock):
    limit = dt.datetime.fromisoformat(night["start"]) + dt.timedelta(seconds=night["max_open_s"])
    clock.to(6, day=15)
    assert limit > clock()
    assert house.flat()["runs_left"] == 1
    assert house.lawn()["remaining_l"] == night["volume_l"]


@pytest.mark.parametrize(
    ("hour", "day", "date"), [(9, 14, JULY_14), (14, 14, JULY_14), (15, 14, JULY_15), (20, 14, JULY_15)]
)
def test_hand_watering_belongs_to_the_date_before_three_and_to_the_next_after(house, clock, hour, day, date):
    house.report("can", "done", 100.0, at=dt.datetime(2026, 7, day, hour - 2, 30, tzinfo=dt.UTC))
    (kept,) = house.reported()
    assert kept["date"] == date.isoformat()


def test_hand_watering_of_the_date_is_taken_off_its_draft(house, clock):
    before = house.lawn()
    house.report("can", "done", 100.0, at=clock() - dt.timedelta(hours=1))
    after = house.lawn()
    assert after["volume_l"] == pytest.approx(before["volume_l"] - 100, abs=1)
    assert after["remaining_l"] == after["volume_l"]
    assert after["delivered_l"] == 100
    assert after["soil_water"] == before["soil_water"]
    assert [note["code"] for note in after["notes"]] == ["already-delivered"]


def test_hand_watering_of_the_day_before_is_in_the_ledger(house, clock):
    before = house.lawn()
    house.report("can", "done", 100.0, at=clock() - dt.timedelta(hours=7))
    after = house.lawn()
    assert after["soil_water"]["depletion_mm"] < before["soil_water"]["depletion_mm"] - 1.0
    assert after["delivered_l"] == 0


def test_enough_hand_watering_makes_a_draft_wait(house, clock):
    house.report("can", "done", 900.0, at=clock() - dt.timedelta(hours=1))
    zone = house.lawn()
    assert (zone["decision"], zone["reasons"][0]["code"], zone["volume_l"]) == ("wait", "soil-moist", 0)


def test_a_report_taken_back_gives_its_run_back(house, night, clock):
    house.report(night["id"], "done", night["volume_l"])
    assert house.lawn()["remaining_l"] == 0
    house.reports.delete("orchard", ReportName("lawn", night["id"]))
    zone = house.lawn()
    assert (states(zone), zone["delivered_l"], zone["remaining_l"]) == (["to-do"], 0, night["volume_l"])
    clock.to(9, day=15)
    assert states(house.lawn("today")) == ["unreported"]


def test_an_edited_garden_keeps_what_was_delivered(house, night):
    house.report(night["id"], "stopped", 100.0)
    before = next_depletion(house)
    house.put(document(name="Orchard, renamed"))
    assert depletion(house) == before
    house.reports.delete("orchard", ReportName("lawn", night["id"]))
    assert depletion(house) != before


def test_a_zone_that_was_taken_out_and_comes_back_has_its_water(house, night):
    house.report(night["id"], "stopped", 100.0)
    before = next_depletion(house)
    house.put(document(zones={"hedge": lawn()}))
    assert [zone["zone"] for zone in house.plan()["zones"]] == ["hedge"]
    house.put(document())
    assert depletion(house) == before


# Where the ledger begins


def test_the_first_guess_is_reckoned_once_for_a_document(house, clock, source):
    house.plan()
    guess = house.store.opening("orchard", house.store.garden("orchard").document_version)
    assert guess["date"] == "2026-07-12"
    source.told = lambda start: {"temperature_c": 35.0}
    clock.to(19, day=20)
    house.plan()
    assert house.store.opening("orchard", house.store.garden("orchard").document_version) == guess
    house.put(document(name="Orchard, renamed"))
    house.plan()
    assert (
        house.store.opening("orchard", house.store.garden("orchard").document_version)["date"]
        == guess["date"]
    )


def test_a_second_reading_plans_like_the_first(open_house, clock, source):
    showers = {dt.date(2026, 5, 9): 30.0, dt.date(2026, 6, 3): 20.0, dt.date(2026, 6, 20): 40.0}
    source.told = lambda start: {"rain_mm": showers.get(start.date(), 0.0) if start.hour == 12 else 0.0}
    house = open_house()
    house.put(document(zones={"lawn": lawn(planting={"plant": "turf-cool-season", "root_depth_m": 0.6})}))
    first = house.plan()
    assert first["zones"][0]["room_mm"] > 0.0
    assert house.plan() == first


def test_soil_that_was_full_before_the_garden_was_stored_counts_at_every_reading(open_house, clock):
    house = open_house()
    house.put(document(zones={"lawn": lawn(soil_full_on="2026-07-12")}))
    first = house.plan()
    assert first["history"] == "known"
    assert house.plan() == first
    (zone,) = first["zones"]
    assert zone["notes"] == []


def test_the_first_draft_is_the_plan_that_a_request_would_get(house, clock):
    from api.schemas.plan_request import load_plan_request

    stored = house.put({**document(), "id": "new"})
    asked = house.life.for_request(load_plan_request({"garden": document(id="new")}), explain=False)
    draft = house.plan(garden_id=stored.id)
    for name in ("date", "history", "volume_l", "main_valve", "weather", "zones", "carry_over", "outlook"):
        assert draft[name] == asked[name], name


def test_everything_is_the_same_after_a_restart(open_house, house, night, clock):
    house.report(night["id"], "stopped", 120.0)
    before = [house.life.plan("orchard", which).body for which in ("next", "tomorrow")]
    house.close()
    again = open_house()
    assert again.life.plan("orchard", "next").body == before[0]
    drafts = [orjson.loads(before[1]), again.plan("tomorrow")]
    assert drafts[0] == drafts[1]


def test_weather_lost_from_before_some_day_is_noted_and_guessed(open_house, clock, source):
    house = open_house()
    house.put()
    house.plan()
    clock.to(19, day=14)
    clock.now += 200 * ONE_DAY
    whole = source.hours
    source.hours = lambda place, past_days: whole(place, past_days=min(past_days, 92))
    plan = house.plan()
    assert plan["history"] == "assumed"
    assert "weather-gap" in [note["code"] for note in plan["notes"]]


# How long an answer holds


def instants_before(end: dt.datetime, now: dt.datetime) -> list[dt.datetime]:
    length = (end - now) / 7
    return [now + number * length for number in range(1, 7)] + [end - dt.timedelta(seconds=1)]


def without_making(body: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name != "made_at"}


@pytest.mark.parametrize(
    ("which", "unreported"),
    [
        ("next", "as-planned"),
        ("today", "none"),
        ("tomorrow", "none"),
        ("2026-07-15", "as-planned"),
        pytest.param("next", "none", marks=pytest.mark.long),
        pytest.param("today", "as-planned", marks=pytest.mark.long),
        pytest.param("tomorrow", "as-planned", marks=pytest.mark.long),
        pytest.param("2026-07-15", "none", marks=pytest.mark.long),
    ],
)
def test_an_answer_is_the_same_until_the_moment_that_ends_it(open_house, clock, which, unreported):
    """From the afternoon to the noon after the night, from one such moment to the next."""
    house = open_house()
    clock.now = EVENING - ONE_DAY
    house.put(document(unreported_watering=unreported, rules={"watering_hours": [
        {"from": "22:00", "to": "05:00"}, {"from": "12:00", "to": "12:30"}]}))  # fmt: skip
    clock.to(21)
    house.plan("2026-07-15")
    clock.to(13)
    moments = 0
    while clock.now < dt.datetime(2026, 7, 15, 12, tzinfo=dt.UTC):
        now = clock.now
        try:
            house.life.plan("orchard", which)
            house.settle()
            answer = house.life.plan("orchard", which)
        except NoPlanWasMade:
            clock.now += dt.timedelta(minutes=30)
            continue
        assert answer.fresh_until > now
        body = orjson.loads(answer.body)
        for instant in instants_before(answer.fresh_until, now):
            clock.now = instant
            again = house.life.plan("orchard", which)
            if orjson.loads(again.body)["weather"]["retrieved_at"] != body["weather"]["retrieved_at"]:
                break  # not the clock: a new forecast has ended it, as the place's version tells
            if body["phase"] == "draft":
                assert without_making(orjson.loads(again.body)) == without_making(body), instant
            else:
                assert again.body == answer.body, instant
        clock.now = answer.fresh_until
        moments += 1
    assert moments >= 3


def test_a_draft_of_an_old_forecast_holds_for_a_minute_and_not_past_the_moment_it_is_stale(
    house, clock, source
):
    clock.to(10)
    retrieved_at = house.plan()["weather"]["retrieved_at"]

    def fails(place: Any, past_days: int) -> Any:
        raise ConnectionError("no line")

    source.hours = fails
    clock.to(15, 59)
    clock.now += dt.timedelta(seconds=30)
    answer = house.life.plan("orchard", "next")
    assert orjson.loads(answer.body)["weather"]["retrieved_at"] == retrieved_at
    assert not orjson.loads(answer.body)["weather"]["stale"]
    assert answer.fresh_until - clock.now == dt.timedelta(seconds=30)
    clock.to(16, 1)
    answer = house.life.plan("orchard", "next")
    assert orjson.loads(answer.body)["weather"]["stale"]
    assert answer.fresh_until - clock.now == dt.timedelta(seconds=60)


def test_tomorrow_is_another_day_from_midnight_on(open_house, clock):
    house = open_house()
    house.put(document(rules={"watering_hours": [{"from": "06:00", "to": "08:00"}]}))
    clock.to(23, 40)
    answer = house.life.plan("orchard", "tomorrow")
    assert answer.fresh_until == dt.datetime(2026, 7, 14, 22, tzinfo=dt.UTC)
    assert (house.plan("tomorrow")["date"], house.plan("tomorrow")["phase"]) == ("2026-07-15", "draft")


def test_a_kept_answer_is_not_given_once_a_report_has_come(house, night, clock):
    house.plan()
    assert house.answers.read("orchard", "plan:next", clock()) is not None
    house.report(night["id"], "running")
    assert house.answers.read("orchard", "plan:next", clock()) is None


# The plain truth


@pytest.mark.parametrize("reports", [True, False])
def test_forty_dry_days_get_what_the_plants_use(open_house, clock, source, reports):
    """Polled each evening; the controller waters as planned, and tells it or never says a word."""
    house = open_house()
    start = dt.datetime(2026, 6, 10, 19, 5, tzinfo=dt.UTC)
    clock.now = start
    deep = lawn(planting={"plant": "turf-cool-season", "kc": 1.0, "root_depth_m": 0.6})
    zones = {"lawn": lawn(), "deep": deep}
    house.put(document(zones={name: {**zone, "soil_full_on": "2026-06-11"} for name, zone in zones.items()}))
    watered = {"lawn": 0.0, "deep": 0.0}
    eto_mm = 0.0
    for evening in range(40):
        clock.now = start + evening * ONE_DAY
        plan = house.plan()
        assert plan["phase"] == "final"
        eto_mm += plan["weather"]["eto_mm"]
        for zone in plan["zones"]:
            watered[zone["zone"]] += zone["volume_l"]
            for run in zone["runs"]:
                if reports:
                    clock.now = dt.datetime.fromisoformat(run["start"])
                    house.report(run["id"], "running", zone=zone["zone"], new=True)
                    clock.now += dt.timedelta(seconds=run["run_time_s"])
                    house.report(run["id"], "done", run["volume_l"], zone=zone["zone"])
    last = {zone["zone"]: zone["soil_water"]["depletion_mm"] for zone in plan["zones"]}
    for zone_id, volume_l in watered.items():
        # What was used and not given back yet is what the soil lacks; the last plan's own water is counted.
        used_mm = eto_mm - plan["weather"]["eto_mm"]
        given_mm = (volume_l - next(z["volume_l"] for z in plan["zones"] if z["zone"] == zone_id)) / 50
        assert given_mm + last[zone_id] == pytest.approx(used_mm, rel=0.01)
        assert given_mm > 0.6 * used_mm
