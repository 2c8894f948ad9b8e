"""Four real years: evening by evening through the weather of Seattle, with perfect forecasts.

Radiation and humidity are FAO-56's estimates from temperature.
"""

import datetime as dt
import functools
from itertools import pairwise

import pytest

from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.description import (
    Container,
    Emitters,
    Garden,
    Planting,
    Site,
    Soil,
    Watering,
    Zone,
)
from scheduling.plan.plan import Plan
from tests.reference.seattle import seattle_days
from tests.scheduling.gardens import ONE_DAY, all_full_on, evening_by_evening, rows_by_zone

LEAST_ADEQUACY = 0.97
"""Share of the plants' own demand that has to be met with perfect forecasts and no ruled days."""
WINTER = (11, 12, 1, 2)


def garden_of(year: int) -> Garden:
    """A lawn and shrubs in the ground, tomatoes planted in May, troughs under half a roof."""
    return Garden(
        id="seattle",
        latitude=47.61,
        longitude=-122.33,
        elevation_m=50.0,
        timezone="America/Los_Angeles",
        zones=(
            Zone(
                "lawn",
                85.0,
                Planting("turf-cool-season"),
                Soil(texture="loam"),
                Watering("overhead-spray", flow_l_min=20.0),
            ),
            Zone(
                "shrubs",
                30.0,
                Planting("shrubs"),
                Soil(texture="sandy-loam"),
                Watering("drip-line", flow_l_min=6.0),
            ),
            Zone(
                "tomatoes",
                6.0,
                Planting("tomato-staked", planted_on=dt.date(year, 5, 10)),
                Soil(texture="loam"),
                Watering("drip-line", flow_l_min=1.5),
            ),
            Zone(
                "troughs",
                2.4,
                Planting("herbs"),
                Soil(container=Container(180.0, surface_m2=2.4)),  # as wide as what grows in them
                Watering("drip-points", emitters=Emitters(24, 2.0)),
                site=Site(rain_share=0.5),
            ),
        ),
    )


def season_of_tomatoes(year: int) -> frozenset[dt.date]:
    """FAO-56 table 11: 145 days. On the first, the roots find the bed as the spring left it."""
    return frozenset(dt.date(year, 5, 10) + day * ONE_DAY for day in range(1, 145))


@functools.cache
def a_year(year: int) -> tuple[list[Plan], dict[str, list[LedgerRow]]]:
    """Every plan of a year, and the ledgers that they leave."""
    garden = garden_of(year)
    weather = [day for day in seattle_days() if day.date.year == year]
    first, last = weather[0].date, weather[-1].date
    plans = list(evening_by_evening(garden, weather, all_full_on(garden, first), last))
    return plans, dict(rows_by_zone(plans))


def test_the_record_is_whole_and_of_four_years() -> None:
    days = seattle_days()
    assert (days[0].date, days[-1].date) == (dt.date(2012, 1, 1), dt.date(2015, 12, 31))
    assert all(following.date - one.date == ONE_DAY for one, following in pairwise(days))


@pytest.mark.parametrize(
    "year",
    [2015, *(pytest.param(year, marks=pytest.mark.long) for year in (2012, 2013, 2014))],
)
def test_a_year_of_evenings_keeps_every_zone_and_wastes_no_water(year: int) -> None:
    plans, ledgers = a_year(year)
    for zone, rows in ledgers.items():
        used, wanted = sum(row.etc_adj_mm for row in rows), sum(row.etc_mm for row in rows)
        assert used / wanted >= LEAST_ADEQUACY, zone
        grown = [row for row in rows if zone != "tomatoes" or row.date in season_of_tomatoes(year)]
        assert sum(row.etc_adj_mm for row in grown) >= 0.999 * sum(row.etc_mm for row in grown), zone
        assert all(0.0 <= row.closing_depletion_mm <= row.taw_mm for row in rows), zone
        assert all(row.irrigation_mm <= row.opening_depletion_mm + 1e-9 for row in rows), zone
        in_winter = sum(row.irrigation_mm for row in rows if row.date.month in WINTER)
        # Herbs under a roof may dry out in a rainless February; nothing in open ground does.
        assert in_winter <= (5.0 if zone == "troughs" else 0.0), zone
        # Over a year: closing = opening - rain - irrigation + use + drainage.
        balance = sum(
            row.etc_adj_mm + row.drainage_mm + row.adjustment_mm - row.infiltrated_rain_mm - row.irrigation_mm
            for row in rows
        )
        change = rows[-1].closing_depletion_mm - rows[0].opening_depletion_mm
        assert balance == pytest.approx(change, abs=1e-9), zone
    for plan in plans:
        for only in plan.zones:
            assert (only.decision == "water") == bool(only.runs)
            if plan.weather.lowest_c is not None and plan.weather.lowest_c < 5.0:
                assert only.decision == "wait", (plan.date, only.zone)
            if any(reason.code == "frost-risk" for reason in only.reasons):
                assert only.volume_l == 0.0


@pytest.mark.parametrize(
    "year",
    [2015, *(pytest.param(year, marks=pytest.mark.long) for year in (2012, 2013, 2014))],
)
def test_a_dry_summer_is_watered_by_about_what_the_rain_leaves_open(year: int) -> None:
    _, ledgers = a_year(year)
    for zone, rows in ledgers.items():
        summer = [row for row in rows if row.date.month in (6, 7, 8)]
        open_mm = sum(row.etc_mm - row.infiltrated_rain_mm + row.drainage_mm for row in summer)
        given_mm = sum(row.irrigation_mm for row in summer)
        # Give or take what the soil held in June and holds in August.
        assert given_mm == pytest.approx(open_mm, abs=max(row.taw_mm for row in summer)), zone
        assert given_mm > 50.0, zone
