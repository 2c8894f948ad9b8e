"""How far a probe is believed, and what is taken for its bias."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.probes.kalman import ProbeFilter

NO_BIAS = 0.0


def test_one_step_is_the_textbooks():
    # Reckoned by hand from K = P / (P + R): x 18, P 16, z 12, R 36 give K 0.3077, x 16.154, P 11.077.
    one = ProbeFilter(16.0)
    probe = one.add_probe(NO_BIAS)

    gain, correction_mm = one.believe(probe, 12.0 - 18.0, 36.0)

    assert gain == pytest.approx(0.3077, abs=0.00005)
    assert 18.0 + correction_mm == pytest.approx(16.154, abs=0.0005)
    assert one.variance_mm2 == pytest.approx(11.077, abs=0.0005)


def test_two_steps_are_as_good_as_one_of_half_the_variance():
    twice, once = ProbeFilter(16.0), ProbeFilter(16.0)
    probe, other = twice.add_probe(NO_BIAS), once.add_probe(NO_BIAS)
    first = twice.believe(probe, -6.0, 36.0).correction_mm
    second = twice.believe(probe, -6.0 - first, 36.0).correction_mm

    assert first + second == pytest.approx(once.believe(other, -6.0, 18.0).correction_mm, abs=1e-9)
    assert twice.variance_mm2 == pytest.approx(once.variance_mm2, abs=1e-9)


def test_what_is_found_is_shared_between_depletion_and_bias_by_how_doubtful_each_was():
    one = ProbeFilter(9.0)
    probe = one.add_probe(36.0)
    moved_mm = one.believe(probe, 10.0, 4.0).correction_mm

    # 9 and 36 of 9 + 36 + 4.
    assert moved_mm == pytest.approx(10.0 * 9.0 / 49.0)
    assert one.bias_mm(probe) == pytest.approx(10.0 * 36.0 / 49.0)


def readings_of_one_bias(bias_mm, days, *, ledger_mm2=9.0, bias_mm2=36.0, new_mm2=2.0):
    """A ledger that is right, and a probe that is always off by the same; how far it is pulled."""
    one = ProbeFilter(ledger_mm2)
    probe = one.add_probe(bias_mm2)
    pulled_mm = 0.0
    for _ in range(days):
        pulled_mm += one.believe(probe, bias_mm - pulled_mm - one.bias_mm(probe), 4.0).correction_mm
        one.pass_on(1.0, new_mm2, math.inf)
    return pulled_mm, one, probe


def test_no_number_of_equally_biased_readings_pulls_further_than_about_that_share():
    after_ten_mm, _, _ = readings_of_one_bias(10.0, 10)
    after_years_mm, _, _ = readings_of_one_bias(10.0, 3000)

    # 9 of 9 + 36; while the noise averages away, the ledger's error grows by days of 2 mm2 at most two.
    assert after_ten_mm <= after_years_mm + 0.01
    assert 10.0 * 9.0 / 45.0 <= after_years_mm <= 10.0 * 13.0 / 49.0


def test_a_probe_follows_how_the_soil_moves_whatever_its_bias():
    before_mm, one, probe = readings_of_one_bias(10.0, 50)
    pulled_mm = before_mm
    for day in range(1, 60):
        # The soil dries by 0.5 mm a day more than is reckoned.
        found_mm = 10.0 + 0.5 * day - pulled_mm - one.bias_mm(probe)
        pulled_mm += one.believe(probe, found_mm, 4.0).correction_mm
        one.pass_on(1.0, 2.0, math.inf)

    # K tends to (sqrt(Q^2 + 4 Q R) - Q) / 2R = 0.5 with Q 2 and R 4; so it is late by 0.5 mm (1 - K) / K.
    assert pulled_mm - before_mm == pytest.approx(0.5 * 59 - 0.5, abs=0.05)


def test_where_the_depletion_is_known_all_that_is_found_is_bias():
    _, one, probe = readings_of_one_bias(10.0, 50)
    one.pass_on(0.0, 0.25, math.inf)
    for _ in range(10):
        one.believe(probe, 10.0 - one.bias_mm(probe), 4.0)

    assert one.bias_mm(probe) == pytest.approx(10.0, abs=1.0)


def test_a_second_probe_that_agrees_makes_both_more_believed():
    one, two = ProbeFilter(16.0), ProbeFilter(16.0)
    only = one.add_probe(36.0)
    first, second = two.add_probe(36.0), two.add_probe(36.0)
    alone_mm = one.believe(only, 8.0, 4.0).correction_mm
    together_mm = two.believe(first, 8.0, 4.0).correction_mm
    together_mm += two.believe(second, 8.0 - together_mm, 4.0).correction_mm

    # As one probe of half the error: 16 of 16 + 20.
    assert together_mm == pytest.approx(8.0 * 16.0 / 36.0)
    assert together_mm > alone_mm


def test_a_probe_that_was_put_elsewhere_is_a_new_one():
    one = ProbeFilter(9.0)
    probe = one.add_probe(36.0)
    one.believe(probe, 10.0, 4.0)
    one.forget(probe, 36.0)

    assert one.bias_mm(probe) == 0.0
    assert one.spread_mm2(probe, 4.0) == pytest.approx(one.variance_mm2 + 36.0 + 4.0)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(("believe", "pass on", "forget", "full")),
        st.integers(1, 2),
        st.floats(-1e6, 1e6),
        st.floats(0.0, 1.0),
    ),
    max_size=40,
)


@given(STEPS)
def test_variances_stay_variances(steps):
    one = ProbeFilter(25.0)
    places = [one.add_probe(36.0), one.add_probe(100.0)]
    for what, place, found_mm, share in steps:
        if what == "believe":
            one.believe(place, found_mm, 1.0 + share, share)
        elif what == "pass on":
            one.pass_on(share, 3.0, 400.0)
        elif what == "full":
            one.pass_on(0.0, 1.0, 400.0)
        else:
            one.forget(place, 36.0)
        assert -1e-6 <= one.variance_mm2 <= 400.0 + 1e-6
        for place in places:
            assert one.spread_mm2(place, 1.0) >= 0.999
            assert one.bias_variance_mm2(place) >= -1e-6
