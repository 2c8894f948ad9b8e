"""UC Cooperative Extension and DWR 2000, Guide to Estimating Irrigation Water Needs."""

import pytest

from scheduling.landscape.coefficient import basal_coefficient_of_cover, landscape_coefficient


@pytest.mark.parametrize(
    ("species", "density", "microclimate", "printed"),
    [
        pytest.param(0.2, 0.5, 1.0, 0.10, id="chapter 8, a new planting"),
        pytest.param(0.5, 1.0, 1.0, 0.50, id="case 1 (split of its 3.72 in from memory)"),
        pytest.param(0.5, 1.2, 1.3, 0.78, id="a large tree in the wind, by the guide's ranges"),
    ],
)
def test_the_three_factors_multiply(species, density, microclimate, printed):
    assert landscape_coefficient(species, density, microclimate) == pytest.approx(printed, abs=1e-9)


def test_case_one_of_the_guide_needs_its_printed_inches():
    # 7.44 in of ETo (from memory), 3.72 in of landscape evapotranspiration (printed).
    assert landscape_coefficient(0.5) * 7.44 == pytest.approx(3.72, abs=0.005)


def test_an_average_planting_in_an_average_place_needs_its_species_factor():
    assert landscape_coefficient(0.3) == 0.3


@pytest.mark.parametrize(
    ("factors", "words"),
    [
        ((1.2, 1.0, 1.0), "Species factor is 1.2; it must be 0 to 0.9"),
        ((0.5, 0.1, 1.0), "Density factor is 0.1; it must be 0.5 to 1.3"),
        ((0.5, 1.0, 2.0), "Microclimate factor is 2.0; it must be 0.5 to 1.4"),
    ],
)
def test_a_factor_outside_the_guide_is_refused_in_words(factors, words):
    with pytest.raises(ValueError, match=words):
        landscape_coefficient(*factors)


@pytest.mark.parametrize(
    ("covered_share", "height_m", "multiplier", "factor", "kcb"),
    [
        # Allen and Pereira 2009, ML and Fr as public research data cite them; Kcb reckoned by hand.
        (0.25, 2.5, 2.0, 0.95, 0.64),  # apple
        (0.50, 3.0, 2.0, 0.95, 0.98),
        (0.50, 2.5, 1.5, 0.71, 0.68),  # citrus
        (0.40, 2.0, 1.5, 0.95, 0.74),  # table grape
        (0.35, 4.0, 1.5, 0.48, 0.37),  # olive
        (0.30, 0.6, 2.0, 1.00, 0.58),  # tomato
        (0.50, 0.3, 2.0, 1.00, 0.67),  # lettuce
    ],
)
def test_a_basal_coefficient_follows_from_cover_and_height(covered_share, height_m, multiplier, factor, kcb):
    reckoned, _ = basal_coefficient_of_cover(covered_share, height_m, multiplier, factor)
    assert reckoned == pytest.approx(kcb, abs=0.005)
