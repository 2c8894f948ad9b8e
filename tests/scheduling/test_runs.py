"""From a depth to openings of a valve, and their place in the hours."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.garden import Zone
from scheduling.planting import Climate
from scheduling.runs import (
    ValveOpening,
    openings_of,
    openings_of_volume,
    place_before,
    round_down_l,
    round_up_l,
)
from scheduling.zone import ZoneNumbers, numbers_of
from tests.scheduling.making import LAWN, a_garden, with_valve, with_watering


def numbers(zone: Zone = LAWN, **watering: float) -> ZoneNumbers:
    return numbers_of(with_watering(zone, **watering), a_garden(zone), Climate())


def sized(area_m2: float, **watering: float) -> ZoneNumbers:
    zone = Zone("sized", area_m2, LAWN.planting, LAWN.soil, LAWN.watering)
    return numbers(zone, **watering)


@pytest.mark.parametrize(
    ("net_mm", "efficiency", "area_m2", "flow_l_min", "volume_l", "run_time_s"),
    [
        # By definition: gross 16 mm, 640 l; 64 min at 10 l/min (15 mm/h), 3200 s at 12 l/min.
        (12.0, 0.75, 40.0, 10.0, 640.0, 3840),
        (12.0, 0.75, 40.0, 12.0, 640.0, 3200),
        # A drip bed of 8 m2.
        (3.6, 0.9, 8.0, 2.0, 32.0, 960),
    ],
)
def test_net_depths_become_litres_and_seconds(
    net_mm: float, efficiency: float, area_m2: float, flow_l_min: float, volume_l: float, run_time_s: int
) -> None:
    (opening,) = openings_of(sized(area_m2, efficiency=efficiency, flow_l_min=flow_l_min), net_mm)
    assert (opening.volume_l, opening.run_time_s) == (volume_l, run_time_s)


def test_a_rate_times_its_time_is_the_depth() -> None:
    # 1.25 in at 1.5 in/h take 50 min (a city's lawn pages); 31.75 mm at 38.1 mm/h on 24 m2.
    (opening,) = openings_of(sized(24.0, efficiency=1.0, flow_l_min=38.1 * 24.0 / 60.0), 31.75)
    assert opening.run_time_s == pytest.approx(3000, abs=1)


def test_the_limit_is_a_quarter_more_and_half_a_minute() -> None:
    (opening,) = openings_of_volume(numbers(), 400.0)  # 1200 s at 20 l/min
    assert opening == ValveOpening(400.0, 1200, 1530)


def test_the_limit_is_never_longer_than_the_valves_own() -> None:
    (opening,) = openings_of_volume(numbers(with_valve(LAWN, max_open_s=1300)), 400.0)
    assert opening.max_open_s == 1300


def test_a_dose_longer_than_the_valve_allows_becomes_equal_openings() -> None:
    openings = openings_of_volume(numbers(with_valve(LAWN, max_open_s=500)), 400.0)
    assert openings == (ValveOpening(133.0, 399, 500),) * 3


def test_a_dose_exactly_as_long_as_the_valve_allows_is_one_opening() -> None:
    assert len(openings_of_volume(numbers(with_valve(LAWN, max_open_s=1200)), 400.0)) == 1


def test_a_dose_that_no_valve_can_be_told_is_no_opening() -> None:
    assert openings_of_volume(numbers(), 0.009) == ()
    assert openings_of_volume(numbers(), 0.3) == ()  # less than a second at 20 l/min
    assert openings_of_volume(numbers(), 0.0) == ()


@given(st.floats(0.01, 5000.0), st.floats(0.2, 60.0), st.none() | st.integers(60, 7200), st.floats(2.0, 80.0))
def test_openings_never_pass_more_than_was_asked_nor_run_without_a_limit(
    volume_l: float, flow_l_min: float, own_limit_s: int | None, area_m2: float
) -> None:
    zone = Zone("any", area_m2, LAWN.planting, LAWN.soil, LAWN.watering)
    if 60.0 * flow_l_min / area_m2 > 3000.0 or 60.0 * flow_l_min / area_m2 < 2.0:
        return
    openings = openings_of_volume(
        numbers(with_valve(zone, max_open_s=own_limit_s), flow_l_min=flow_l_min), volume_l
    )
    assert sum(opening.volume_l for opening in openings) <= volume_l + 1e-5
    for opening in openings:
        assert opening.volume_l > 0.0
        assert 1 <= opening.run_time_s <= opening.volume_l / flow_l_min * 60.0 + 1e-5
        assert opening.max_open_s >= opening.run_time_s
        if own_limit_s is not None:
            assert opening.max_open_s <= own_limit_s


@pytest.mark.parametrize(
    ("volume_l", "down_l", "up_l"),
    [
        (1214.9, 1214.0, 1215.0),
        (12.0, 12.0, 12.0),
        (11.9999999999, 12.0, 12.0),
        (9.99, 9.9, 10.0),
        (0.123, 0.12, 0.13),
        (0.0, 0.0, 0.0),
    ],
)
def test_litres_are_told_as_a_valve_can_take_them(volume_l: float, down_l: float, up_l: float) -> None:
    assert round_down_l(volume_l) == pytest.approx(down_l)
    assert round_up_l(volume_l) == pytest.approx(up_l)


TEN_MINUTES = ValveOpening(100.0, 600, 780)
ODD_SECONDS = ValveOpening(100.0, 595, 774)


def test_the_last_opening_ends_with_the_hours() -> None:
    placed = place_before([TEN_MINUTES], 0, 7200, 120)
    assert placed is not None
    assert [run.start_s for run in placed] == [6600]


def test_openings_follow_each_other_with_a_gap() -> None:
    placed = place_before([TEN_MINUTES, TEN_MINUTES, TEN_MINUTES], 0, 7200, 120)
    assert placed is not None
    assert [run.start_s for run in placed] == [5160, 5880, 6600]


def test_starts_are_rounded_down_to_whole_minutes() -> None:
    placed = place_before([ODD_SECONDS, ODD_SECONDS], 0, 7200, 90)
    assert placed is not None
    # 7200 - 595 = 6605 -> 6600; 6600 - 90 - 595 = 5915 -> 5880.
    assert [run.start_s for run in placed] == [5880, 6600]


def test_openings_may_fill_the_hours_to_the_second() -> None:
    assert place_before([TEN_MINUTES], 6600, 7200, 120) is not None
    assert place_before([TEN_MINUTES], 6660, 7200, 120) is None


def test_nothing_fits_everywhere() -> None:
    assert place_before([], 0, 0, 120) == []
