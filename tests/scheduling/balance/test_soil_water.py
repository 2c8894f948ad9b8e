"""A day's account of a root zone: what closes it, and what it can never do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.soil_water import carry, close_day

DEPTHS = st.floats(0.0, 120.0)
STORES = st.floats(1.0, 300.0)
SHARES = st.floats(0.0, 1.0)
FRACTIONS = st.floats(0.1, 0.8)
MASS = 1e-9
"""Half of what no scale could weigh: the balance has to close to a billionth of a millimetre."""


@given(STORES, SHARES, FRACTIONS, DEPTHS, DEPTHS, st.floats(0.0, 15.0), st.booleans())
def test_a_day_loses_no_water_and_keeps_within_the_store(
    taw_mm: float, empty: float, p: float, rain_mm: float, water_mm: float, etc_mm: float, drains_first: bool
) -> None:
    opening = empty * taw_mm
    ks, etc_adj, drainage, closing = close_day(
        opening, rain_mm, water_mm, etc_mm, taw_mm, p * taw_mm, drains_first
    )
    assert closing == pytest.approx(opening - rain_mm - water_mm + etc_adj + drainage, abs=MASS)
    assert 0.0 <= closing <= taw_mm
    assert 0.0 <= ks <= 1.0
    assert drainage >= 0.0
    assert etc_adj <= etc_mm + MASS


@given(STORES, SHARES, FRACTIONS, DEPTHS, st.floats(0.0, 15.0), st.booleans(), st.floats(0.0, 50.0))
def test_more_rain_never_leaves_a_root_zone_drier(
    taw_mm: float, empty: float, p: float, rain_mm: float, etc_mm: float, drains_first: bool, more_mm: float
) -> None:
    def closing(rain: float) -> float:
        return close_day(empty * taw_mm, rain, 0.0, etc_mm, taw_mm, p * taw_mm, drains_first)[3]

    # Where ETc passes TAW - RAW, a drier start transpires so much less that both ends meet at TAW.
    assert closing(rain_mm + more_mm) <= closing(rain_mm) + MASS


def test_rain_beyond_the_store_drains_and_nothing_of_it_counts_as_irrigation() -> None:
    # By definition: 5 mm free, 12 mm of rain, so 5 mm are stored and 7 mm are surplus.
    _, _, drainage, closing = close_day(5.0, 12.0, 0.0, 0.0, 40.0, 20.0)
    assert (closing, drainage) == (0.0, 7.0)


def test_the_order_of_equation_88_lends_a_rainy_day_its_etc_as_room() -> None:
    # 20 mm into 12 mm of room on a day of 5 mm: 8 mm drain at once, or 3 mm after ETc.
    assert close_day(12.0, 20.0, 0.0, 5.0, 40.0, 20.0, drains_before_et=True)[2:] == (8.0, 5.0)
    assert close_day(12.0, 20.0, 0.0, 5.0, 40.0, 20.0)[2:] == (3.0, 0.0)


def test_both_orders_agree_where_nothing_drains() -> None:
    assert close_day(12.0, 2.0, 3.0, 5.0, 40.0, 20.0) == close_day(12.0, 2.0, 3.0, 5.0, 40.0, 20.0, True)


def test_stress_is_that_of_the_depletion_after_rain_and_water() -> None:
    # 30 mm lack, 10 mm come: 20 mm is RAW, so there is none. Without them Ks is (40-30)/(40-20).
    assert close_day(30.0, 4.0, 6.0, 5.0, 40.0, 20.0)[0] == 1.0
    assert close_day(30.0, 0.0, 0.0, 5.0, 40.0, 20.0)[0] == 0.5


def test_a_root_zone_never_gives_more_than_it_holds() -> None:
    ks, etc_adj, _, closing = close_day(2.0, 0.0, 0.0, 9.0, 5.0, 2.0)
    assert (ks, etc_adj, closing) == (1.0, 3.0, 5.0)


def test_several_days_are_the_days_one_after_another() -> None:
    first = close_day(10.0, 0.0, 4.0, 5.0, 40.0, 20.0)[3]
    second = close_day(first, 2.0, 0.0, 6.0, 40.0, 19.0)[3]
    assert carry(10.0, [0.0, 2.0], [4.0, 0.0], [5.0, 6.0], [40.0, 40.0], [20.0, 19.0]) == second


def test_a_depletion_beyond_a_shrunken_store_is_cut_to_it() -> None:
    # So 5 mm of rain find a store of 12 mm that is empty, not one that lacks 30 mm.
    assert carry(30.0, [5.0], [0.0], [0.0], [12.0], [6.0]) == 7.0


def test_columns_of_unequal_length_are_refused() -> None:
    with pytest.raises(ValueError, match=r"shorter|longer"):
        carry(0.0, [0.0, 0.0], [0.0], [5.0, 5.0], [40.0, 40.0], [20.0, 20.0])
