"""Reasons as sentences: what they say is what was decided upon."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.decision.decision import Verdict, decide
from scheduling.garden.description import Pause, Zone
from scheduling.plan.reason_facts import Situation, reason_of, room_left
from scheduling.reasons.words import Words
from scheduling.zone.rules import zone_rules
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    a_case,
    a_garden,
    with_planting,
    with_rules,
    with_watering,
)


def said(reason: str, depletion_mm: float = 18.0, lowest_c: float | None = 12.0, **case: Any) -> str:
    prepared, days = with_its_rules(**case)
    at = Situation(prepared, days, 0, depletion_mm, lowest_c)
    return reason_of(reason, at).sentence(Words(seen_from=days.dates[0]))


def with_its_rules(zone: Zone = LAWN, **case: Any) -> tuple[PreparedZone, GardenDays]:
    prepared, days = a_case(zone=zone, **case)
    return replace(prepared, rules=zone_rules(a_garden(zone), zone.rules, zone.id)), days


def test_drying_soil_tells_what_is_used_and_until_when() -> None:
    # 1 July 2026 is a Wednesday.
    assert said("soil-drying-out", next_chance=2) == (
        "18.0 of 20.0 mm easily available water is used; 10.0 mm more by Friday, the next chance to water."
    )


def test_beyond_raw_both_parts_are_told() -> None:
    assert said("soil-drying-out", 24.0).startswith(
        "All 20.0 mm easily available water is used, and 4.0 mm beyond it"
    )


def test_where_days_are_ruled_the_chance_is_a_watering_day() -> None:
    zone = with_rules(LAWN, watering_days=("wed", "fri"))
    assert "by Friday, the next watering day" in said("soil-drying-out", zone=zone, next_chance=2)


def test_moist_soil_says_that_the_use_can_be_borne() -> None:
    assert said("soil-moist", 5.0) == (
        "5.0 of 20.0 mm easily available water is used; the 5.0 mm more by Thursday, the next chance to "
        "water, can be borne."
    )
    assert said("soil-moist", 0.0) == "Nothing is missing: the root zone is full."


def test_expected_rain_is_told_by_its_depth_until_the_next_chance() -> None:
    assert "8.0 mm of forecast rain is counted on by Friday" in said(
        "rain-expected", counted_mm=[5.0, 3.0, 4.0], next_chance=2
    )


def test_rain_that_is_not_enough_tells_why_water_flows_all_the_same() -> None:
    told = said("rain-not-enough", counted_mm=[8.0])
    assert told.startswith("8.0 mm of rain is counted on")
    assert "Thursday" in told


@pytest.mark.parametrize(("lowest_c", "told"), [(4.96, "4.9 °C"), (-0.01, "-0.1 °C"), (3.0, "3.0 °C")])
def test_a_frost_never_looks_like_the_limit_itself(lowest_c: float, told: str) -> None:
    assert told in said("frost-risk", lowest_c=lowest_c)
    assert "limit of 5 °C" in said("frost-risk", lowest_c=lowest_c)


def test_a_pause_tells_its_dates_and_its_cause() -> None:
    zone = with_rules(LAWN, pauses=(Pause(JULY_1, JULY_1 + ONE_DAY, because="painting"),))
    assert said("paused", zone=zone) == "Paused from 2026-07-01 to 2026-07-02: painting."
    silent = with_rules(LAWN, pauses=(Pause(JULY_1, JULY_1),))
    assert said("paused", zone=silent) == "Paused from 2026-07-01 to 2026-07-01."


def test_a_wrong_day_tells_the_right_ones() -> None:
    zone = with_rules(LAWN, watering_days=("sat", "mon"))
    assert said("not-a-watering-day", zone=zone) == "Wednesday is none of its watering days (mon, sat)."
    odd_even = with_rules(LAWN, odd_even="even")
    assert said("not-a-watering-day", zone=odd_even).startswith("Only even dates")


def test_a_dormant_zone_tells_its_planting_date() -> None:
    zone = with_planting(LAWN, plant="lettuce", kc=None, planted_on=dt.date(2026, 8, 1))
    assert "2026-08-01" in said("dormant", zone=zone)


def test_too_little_time_is_told() -> None:
    assert "too short" in said("hours-full")


def room(zone: Zone = LAWN, depletion_mm: float = 18.0, mean_rain_mm: float = 0.0, **case: Any) -> str:
    """What is said of the room that the decision itself leaves."""
    prepared, days = with_its_rules(zone=zone, mean_rain_mm=mean_rain_mm, **case)
    verdict: Verdict = decide(0, depletion_mm, prepared, days)
    soon = sum(prepared.days.counted_rain_mm[:3])
    left = room_left(verdict, Situation(prepared, days, 0, depletion_mm, 12.0), soon, mean_rain_mm)
    return "" if left is None else left.in_words()


def test_room_for_counted_rain_tells_of_it() -> None:
    # 18 + 5 mm pass RAW, 20; 4 mm come the day after tomorrow.
    assert room(counted_mm=[0.0, 0.0, 4.0]) == (
        "4.0 mm are left free for rain: 4.0 mm are counted on within 3 days."
    )


def test_room_for_the_season_tells_its_mean() -> None:
    # A full RAW of 20 mm lasts 4 days: 0.7 x 2 mm are left for the fourth.
    assert room(mean_rain_mm=2.0) == "1.4 mm are left free for rain: the season brings 2.0 mm a day."
    assert room(mean_rain_mm=2.0, counted_mm=[0.0, 0.0, 4.0]) == (
        "5.4 mm are left free for rain: 4.0 mm are counted on within 3 days, and the season brings 2.0 mm a "
        "day."
    )


def test_room_that_somebody_asked_for_or_that_drip_leaves_is_no_room_for_rain() -> None:
    assert room(with_watering(LAWN, fill_share=0.6)) == "7.2 mm are left free, as fill_share 0.6 has it."
    drip = with_watering(LAWN, wetted_share=0.4)
    assert room(drip) == "10.8 mm stay unfilled, since only 40% of the ground gets wet."


def test_a_rain_day_leaves_what_is_more_than_the_least() -> None:
    # 27 mm are beyond Ks 0.7, at 26. From 23 on, 8 mm of rain and a day of 5 lead to RAW, 20.
    assert room(depletion_mm=27.0, counted_mm=[8.0]) == "23.0 mm are left free for the rain."


def test_room_that_nobody_would_miss_is_not_told() -> None:
    assert room() == ""
    assert room(counted_mm=[0.0, 0.0, 0.4]) == ""
    assert room(depletion_mm=5.0, counted_mm=[0.0, 0.0, 4.0]) == ""  # it waits


def test_days_of_the_coming_week_have_names_and_others_dates() -> None:
    words = Words(seen_from=JULY_1)
    assert words.day(JULY_1 + 6 * ONE_DAY) == "Tuesday"
    assert words.day(JULY_1 + 7 * ONE_DAY) == "2026-07-08"
