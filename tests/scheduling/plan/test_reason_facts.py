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
        "Roots have used 18.0 of the 20.0 mm they can draw easily, and will use about 10.0 mm more before "
        "Friday, the next day it can be watered."
    )


def test_beyond_raw_both_parts_are_told() -> None:
    assert said("soil-drying-out", 24.0).startswith(
        "Roots have used all 20.0 mm they can draw easily and 4.0 mm they can only draw with effort"
    )


def test_moist_soil_says_that_it_can_wait() -> None:
    assert said("soil-moist", 5.0) == (
        "Roots still have 15.0 mm they can draw easily. They will use about 5.0 mm by Thursday, so it can "
        "wait."
    )
    assert said("soil-moist", 0.0) == "The soil around the roots is full, so nothing is missing."


def test_expected_rain_is_told_by_its_depth_until_the_next_chance() -> None:
    assert "About 8.0 mm of rain can be relied on by Friday" in said(
        "rain-expected", counted_mm=[5.0, 3.0, 4.0], next_chance=2
    )


def test_rain_that_is_not_enough_tells_why_water_flows_all_the_same() -> None:
    told = said("rain-not-enough", counted_mm=[8.0])
    assert told.startswith("About 8.0 mm of rain is likely")
    assert "Thursday" in told


@pytest.mark.parametrize(("lowest_c", "told"), [(4.96, "4.9 °C"), (-0.01, "-0.1 °C"), (3.0, "3 °C")])
def test_a_frost_never_looks_like_the_limit_itself(lowest_c: float, told: str) -> None:
    assert told in said("frost-risk", lowest_c=lowest_c)
    assert "limit of 5 °C" in said("frost-risk", lowest_c=lowest_c)


def test_a_pause_tells_its_dates_and_its_cause() -> None:
    zone = with_rules(LAWN, pauses=(Pause(JULY_1, JULY_1 + ONE_DAY, because="painting"),))
    assert said("paused", zone=zone) == "Paused from Wednesday to Thursday: painting."
    silent = with_rules(LAWN, pauses=(Pause(JULY_1, JULY_1),))
    assert said("paused", zone=silent) == "Paused from Wednesday to Wednesday."


def test_a_wrong_day_tells_the_right_ones() -> None:
    zone = with_rules(LAWN, watering_days=("sat", "mon"))
    assert said("not-a-watering-day", zone=zone) == "Wednesday is not a watering day here (Monday, Saturday)."
    odd_even = with_rules(LAWN, odd_even="even")
    assert said("not-a-watering-day", zone=odd_even).startswith("1 July is an odd date")


def test_a_dormant_zone_tells_its_planting_date() -> None:
    zone = with_planting(LAWN, plant="lettuce", kc=None, planted_on=dt.date(2026, 8, 1))
    assert "1 August" in said("dormant", zone=zone)


def test_too_little_time_is_told() -> None:
    assert "too short" in said("hours-full")


def room(zone: Zone = LAWN, depletion_mm: float = 18.0, mean_rain_mm: float = 0.0, **case: Any) -> str:
    """What is said of the room that the decision itself leaves."""
    prepared, days = with_its_rules(zone=zone, mean_rain_mm=mean_rain_mm, **case)
    verdict: Verdict = decide(0, depletion_mm, prepared, days)
    soon = sum(prepared.days.counted_rain_mm[:3])
    left = room_left(verdict, Situation(prepared, days, 0, depletion_mm, 12.0), soon, mean_rain_mm)
    return "" if left is None else left.in_words(Words())


def test_room_for_counted_rain_tells_of_it() -> None:
    # 18 + 5 mm pass RAW, 20; 4 mm come the day after tomorrow.
    assert room(counted_mm=[0.0, 0.0, 4.0]) == (
        "The last 4.0 mm are left free for rain: about 4.0 mm is likely within 3 days."
    )


def test_room_for_the_season_tells_its_mean() -> None:
    # A full RAW of 20 mm lasts 4 days: 0.7 x 2 mm are left for the fourth.
    assert room(mean_rain_mm=2.0) == (
        "The last 1.4 mm are left free for rain, as the season brings 2.0 mm a day."
    )
    assert room(mean_rain_mm=2.0, counted_mm=[0.0, 0.0, 4.0]) == (
        "The last 5.4 mm are left free for rain: about 4.0 mm is likely within 3 days, and the season brings "
        "2.0 mm a day."
    )


def test_room_that_somebody_asked_for_or_that_drip_leaves_is_no_room_for_rain() -> None:
    assert room(with_watering(LAWN, fill_share=0.6)) == (
        "The last 7.2 mm are left dry, because this zone is set to refill 60 % of what is missing."
    )
    drip = with_watering(LAWN, wetted_share=0.4)
    assert room(drip) == "Only 40 % of the ground gets wet, so the last 10.8 mm cannot be refilled."


def test_a_rain_day_leaves_what_is_more_than_the_least() -> None:
    # 27 mm are beyond Ks 0.7, at 26. From 23 on, 8 mm of rain and a day of 5 lead to RAW, 20.
    assert room(depletion_mm=27.0, counted_mm=[8.0]) == "The last 23.0 mm are left free for the rain."


def test_room_that_nobody_would_miss_is_not_told() -> None:
    assert room() == ""
    assert room(counted_mm=[0.0, 0.0, 0.4]) == ""
    assert room(depletion_mm=5.0, counted_mm=[0.0, 0.0, 4.0]) == ""  # it waits
