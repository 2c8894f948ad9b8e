"""Runoff of rain after TR-55, and the run and soak rule.

The rule is the Irrigation Association's (Landscape Irrigation Scheduling and Water
Management, 2005); ponding depths and rates of the zones are from memory, the minutes were
worked by hand from them: run = 60 x 0.25 / (1.6 - 0.35) = 12 min.
"""

import math

import pytest

from scheduling import catalogue
from scheduling.landscape.infiltration import (
    HYDROLOGIC_GROUPS,
    LAWN_CURVE_NUMBERS,
    ORCHARD_CURVE_NUMBERS,
    ROW_CROP_CURVE_NUMBERS,
    SHRUB_CURVE_NUMBERS,
    curve_number_when_wet,
    longest_run_s,
    rain_runoff_mm,
    retention_mm,
    soak_s,
)

MM_PER_INCH = 25.4
HALF_OF_0_01_INCH = 0.005


@pytest.mark.parametrize(
    ("rain_in", "curve_number", "runoff_in"),
    [
        pytest.param(6, 70, 2.81, id="TR-55 example 2-1 (result from memory)"),
        pytest.param(6, 75, 3.28, id="TR-55 example 2-2 (result from memory)"),
        pytest.param(6, 77, 3.48, id="TR-55 example 2-3 (result from memory)"),
        pytest.param(8, 80, 5.625, id="answer page of a hydrology course"),
    ],
)
def test_runoff_of_rain_is_the_printed_one(rain_in, curve_number, runoff_in):
    runoff_mm = rain_runoff_mm(rain_in * MM_PER_INCH, curve_number)

    assert runoff_mm / MM_PER_INCH == pytest.approx(runoff_in, abs=HALF_OF_0_01_INCH)


def test_the_first_fifth_of_the_retention_stays_where_it_falls():
    abstraction_mm = 0.2 * retention_mm(61.0)

    assert rain_runoff_mm(abstraction_mm, 61.0) == 0.0
    assert rain_runoff_mm(25.0, 61.0) == 0.0
    assert rain_runoff_mm(abstraction_mm + 0.1, 61.0) > 0.0


def test_a_sealed_surface_sheds_everything():
    assert rain_runoff_mm(17.0, 100.0) == pytest.approx(17.0, abs=1e-9)


@pytest.mark.parametrize("curve_number", LAWN_CURVE_NUMBERS.values())
def test_runoff_grows_with_rain_and_never_exceeds_it(curve_number):
    runoffs_mm = [rain_runoff_mm(float(rain_mm), curve_number) for rain_mm in range(0, 200, 10)]

    assert runoffs_mm == sorted(runoffs_mm)
    assert all(runoff_mm <= 10 * step for step, runoff_mm in enumerate(runoffs_mm))


def test_wet_ground_takes_less():
    # Chow, Maidment and Mays 1988 (from memory): 74 becomes 86.75, worked by hand.
    assert curve_number_when_wet(74.0) == pytest.approx(86.75, abs=0.005)


@pytest.mark.parametrize(
    ("ponding_in", "rate_in_h", "intake_in_h", "run_min", "soak_min"),
    [
        pytest.param(0.25, 1.60, 0.35, 12.00, 42.86, id="loam, spray"),
        pytest.param(0.16, 1.60, 0.15, 6.62, 64.00, id="silty clay on a slope, spray"),
        pytest.param(0.26, 1.40, 0.50, 17.33, 31.20, id="loamy sand on a slope, spray"),
        pytest.param(0.10, 0.35, 0.10, 24.00, 60.00, id="clay on a slope, rotor"),
    ],
)
def test_run_and_soak_of_a_zone(ponding_in, rate_in_h, intake_in_h, run_min, soak_min):
    ponding_mm, rate_mm_h, intake_mm_h = (
        inches * MM_PER_INCH for inches in (ponding_in, rate_in_h, intake_in_h)
    )

    longest_s = longest_run_s(rate_mm_h, intake_mm_h, ponding_mm)

    assert longest_s / 60 == pytest.approx(run_min, abs=0.005)
    assert soak_s(rate_mm_h, intake_mm_h, longest_s) / 60 == pytest.approx(soak_min, abs=0.005)


@pytest.mark.parametrize("rate_mm_h", [0.0, 4.0, 5.08])
def test_a_rate_that_the_soil_takes_in_has_no_longest_run(rate_mm_h):
    assert longest_run_s(rate_mm_h, 5.08, 6.6) == math.inf


def test_after_the_longest_run_the_soak_is_the_shortest_that_empties_a_full_surface():
    longest_s = longest_run_s(40.0, 9.0, 6.0)

    full_surface_drains_in_s = 3600.0 * 6.0 / 9.0  # 6 mm at 9 mm/h
    assert soak_s(40.0, 9.0, longest_s) == pytest.approx(full_surface_drains_in_s)
    assert soak_s(40.0, 9.0, longest_s / 2) == pytest.approx(full_surface_drains_in_s / 2)
    assert soak_s(9.0, 9.0, 3600.0) == 0.0


def test_every_texture_has_a_group_and_every_cover_sheds_more_on_tighter_soil():
    assert set(HYDROLOGIC_GROUPS) == {soil.id for soil in catalogue.soils()}
    for numbers in (LAWN_CURVE_NUMBERS, SHRUB_CURVE_NUMBERS, ORCHARD_CURVE_NUMBERS, ROW_CROP_CURVE_NUMBERS):
        assert list(numbers) == ["A", "B", "C", "D"]
        assert sorted(set(numbers.values())) == list(numbers.values())


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: retention_mm(0.0), "Curve number is 0.0; it must be 1 to 100"),
        (lambda: curve_number_when_wet(-3.0), "Curve number is -3.0"),
        (lambda: rain_runoff_mm(-1.0, 70.0), "Rain in mm is -1.0; it must be 0 or more"),
        (lambda: longest_run_s(20.0, 0.0, 5.0), "Intake in mm/h is 0.0; it must be above 0"),
    ],
)
def test_ground_that_cannot_be_is_refused_in_words(attempt, words):
    with pytest.raises(ValueError, match=words):
        attempt()
