"""UC Cooperative Extension and DWR 2000, Guide to Estimating Irrigation Water Needs."""

import pytest

from scheduling.landscape.coefficient import landscape_coefficient


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
