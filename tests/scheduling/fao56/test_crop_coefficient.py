"""The curve of Kc through a season; printed values are in tests/reference."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.crop_coefficient import (
    Stage,
    StageLengths,
    climate_adjustment,
    coefficient_on_day,
    end_of_season_coefficient,
    mid_season_coefficient,
)

BEANS = StageLengths(25, 25, 30, 20)
lengths_d = st.integers(1, 120)
coefficients = st.floats(0.1, 1.3)


@given(lengths_d, lengths_d, lengths_d, lengths_d, coefficients, coefficients, coefficients)
def test_the_curve_is_continuous_where_stages_join(
    initial_d: int,
    development_d: int,
    mid_season_d: int,
    late_season_d: int,
    kc_ini: float,
    kc_mid: float,
    kc_end: float,
) -> None:
    stages = StageLengths(initial_d, development_d, mid_season_d, late_season_d)
    joins = (initial_d, initial_d + development_d, initial_d + development_d + mid_season_d)
    for join in joins:
        at = coefficient_on_day(join, stages, kc_ini, kc_mid, kc_end)
        after = coefficient_on_day(join + 1e-6, stages, kc_ini, kc_mid, kc_end)
        assert after == pytest.approx(at, abs=1e-5)
    assert coefficient_on_day(stages.season_d, stages, kc_ini, kc_mid, kc_end) == pytest.approx(kc_end)


def test_the_last_day_of_a_stage_belongs_to_it() -> None:
    assert BEANS.stage_on(1) is Stage.INITIAL
    assert BEANS.stage_on(25) is Stage.INITIAL
    assert BEANS.stage_on(26) is Stage.DEVELOPMENT
    assert BEANS.stage_on(50) is Stage.DEVELOPMENT
    assert BEANS.stage_on(51) is Stage.MID_SEASON
    assert BEANS.stage_on(80) is Stage.MID_SEASON
    assert BEANS.stage_on(81) is Stage.LATE_SEASON
    assert BEANS.stage_on(100) is Stage.LATE_SEASON


@pytest.mark.parametrize("day", [0, 101, -3])
def test_a_day_outside_the_season_is_refused_in_words(day: int) -> None:
    with pytest.raises(ValueError, match=f"day_of_season is {day}; .*from day 1 to day 100"):
        coefficient_on_day(day, BEANS, 0.15, 1.19, 0.35)


@pytest.mark.parametrize(
    ("stages", "on_first_day", "on_last_day"),
    [
        (StageLengths(0, 10, 10, 10), 0.2 + 0.1 * 0.8, 0.5),
        (StageLengths(10, 0, 10, 10), 0.2, 0.5),
        (StageLengths(10, 10, 0, 10), 0.2, 0.5),
        (StageLengths(10, 10, 10, 0), 0.2, 1.0),
        (StageLengths(0, 0, 0, 10), 1.0 - 0.1 * 0.5, 0.5),
        (StageLengths(0, 0, 10, 0), 1.0, 1.0),
        (StageLengths(10, 0, 0, 0), 0.2, 0.2),
    ],
)
def test_a_stage_of_no_days_is_stepped_over(
    stages: StageLengths, on_first_day: float, on_last_day: float
) -> None:
    assert coefficient_on_day(1, stages, 0.2, 1.0, 0.5) == pytest.approx(on_first_day)
    assert coefficient_on_day(stages.season_d, stages, 0.2, 1.0, 0.5) == pytest.approx(on_last_day)
    for day in range(1, stages.season_d + 1):
        assert 0.2 <= coefficient_on_day(day, stages, 0.2, 1.0, 0.5) <= 1.0


def test_lengths_that_cannot_be_are_refused_in_words() -> None:
    with pytest.raises(ValueError, match="mid_season_d is -1; a stage lasts 0 days or more"):
        StageLengths(10, 10, -1, 10)
    with pytest.raises(ValueError, match="at least one day"):
        StageLengths(0, 0, 0, 0)


def test_the_tabulated_climate_needs_no_adjustment() -> None:
    assert climate_adjustment(2.0, 45.0, 1.0) == 0.0


def test_wind_and_dry_air_raise_the_coefficient_and_tall_plants_feel_it_more() -> None:
    assert climate_adjustment(4.0, 45.0, 1.0) > 0.0
    assert climate_adjustment(2.0, 25.0, 1.0) > 0.0
    assert climate_adjustment(2.0, 75.0, 1.0) < 0.0
    assert climate_adjustment(4.0, 45.0, 3.0) > climate_adjustment(4.0, 45.0, 1.0)


def test_the_climate_is_kept_within_the_range_of_the_equation() -> None:
    assert climate_adjustment(0.2, 45.0, 1.0) == climate_adjustment(1.0, 45.0, 1.0)
    assert climate_adjustment(9.0, 45.0, 1.0) == climate_adjustment(6.0, 45.0, 1.0)
    assert climate_adjustment(2.0, 5.0, 1.0) == climate_adjustment(2.0, 20.0, 1.0)
    assert climate_adjustment(2.0, 95.0, 1.0) == climate_adjustment(2.0, 80.0, 1.0)
    assert climate_adjustment(4.0, 30.0, 15.0) == climate_adjustment(4.0, 30.0, 10.0)


def test_plants_below_ten_centimetres_are_not_adjusted() -> None:
    assert mid_season_coefficient(0.95, 5.0, 20.0, 0.08) == 0.95
    assert mid_season_coefficient(0.95, 5.0, 20.0, 0.10) > 0.95


def test_a_crop_left_to_dry_off_is_not_adjusted_at_the_end() -> None:
    assert end_of_season_coefficient(0.44, 5.0, 20.0, 1.0) == 0.44
    assert end_of_season_coefficient(0.45, 5.0, 20.0, 1.0) > 0.45
