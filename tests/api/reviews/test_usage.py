"""What a garden used, over HTTP: litres, money, need, rain; against allowance and timer."""

from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.api.stored_garden import Clock, House, document, lawn
from tests.profile import examples

USAGE = "/v1/gardens/orchard/usage"
BED = lawn(area_m2=20, planting={"plant": "shrubs", "kc": 0.5})


def used(client: FlaskClient, query: str = "") -> dict[str, Any]:
    answer = client.get(USAGE + query)
    assert answer.status_code == 200, answer.text
    return dict(answer.json)


def hose(client: FlaskClient, day: int, litres: float | None, zone: str = "lawn") -> None:
    report = {"started_at": f"2026-07-{day:02}T08:00:00+02:00", "outcome": "done", "volume_l": litres}
    answer = client.put(f"/v1/gardens/orchard/deliveries/{zone}/hose-{day}", json=report)
    assert answer.status_code == 201, answer.text


def supply(house: House, **water_supply: Any) -> None:
    house.put(document(water_supply=water_supply))


def a_final_run(house: House, clock: Clock) -> dict[str, Any]:
    """The run of the night to 15 July, by a final plan."""
    clock.to(21, 5)
    (run,) = house.lawn()["runs"]
    return dict(run)


# Periods


@pytest.mark.parametrize(
    ("by", "spans"),
    [
        ("week", [("2026-07-05", "2026-07-05"), ("2026-07-06", "2026-07-12"), ("2026-07-13", "2026-07-15")]),
        ("month", [("2026-07-05", "2026-07-15")]),
        ("season", [("2026-07-05", "2026-07-15")]),
    ],
)
def test_periods_go_from_where_the_ledgers_begin_to_the_garden_day(client, by, spans):
    told = used(client, f"?by={by}")
    assert [(period["from"], period["to"]) for period in told["periods"]] == spans


def test_litres_are_told_on_the_dates_they_count_for(client):
    hose(client, 7, 120)
    hose(client, 13, 30)

    days = {period["from"]: period["volume_l"] for period in used(client, "?by=day")["periods"]}
    assert {date: litres for date, litres in days.items() if litres} == {"2026-07-07": 120, "2026-07-13": 30}
    weeks = used(client, "?by=week")
    assert [week["volume_l"] for week in weeks["periods"]] == [0, 120, 30]
    assert (weeks["total"]["volume_l"], weeks["total"]["measured_l"]) == (150, 150)


@examples(6, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(water=st.dictionaries(st.integers(5, 14), st.integers(0, 900), max_size=8))
def test_periods_add_up_to_the_total_however_long_they_are(house, client, water):
    steps = [{"above_m3": 1, "price_per_m3": 6}, {"above_m3": 2.5, "price_per_m3": 9}]
    supply(house, price_per_m3=2, price_steps=steps, sewer_share=0.5)
    for day, litres in water.items():
        client.delete(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}")
        hose(client, day, litres)
    totals = set()
    for by in ("day", "week", "month", "season"):
        told = used(client, f"?by={by}&timer=2d:150l")
        total = told["total"]
        totals.add((total["volume_l"], total["cost"], total["etc_l"]))
        for name, allowed in (("volume_l", 1e-6), ("cost", 0.06), ("drainage_l", 0.06)):
            # Each period is told to a hundredth.
            parts = sum(period[name] or 0.0 for period in told["periods"])
            assert parts == pytest.approx(total[name], abs=allowed)
        assert sum(period["timer"]["volume_l"] for period in told["periods"]) == total["timer"]["volume_l"]
    assert len(totals) == 1
    for day in water:
        client.delete(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}")


def test_only_the_dates_asked_for_are_told(client):
    hose(client, 7, 120)
    hose(client, 13, 30)

    told = used(client, "?from=2026-07-10&to=2026-07-13")
    assert (told["total"]["from"], told["total"]["to"]) == ("2026-07-10", "2026-07-13")
    assert told["total"]["volume_l"] == 30
    nothing = used(client, "?from=2027-01-01")
    assert (nothing["periods"], nothing["total"]) == ([], None)


def test_a_period_adds_up_its_ledger(client):
    rows = client.get("/v1/gardens/orchard/ledger/lawn").json["plantings"][0]["rows"]
    (zone,) = used(client)["total"]["zones"]

    for name in ("etc_mm", "etc_adj_mm", "rain_mm", "infiltrated_rain_mm", "irrigation_mm", "drainage_mm"):
        assert zone[name] == pytest.approx(sum(row[name] for row in rows), abs=0.005), name
    total = used(client)["total"]
    assert total["days_reckoned"] == 10
    # A millimetre on 50 m2 is 50 litres.
    assert total["etc_l"] == pytest.approx(50.0 * zone["etc_mm"], abs=0.3)


def test_what_rain_gave_is_told_in_millimetres_and_litres(client, source):
    source.told = lambda start: {"rain_mm": 1.0} if (start.day, start.hour) in ((8, 6), (8, 7)) else {}

    days = {period["from"]: period for period in used(client, "?by=day")["periods"]}
    (zone,) = days["2026-07-08"]["zones"]
    assert (zone["rain_mm"], zone["infiltrated_rain_mm"]) == (2.0, 2.0)
    assert days["2026-07-08"]["rain_l"] == 100.0


def test_the_garden_day_whose_ledger_is_still_open_has_no_depths_yet(client):
    last = used(client, "?by=day")["periods"][-1]
    assert (last["from"], last["days_reckoned"]) == ("2026-07-15", 0)
    assert (last["etc_l"], last["zones"][0]["etc_mm"], last["zones"][0]["volume_l"]) == (None, None, 0)


# What is not known


def test_a_run_that_nobody_reported_counts_as_planned_and_is_told_apart(house, client, clock):
    run = a_final_run(house, clock)
    clock.to(8, day=15)

    total = used(client)["total"]
    assert (total["volume_l"], total["assumed_l"]) == (run["volume_l"], run["volume_l"])
    assert (total["measured_l"], total["unmeasured_runs"]) == (None, 1)


def test_where_such_runs_count_for_nothing_their_litres_are_unknown_and_not_0(house, client, clock):
    house.put(document(unreported_watering="none", water_supply={"price_per_m3": 4}))
    a_final_run(house, clock)
    clock.to(8, day=15)

    total = used(client)["total"]
    assert (total["volume_l"], total["measured_l"], total["cost"]) == (None, None, None)
    assert (total["assumed_l"], total["unmeasured_runs"]) == (0, 1)


def test_a_run_that_is_still_to_come_is_not_told(house, client, clock):
    a_final_run(house, clock)
    total = used(client)["total"]
    assert (total["volume_l"], total["unmeasured_runs"]) == (0, 0)


def test_a_run_that_was_withdrawn_is_not_told(house, client, clock):
    a_final_run(house, clock)
    house.put(document(rules={"pauses": [{"from": "2026-07-14", "to": "2026-07-20"}]}))
    (run,) = house.lawn()["runs"]
    assert run["state"] == "withdrawn"
    clock.to(8, day=15)
    total = used(client)["total"]
    assert (total["volume_l"], total["measured_l"], total["unmeasured_runs"]) == (0, 0, 0)


def test_a_reported_run_is_known_and_one_without_water_is_0(house, client, clock):
    run = a_final_run(house, clock)
    clock.to(6, day=15)
    house.report(run["id"], "no-water")
    total = used(client)["total"]
    assert (total["volume_l"], total["measured_l"], total["unmeasured_runs"]) == (0, 0, 0)

    house.report_again(run["id"], "done", 333.0)
    assert used(client)["total"]["measured_l"] == 333


def test_a_lost_contact_counts_as_planned_until_its_litres_are_told(house, client, clock):
    run = a_final_run(house, clock)
    clock.to(6, day=15)
    house.report(run["id"], "lost-contact")
    total = used(client)["total"]
    assert (total["assumed_l"], total["measured_l"]) == (run["volume_l"], None)


def test_water_of_a_zone_that_is_there_no_more_stays_in_the_sum(house, client):
    house.put(document(zones={"lawn": lawn(), "bed": BED}))
    hose(client, 7, 80, zone="bed")
    house.put(document())

    total = used(client)["total"]
    assert total["volume_l"] == 80
    gone = next(zone for zone in total["zones"] if zone["zone"] == "bed")
    assert (gone["volume_l"], gone["etc_mm"], gone["timer"]) == (80, None, None)


# Money


def test_litres_cost_by_their_month_whatever_dates_are_asked_for(house, client):
    # 2 a m3, above 1 m3 in a month 6; half of it is waste water at 3 a m3.
    steps = [{"above_m3": 1, "price_per_m3": 6}]
    supply(house, price_per_m3=2, price_steps=steps, sewer_share=0.5, sewer_price_per_m3=3, currency="EUR")
    hose(client, 7, 800)
    hose(client, 13, 600)

    told = used(client, "?by=week")
    # 0.8 x 2 + 0.4 x 3; then 0.2 x 2 + 0.4 x 6 + 0.3 x 3.
    assert [week["cost"] for week in told["periods"]] == [0, 2.8, 3.7]
    assert (told["total"]["cost"], told["currency"]) == (6.5, "EUR")
    assert used(client, "?from=2026-07-13")["total"]["cost"] == 3.7


def test_zones_share_the_cost_by_their_litres(house, client):
    house.put(document(zones={"lawn": lawn(), "bed": BED}, water_supply={"price_per_m3": 4}))
    hose(client, 7, 300)
    hose(client, 7, 100, zone="bed")

    total = used(client)["total"]
    assert total["cost"] == 1.6
    assert {zone["zone"]: zone["cost"] for zone in total["zones"]} == {"lawn": 1.2, "bed": 0.4}


def test_without_a_price_there_is_no_cost(client):
    hose(client, 7, 120)
    assert used(client)["total"]["cost"] is None


# The allowance


def test_periods_have_the_allowance_of_their_kind(house, client):
    supply(house, allowance_l={"week": 500, "month": 3000})
    assert {week["allowance_l"] for week in used(client, "?by=week")["periods"]} == {500}
    assert {month["allowance_l"] for month in used(client)["periods"]} == {3000}
    assert {day["allowance_l"] for day in used(client, "?by=day")["periods"]} == {None}


def test_what_is_left_of_each_allowance_is_told_as_it_stands_now(house, client):
    supply(house, allowance_l={"week": 500, "month": 3000})
    hose(client, 7, 120)
    hose(client, 13, 30)

    week, month = used(client, "?from=2026-07-14")["allowances"]
    assert (week["period"], week["from"], week["to"]) == ("week", "2026-07-13", "2026-07-19")
    assert (week["allowed_l"], week["used_l"], week["left_l"]) == (500, 30, 470)
    assert (month["period"], month["from"], month["to"]) == ("month", "2026-07-01", "2026-07-31")
    assert (month["allowed_l"], month["used_l"], month["left_l"]) == (3000, 150, 2850)


# The timer


def test_a_fixed_timer_stands_beside_what_flowed(house, client):
    supply(house, price_per_m3=4)
    hose(client, 7, 120)
    # On 5, 8, 11 and 14 July 20 minutes at 20 l/min: 400 litres each.
    timer = used(client, "?timer=3d:20min")["total"]["timer"]
    assert timer == {"volume_l": 1600, "cost": 6.4, "difference": {"volume_l": -1480, "cost": -5.92}}


def test_each_zone_may_have_a_timer_of_its_own_or_none(house, client):
    house.put(document(zones={"lawn": lawn(), "bed": BED}))
    hose(client, 7, 50, zone="lawn")

    total = used(client, "?timer=bed=1d:10l")["total"]
    timers = {zone["zone"]: zone["timer"] for zone in total["zones"]}
    assert timers["lawn"] is None
    assert timers["bed"]["volume_l"] == 110
    assert total["timer"]["difference"]["volume_l"] == -110

    both = used(client, "?timer=1d:5l,bed=1d:10l")["total"]
    assert both["timer"]["volume_l"] == 165


def test_a_timer_waters_nothing_out_of_season(house, client):
    tomatoes = {"plant": "tomato", "planted_on": "2026-07-12"}
    house.put(document(zones={"lawn": lawn(planting=tomatoes)}))
    # Sown on the 12th: that day and three more.
    assert used(client, "?timer=1d:10l")["total"]["timer"]["volume_l"] == 40


def test_a_timer_that_cannot_be_is_refused_in_words(client):
    answer = client.get(f"{USAGE}?timer=pond=2d:20min")
    assert answer.status_code == 422
    assert answer.json["errors"] == [
        {"pointer": "/timer", "detail": '"pond=2d:20min": pond is no zone of the garden.'}
    ]


def test_whatever_is_written_as_a_timer_is_answered_in_words_by_both_databases(database_url, clock, source):
    opened = House(database_url, clock, source)
    try:
        opened.put()
        client = opened.client()
        for written in ("%00", "%ed%a0%80", "2d:20min," * 2000, ""):
            assert client.get(f"{USAGE}?timer={written}").status_code == 422, written[:20]
        for resource in ("usage?timer=2d:20min", "ledger/lawn", "ledger/lawn?format=csv", "alerts"):
            first = client.get(f"/v1/gardens/orchard/{resource}")
            assert first.status_code == 200, resource
            again = client.get(
                f"/v1/gardens/orchard/{resource}", headers={"If-None-Match": first.headers["ETag"]}
            )
            assert again.status_code == 304, resource
    finally:
        opened.close()


# Kept


def test_asked_again_the_bytes_are_the_same_until_something_flows(house, client, monkeypatch):
    first = client.get(USAGE)
    with monkeypatch.context() as patch:
        patch.setattr(house.life, "explained", lambda garden_id: pytest.fail("reckoned again"))
        again = client.get(USAGE, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")

    hose(client, 9, 100)
    assert client.get(USAGE).headers["ETag"] != first.headers["ETag"]


def test_a_kept_answer_ends_when_a_run_becomes_unreported(house, client, clock):
    run = a_final_run(house, clock)
    client.get(USAGE)
    clock.to(8, day=15)
    assert used(client)["total"]["volume_l"] == run["volume_l"]


def test_what_cannot_be_asked_is_refused_in_words(client):
    answer = client.get(f"{USAGE}?by=year")
    assert (
        answer.json["errors"][0]["detail"] == 'by is "year"; it must be "day", "week", "month" or "season".'
    )
    assert client.get("/v1/gardens/nowhere/usage").status_code == 404
