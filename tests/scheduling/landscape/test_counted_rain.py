"""How much of a forecast a plan relies on."""

import pytest

from scheduling.landscape.counted_rain import (
    counted_depth_mm,
    expected_stored_mm,
    heavy_enough_to_count,
    rain_that_reaches_mm,
)


def test_a_depth_counts_by_its_probability():
    assert counted_depth_mm(8.0, 0.6) == pytest.approx(4.8, abs=1e-12)
    assert counted_depth_mm(8.0, 0.0) == 0.0
    assert counted_depth_mm(8.0, 1.0) == 8.0


def test_without_a_probability_seven_tenths_count():
    assert counted_depth_mm(10.0, None) == pytest.approx(7.0, abs=1e-12)


@pytest.mark.parametrize("probability", [None, 0.3, 1.0])
def test_an_expectation_is_not_weighed_a_second_time(probability):
    assert counted_depth_mm(4.0, probability, is_expectation=True) == 4.0


def test_a_probability_alone_brings_no_water():
    assert counted_depth_mm(0.0, 0.95) == 0.0


def test_rain_counts_from_a_fifth_of_the_reference_evapotranspiration():
    # FAO-56 p. 170: rain below about 0.2 ETo evaporates at once.
    assert heavy_enough_to_count(1.0, 5.0)
    assert not heavy_enough_to_count(0.99, 5.0)


def test_the_share_that_gets_through_is_taken_before_the_test():
    # 1.5 mm would count at 5 mm/day; the half of it that passes the crown does not.
    assert rain_that_reaches_mm(1.5, 1.0, 5.0) == 1.5
    assert rain_that_reaches_mm(1.5, 0.5, 5.0) == 0.0
    assert rain_that_reaches_mm(6.0, 0.5, 5.0) == 3.0
    assert rain_that_reaches_mm(40.0, 0.0, 5.0) == 0.0


def test_of_an_ensemble_only_what_the_store_can_hold_counts():
    # Six members in ten bring 8 mm and 5 mm fit: 0.6 x 5 = 3.
    assert expected_stored_mm([8.0] * 6 + [0.0] * 4, 5.0) == pytest.approx(3.0, abs=1e-12)


def test_one_downpour_among_dry_members_counts_for_little():
    spread, even = [100.0] + [0.0] * 9, [10.0] * 10  # the same mean

    assert expected_stored_mm(spread, 12.0) == pytest.approx(1.2, abs=1e-12)
    assert expected_stored_mm(even, 12.0) == pytest.approx(10.0, abs=1e-12)


def test_a_full_store_can_use_no_rain():
    assert expected_stored_mm([3.0, 9.0], 0.0) == 0.0


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: counted_depth_mm(5.0, 60), "Probability of rain is 60; it must be 0 to 1"),
        (lambda: counted_depth_mm(-1.0, 0.5), "Forecast rain in mm is -1.0"),
        (lambda: expected_stored_mm([], 5.0), "no members"),
        (lambda: expected_stored_mm([1.0, float("nan")], 5.0), "Rain of a member in mm is nan"),
        (lambda: expected_stored_mm([1.0], -0.1), "Free storage in mm is -0.1"),
    ],
)
def test_rain_that_cannot_be_is_refused_in_words(attempt, words):
    with pytest.raises(ValueError, match=words):
        attempt()
