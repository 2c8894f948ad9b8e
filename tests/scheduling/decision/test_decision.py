"""Every reason to water or to wait, in its order of precedence.

The lawn of these tests lacks up to 40 mm, passes RAW at 20 mm and uses 5 mm a day.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling import reasons
from scheduling.decision.decision import Verdict, decide, second_run_mm
from tests.scheduling.gardens import LAWN, a_case, with_rules, with_watering

MODEST = with_watering(LAWN, smallest_depth_mm=0.5)


def decided(depletion_mm: float, **case: object) -> Verdict:
    prepared, days = a_case(**case)  # type: ignore[arg-type]
    return decide(0, depletion_mm, prepared, days)


@pytest.mark.parametrize("rule", ["dormant", "paused", "not-a-watering-day", "frost-risk"])
def test_a_rule_against_watering_outweighs_any_thirst(rule: str) -> None:
    assert decided(40.0, against=rule) == Verdict(rule, 0.0, 0.0, False)


def test_a_zone_waits_that_does_not_pass_raw_before_its_next_chance() -> None:
    assert decided(15.0).reason == reasons.SOIL_MOIST
    assert decided(10.0, next_chance=2).reason == reasons.SOIL_MOIST


def test_a_zone_is_watered_that_would_pass_raw_before_its_next_chance() -> None:
    assert decided(15.1).reason == reasons.SOIL_DRYING_OUT
    assert decided(10.1, next_chance=2).reason == reasons.SOIL_DRYING_OUT


def test_a_full_root_zone_waits_however_long_the_next_chance_is_off() -> None:
    verdict = decided(0.0, next_chance=7)
    assert (verdict.reason, verdict.net_mm) == (reasons.SOIL_MOIST, 0.0)
    assert verdict.cannot_last  # 35 mm of 20 mm


def test_moist_soil_comes_before_expected_rain() -> None:
    assert decided(10.0, counted_mm=[8.0]).reason == reasons.SOIL_MOIST


def test_a_zone_waits_for_rain_that_keeps_it_above_raw() -> None:
    # 18 mm and 5 mm would pass 20 mm; 3 mm of counted rain prevent it, and no rain day is needed.
    verdict = decided(18.0, counted_mm=[3.0])
    assert (verdict.reason, verdict.net_mm) == (reasons.RAIN_EXPECTED, 0.0)


def test_rain_of_later_days_counts_until_the_next_chance() -> None:
    # Closes at 17, 19 and 19 mm, on the way to a chance in 3 days.
    assert decided(12.0, counted_mm=[0.0, 3.0, 5.0], next_chance=3).reason == reasons.RAIN_EXPECTED


def test_a_zone_waits_on_a_rain_day_that_it_can_stand_should_the_rain_fail() -> None:
    # 24 mm: Ks is 0.8 without rain. 4 mm would still close at 25 mm, past RAW.
    assert decided(24.0, counted_mm=[4.0]).reason == reasons.RAIN_EXPECTED
    assert decided(24.0, counted_mm=[3.9]).reason == reasons.SOIL_DRYING_OUT


def test_a_rain_day_begins_where_the_rules_say() -> None:
    assert decided(24.0, counted_mm=[4.0], zone=with_rules(LAWN, rain_day_mm=4.1)).reason == (
        reasons.SOIL_DRYING_OUT
    )
    assert decided(24.0, counted_mm=[2.0], zone=with_rules(LAWN, rain_day_mm=2.0)).reason == (
        reasons.RAIN_EXPECTED
    )


def test_rain_that_has_fallen_makes_a_rain_day_too() -> None:
    assert decided(26.0, certain_mm=[4.0]).reason == reasons.RAIN_EXPECTED


def test_a_zone_that_could_not_stand_a_broken_promise_gets_the_least() -> None:
    # Ks 0.7 is at 26 mm: 30 mm lack 4 mm of it. 8 mm of rain close at 27 - 4 = 23 mm: 7 mm to RAW.
    verdict = decided(30.0, counted_mm=[8.0])
    assert verdict.reason == reasons.RAIN_NOT_ENOUGH
    assert verdict.net_mm == pytest.approx(7.0)


def test_the_least_against_a_broken_promise_is_never_below_what_is_worth_a_run() -> None:
    # 27 mm lack 1 mm of Ks 0.7; with 20 mm of counted rain RAW is no concern.
    verdict = decided(27.0, counted_mm=[20.0])
    assert (verdict.reason, verdict.net_mm) == (reasons.RAIN_NOT_ENOUGH, 3.0)


def test_a_zone_exempt_from_rain_has_no_rain_days() -> None:
    verdict = decided(24.0, certain_mm=[4.0], zone=with_rules(LAWN, exempt=("rain",)))
    assert verdict.reason == reasons.SOIL_DRYING_OUT


def test_without_rain_in_sight_the_root_zone_is_filled() -> None:
    assert decided(18.0) == Verdict(reasons.SOIL_DRYING_OUT, 18.0, 0.0, False)


def test_room_for_rain_is_left_where_the_least_allows_it() -> None:
    # 3 mm in 2 days leave 3 mm of room; the least for today alone is 18 + 5 - 20 = 3 mm.
    verdict = decided(18.0, counted_mm=[0.0, 3.0])
    assert verdict.net_mm == pytest.approx(15.0)
    assert verdict.room_mm == pytest.approx(3.0)


def test_the_least_overrides_the_room() -> None:
    # Room of 0.7 x 18 mm would leave 5.4 mm; a chance in 4 days wants 18 + 20 - 20 mm, less nothing.
    verdict = decided(18.0, counted_mm=[0.0, 0.0, 0.0, 0.0], mean_rain_mm=30.0, next_chance=4)
    assert verdict.net_mm == pytest.approx(18.0)


def test_a_fill_share_replaces_the_room() -> None:
    zone = with_watering(LAWN, fill_share=0.5)
    assert decided(18.0, mean_rain_mm=30.0, zone=zone).net_mm == pytest.approx(9.0)


def test_a_fill_share_never_leaves_less_than_the_least() -> None:
    zone = with_watering(LAWN, fill_share=0.3)
    assert decided(18.0, next_chance=3, zone=zone).net_mm == pytest.approx(13.0)


def test_a_small_need_is_raised_to_the_smallest_depth() -> None:
    zone = with_watering(LAWN, fill_share=0.3, smallest_depth_mm=9.0)
    assert decided(18.0, zone=zone).net_mm == 9.0


def test_wetted_ground_caps_the_dose_even_below_the_smallest_depth() -> None:
    assert decided(18.0, zone=with_watering(LAWN, wetted_share=0.5)).net_mm == 9.0
    tiny = with_watering(LAWN, wetted_share=0.1, smallest_depth_mm=3.0)
    assert decided(18.0, zone=tiny).net_mm == pytest.approx(1.8)


def test_a_zone_that_its_wetted_ground_cannot_keep_cannot_last() -> None:
    # 4 days want 18 mm; a fifth of the ground takes 3.6 mm.
    verdict = decided(18.0, next_chance=4, zone=with_watering(LAWN, wetted_share=0.2))
    assert verdict.cannot_last
    assert not decided(18.0, next_chance=4).cannot_last


def test_a_moist_zone_is_not_called_one_that_cannot_last() -> None:
    assert not decided(5.0, next_chance=2, zone=with_watering(LAWN, wetted_share=0.1)).cannot_last


RAINS = st.lists(st.floats(0.0, 40.0), min_size=4, max_size=4)


@given(
    depletion_mm=st.floats(0.0, 40.0),
    rain=RAINS,
    more=RAINS,
    next_chance=st.integers(1, 5),
    wetted_share=st.floats(0.2, 1.0),
    fill_share=st.none() | st.floats(0.3, 1.0),
    demand=st.floats(0.5, 12.0),
)
def test_more_counted_rain_never_means_more_water(
    depletion_mm: float,
    rain: list[float],
    more: list[float],
    next_chance: int,
    wetted_share: float,
    fill_share: float | None,
    demand: float,
) -> None:
    zone = with_watering(MODEST, wetted_share=wetted_share, fill_share=fill_share)

    def water(counted: list[float]) -> float:
        prepared, days = a_case(
            (demand,) * 20, counted_mm=counted, next_chance=next_chance, mean_rain_mm=1.0, zone=zone
        )
        first = decide(0, depletion_mm, prepared, days).net_mm
        return first + second_run_mm(0, depletion_mm - first, prepared)

    wetter = [one + other for one, other in zip(rain, more, strict=True)]
    assert water(wetter) <= water(rain) + 1e-9


@given(st.floats(0.0, 40.0), st.floats(0.0, 40.0), st.integers(1, 14), st.floats(0.0, 12.0))
def test_no_dose_is_more_than_what_is_missing(
    depletion_mm: float, rain_mm: float, next_chance: int, demand: float
) -> None:
    verdict = decided(depletion_mm, etc_mm=(demand,) * 20, counted_mm=[rain_mm], next_chance=next_chance)
    assert 0.0 <= verdict.net_mm <= depletion_mm


# Second runs: a store of 8 mm that loses 6 mm a day.


def second(left_mm: float, **case: object) -> float:
    prepared, _ = a_case(**{"etc_mm": (6.0,) * 20, "taw_mm": 8.0, "raw_mm": 3.0, **case})  # type: ignore[arg-type]
    return second_run_mm(0, left_mm, prepared)


def test_a_store_that_a_day_half_empties_gets_half_of_the_days_etc_at_noon() -> None:
    assert second(0.0) == 3.0
    assert second(2.0) == 3.0


def test_a_larger_store_gets_no_second_run() -> None:
    assert second(0.0, taw_mm=12.0) == 0.0


def test_counted_rain_takes_the_place_of_a_second_run() -> None:
    assert second(0.0, counted_mm=[2.0]) == 1.0
    assert second(0.0, counted_mm=[9.0]) == 0.0


def test_a_second_run_is_given_once() -> None:
    # The first run filled the store and the second brought 3 mm more.
    assert second(-3.0) == 0.0


def test_a_rule_against_watering_holds_for_the_second_run_too() -> None:
    assert second(0.0, against="paused") == 0.0
