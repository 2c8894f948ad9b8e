"""The store of a container, by definition of its shares."""

import pytest

from scheduling.landscape.containers import (
    available_water_l,
    available_water_mm,
    disc_m2,
    held_water_l,
    pot_top_m2,
    rain_factor,
)


def test_a_pot_holds_its_capacity_and_lends_what_is_not_unavailable():
    # 20 l, of which half is water after draining and a fifth out of reach.
    assert held_water_l(20.0, 0.5) == pytest.approx(10.0, abs=1e-9)
    assert available_water_l(20.0, 0.5, 0.2) == pytest.approx(6.0, abs=1e-9)


def test_over_the_leaf_area_a_litre_on_a_square_metre_is_a_millimetre():
    # 180 l of troughs under 2.4 m² of leaves: 54 l available.
    assert available_water_mm(180.0, 0.5, 0.2, 2.4) == pytest.approx(22.5, abs=1e-9)


def test_a_wide_crown_over_a_narrow_pot_thins_the_rain():
    assert rain_factor(0.6, 2.4) == pytest.approx(0.25, abs=1e-12)
    assert rain_factor(0.5, 0.25) == pytest.approx(2.0, abs=1e-12)
    assert rain_factor(0.0, 2.4) == 0.0


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: held_water_l(0.0, 0.5), "Volume of the container in l is 0.0"),
        (lambda: held_water_l(20.0, 50), "Capacity share is 50; it must be 0 to 1"),
        (lambda: available_water_l(20.0, 0.3, 0.4), "Unavailable share is 0.4; it must be 0 to 0.3"),
        (lambda: available_water_mm(20.0, 0.5, 0.2, 0.0), "Leaf area in m² is 0.0; it must be above 0"),
        (lambda: rain_factor(-0.1, 1.0), "Open surface in m² is -0.1"),
    ],
)
def test_a_container_that_cannot_be_is_refused_in_words(attempt, words):
    with pytest.raises(ValueError, match=words):
        attempt()


def test_the_top_of_a_pot_follows_from_its_volume_within_a_tenth() -> None:
    # Beeson 2010, HortScience 45(8):1260: 600 ml on the top of an 11.4-litre pot are 11.8 mm.
    assert pot_top_m2(11.4) == pytest.approx(0.600 / 11.8, rel=0.1)


def test_a_trough_is_not_as_deep_as_it_is_long() -> None:
    assert pot_top_m2(180.0) == pytest.approx(0.18 / 0.3)


def test_a_round_top_goes_by_its_diameter() -> None:
    assert disc_m2(0.30) == pytest.approx(0.0707, abs=5e-5)
