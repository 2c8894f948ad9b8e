"""How dry a zone is let to become: by RAW, by what its owner allows, or as far as keeps plants alive."""

import pytest

from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.description import Zone
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    SHRUBS,
    a_garden,
    all_full_on,
    evening_by_evening,
    rows_by_zone,
    summer_days,
    with_planting,
)


def summer_of(zone: Zone, days: int = 90) -> list[LedgerRow]:
    """A dry summer of a zone, with all its plans carried out."""
    garden = a_garden(zone)
    weather = summer_days(JULY_1, days)
    plans = list(evening_by_evening(garden, weather, all_full_on(garden, JULY_1), weather[-1].date))
    return rows_by_zone(plans)[zone.id]


@pytest.mark.parametrize("share", [0.3, 0.6, 0.7])
def test_water_is_due_where_the_allowed_depletion_is_reached(share: float) -> None:
    # Management allowed depletion: a share of TAW, whatever the demand.
    rows = summer_of(with_planting(LAWN, allowed_depletion=share))
    assert max(row.closing_depletion_mm / row.taw_mm for row in rows) <= share + 1e-9
    watered = [row for row in rows if row.irrigation_mm > 0.0]
    day_mm = max(row.etc_mm for row in rows)
    assert all(row.opening_depletion_mm + row.etc_mm > share * row.taw_mm - day_mm for row in watered)


def test_stress_stays_that_of_p_where_more_is_allowed() -> None:
    # FAO-56 equation 84, from the depletion after the day's water: Ks = (TAW - Dr) / (TAW - RAW).
    rows = summer_of(with_planting(LAWN, allowed_depletion=0.7))
    stressed = [row for row in rows if row.ks < 1.0]
    assert stressed
    for row in stressed:
        wet_mm = row.opening_depletion_mm - row.irrigation_mm
        assert row.ks == pytest.approx((row.taw_mm - wet_mm) / (row.taw_mm - row.raw_mm))


def test_plants_that_are_kept_alive_use_the_published_share_of_reference_et() -> None:
    # UC and desert-city trials, see the catalogue: shrubs 0.20; watered rarely, and deep.
    alive, thriving = summer_of(with_planting(SHRUBS, kc=None, aim="alive")), summer_of(SHRUBS)
    eto_mm = sum(row.eto_mm for row in alive)
    assert sum(row.etc_adj_mm for row in alive) == pytest.approx(0.20 * eto_mm, rel=0.02)
    assert sum(row.irrigation_mm for row in alive) < 0.6 * sum(row.irrigation_mm for row in thriving)

    def waterings(rows: list[LedgerRow]) -> int:
        return sum(row.irrigation_mm > 0.0 for row in rows)

    assert waterings(alive) < waterings(thriving)
