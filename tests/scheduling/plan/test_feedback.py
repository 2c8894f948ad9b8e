"""What reports must be worth beside a garden that is not as it was declared; see the benchmark."""

import pytest

from tests.benchmarks.bench_feedback import SEEDS, both, mean_error_mm, mean_missed_mm


def feedback_halves_both(seeds):
    pairs = [both(seed) for seed in seeds]
    without, with_it = ([pair[side] for pair in pairs] for side in (0, 1))

    assert [one.broken for pair in pairs for one in pair] == [[]] * (2 * len(pairs))
    assert mean_error_mm(with_it) <= 0.5 * mean_error_mm(without)
    assert mean_missed_mm(with_it) <= 0.5 * mean_missed_mm(without)


def test_feedback_halves_the_ledgers_error_and_the_stress():
    feedback_halves_both(range(8))


@pytest.mark.long
def test_feedback_halves_the_ledgers_error_and_the_stress_over_all_gardens():
    feedback_halves_both(range(SEEDS))
