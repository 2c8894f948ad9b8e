"""Kcb, Kc max, cover and height; printed values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.dual_coefficient import (
    basal_end_of_season_coefficient,
    basal_from_single_coefficient,
    basal_mid_season_coefficient,
    covered_fraction,
    dual_coefficient,
    height_on_day,
    largest_coefficient,
)


def test_wind_and_dry_air_raise_the_basal_coefficient_but_not_of_a_crop_left_to_dry() -> None:
    assert basal_mid_season_coefficient(1.10, 2.0, 45.0, 1.0) == 1.10
    assert basal_mid_season_coefficient(1.10, 4.0, 25.0, 1.0) > 1.10
    assert basal_end_of_season_coefficient(0.44, 4.0, 25.0, 1.0) == 0.44
    assert basal_end_of_season_coefficient(0.45, 4.0, 25.0, 1.0) > 0.45


def test_tall_plants_raise_the_largest_coefficient_above_wet_soil() -> None:
    assert largest_coefficient(0.15, 2.0, 45.0, 1.0) == pytest.approx(1.2)
    assert largest_coefficient(1.25, 2.0, 45.0, 1.0) == pytest.approx(1.30)
    calm_and_humid, windy_and_dry = (1.0, 80.0), (3.0, 20.0)
    assert (
        largest_coefficient(0.15, *calm_and_humid, 3.0) < 1.2 < largest_coefficient(0.15, *windy_and_dry, 1.0)
    )


@given(st.floats(0.0, 1.3), st.floats(0.0, 10.0))
def test_cover_stays_below_all_of_the_ground(kcb: float, height_m: float) -> None:
    kc_max = largest_coefficient(kcb, 2.0, 45.0, height_m)
    assert 0.0 <= covered_fraction(kcb, 0.15, kc_max, height_m) <= 0.99


def test_cover_grows_with_the_plants() -> None:
    covers = [covered_fraction(kcb, 0.15, 1.2, 0.5) for kcb in (0.1, 0.15, 0.4, 0.8, 1.15)]
    assert covers == sorted(covers)
    assert covers[0] == covers[1]


def test_cover_without_room_between_bare_and_wet_ground_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match=r"kc_max is 0.15; it must be above kc_min, 0.15"):
        covered_fraction(0.15, 0.15, 0.15, 0.5)


def test_height_follows_the_basal_coefficient_up_and_not_down() -> None:
    assert height_on_day(0.55, 1.10, 0.4, 0.0) == pytest.approx(0.2)
    assert height_on_day(0.25, 1.10, 0.4, 0.4) == 0.4
    assert height_on_day(1.20, 1.10, 0.4, 0.3) == 0.4


# FAO-56 tables 12 and 17, mid-season: single and basal. Turf, peas, mint cover their ground.
@pytest.mark.parametrize(
    ("kc", "covers_ground", "kcb"), [(0.95, True, 0.90), (1.15, True, 1.10), (1.05, False, 0.95)]
)
def test_a_basal_coefficient_is_guessed_from_the_single_one(
    kc: float, covers_ground: bool, kcb: float
) -> None:
    assert basal_from_single_coefficient(kc, covers_ground) == pytest.approx(kcb)


def test_a_basal_coefficient_is_never_below_nothing() -> None:
    assert basal_from_single_coefficient(0.03) == 0.0


def test_dry_roots_close_leaves_but_not_the_soil() -> None:
    assert dual_coefficient(0.5, 0.8, 0.3) == pytest.approx(0.7)
    assert dual_coefficient(0.0, 0.8, 0.3) == pytest.approx(0.3)
