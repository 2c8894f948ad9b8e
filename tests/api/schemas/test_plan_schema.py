"""How a plan looks in JSON."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from api.errors import ZoneNotFound
from api.schemas.flat_zone import FlatZoneSchema, flat_zone, shortened
from api.schemas.plan import PlanSchema, WeatherOrigin, dump_plan
from api.schemas.state import StateSchema, dump_state
from api.schemas.valves import KeptValve
from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.reports import Opening
from scheduling.plan.final_plan import Report
from scheduling.plan.plan import (
    MainValve,
    OutlookDate,
    Plan,
    PlantPlan,
    Run,
    SoilWater,
    WeatherUsed,
    ZonePlan,
)
from scheduling.reasons.description_notes import FlowAssumed
from scheduling.reasons.watering import Easily, NextChance, SoilDryingOut, SoilFull
from scheduling.reasons.words import Words

PARIS = ZoneInfo("Europe/Paris")
DATE = dt.date(2026, 7, 15)


def utc(hour, minute=0, second=0):
    return dt.datetime(2026, 7, 15, hour, minute, second, tzinfo=dt.UTC)


ROW = LedgerRow(
    date=dt.date(2026, 7, 14),
    opening_depletion_mm=4.123,
    rain_mm=0.0,
    runoff_mm=0.0,
    infiltrated_rain_mm=-0.0,
    irrigation_gross_mm=0.0,
    irrigation_mm=0.0,
    eto_mm=6.1234,
    kc=0.94567,
    ks=1.0,
    etc_mm=5.7907,
    etc_adj_mm=5.7907,
    drainage_mm=0.0,
    adjustment_mm=0.0,
    closing_depletion_mm=9.9137,
    taw_mm=28.0,
    raw_mm=11.2,
)

LAWN = ZonePlan(
    zone="fescue-lawn",
    name="Fescue lawn",
    decision="water",
    volume_l=1214.0,
    run_time_s=3642,
    delivered_l=0.0,
    close_by="volume",
    runs=(
        Run("2026-07-15-fescue-lawn-1", utc(3, 15), 614.0, 1842, 2332),
        Run("2026-07-15-fescue-lawn-2", utc(4, 0), 600.0, 1800, 2280),
    ),
    reasons=(SoilDryingOut(Easily(9.96, 11.24, None), NextChance(DATE, 4.0)),),
    soil_water=SoilWater(9.96, 11.24, 28.0),
    net_mm=9.96,
    gross_mm=14.28,
    room_mm=0.0,
    dry_on=dt.date(2026, 7, 16),
    notes=(FlowAssumed(20.0, 20.0),),
    ledger=(ROW,),
)
TROUGHS = ZonePlan(
    zone="balcony-troughs",
    name="",
    decision="wait",
    volume_l=0.0,
    run_time_s=0,
    delivered_l=12.5,
    close_by="time",
    runs=(),
    reasons=(SoilFull(),),
    soil_water=SoilWater(0.0, 6.0, 22.5),
    net_mm=0.0,
    gross_mm=0.0,
    room_mm=0.0,
)
PLAN = Plan(
    garden="quince-court",
    date=DATE,
    history="assumed",
    volume_l=1214.0,
    main_valve=MainValve(utc(3, 15), utc(4, 30), 4800, 1517.5),
    weather=WeatherUsed(18.12, 31.44, 17.96, 6.12, None, None, 0.0, ("humidity",)),
    zones=(LAWN, TROUGHS),
    state=Opening(
        DATE, {"fescue-lawn": 9.9649, "balcony-troughs": 0.0}, {"fescue-lawn": 2, "balcony-troughs": 0}
    ),
    outlook=(OutlookDate(dt.date(2026, 7, 16), 60.25, {"fescue-lawn": 0.0, "balcony-troughs": 60.25}),),
)
ORIGIN = WeatherOrigin(
    "open-meteo",
    retrieved_at=utc(0, 40),
    stale=False,
    basis="forecast",
    attribution=("Weather data by Open-Meteo.com",),
)


def dumped(plan=PLAN, phase="final", **changes):
    return dump_plan(
        plan,
        **{
            "phase": phase,
            "final_at": utc(0),
            "made_at": utc(0, 41),
            "valid_until": utc(4, 30),
            "weather": ORIGIN,
            "timezone": PARIS,
            **changes,
        },
    )


def test_a_plan_has_the_keys_of_the_contract_and_no_others():
    body = dumped()

    PlanSchema().load(body)
    assert set(body) == set(PlanSchema().fields)
    assert set(body["weather"]) == set(PlanSchema().fields["weather"].schema.fields)
    only_with_probes = {"adjustment_mm", "probes"}
    known = set(PlanSchema().fields["zones"].inner.schema.fields)
    assert set(body["zones"][0]) == known - {"plants"} - only_with_probes
    assert set(body["zones"][1]) == set(body["zones"][0]) - {"ledger"}


def test_plantings_that_share_a_zone_are_told_one_by_one():
    lawn = PLAN.zones[0]
    water = SoilWater(4.04, 10.0, 30.0)
    plants = (PlantPlan("roses", 2 / 3, water, lawn.ledger), PlantPlan("lavender", 1 / 3, water))
    body = dumped(replace(PLAN, zones=(replace(lawn, ledger=None, plants=plants), *PLAN.zones[1:])))

    PlanSchema().load(body)
    roses, lavender = body["zones"][0]["plants"]
    assert (roses["plant"], roses["share"], lavender["share"]) == ("roses", 0.667, 0.333)
    assert roses["soil_water"]["depletion_mm"] == 4.0
    assert len(roses["ledger"]) == len(lawn.ledger)
    assert "ledger" not in lavender


def test_instants_have_the_offset_of_the_garden():
    body = dumped()

    assert body["final_at"] == "2026-07-15T02:00:00+02:00"
    assert body["zones"][0]["runs"][0]["start"] == "2026-07-15T05:15:00+02:00"
    assert body["main_valve"]["closes_at"] == "2026-07-15T06:30:00+02:00"
    assert body["weather"]["retrieved_at"] == "2026-07-15T02:40:00+02:00"
    assert dumped(final_at=None)["final_at"] is None


def test_depths_are_rounded_and_litres_are_not():
    lawn = dumped()["zones"][0]

    assert lawn["soil_water"] == {
        "depletion_mm": 10.0,
        "readily_available_mm": 11.2,
        "total_available_mm": 28.0,
    }
    assert (lawn["net_mm"], lawn["gross_mm"]) == (10.0, 14.3)
    assert repr(lawn["volume_l"]) == "1214"
    assert dumped()["main_valve"]["max_volume_l"] == 1517.5
    assert dumped()["outlook"][0]["volume_l"] == 60.25


def test_what_is_not_known_is_null_and_not_zero():
    weather = dumped()["weather"]

    assert (weather["rain_mm"], weather["rain_probability"]) == (None, None)
    assert weather["estimated"] == ["humidity"]


def test_what_remains_is_what_has_not_been_delivered():
    half = PLAN.__class__(**{**fields_of(PLAN), "zones": (with_delivered(LAWN, 600.5), TROUGHS)})

    assert [zone["remaining_l"] for zone in dumped(half)["zones"]] == [613.5, 0]
    assert [zone["remaining_l"] for zone in dumped(half, phase="over")["zones"]] == [0, 0]


def fields_of(thing):
    return {name: getattr(thing, name) for name in thing.__slots__}


def with_delivered(zone, delivered_l):
    return zone.__class__(**{**fields_of(zone), "delivered_l": delivered_l})


def test_the_state_can_be_sent_back():
    state = dumped()["carry_over"]

    assert state == {
        "date": "2026-07-15",
        "zones": {
            "fescue-lawn": {"depletion_mm": 9.96, "turns_without": 2},
            "balcony-troughs": {"depletion_mm": 0.0},
        },
    }
    assert StateSchema().load(state).depletion_mm == {"fescue-lawn": 9.96, "balcony-troughs": 0.0}
    assert dump_state(PLAN.state, digits=9)["zones"]["fescue-lawn"]["depletion_mm"] == 9.9649


def test_a_ledger_row_is_shown_to_a_hundredth_and_never_minus_nothing():
    (row,) = dumped()["zones"][0]["ledger"]

    assert (row["date"], row["opening_depletion_mm"], row["kc"]) == ("2026-07-14", 4.12, 0.946)
    assert str(row["infiltrated_rain_mm"]) == "0.0"
    only_dual = {"kcb", "ke", "evaporation_mm", "surface_depletion_mm"}
    only_adjusted = {"adjustment_cause"}
    assert set(row) == set(LedgerRow._fields) - only_dual - only_adjusted
    assert only_dual | only_adjusted == set(LedgerRow._field_defaults)


def test_a_flat_zone_has_every_key_always():
    body = dumped()
    lawn, troughs = flat_zone(body, "fescue-lawn", utc(0, 41)), flat_zone(body, "balcony-troughs", utc(0, 41))

    assert list(lawn) == list(troughs) == list(FlatZoneSchema().fields)
    assert all(not isinstance(value, dict | list) for value in (*lawn.values(), *troughs.values()))
    FlatZoneSchema().load(lawn)
    FlatZoneSchema().load(troughs)
    assert (troughs["runs_left"], troughs["next_run"], troughs["next_start"]) == (0, None, None)


def test_a_flat_zone_shows_the_next_run():
    flat = flat_zone(dumped(), "fescue-lawn", utc(0, 41))

    assert flat == {
        "garden": PLAN.garden,
        "zone": "fescue-lawn",
        "name": LAWN.name,
        "date": "2026-07-15",
        "phase": "final",
        "decision": "water",
        "reason_code": "soil-drying-out",
        "text": LAWN.reasons[0].sentence(Words(seen_from=DATE)),
        "volume_l": 1214,
        "delivered_l": 0,
        "remaining_l": 1214,
        "run_time_s": 3642,
        "runs_left": 2,
        "next_run": "2026-07-15-fescue-lawn-1",
        "next_start": "2026-07-15T05:15:00+02:00",
        "next_volume_l": 614,
        "next_run_time_s": 1842,
        "next_max_open_s": 2332,
        "close_by": "volume",
        "running": False,
        "running_run": None,
        "running_since": None,
        "shut_by": None,
        "store_share": pytest.approx(
            1.0 - LAWN.soil_water.depletion_mm / LAWN.soil_water.total_available_mm, abs=0.005
        ),
        "dry_on": "2026-07-16",
        "battery_share": None,
        "valve_state": None,
        "valid_until": "2026-07-15T06:30:00+02:00",
        "weather_retrieved_at": "2026-07-15T02:40:00+02:00",
        "weather_stale": False,
    }


@pytest.mark.parametrize(
    ("now", "state", "left", "following"),
    [
        (utc(3, 14), "to-do", 2, "2026-07-15-fescue-lawn-1"),
        # 05:15 local and 2332 s: the first run's limit is 03:53:52 UTC.
        (utc(3, 53, 51), "to-do", 2, "2026-07-15-fescue-lawn-1"),
        (utc(3, 53, 52), "to-do", 1, "2026-07-15-fescue-lawn-2"),
        (utc(3, 14), "done", 1, "2026-07-15-fescue-lawn-2"),
        (utc(5), "to-do", 0, None),
    ],
)
def test_a_run_that_is_done_or_past_is_not_the_next_one(now, state, left, following):
    body = dumped()
    body["zones"][0]["runs"][0]["state"] = state
    flat = flat_zone(body, "fescue-lawn", now)

    assert (flat["runs_left"], flat["next_run"]) == (left, following)


def test_nothing_is_left_of_a_plan_that_is_over():
    flat = flat_zone(dumped(phase="over"), "fescue-lawn", utc(3))

    assert (flat["runs_left"], flat["next_run"], flat["remaining_l"]) == (0, None, 0)


def test_a_zone_that_the_plan_does_not_have_is_not_found():
    with pytest.raises(ZoneNotFound):
        flat_zone(dumped(), "pond", utc(0))


def test_a_zone_without_a_next_run_has_no_litres_and_no_seconds_to_open_for():
    flat = flat_zone(dumped(phase="over"), "fescue-lawn", utc(3))

    assert (flat["next_volume_l"], flat["next_run_time_s"], flat["next_max_open_s"]) == (0, 0, 0)
    assert (flat["next_run"], flat["next_start"]) == (None, None)


def test_a_run_under_way_says_since_when_and_until_when():
    body = dumped()
    run = body["zones"][0]["runs"][0]
    run["state"] = "running"
    report = Report("fescue-lawn", run["id"], DATE, utc(3, 16), "running")
    valve = KeptValve("fescue-lawn", utc(3, 10), 0.64, "open")
    flat = flat_zone(body, "fescue-lawn", utc(3, 20), [report], valve)

    assert (flat["running"], flat["running_run"]) == (True, run["id"])
    assert flat["running_since"] == "2026-07-15T05:16:00+02:00"
    assert dt.datetime.fromisoformat(flat["shut_by"]) == utc(3, 16) + dt.timedelta(seconds=run["max_open_s"])
    assert (flat["battery_share"], flat["valve_state"]) == (0.64, "open")


def test_a_long_text_is_cut_between_words():
    assert shortened("as it is") == "as it is"
    cut = shortened("word " * 100)
    assert len(cut) <= 240
    assert cut.endswith("word …")
