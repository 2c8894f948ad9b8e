"""Rates, depths, litres and uniformity against published worked examples.

Imperial examples are converted with the exact inch, foot and US gallon.
"""

import pytest

from scheduling.landscape.application import (
    application_rate_mm_h,
    distribution_uniformity,
    efficiency_of_uniformity,
    emitters_flow_l_min,
    flow_of_rate_l_min,
    gross_depth_mm,
    net_depth_of_volume_mm,
    run_time_s,
    volume_of_depth_l,
)

MM_PER_INCH = 25.4
M2_PER_SQUARE_FOOT = 0.3048**2
L_PER_GALLON = 3.785411784


@pytest.mark.parametrize(
    ("gallons_per_minute", "square_feet", "inches_per_hour", "half_a_digit"),
    [
        pytest.param(8, 900, 0.86, 0.005, id="training slides on sprinkler rates"),
        pytest.param(10, 500, 1.93, 0.005, id="training text with the constant 96.3"),
        pytest.param(300 / 60, 400, 1.20, 0.005, id="irrigation guide, 300 gallons in an hour"),
        pytest.param(2 * 0.48 / 60, 7 * 11, 0.020, 0.0005, id="UCANR, two emitters to a vine, 7 x 11 ft"),
    ],
)
def test_rate_from_flow_and_area_is_the_printed_one(
    gallons_per_minute, square_feet, inches_per_hour, half_a_digit
):
    rate = application_rate_mm_h(gallons_per_minute * L_PER_GALLON, square_feet * M2_PER_SQUARE_FOOT)

    assert rate / MM_PER_INCH == pytest.approx(inches_per_hour, abs=half_a_digit)


def test_a_litre_on_a_square_metre_is_a_millimetre():
    assert application_rate_mm_h(12.0, 20.0) == pytest.approx(36.0, abs=1e-9)  # 12 x 60 l over 20 m²
    assert flow_of_rate_l_min(36.0, 20.0) == pytest.approx(12.0, abs=1e-9)


def test_two_emitters_to_a_vine_double_its_flow():
    # UCANR, "Calculation of drip application rate": 0.48 gal/h each, 0.96 gal/h for the vine.
    flow_l_min = emitters_flow_l_min(2, 0.48 * L_PER_GALLON)

    assert flow_l_min * 60 / L_PER_GALLON == pytest.approx(0.96, abs=1e-9)


def test_run_time_of_a_depth_is_the_one_a_city_prints():
    # City of Aurora watering pages: 1.25 in at 1.5 in/h takes 50 min.
    area_m2 = 63.0
    flow_l_min = flow_of_rate_l_min(1.5 * MM_PER_INCH, area_m2)

    assert run_time_s(1.25 * MM_PER_INCH * area_m2, flow_l_min) == pytest.approx(50 * 60, abs=1e-6)


@pytest.mark.parametrize(
    ("efficiency", "printed_inches", "half_a_digit"),
    [(0.7, 5.3, 0.05), (0.3, 12.4, 0.05), (0.6, 6.2, 0.05), (0.9, 4.1, 0.05)],
)
def test_gross_depth_by_efficiency_is_the_guides(efficiency, printed_inches, half_a_digit):
    # UC/DWR 2000, Guide to Estimating Irrigation Water Needs: 3.72 in at four efficiencies.
    gross_mm = gross_depth_mm(3.72 * MM_PER_INCH, efficiency)

    assert gross_mm / MM_PER_INCH == pytest.approx(printed_inches, abs=half_a_digit)


def test_a_depth_becomes_litres_and_seconds_by_definition():
    assert gross_depth_mm(12.0, 0.75) == pytest.approx(16.0, abs=1e-9)
    assert volume_of_depth_l(16.0, 40.0) == pytest.approx(640.0, abs=1e-9)
    assert run_time_s(640.0, 10.0) == pytest.approx(64 * 60, abs=1e-9)
    assert run_time_s(640.0, 12.0) == pytest.approx(3200.0, abs=1e-9)
    assert volume_of_depth_l(gross_depth_mm(3.6, 0.9), 8.0) == pytest.approx(32.0, abs=1e-9)


def test_delivered_litres_come_back_as_the_net_depth_that_asked_for_them():
    litres = volume_of_depth_l(gross_depth_mm(7.3, 0.81), 12.5)

    assert net_depth_of_volume_mm(litres, 12.5, 0.81) == pytest.approx(7.3, abs=1e-12)


SIXTEEN_CANS_MM = [
    *(12.0, 11.5, 10.8, 9.2, 12.3, 11.9, 10.1, 8.7),
    *(12.1, 11.7, 10.5, 9.0, 12.2, 11.6, 10.3, 8.5),
]


def test_low_quarter_uniformity_of_a_published_catch_is_the_printed_one():
    # A public uniformity calculator prints 82.13 % for these sixteen cans.
    assert distribution_uniformity(SIXTEEN_CANS_MM) == pytest.approx(0.8213, abs=0.00005)


def test_order_of_the_cans_does_not_matter():
    assert distribution_uniformity(SIXTEEN_CANS_MM[::-1]) == distribution_uniformity(SIXTEEN_CANS_MM)


def test_a_can_on_the_border_of_the_quarter_counts_with_its_share():
    # Six cans: the lowest, and half of the next: (2 + 4/2) / 1.5 = 8/3, over a mean of 8.
    assert distribution_uniformity([2.0, 4.0, 8.0, 10.0, 12.0, 12.0]) == pytest.approx(1 / 3, abs=1e-12)


@pytest.mark.parametrize("cans", [4, 5, 7, 16, 24])
def test_equal_cans_are_perfectly_uniform(cans):
    uniformity = distribution_uniformity([9.7] * cans)

    assert uniformity == pytest.approx(1.0, abs=1e-12)
    assert uniformity <= 1.0
    assert efficiency_of_uniformity(uniformity) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("uniformity", "multiplier"),
    [(0.50, 1.4286), (0.60, 1.3158), (0.70, 1.2195), (0.75, 1.1765), (0.80, 1.1364)],
)
def test_run_time_multiplier_follows_the_irrigation_associations_form(uniformity, multiplier):
    # 1 / (0.4 + 0.6 DU), Irrigation Association 2005 (from memory), worked by hand.
    assert efficiency_of_uniformity(uniformity) == pytest.approx(1 / multiplier, abs=0.00005)


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: application_rate_mm_h(10.0, 0.0), "Area in m² is 0.0; it must be above 0"),
        (lambda: application_rate_mm_h(-1.0, 5.0), "Flow in l/min is -1.0; it must be 0 or more"),
        (lambda: gross_depth_mm(5.0, 0.0), "Efficiency is 0.0; it must be above 0 and at most 1"),
        (lambda: gross_depth_mm(5.0, 70), "Efficiency is 70"),
        (lambda: net_depth_of_volume_mm(5.0, 2.0, float("nan")), "Efficiency is nan"),
        (lambda: run_time_s(10.0, 0.0), "Flow in l/min is 0.0; it must be above 0"),
        (lambda: run_time_s(float("inf"), 1.0), "Volume in l is inf"),
        (lambda: distribution_uniformity([]), "no catch cans"),
        (lambda: distribution_uniformity([1.0, 2.0, 3.0]), "There are 3 catch cans"),
        (lambda: distribution_uniformity([0.0] * 8), "Every catch can is dry"),
        (lambda: distribution_uniformity([1.0, -2.0, 3.0, 4.0]), "Depth in a catch can in mm is -2.0"),
        (lambda: efficiency_of_uniformity(1.1), "Distribution uniformity is 1.1; it must be 0 to 1"),
    ],
)
def test_numbers_that_no_garden_has_are_refused_in_words(attempt, words):
    with pytest.raises(ValueError, match=words):
        attempt()
