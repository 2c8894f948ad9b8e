"""FAO-56 examples 37 and 38, day by day, through the balance that the plans stand on.

Example 38 (pages 172 and 173) drains what exceeds the store before the day's ETc; equation 88, as
printed on page 171, after it. The balance does both. ETc is taken as the table prints it.
"""

import datetime as dt
from dataclasses import replace

import pytest

from scheduling.balance.soil_water import close_day
from scheduling.decision.decision import decide
from scheduling.fao56.root_zone import root_depth_on_day, total_available_water
from scheduling.reasons import SOIL_DRYING_OUT, SOIL_MOIST
from scheduling.zone.rules import Chances
from tests.scheduling.gardens import a_case

HALF_A_MM = 0.5 + 1e-9
"""Half of the last digit of whole millimetres; 5.5 may be printed 5 or 6."""
HALF_OF_0_1_MM = 0.05 + 1e-9
HALF_OF_0_01 = 0.005 + 1e-9

# Ks, ETc adj, Dr at the day's end; page 168.
EXAMPLE_37 = [
    (1.00, 6.0, 61.0),
    (1.00, 6.0, 67.0),
    (0.97, 5.8, 72.8),
    (0.91, 5.4, 78.3),
    (0.85, 5.1, 83.4),
    (0.80, 4.8, 88.2),
    (0.75, 4.5, 92.6),
    (0.70, 4.2, 96.9),
    (0.66, 3.9, 100.8),
    (0.62, 3.7, 104.5),
]

# P - RO, I, ETc, then as printed Dr after rain and water, DP, Dr at the day's end.
EXAMPLE_38 = [
    (0.0, 40.0, 5.5, 0, 17, 5),
    (0.0, 0.0, 6.1, 5, 0, 12),
    (0.0, 0.0, 4.0, 12, 0, 16),
    (0.0, 0.0, 2.9, 16, 0, 18),
    (0.0, 0.0, 2.5, 18, 0, 21),
    (6.0, 0.0, 2.7, 15, 0, 18),
    (0.0, 0.0, 4.7, 18, 0, 22),
    (0.0, 0.0, 2.8, 22, 0, 25),
    (0.0, 0.0, 2.2, 25, 0, 27),
]
TAW_MM = [total_available_water(0.23, 0.10, root_depth_on_day(day, 10, 0.30, 0.35)) for day in range(1, 11)]
RAW_MM = [0.6 * taw_mm for taw_mm in TAW_MM]

# Equation 88 by hand: DP = (P - RO) + I - ETc - Dr(i-1), not below 0; Dr = Dr(i-1) - P - I + ETc + DP.
# Day 1: 40 - 5.5 - 23.4 = 11.1 drain, 0 is left. Day 6: 15.5 - 6 + 2.7 = 12.2.
EQUATION_88_DRAINAGE_MM = [11.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
EQUATION_88_CLOSING_MM = [0.0, 6.1, 10.1, 13.0, 15.5, 12.2, 16.9, 19.7, 21.9]


def test_example_37_ten_dry_days_of_a_tomato() -> None:
    depletion_mm = 55.0
    for ks_printed, etc_printed, end_printed in EXAMPLE_37:
        ks, etc_adj_mm, drainage_mm, depletion_mm = close_day(depletion_mm, 0.0, 0.0, 6.0, 160.0, 64.0)
        assert ks == pytest.approx(ks_printed, abs=HALF_OF_0_01)
        assert etc_adj_mm == pytest.approx(etc_printed, abs=HALF_OF_0_1_MM)
        assert depletion_mm == pytest.approx(end_printed, abs=HALF_OF_0_1_MM)
        assert drainage_mm == 0.0


def test_example_38_as_its_table_drains_before_et() -> None:
    depletion_mm = RAW_MM[0]
    for day, (rain, water, etc, start_printed, dp_printed, end_printed) in enumerate(EXAMPLE_38):
        ks, etc_adj_mm, drainage_mm, depletion_mm = close_day(
            depletion_mm, rain, water, etc, TAW_MM[day], RAW_MM[day], drains_before_et=True
        )
        assert ks == 1.0, day
        assert depletion_mm - etc_adj_mm == pytest.approx(start_printed, abs=HALF_A_MM), day
        assert drainage_mm == pytest.approx(dp_printed, abs=HALF_A_MM), day
        assert depletion_mm == pytest.approx(end_printed, abs=HALF_A_MM), day
    # Day 10 refills exactly: the table's 27 mm for what it prints as 27 mm. Then 6.3 mm, printed 6.
    assert close_day(27.0, 0.0, 27.0, 6.3, TAW_MM[9], RAW_MM[9], True)[3] == pytest.approx(6, abs=HALF_A_MM)


def test_example_38_as_equation_88_drains_after_et() -> None:
    depletion_mm = RAW_MM[0]
    for day, (rain, water, etc, *_) in enumerate(EXAMPLE_38):
        _, _, drainage_mm, depletion_mm = close_day(depletion_mm, rain, water, etc, TAW_MM[day], RAW_MM[day])
        assert drainage_mm == pytest.approx(EQUATION_88_DRAINAGE_MM[day], abs=1e-9), day
        assert depletion_mm == pytest.approx(EQUATION_88_CLOSING_MM[day], abs=1e-9), day


def test_example_38_is_watered_on_day_10_as_its_table_has_it() -> None:
    # The day's own question: would it pass RAW before tomorrow? Day 10 alone would, with 6.3 mm.
    etc_mm = [row[2] for row in EXAMPLE_38] + [6.3]
    prepared, days = a_case(etc_mm, taw_mm=TAW_MM, raw_mm=RAW_MM, certain_mm=[row[0] for row in EXAMPLE_38])
    every_day = Chances([None] * 10, list(range(1, 11)))
    prepared = replace(prepared, chances=every_day)
    depletion_mm = EQUATION_88_CLOSING_MM[0]
    for day in range(1, 9):
        assert decide(day, depletion_mm, prepared, days).reason == SOIL_MOIST, day
        depletion_mm = EQUATION_88_CLOSING_MM[day]
    on_day_10 = decide(9, depletion_mm, prepared, days)
    assert on_day_10.reason == SOIL_DRYING_OUT
    assert on_day_10.net_mm == pytest.approx(21.9, abs=1e-9)
    assert days.dates[9] - days.dates[0] == dt.timedelta(days=9)
