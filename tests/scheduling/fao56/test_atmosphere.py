"""Pressure and wind at their edges; printed values are in tests/reference."""

import pytest

from scheduling.fao56.reference_et import atmospheric_pressure, wind_at_2m


def test_pressure_below_the_sea_is_above_that_at_the_sea() -> None:
    # An island polder 60 m below the sea: about 12 Pa a metre near the ground.
    assert atmospheric_pressure(-60.0) - atmospheric_pressure(0.0) == pytest.approx(0.71, abs=0.01)


def test_wind_is_stronger_higher_up() -> None:
    assert wind_at_2m(3.0, 10.0) < wind_at_2m(3.0, 2.0) < wind_at_2m(3.0, 1.0)


def test_still_air_is_still_at_every_height() -> None:
    assert wind_at_2m(0.0, 10.0) == 0.0


@pytest.mark.parametrize("height_m", [0.49, 0.09, 0.0, -1.0])
def test_wind_from_just_above_the_grass_is_refused_in_words(height_m: float) -> None:
    with pytest.raises(ValueError, match=r"wind_height_m is .*0\.5 m upwards"):
        wind_at_2m(3.0, height_m)
