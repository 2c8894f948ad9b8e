"""What water costs. The examples are reckoned by hand, with invented prices."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.garden.description import Price, PriceStep, WaterSupply
from scheduling.review.tariff import Tariff, Tariffs, costs_by_date, costs_of_zones, tariffs_of

STEPS = (PriceStep(10.0, 3.0), PriceStep(15.0, 5.0))
RISING = Tariff(2.0, STEPS)
"""2 a m3, from 10 m3 of a month on 3, from 15 m3 on 5."""
JULY_1 = dt.date(2026, 7, 1)
JULY_31 = dt.date(2026, 7, 31)
AUGUST_1 = dt.date(2026, 8, 1)


@pytest.mark.parametrize(
    ("volume_l", "cost"),
    [
        pytest.param(0.0, 0.0, id="nothing"),
        pytest.param(4_000.0, 8.0, id="4 x 2"),
        pytest.param(10_000.0, 20.0, id="10 x 2"),
        pytest.param(12_500.0, 27.5, id="10 x 2 + 2.5 x 3"),
        pytest.param(15_000.0, 35.0, id="10 x 2 + 5 x 3"),
        pytest.param(20_000.0, 60.0, id="10 x 2 + 5 x 3 + 5 x 5"),
    ],
)
def test_each_litre_has_the_price_of_its_step(volume_l, cost):
    assert RISING.cost(volume_l) == pytest.approx(cost)


def test_litres_come_on_top_of_those_before_them():
    # 9 m3 have flowed: one more at 2, five at 3, two at 5.
    assert RISING.cost(8_000.0, before_l=9_000.0) == pytest.approx(2.0 + 15.0 + 10.0)


def test_the_sewer_takes_its_share_at_its_own_price():
    # 6 m3 at 2, and 60 % of them, 3.6 m3, at 2.5.
    assert Tariff(2.0, sewer_share=0.6, sewer_price_per_m3=2.5).cost(6_000.0) == pytest.approx(12.0 + 9.0)


def test_without_a_price_of_its_own_the_sewer_takes_the_water_s():
    # 12 m3 cost 20 + 6; half as much again.
    assert Tariff(2.0, STEPS, sewer_share=0.5).cost(12_000.0) == pytest.approx(26.0 * 1.5)


def test_a_supply_without_a_price_has_no_tariff():
    assert tariffs_of(WaterSupply()) is None


def test_a_sewer_price_without_a_share_is_for_all_the_water():
    tariffs = tariffs_of(WaterSupply(prices=(Price(2.0, sewer_price_per_m3=1.5),)))
    assert tariffs is not None
    assert tariffs.first.cost(1_000.0) == pytest.approx(3.5)


def test_a_new_price_counts_from_its_day_on_and_leaves_what_was_before_as_it_was():
    # 10 m3 at 2.10 in July, 10 m3 at 2.50 in August.
    prices = (Price(2.1), Price(2.5, begins_on=AUGUST_1))
    tariffs = tariffs_of(WaterSupply(prices=prices))
    assert tariffs is not None
    litres = {JULY_1: 10_000.0, AUGUST_1: 10_000.0}
    assert costs_by_date(tariffs, litres) == pytest.approx({JULY_1: 21.0, AUGUST_1: 25.0})
    before = tariffs_of(WaterSupply(prices=prices[:1]))
    assert before is not None
    assert costs_by_date(before, litres)[JULY_1] == costs_by_date(tariffs, litres)[JULY_1]


def test_a_price_that_begins_within_a_month_goes_on_from_the_steps_of_that_month():
    # 9 m3 have flowed by 31 July: of the next 2 m3, one is below the step of 10 m3.
    prices = (Price(2.0), Price(2.0, begins_on=JULY_31, steps=(PriceStep(10.0, 3.0),)))
    tariffs = tariffs_of(WaterSupply(prices=prices))
    assert tariffs is not None
    assert costs_by_date(tariffs, {JULY_1: 9_000.0, JULY_31: 2_000.0})[JULY_31] == pytest.approx(2.0 + 3.0)


def test_steps_begin_anew_with_each_month():
    costs = costs_by_date(Tariffs(RISING), {JULY_1: 10_000.0, JULY_31: 1_000.0, AUGUST_1: 1_000.0})
    assert costs == pytest.approx({JULY_1: 20.0, JULY_31: 3.0, AUGUST_1: 2.0})


def test_zones_share_the_cost_of_a_date_by_their_litres():
    # Together 12 m3 cost 26; two thirds of the water, two thirds of the money.
    costs = costs_of_zones(
        Tariffs(RISING), {"lawn": {JULY_1: 8_000.0}, "bed": {JULY_1: 4_000.0, JULY_31: 0.0}}
    )
    assert costs["lawn"] == pytest.approx({JULY_1: 26.0 * 2 / 3})
    assert costs["bed"] == pytest.approx({JULY_1: 26.0 / 3})


LITRES = st.floats(0.0, 1e6)
PRICES = st.floats(0.0, 100.0)
TARIFFS = st.builds(
    Tariff,
    PRICES,
    st.lists(st.tuples(st.floats(0.01, 900.0), PRICES), max_size=4, unique_by=lambda step: step[0]).map(
        lambda steps: tuple(PriceStep(*step) for step in sorted(steps))
    ),
    st.floats(0.0, 1.0),
    st.none() | PRICES,
)


@given(TARIFFS, LITRES, LITRES)
def test_more_water_never_costs_less(tariff, volume_l, more_l):
    assert tariff.cost(volume_l + more_l) >= tariff.cost(volume_l) * (1.0 - 1e-12)


@given(TARIFFS, st.floats(0.0, 10.0))
def test_a_drop_beyond_a_step_costs_no_more_than_a_drop(tariff, drop_l):
    highest = max([tariff.price_per_m3, *(step.price_per_m3 for step in tariff.steps)])
    a_drop_at_most = drop_l / 1000.0 * (2.0 * highest + (tariff.sewer_price_per_m3 or 0.0))
    for step in tariff.steps:
        below_l = step.above_m3 * 1000.0 - drop_l / 2.0
        across = tariff.cost(drop_l, before_l=max(0.0, below_l))
        assert across <= a_drop_at_most + 1e-6


@given(TARIFFS, LITRES, LITRES, LITRES)
def test_it_is_the_same_in_parts_as_in_one(tariff, before_l, first_l, second_l):
    in_parts = tariff.cost(first_l, before_l) + tariff.cost(second_l, before_l + first_l)
    assert in_parts == pytest.approx(tariff.cost(first_l + second_l, before_l), rel=1e-9, abs=1e-6)


@given(
    TARIFFS,
    st.dictionaries(
        st.sampled_from(("lawn", "bed", "pots")),
        st.dictionaries(st.dates(JULY_1, AUGUST_1), st.floats(0.0, 1e5), max_size=5),
    ),
)
def test_what_zones_pay_is_what_the_garden_pays(tariff, litres):
    together: dict[dt.date, float] = {}
    for by_date in litres.values():
        for date, volume_l in by_date.items():
            together[date] = together.get(date, 0.0) + volume_l
    paid = sum(
        cost for by_date in costs_of_zones(Tariffs(tariff), litres).values() for cost in by_date.values()
    )
    assert paid == pytest.approx(sum(costs_by_date(Tariffs(tariff), together).values()), rel=1e-9, abs=1e-6)
