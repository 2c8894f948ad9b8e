"""Losses of sprinkled water to the air, and what the catalogue makes of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling import catalogue

TWO_M_S = 7.2
"""[km/h]"""
FINEST_SPRAY = 17.0
COARSEST_SPRAY = 7.0
"""Coarseness index of Keller and Bliesner: below and above these drops make no further difference."""


def effective_portion(eto_mm: float, wind_km_h: float, coarseness: float) -> float:
    """Re, the part of sprinkled water that lands (Keller and Bliesner 1990, from memory); at most 1:
    0.976 + 0.005 ETo - 0.00017 ETo2 + 0.0012 W - CI (0.00043 ETo + 0.00018 W + 0.000016 ETo W).
    """
    still = 0.976 + 0.005 * eto_mm - 0.00017 * eto_mm**2 + 0.0012 * wind_km_h
    fine = 0.00043 * eto_mm + 0.00018 * wind_km_h + 0.000016 * eto_mm * wind_km_h
    return min(1.0, still - coarseness * fine)


@pytest.mark.parametrize(("coarseness", "lands"), [(7.0, 0.967), (17.0, 0.886)])
def test_the_formula_of_keller_and_bliesner(coarseness: float, lands: float) -> None:
    # Keller and Bliesner 1990 (from memory), worked by hand for ETo 6 mm/day and wind 20 km/h:
    # 0.976 + 0.03 - 0.00612 + 0.024 = 1.02388, less CI x (0.00258 + 0.0036 + 0.00192 = 0.0081).
    assert effective_portion(6.0, 20.0, coarseness) == pytest.approx(lands, abs=0.0005)


@pytest.mark.parametrize(
    ("method", "coarseness"),
    [("overhead-spray", FINEST_SPRAY), ("micro-spray", FINEST_SPRAY), ("overhead-rotor", COARSEST_SPRAY)],
)
def test_the_catalogue_has_the_loss_of_a_fair_day(method: str, coarseness: float) -> None:
    lost = 1.0 - effective_portion(5.0, TWO_M_S, coarseness)
    assert catalogue.method(method).air_loss_share == pytest.approx(lost, abs=0.005)


def test_the_catalogue_agrees_with_nights_of_solid_sets() -> None:
    # Playan et al. 2005 (from memory), solid sets by night: 3.7 + 1.31 U per cent, U in m/s.
    assert catalogue.method("overhead-spray").air_loss_share == pytest.approx(0.063, abs=0.005)
    assert pytest.approx(0.063, abs=0.0005) == (3.7 + 1.31 * 2.0) / 100.0


def test_what_does_not_fly_loses_nothing_to_the_air() -> None:
    for method in catalogue.methods():
        assert (method.air_loss_share > 0.0) == method.overhead, method.id


@given(
    eto_mm=st.floats(0.0, 12.0),
    wind_km_h=st.floats(0.0, 40.0),
    finer=st.floats(COARSEST_SPRAY, FINEST_SPRAY),
    coarser=st.floats(COARSEST_SPRAY, FINEST_SPRAY),
)
def test_fine_drops_lose_no_less_than_coarse_ones(
    eto_mm: float, wind_km_h: float, finer: float, coarser: float
) -> None:
    coarser, finer = sorted((coarser, finer))
    assert 0.0 < effective_portion(eto_mm, wind_km_h, finer) <= effective_portion(eto_mm, wind_km_h, coarser)
