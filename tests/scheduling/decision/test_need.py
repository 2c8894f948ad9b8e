"""How dry a zone may start, held against days carried forward one by one."""

from dataclasses import replace
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from scheduling.balance.soil_water import close_day
from scheduling.balance.zone_series import ZoneDays
from scheduling.decision.need import (
    LEAST_KS,
    Need,
    driest_start_at_raw,
    driest_start_unstressed,
    first_day_past_raw,
    need_on,
)
from tests.scheduling.gardens import LAWN, a_case, with_rules, with_site, with_watering

A_TRIFLE_MM = 0.01
NOISE = 1e-10


class Dry(NamedTuple):
    """What became of a start: depletion and Ks of every day."""

    closing_mm: list[float]
    ks: list[float]


def carried(start_mm: float, zone: ZoneDays, rain_mm: list[float]) -> Dry:
    closing, stress = [], []
    for rain, etc, taw, raw in zip(rain_mm, zone.etc_mm, zone.taw_mm, zone.raw_mm, strict=True):
        ks, _, _, start_mm = close_day(min(start_mm, taw), rain, 0.0, etc, taw, raw)
        closing.append(start_mm)
        stress.append(ks)
    return Dry(closing, stress)


@st.composite
def few_days(draw: st.DrawFn, thirsty: bool = False) -> tuple[ZoneDays, list[float]]:
    """One to six days of a zone, and their rain."""
    taw_mm = draw(st.floats(5.0, 100.0))
    fractions = draw(st.lists(st.floats(0.1, 0.8), min_size=1, max_size=6))
    etc = [draw(st.floats(0.0, 0.8 if thirsty else 0.3)) * taw_mm * (1.0 - p) for p in fractions]
    rain = [draw(st.sampled_from((0.0, 0.0, 0.0, 2.0, 10.0, 40.0))) for _ in fractions]
    count = len(fractions)
    raw = [p * taw_mm for p in fractions]
    zone = ZoneDays([1.0] * count, etc, [taw_mm] * count, raw, rain, rain, [False] * count, [0.0] * count)
    return zone, rain


@given(few_days(), st.floats(0.1, 0.95))
def test_the_driest_start_closes_every_day_at_what_is_allowed_in_place_of_raw(
    case: tuple[ZoneDays, list[float]], allowed_share: float
) -> None:
    raw_zone, rain = case
    allowed_mm = [allowed_share * taw for taw in raw_zone.taw_mm]
    zone = replace(raw_zone, allowed_mm=allowed_mm)
    limit = driest_start_at_raw(0, len(rain), zone, rain)
    full = carried(0.0, zone, rain).closing_mm
    assume(all(closing <= allowed for closing, allowed in zip(full, allowed_mm, strict=True)))
    assume(0.0 <= limit < zone.taw_mm[0])
    # Ks stays that of p (equation 84): `carried` closes each day by RAW.
    closing = carried(limit, zone, rain).closing_mm
    assert all(day <= allowed + 1e-6 for day, allowed in zip(closing, allowed_mm, strict=True))
    drier = carried(min(limit + 0.01 * zone.taw_mm[0], zone.taw_mm[0]), zone, rain).closing_mm
    if limit + 0.01 * zone.taw_mm[0] <= zone.taw_mm[0]:
        assert any(day > allowed - 1e-6 for day, allowed in zip(drier, allowed_mm, strict=True))


@given(few_days())
def test_the_driest_start_closes_every_day_at_raw_and_a_drier_one_does_not(
    case: tuple[ZoneDays, list[float]],
) -> None:
    zone, rain = case
    limit = driest_start_at_raw(0, len(rain), zone, rain)
    full = carried(0.0, zone, rain).closing_mm
    possible = all(closing <= raw for closing, raw in zip(full, zone.raw_mm, strict=True))
    if limit < 0.0:
        assert not possible
        return
    assume(possible)
    start = min(limit, zone.taw_mm[0])
    assert all(c <= raw + NOISE for c, raw in zip(carried(start, zone, rain)[0], zone.raw_mm, strict=True))
    assume(limit + A_TRIFLE_MM <= zone.taw_mm[0])
    drier = carried(limit + A_TRIFLE_MM, zone, rain).closing_mm
    assert any(c > raw + NOISE for c, raw in zip(drier, zone.raw_mm, strict=True))


@given(few_days(thirsty=True))
def test_of_a_day_that_no_full_zone_outlasts_a_full_zone_is_all_that_is_asked(
    case: tuple[ZoneDays, list[float]],
) -> None:
    zone, rain = case
    limit = driest_start_at_raw(0, len(rain), zone, rain)
    assume(limit >= 0.0)
    at_best = [max(c, raw) for c, raw in zip(carried(0.0, zone, rain).closing_mm, zone.raw_mm, strict=True)]
    start = min(limit, zone.taw_mm[0])
    assert all(c <= best + NOISE for c, best in zip(carried(start, zone, rain)[0], at_best, strict=True))
    assume(limit + A_TRIFLE_MM <= zone.taw_mm[0])
    drier = carried(limit + A_TRIFLE_MM, zone, rain).closing_mm
    assert any(c > best + NOISE for c, best in zip(drier, at_best, strict=True))


@given(few_days(thirsty=True), st.sampled_from((0.0, 3.0, 20.0)))
def test_the_driest_unstressed_start_keeps_ks_and_a_drier_one_does_not(
    case: tuple[ZoneDays, list[float]], rain_today_mm: float
) -> None:
    zone, rain = case
    fallen = [rain_today_mm, *rain[1:]]
    limit = driest_start_unstressed(0, len(rain), zone, rain, rain_today_mm)
    assume(limit >= 0.0)
    at_best = [min(LEAST_KS, ks) for ks in carried(0.0, zone, fallen).ks]
    start = min(limit, zone.taw_mm[0])
    assert all(ks >= best - NOISE for ks, best in zip(carried(start, zone, fallen).ks, at_best, strict=True))
    assume(limit + A_TRIFLE_MM <= zone.taw_mm[0])
    drier = carried(limit + A_TRIFLE_MM, zone, fallen).ks
    assert any(ks < best - NOISE for ks, best in zip(drier, at_best, strict=True))


@given(few_days(), st.floats(0.0, 1.0))
def test_watering_the_least_keeps_both_promises(case: tuple[ZoneDays, list[float]], share: float) -> None:
    zone, rain = case
    count = len(rain)
    prepared, days = a_case(
        zone.etc_mm + [0.0] * 3,
        taw_mm=zone.taw_mm[0],
        raw_mm=[*zone.raw_mm, *[zone.raw_mm[-1]] * 3],
        counted_mm=rain,
        next_chance=count,
    )
    depletion = share * zone.taw_mm[0]
    need = need_on(0, count, depletion, prepared, days)
    full = carried(0.0, zone, rain).closing_mm
    assume(all(closing <= raw for closing, raw in zip(full, zone.raw_mm, strict=True)))
    assume(need.least_mm <= depletion)
    start = depletion - need.least_mm
    with_rain = carried(start, zone, rain).closing_mm
    assert all(c <= raw + 1e-9 for c, raw in zip(with_rain, zone.raw_mm, strict=True))
    assert min(carried(start, zone, [0.0, *rain[1:]]).ks) >= LEAST_KS - 1e-9


def test_a_store_that_is_nearly_used_up_each_day_has_no_driest_start_where_any_will_do() -> None:
    # 9 mm of ETc from a store of 10 mm close empty from anywhere; 20 mm of rain on the second
    # morning then fill it whatever the start. Only the first day itself limits: Ks 0.7 at 4.4 mm.
    prepared, _ = a_case([9.0, 9.0, 0.0], taw_mm=10.0, raw_mm=2.0, counted_mm=[0.0, 20.0])
    zone = prepared.days
    assert driest_start_unstressed(0, 2, zone, zone.counted_rain_mm, 0.0) == pytest.approx(4.4)
    assert driest_start_unstressed(0, 2, zone, zone.counted_rain_mm, 20.0) == float("inf")


def test_rain_that_fills_a_zone_cannot_be_bettered_by_watering_it() -> None:
    # Day 2 takes 8 mm of 5 mm: no start outlasts it. 20 mm of rain today fill what 4 mm leave of 15.
    prepared, days = a_case([4.0, 8.0, 0.0], taw_mm=20.0, raw_mm=5.0, certain_mm=[20.0], next_chance=2)
    assert need_on(0, 2, 15.0, prepared, days).least_mm == 0.0


def test_room_is_left_for_counted_rain_of_three_days() -> None:
    # RAW of 15 mm lasts three days of 5 mm, so nothing is left for later rain. 2 + 3 + 1 mm.
    prepared, days = a_case(raw_mm=15.0, counted_mm=[2.0, 3.0, 1.0, 9.0], mean_rain_mm=4.0)
    assert need_on(0, 1, 15.0, prepared, days).room_mm == 6.0


def test_room_for_later_rain_is_the_seasons_mean_as_long_as_a_full_raw_outlasts_three_days() -> None:
    # 30 mm last 6 days of 5 mm: 3 days beyond the forecast x 2 mm x 0.7.
    prepared, days = a_case(raw_mm=30.0, mean_rain_mm=2.0)
    assert need_on(0, 1, 30.0, prepared, days).room_mm == pytest.approx(4.2)


def test_a_roof_keeps_later_rain_out_of_the_room() -> None:
    prepared, days = a_case(raw_mm=30.0, mean_rain_mm=2.0, zone=with_site(LAWN, rain_share=0.25))
    assert need_on(0, 1, 30.0, prepared, days).room_mm == pytest.approx(1.05)


def test_room_is_never_more_than_seven_tenths_of_what_is_missing() -> None:
    prepared, days = a_case(counted_mm=[60.0])
    assert need_on(0, 1, 10.0, prepared, days).room_mm == pytest.approx(7.0)


def test_a_zone_exempt_from_rain_leaves_no_room_for_rain_that_may_come() -> None:
    prepared, days = a_case(raw_mm=30.0, mean_rain_mm=2.0, zone=with_rules(LAWN, exempt=("rain",)))
    assert need_on(0, 1, 30.0, prepared, days).room_mm == 0.0


def test_what_the_wetted_ground_takes_up_is_its_share_of_the_depletion() -> None:
    prepared, days = a_case(zone=with_watering(LAWN, wetted_share=0.4))
    assert need_on(0, 1, 15.0, prepared, days).cap_mm == pytest.approx(6.0)


def test_a_day_without_any_demand_asks_for_nothing() -> None:
    prepared, days = a_case([0.0] * 5)
    need = need_on(0, 1, 10.0, prepared, days)
    assert (need.dry_mm, need.least_mm, need.room_mm) == (0.0, 0.0, 0.0)


def a_cold_spring(**fields: Any) -> Need:
    """A lawn on shallow soil in March, with 6.0 of 11.7 mm used: frost closes the next nine nights."""
    case: dict[str, Any] = {"raw_mm": 11.7, "mean_rain_mm": 2.5, "next_chance": 9, "known": 4, **fields}
    prepared, days = a_case([1.4] * 12, taw_mm=29.0, **case)
    return need_on(0, case["next_chance"], 6.0, prepared, days)


def test_rain_is_looked_at_as_far_as_demand() -> None:
    # Nine days take 12.6 mm: 6.9 more than is left above RAW; five wet days bring 0.7 x 2.5 mm each.
    assert a_cold_spring().at_raw_mm == 0.0
    assert a_cold_spring().dry_mm == 0.0
    assert a_cold_spring(mean_rain_mm=0.0).at_raw_mm == pytest.approx(6.9)
    assert a_cold_spring(zone=with_rules(LAWN, exempt=("rain",))).at_raw_mm == pytest.approx(6.9)
    assert a_cold_spring(zone=with_site(LAWN, rain_share=0.2)).at_raw_mm == pytest.approx(6.9 - 1.75)


def test_the_mean_rain_keeps_no_plant_from_stress_and_does_not_fall_before_the_forecast_ends() -> None:
    wet, dry = a_cold_spring(mean_rain_mm=30.0, raw_mm=3.0), a_cold_spring(mean_rain_mm=0.0, raw_mm=3.0)
    assert wet.unstressed_mm == dry.unstressed_mm > 0.0
    assert a_cold_spring(known=9).at_raw_mm == pytest.approx(6.9)


def test_the_mean_rain_never_falls_on_the_date_itself() -> None:
    prepared, days = a_case(mean_rain_mm=30.0, known=0, raw_mm=20.0)
    assert need_on(0, 1, 18.0, prepared, days).at_raw_mm == pytest.approx(3.0)


def test_the_first_day_past_raw_is_found_by_carrying_forward() -> None:
    # 10 mm, then 15, 20 and 25 at the days' ends; with 6 mm of water 9, 14, 19, 24.
    prepared, _ = a_case()
    assert first_day_past_raw(0, 4, 10.0, 0.0, prepared.days) == 2
    assert first_day_past_raw(0, 4, 10.0, 6.0, prepared.days) == 3
    assert first_day_past_raw(0, 2, 10.0, 0.0, prepared.days) is None
