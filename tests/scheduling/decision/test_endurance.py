"""How zones stand the days between two waterings."""

from dataclasses import replace

import pytest

from scheduling.decision.endurance import (
    container_findings,
    days_each,
    days_findings,
    least_ks,
    longest_gap_d,
)
from scheduling.garden.description import Container, Garden, Rules, Soil, Zone
from scheduling.reasons.words import METRIC
from scheduling.zone.from_catalogue import numbers_of
from scheduling.zone.rules import zone_rules
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    with_rules,
    with_watering,
)

YEAR = [JULY_1 + ahead * ONE_DAY for ahead in range(366)]


def gap(**rules: object) -> int:
    zone = with_rules(LAWN, **rules)
    return longest_gap_d(zone_rules(a_garden(zone), zone.rules, "lawn"), YEAR)


@pytest.mark.parametrize(
    ("rules", "days"),
    [
        ({}, 1),
        ({"watering_days": ("mon", "wed", "fri", "sat")}, 2),
        ({"watering_days": ("mon", "thu")}, 4),
        ({"watering_days": ("sun",)}, 7),
        ({"odd_even": "even"}, 3),  # from the 30th over the 31st and the 1st
        ({"odd_even": "odd"}, 2),  # the 31st and the 1st are neighbours
        ({"watering_days": ("sun",), "odd_even": "odd"}, 21),  # as in July 2026: 12th, 26th are even
        ({"watering_days": ("sun",), "odd_even": "odd", "exempt": ("days",)}, 1),
    ],
)
def test_days_from_one_watering_day_to_the_next(rules: dict[str, object], days: int) -> None:
    assert gap(**rules) == days


def test_a_watering_day_serves_the_days_around_it() -> None:
    zone = with_rules(LAWN, watering_days=("mon", "thu"))
    assert days_each(zone_rules(a_garden(zone), zone.rules, "lawn"), YEAR) == pytest.approx(3.5, abs=0.05)


def ks_of(zone: Zone, etc_mm: float, gap_d: int, has_two_spans: bool = False) -> float:
    return least_ks(numbers_of(zone, a_garden(zone)), etc_mm, gap_d, has_two_spans)


def test_a_lawn_of_40_mm_bears_four_days_of_5_mm() -> None:
    assert ks_of(LAWN, 5.0, 4) == 1.0


def test_what_is_beyond_raw_is_missed() -> None:
    # RAW is 20 of 40 mm at 5 mm a day; the fifth day ends with 25 gone: Ks is (40 - 25) / 20.
    assert ks_of(LAWN, 5.0, 5) == pytest.approx(15 / 20)


def test_a_pot_that_uses_more_than_it_holds_is_empty_every_evening() -> None:
    # 5 mm of water, 8 mm a day.
    assert ks_of(POTS, 8.0, 1) == 0.0


def test_a_run_at_noon_helps_a_pot() -> None:
    # Half of 8 mm at noon: it ends the day with 4 of 5 mm gone.
    numbers = numbers_of(POTS, a_garden(POTS))
    raw_mm = max(0.1, numbers.depletion_fraction + 0.04 * (5.0 - 8.0)) * 5.0
    assert ks_of(POTS, 8.0, 1, has_two_spans=True) == pytest.approx((5.0 - 4.0) / (5.0 - raw_mm))


def container(zone: Zone, two_spans: bool = False, garden: Garden | None = None) -> list[str]:
    garden = garden or a_garden(zone)
    numbers = numbers_of(zone, garden)
    return [
        finding.text + finding.about.advice(METRIC)
        for finding in container_findings(numbers, garden, YEAR, two_spans)
    ]


def test_a_container_that_cannot_last_a_hot_day_is_found() -> None:
    (told,) = container(POTS)
    assert "It holds 5.0 mm for its roots, and a hot day takes 8.0 mm" in told
    assert "Watered every day" in told
    assert "second watering hours about 13:00" in told


def test_where_noon_is_open_already_it_is_not_advised() -> None:
    (told,) = container(POTS, two_spans=True)
    assert "13:00" not in told


def test_a_trough_lasts_a_day_and_not_three() -> None:
    # 22.5 mm, and herbs take about 8 mm on a hot day.
    assert container(TROUGHS) == []
    (told,) = container(with_rules(TROUGHS, watering_days=("mon", "thu")))
    assert "Watered every 4 days" in told


def test_a_larger_container_lasts() -> None:
    assert container(replace(POTS, soil=Soil(container=Container(200.0)))) == []


def days(zone: Zone, **rules: object) -> list[str]:
    garden = a_garden(zone, rules=Rules(**rules))  # type: ignore[arg-type]
    return [finding.text for finding in days_findings(numbers_of(zone, garden), garden, YEAR)]


def test_watering_days_too_far_apart_for_what_roots_reach() -> None:
    assert days(LAWN, watering_days=("mon", "thu")) == []
    # 25 mm gone after five days, 28.75 after six, 31.56 after seven: Ks is (40 - 31.56) / 20.
    (told,) = days(LAWN, watering_days=("sun",))
    assert told.startswith("Its watering days leave up to 7 days between them.")
    assert told.endswith("draw only 42 % of the water they need.")


def test_days_beyond_what_plans_look_ahead_are_counted_all_the_same() -> None:
    (told,) = days(LAWN, watering_days=("sun",), odd_even="odd")
    assert "up to 21 days" in told


def test_shrubs_bear_a_week_where_all_of_their_ground_gets_wet() -> None:
    # 17.5 mm a week of 56 mm; but a drip line wets 0.4, so that they are never full again.
    assert days(with_watering(SHRUBS, wetted_share=1.0), watering_days=("sun",)) == []
    (told,) = days(SHRUBS, watering_days=("sun",))
    assert "draw only 67 % of the water they need" in told


def test_an_exempt_zone_is_not_bound_by_the_days() -> None:
    assert days(with_rules(LAWN, exempt=("days",)), watering_days=("sun",)) == []
