"""On which dates a zone may be watered, and when the next one comes."""

import datetime as dt
from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import Location
from scheduling.balance.garden_series import garden_days
from scheduling.garden.description import Garden, Pause, Rules, Zone
from scheduling.zone.rules import ZoneRules, rule_against, zone_rules
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    a_garden,
    prepare_zone,
    summer_days,
    with_planting,
    with_rules,
)

WEDNESDAY, THURSDAY, FRIDAY = JULY_1, JULY_1 + ONE_DAY, JULY_1 + 2 * ONE_DAY
MILD_C, COLD_C = 12.0, 4.9


def laid_over(garden_rules: Rules, zone: Zone = LAWN) -> ZoneRules:
    return zone_rules(a_garden(zone, rules=garden_rules), zone.rules, zone.id)


def test_without_rules_every_day_above_5_degrees_will_do() -> None:
    rules = laid_over(Rules())
    assert rule_against(rules, WEDNESDAY, False, MILD_C) is None
    assert rule_against(rules, WEDNESDAY, False, 5.0) is None
    assert rule_against(rules, WEDNESDAY, False, COLD_C) == "frost-risk"


def test_beyond_the_forecast_no_frost_is_assumed() -> None:
    assert rule_against(laid_over(Rules()), WEDNESDAY, False, None) is None


def test_reasons_against_stand_in_their_order() -> None:
    everything = Rules(watering_days=("thu",), pauses=(Pause(WEDNESDAY, WEDNESDAY),))
    assert rule_against(laid_over(everything), WEDNESDAY, True, COLD_C) == "dormant"
    assert rule_against(laid_over(everything), WEDNESDAY, False, COLD_C) == "paused"
    only_days = replace(everything, pauses=())
    assert rule_against(laid_over(only_days), WEDNESDAY, False, COLD_C) == "not-a-watering-day"
    assert rule_against(laid_over(only_days), THURSDAY, False, COLD_C) == "frost-risk"


def test_odd_and_even_are_those_of_the_date() -> None:
    odd, even = laid_over(Rules(odd_even="odd")), laid_over(Rules(odd_even="even"))
    assert rule_against(odd, WEDNESDAY, False, None) is None
    assert rule_against(odd, THURSDAY, False, None) == "not-a-watering-day"
    assert rule_against(even, WEDNESDAY, False, None) == "not-a-watering-day"


def test_a_pause_includes_both_of_its_dates() -> None:
    rules = laid_over(Rules(pauses=(Pause(WEDNESDAY, THURSDAY, because="painting"),)))
    reasons = [rule_against(rules, JULY_1 + d * ONE_DAY, False, None) for d in (-1, 0, 1, 2)]
    assert reasons == [None, "paused", "paused", None]


def test_a_pause_can_be_for_some_zones_only() -> None:
    assert laid_over(Rules(pauses=(Pause(WEDNESDAY, FRIDAY, zones=("shrubs",)),))).pauses == ()
    assert len(laid_over(Rules(pauses=(Pause(WEDNESDAY, FRIDAY, zones=("lawn",)),))).pauses) == 1


def test_a_zones_own_rules_come_before_the_gardens() -> None:
    garden_rules = Rules(frost_limit_c=5.0, rain_day_mm=4.0, watering_days=("mon",), odd_even="odd")
    own = with_rules(LAWN, frost_limit_c=2.0, rain_day_mm=8.0, watering_days=("wed",), odd_even="even")
    rules = laid_over(garden_rules, own)
    assert (rules.frost_limit_c, rules.rain_day_mm, rules.odd_even) == (2.0, 8.0, "even")
    assert rules.weekdays == frozenset({2})


def test_a_limit_of_0_degrees_is_a_limit() -> None:
    assert laid_over(Rules(frost_limit_c=0.0)).frost_limit_c == 0.0


def test_pauses_of_garden_and_zone_add_up() -> None:
    own = with_rules(LAWN, pauses=(Pause(FRIDAY, FRIDAY),))
    assert len(laid_over(Rules(pauses=(Pause(WEDNESDAY, WEDNESDAY),)), own).pauses) == 2


@pytest.mark.parametrize(
    ("exemption", "date", "lowest_c"), [("days", WEDNESDAY, MILD_C), ("frost", THURSDAY, COLD_C)]
)
def test_an_exempt_zone_is_held_back_by_nothing(exemption: str, date: dt.date, lowest_c: float) -> None:
    garden_rules = Rules(watering_days=("thu",), odd_even="even")
    strict, exempt = laid_over(garden_rules), laid_over(garden_rules, with_rules(LAWN, exempt=(exemption,)))
    assert rule_against(strict, date, False, lowest_c) is not None
    assert rule_against(exempt, date, False, lowest_c) is None


def test_exemption_from_days_does_not_lift_a_pause() -> None:
    zone = with_rules(LAWN, exempt=("days",))
    rules = laid_over(Rules(pauses=(Pause(WEDNESDAY, WEDNESDAY),)), zone)
    assert rule_against(rules, WEDNESDAY, False, None) == "paused"


def next_chances(garden: Garden, lows_c: dict[int, float] | None = None) -> list[int]:
    """The next chance of the first five days, days off."""
    weather = [
        replace(day, t_min_c=(lows_c or {}).get(place, 12.0))
        for place, day in enumerate(summer_days(JULY_1, 5))
    ]
    days = garden_days(weather, Location(45.0, 0.0), JULY_1, JULY_1 + 40 * ONE_DAY)
    chances = prepare_zone(garden.zones[0], garden, days, 0, {}).chances
    return [chances.next_chance[day] - day for day in range(5)]


def test_the_next_chance_is_tomorrow_where_nothing_is_against_it() -> None:
    assert next_chances(a_garden(LAWN)) == [1, 1, 1, 1, 1]


def test_the_next_chance_is_the_next_watering_day() -> None:
    # From Wednesday: Friday, Friday, Monday, Monday, Monday.
    assert next_chances(a_garden(LAWN, rules=Rules(watering_days=("mon", "fri")))) == [2, 1, 3, 2, 1]


def test_a_forecast_frost_is_no_chance() -> None:
    assert next_chances(a_garden(LAWN), {1: 4.0, 2: 3.0}) == [3, 2, 1, 1, 1]


def test_a_chance_more_than_14_days_off_is_taken_to_be_then() -> None:
    away = Rules(pauses=(Pause(JULY_1, JULY_1 + 30 * ONE_DAY),))
    assert next_chances(a_garden(LAWN, rules=away)) == [14, 14, 14, 14, 14]


SOWN = with_planting(LAWN, planted_on=JULY_1)


def may_water(zone: Zone, days_after_sowing: int, garden_rules: Rules) -> bool:
    garden = a_garden(zone, rules=garden_rules)
    weather = summer_days(JULY_1 + days_after_sowing * ONE_DAY, 3)
    days = garden_days(weather, Location(45.0, 0.0), weather[0].date, weather[0].date + 15 * ONE_DAY)
    return prepare_zone(zone, garden, days, 0, {}).chances.against[0] is None


@pytest.mark.parametrize(("days_after_sowing", "may"), [(0, True), (1, True), (41, True), (43, False)])
def test_a_new_lawn_knows_no_watering_days_for_six_weeks(days_after_sowing: int, may: bool) -> None:
    never = Rules(watering_days=("mon",) if (JULY_1 + days_after_sowing * ONE_DAY).weekday() else ("tue",))
    assert may_water(SOWN, days_after_sowing, never) is may


def test_days_that_the_new_zone_itself_was_given_hold() -> None:
    own = with_rules(SOWN, watering_days=("thu",))
    assert not may_water(own, 0, Rules(watering_days=("mon",)))
    assert may_water(own, 1, Rules(watering_days=("mon",)))


def test_bans_and_pauses_hold_for_new_plantings_too() -> None:
    assert not may_water(SOWN, 0, Rules(pauses=(Pause(WEDNESDAY, WEDNESDAY),)))


def test_trees_grow_roots_for_two_years_and_are_exempt_for_six_weeks_of_them() -> None:
    tree = with_planting(LAWN, plant="apple", planted_on=JULY_1, kc=None, leaf_out=(3, 1))
    assert may_water(tree, 40, Rules(watering_days=("mon",)))
    assert not may_water(tree, 43, Rules(watering_days=("mon",)))
