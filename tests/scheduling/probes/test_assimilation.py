"""What soil probes do to a ledger, which readings are not used, and what no stream of them can do.

The lawn holds 40 mm between 0.30 and 0.10 of its volume, over roots of 0.2 m: 0.01 are 2 mm.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import WeatherDay
from scheduling.garden.description import Absence, Pause, Planting, Rules, Zone
from scheduling.garden.reports import Delivery, MorningReading, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan, ZonePlan
from scheduling.plan.planner import Occasion, make_plan
from tests.profile import examples
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    TROUGHS,
    a_garden,
    closing_mm,
    night_before,
    summer_days,
    with_planting,
)

MM_OF_CONTENT = 200.0
FULL = 0.30
DAILY_L = 340.0
"""Litres that bring 5.44 mm to the lawn's roots: about what a day takes."""


def weather(days: int, rain: dict[int, float] | None = None) -> list[WeatherDay]:
    """Summer days from 1 July on, with rain on some of them, and three of forecast."""
    told = summer_days(JULY_1, days + 3)
    for day, rain_mm in (rain or {}).items():
        told[day] = replace(told[day], rain_mm=rain_mm)
    return told


def plan_after(
    days: int,
    readings: Sequence[MorningReading] = (),
    *,
    opening_mm: float = 10.0,
    watered: bool = True,
    rain: dict[int, float] | None = None,
    zone: Zone = LAWN,
    lowest_c: float | None = None,
    rules: Rules | None = None,
    absence: tuple[Absence, ...] = (),
) -> Plan:
    """The plan for the date so many days after 1 July, explained; watered each day as a day takes."""
    date = JULY_1 + days * ONE_DAY
    deliveries = [Delivery("lawn", JULY_1 + day * ONE_DAY, DAILY_L) for day in range(days)] if watered else []
    history = History(Opening(JULY_1, {"lawn": opening_mm}, {}), False, tuple(deliveries), tuple(readings))
    occasion = Occasion(date, (night_before(date),), explain=True, lowest_c=lowest_c)
    return make_plan(
        a_garden(zone, rules=rules or Rules(), absence=absence), weather(days, rain), history, occasion
    )


def lawn(plan: Plan) -> ZonePlan:
    """The only zone."""
    (zone,) = plan.zones
    return zone


def mornings(contents: Sequence[float | None], first: int = 0, probe: str = "north") -> list[MorningReading]:
    """Water contents, a morning each; None is a missing one."""
    return [
        MorningReading("lawn", probe, JULY_1 + (first + day) * ONE_DAY, water_content=content)
        for day, content in enumerate(contents)
        if content is not None
    ]


def after_the_night_mm(plan: Plan) -> list[float]:
    """What the uncorrected ledger lacks on each morning, after the night's water."""
    return [max(0.0, row.opening_depletion_mm - row.irrigation_mm) for row in lawn(plan).ledger or ()]


def readings_off_by(bias: float, days: int, rain: dict[int, float] | None = None) -> list[MorningReading]:
    """A probe that reads the ledger's own soil, always by so much too wet; in m3/m3."""
    lacks = after_the_night_mm(plan_after(days, rain=rain))
    return mornings([FULL - lacking / MM_OF_CONTENT + bias for lacking in lacks])


def test_without_readings_nothing_changes():
    told = lawn(plan_after(5))

    assert (told.adjustment_mm, told.probes) == (0.0, ())
    assert all(row.adjustment_cause is None for row in told.ledger or ())


def test_a_drier_reading_moves_the_ledger_part_of_the_way_and_the_plan_says_so():
    before = plan_after(1)
    lacking = after_the_night_mm(before)[0]
    told = lawn(plan_after(1, mornings([FULL - (lacking + 10.0) / MM_OF_CONTENT])))

    assert 0.5 < told.adjustment_mm < 5.0
    assert told.soil_water.depletion_mm == pytest.approx(
        lawn(before).soil_water.depletion_mm + told.adjustment_mm
    )
    (note,) = (note.text for note in told.notes if note.code == "moved-by-probe")
    moved = f"{told.adjustment_mm:.1f} mm drier"
    assert note == f"Probe north found the soil {moved} than reckoned on 1 July 2026."


def test_a_content_and_a_share_of_the_store_say_the_same():
    # 0.25 of the volume are 10 mm of 40: three quarters of the store.
    by_content = lawn(plan_after(1, [MorningReading("lawn", "a", JULY_1, water_content=0.25)]))
    by_share = lawn(plan_after(1, [MorningReading("lawn", "a", JULY_1, store_share=0.75)]))

    assert by_content.readings[0].found_mm == pytest.approx(by_share.readings[0].found_mm, abs=1e-9)


def test_rows_tell_the_correction_and_its_cause_and_close():
    rows = lawn(plan_after(6, readings_off_by(-0.04, 6))).ledger or ()

    assert {row.adjustment_cause for row in rows} == {"probe"}
    for row in rows:
        assert row.closing_depletion_mm == pytest.approx(closing_mm(row), abs=1e-9)


def test_a_reading_of_the_plans_own_date_waits_for_the_next_plan():
    assert lawn(plan_after(3, mornings([0.2], first=3))).probes == ()


def test_soaking_rain_tells_what_a_probe_is_off_by():
    # 0.06 too wet are 12 mm; 60 mm of rain fill any soil of 40.
    (before,) = lawn(plan_after(10, readings_off_by(0.06, 10))).probes
    rain = {4: 60.0}
    (after,) = lawn(plan_after(10, readings_off_by(0.06, 10, rain), rain=rain)).probes

    assert abs(before.bias_mm + 12.0) > 1.5
    assert after.bias_mm == pytest.approx(-12.0, abs=1.5)
    assert after.standing == "followed"


def standing_after(readings, days, **fields):
    (probe,) = lawn(plan_after(days, readings, **fields)).probes
    return probe


def test_a_probe_that_repeats_itself_while_the_soil_dries_is_stuck():
    probe = standing_after(mornings([0.27] * 5), 5, opening_mm=2.0, watered=False)

    assert (probe.standing, probe.why, probe.since) == ("doubtful", "stuck", JULY_1 + ONE_DAY)
    assert "the same since 1 July 2026" in probe.told.text


def test_the_same_value_on_soil_that_does_not_change_is_no_fault():
    assert standing_after(mornings([0.30] * 6), 6, opening_mm=0.0).standing == "followed"


@pytest.mark.parametrize("content", [0.0, 0.009, 0.76, 24.0, -1e300, 1e300])
def test_what_no_soil_can_hold_is_not_used(content):
    told = lawn(plan_after(2, mornings([content, None])))

    assert (told.probes[0].why, told.readings[0].is_used) == ("out-of-range", False)
    assert told.adjustment_mm == 0.0


def test_a_jump_without_water_is_not_used():
    lacks = after_the_night_mm(plan_after(4, watered=False))
    good = [FULL - lacking / MM_OF_CONTENT for lacking in lacks]
    probe = standing_after(mornings([*good[:3], good[3] + 0.12]), 4, watered=False)

    assert (probe.standing, probe.why) == ("doubtful", "jumped")


def test_the_same_jump_with_rain_is_used():
    rain = {2: 25.0}
    lacks = after_the_night_mm(plan_after(4, rain=rain, watered=False))
    probe = standing_after(
        mornings([FULL - lacking / MM_OF_CONTENT for lacking in lacks]), 4, rain=rain, watered=False
    )

    assert probe.standing == "followed"


def test_a_probe_below_the_roots_says_nothing_of_them():
    deep = MorningReading("lawn", "deep", JULY_1, water_content=0.25, depth_m=0.30)
    probe = standing_after([deep], 1)

    assert (probe.why, probe.told.text) == (
        "below-the-roots",
        "The account has not followed it since 1 July 2026: it sits 30 cm deep, below roots of 20 cm.",
    )


def test_a_probe_far_beyond_belief_is_never_followed():
    # An exact probe that reads 0.2, 40 mm, wetter than the ledger day after day.
    far = [replace(one, error_share=0.01) for one in readings_off_by(0.20, 12)]
    told = lawn(plan_after(12, far))

    assert (told.probes[0].standing, told.probes[0].why) == ("doubtful", "at-odds")
    assert not any(one.is_used for one in told.readings)


def test_a_glitch_is_forgiven_after_three_good_mornings():
    readings = readings_off_by(0.0, 8)
    readings[2] = replace(readings[2], water_content=0.99)
    two_later, three_later = (standing_after(readings[:count], count) for count in (5, 6))

    assert two_later.standing == "doubtful"
    assert (three_later.standing, three_later.since) == ("followed", JULY_1 + 5 * ONE_DAY)


def test_a_probe_in_doubt_does_not_return_while_nobody_is_there_to_look_at_it():
    good = after_the_night_mm(plan_after(8))
    contents = [FULL - lacking / MM_OF_CONTENT for lacking in good]
    readings = mornings([*contents[:3], 0.9, *contents[4:]])

    def used(absence: tuple[Absence, ...]) -> list[dt.date]:
        told = lawn(plan_after(8, readings, absence=absence)).readings
        return [one.date for one in told if one.is_used and one.date > JULY_1 + 3 * ONE_DAY]

    assert used(()) == [JULY_1 + day * ONE_DAY for day in (6, 7)]
    assert used((Absence(JULY_1, JULY_1 + 20 * ONE_DAY),)) == []
    assert used((Absence(JULY_1, JULY_1 + 6 * ONE_DAY),)) == [JULY_1 + 7 * ONE_DAY]


def test_what_a_probe_has_taught_of_the_demand_lasts_while_it_is_silent():
    # A lawn that uses a quarter more than its Kc says, seen for two weeks, then ten days of silence.
    thirsty = with_planting(LAWN, kc=1.25)
    lacks = after_the_night_mm(plan_after(14, zone=thirsty, opening_mm=2.0))
    readings = mornings([FULL - lacking / MM_OF_CONTENT for lacking in lacks])
    true_mm = lawn(plan_after(18, zone=thirsty, opening_mm=2.0)).soil_water.depletion_mm
    told_mm = lawn(plan_after(18, readings, opening_mm=2.0)).soil_water.depletion_mm
    untold_mm = lawn(plan_after(18, opening_mm=2.0)).soil_water.depletion_mm

    assert abs(told_mm - true_mm) < abs(untold_mm - true_mm) / 2.0


def test_a_probe_speaks_for_the_planting_with_most_of_the_ground():
    herbs = Planting("herbs", kc=1.0, root_depth_m=0.2, depletion_fraction=0.5, share=0.3)
    mixed = replace(LAWN, planting=replace(LAWN.planting, share=0.7), others=(herbs,))
    plants = lawn(plan_after(3, mornings([0.2, 0.2, 0.21]), zone=mixed)).plants

    moved = [any(row.adjustment_mm for row in plant.ledger or ()) for plant in plants]
    assert moved == [True, False]


def test_a_container_has_its_own_water_points():
    # 180 l that hold 0.5 and keep 0.2 over 2.4 m2: 22.5 mm; 0.35 is half of that.
    trough = replace(TROUGHS, id="lawn")
    half = [MorningReading("lawn", "a", JULY_1, water_content=0.35)]
    told = lawn(plan_after(1, half, zone=trough, watered=False, opening_mm=11.25))

    assert told.readings[0].found_mm == pytest.approx(0.0, abs=1e-9)


# What no stream of readings can do

CONTENTS = st.one_of(st.floats(0.0, 0.8), st.sampled_from((0.1, 0.2, 0.3)), st.floats())
STREAMS = st.lists(
    st.builds(
        lambda probe, day, content, share, depth, error: MorningReading(
            "lawn", probe, JULY_1 + day * ONE_DAY, content, share, depth, error
        ),
        st.sampled_from(("a", "b", "c")),
        st.integers(-3, 16),
        st.none() | CONTENTS,
        st.none() | st.floats(-2.0, 3.0),
        st.none() | st.floats(0.0, 0.5),
        st.none() | st.floats(0.0, 1.0),
    ),
    max_size=40,
)


def stays_in_its_store(zone: ZonePlan) -> bool:
    """And every row closes."""
    for row in zone.ledger or ():
        closing = row.opening_depletion_mm - row.infiltrated_rain_mm - row.irrigation_mm
        closing += row.etc_adj_mm + row.drainage_mm + row.adjustment_mm
        if not 0.0 <= row.closing_depletion_mm <= row.taw_mm + 1e-9:
            return False
        if abs(closing - row.closing_depletion_mm) > 1e-9:
            return False
    return 0.0 <= zone.soil_water.depletion_mm <= zone.soil_water.total_available_mm


@examples(40)
@given(STREAMS, st.booleans(), st.sampled_from(({}, {5: 30.0}, {2: 5.0, 9: 80.0})))
def test_no_stream_of_readings_leaves_the_store(readings, watered, rain):
    assert stays_in_its_store(lawn(plan_after(12, readings, watered=watered, rain=rain)))


@examples(15)
@given(STREAMS)
def test_no_stream_of_readings_waters_against_frost_or_a_pause(readings):
    date = JULY_1 + 12 * ONE_DAY
    frost = lawn(plan_after(12, readings, watered=False, lowest_c=1.0))
    paused = lawn(plan_after(12, readings, watered=False, rules=Rules(pauses=(Pause(date, date),))))

    assert (frost.reasons[0].code, frost.volume_l) == ("frost-risk", 0.0)
    assert (paused.reasons[0].code, paused.volume_l) == ("paused", 0.0)


@pytest.mark.parametrize("bias", [-0.08, -0.04, 0.02, 0.05, 0.08])
def test_no_number_of_equally_biased_readings_copies_the_bias_into_the_ledger(bias):
    right = [lawn(plan_after(days)).soil_water.depletion_mm for days in (5, 15, 30)]
    told = [
        lawn(plan_after(days, readings_off_by(bias, days))).soil_water.depletion_mm for days in (5, 15, 30)
    ]

    for right_mm, told_mm in zip(right, told, strict=True):
        assert abs(told_mm - right_mm) <= 0.5 * abs(bias) * MM_OF_CONTENT


@pytest.mark.parametrize("bias", [-0.08, 0.05])
def test_a_probe_that_comes_late_gets_half_a_say_at_most(bias):
    right_mm = lawn(plan_after(40)).soil_water.depletion_mm
    told_mm = lawn(plan_after(40, readings_off_by(bias, 40)[30:])).soil_water.depletion_mm

    assert 0.0 < abs(told_mm - right_mm) <= 0.5 * abs(bias) * MM_OF_CONTENT
