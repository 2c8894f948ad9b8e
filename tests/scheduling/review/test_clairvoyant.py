"""Who knows everything waters just so that each day closes at RAW, and nobody does that with less."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.review.foresight import Perfect, clairvoyant_mm
from scheduling.review.replay import replay
from scheduling.review.season_account import Tally
from scheduling.tap.permission import DateHours
from tests.profile import examples
from tests.scheduling.gardens import LAWN, a_case, a_garden, night_before, summer_days
from tests.scheduling.review.test_replay import APRIL_1, seasons


def test_from_10_mm_a_dry_day_of_5_mm_wants_water_from_the_third_on() -> None:
    zone, _ = a_case((5.0,) * 10, raw_mm=20.0)
    assert clairvoyant_mm([zone], [10.0]) == pytest.approx(40.0)


def test_rain_that_is_to_come_spares_what_it_brings_and_no_more() -> None:
    # Closing at 15, 20, then water; on the fifth day 8 mm fall, of which none can be lost.
    zone, _ = a_case((5.0,) * 10, raw_mm=20.0, certain_mm=(0.0, 0.0, 0.0, 0.0, 8.0))
    assert clairvoyant_mm([zone], [10.0]) == pytest.approx(32.0)


def test_rain_beyond_the_store_is_of_no_use_later() -> None:
    # 60 mm on the first day fill 10 mm and lend 5 for the day's use; four days on, 20 mm are missing.
    zone, _ = a_case((5.0,) * 10, raw_mm=20.0, certain_mm=(60.0,))
    assert clairvoyant_mm([zone], [10.0]) == pytest.approx(9 * 5.0 - 20.0)


def closes_at_raw_with(extras_mm: list[float], zone: PreparedZone, days: GardenDays) -> Tally:
    """A way of watering that gives each day what closes it at RAW, and something more."""
    tally = Tally(10.0)
    for day, extra_mm in enumerate(extras_mm):
        columns = zone.days
        depletion = min(tally.depletion_mm, columns.taw_mm[day])
        needed = depletion - columns.certain_rain_mm[day] + columns.etc_mm[day] - columns.raw_mm[day]
        tally.close(day, max(0.0, needed) + extra_mm, zone, days)
    return tally


DAYS = 30
MM = st.floats(0.0, 12.0)


@examples(120)
@given(
    etc=st.lists(st.floats(0.1, 12.0), min_size=DAYS, max_size=DAYS),
    raw=st.lists(st.floats(4.0, 25.0), min_size=DAYS, max_size=DAYS),
    rain=st.lists(st.one_of(st.just(0.0), st.floats(0.0, 50.0)), min_size=DAYS, max_size=DAYS),
    extras=st.lists(st.one_of(st.just(0.0), MM), min_size=DAYS, max_size=DAYS),
)
def test_no_other_way_that_closes_every_day_at_raw_takes_less(
    etc: list[float], raw: list[float], rain: list[float], extras: list[float]
) -> None:
    zone, days = a_case(etc, raw_mm=raw, certain_mm=rain)
    other = closes_at_raw_with(extras, zone, days).account(zone)
    assert other.stress_days == 0
    assert clairvoyant_mm([zone], [10.0]) <= other.irrigation_mm + 1e-9


@examples(25)
@given(seasons())
def test_nor_does_a_plan_that_closes_every_day_at_raw(weather: list) -> None:
    (zone,) = replay(a_garden(LAWN), weather, Perfect(), lambda date: DateHours((night_before(date),))).zones
    if zone.planned.stress_days == 0:
        assert zone.planned.irrigation_mm >= zone.least_mm - 1e-9


def test_its_litres_are_what_the_valve_would_pass() -> None:
    (zone,) = replay(
        a_garden(LAWN), summer_days(APRIL_1, 60), Perfect(), lambda date: DateHours((night_before(date),))
    ).zones
    assert zone.least_mm > 100.0
    assert zone.least_volume_l == pytest.approx(zone.least_mm / 0.8 * 50.0)
    assert zone.excess == pytest.approx(zone.planned.irrigation_mm / zone.least_mm - 1.0)
