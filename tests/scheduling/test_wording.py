"""Reasons as sentences: what they say is what was decided upon."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from scheduling.garden import Pause, Zone
from scheduling.prepared import PreparedZone
from scheduling.rules import zone_rules
from scheduling.season import GardenDays
from scheduling.wording import Situation, day_name, sentence
from tests.scheduling.making import JULY_1, LAWN, ONE_DAY, a_case, a_garden, with_planting, with_rules


def said(reason: str, depletion_mm: float = 18.0, lowest_c: float | None = 12.0, **case: Any) -> str:
    prepared, days = with_its_rules(**case)
    return sentence(reason, Situation(prepared, days, 0, depletion_mm, lowest_c))


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


def test_days_of_the_coming_week_have_names_and_others_dates() -> None:
    assert day_name(JULY_1 + 6 * ONE_DAY, JULY_1) == "Tuesday"
    assert day_name(JULY_1 + 7 * ONE_DAY, JULY_1) == "2026-07-08"
