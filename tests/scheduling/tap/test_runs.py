"""From a depth to openings of a valve: litres, seconds, limits, and runs that the soil takes in."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling import catalogue
from scheduling.garden.description import Soil, Zone
from scheduling.landscape.infiltration import longest_run_s
from scheduling.tap.runs import (
    NO_RESTS,
    ValveOpening,
    openings_of,
    openings_of_volume,
    rests_of,
    round_down_l,
    round_up_l,
)
from scheduling.zone.from_catalogue import numbers_of
from scheduling.zone.numbers import ZoneNumbers
from tests.scheduling.gardens import LAWN, TROUGHS, a_garden, with_site, with_valve, with_watering


def numbers(zone: Zone = LAWN, **watering: float) -> ZoneNumbers:
    return numbers_of(with_watering(zone, **watering), a_garden(zone))


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
    openings = openings_of(sized(24.0, efficiency=1.0, flow_l_min=38.1 * 24.0 / 60.0), 31.75)
    assert sum(opening.run_time_s for opening in openings) == pytest.approx(3000, abs=len(openings))


def test_the_limit_is_a_quarter_more_and_half_a_minute() -> None:
    (opening,) = openings_of_volume(numbers(), 400.0)  # 1200 s at 20 l/min
    assert opening == ValveOpening(400.0, 1200, 1530)


def test_the_limit_is_never_longer_than_the_valves_own() -> None:
    (opening,) = openings_of_volume(numbers(with_valve(LAWN, max_open_s=1300)), 400.0)
    assert opening.max_open_s == 1300


def test_a_dose_longer_than_the_valve_allows_becomes_openings_much_alike() -> None:
    openings = openings_of_volume(numbers(with_valve(LAWN, max_open_s=500)), 400.0)
    # 134 l would take 402 s, of which a quarter more and half a minute is longer than the valve allows.
    assert openings == (ValveOpening(134.0, 402, 500), *(ValveOpening(133.0, 399, 500),) * 2)


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


# What the soil takes in


def on_loam(slope_pct: float = 0.0, **watering: float) -> ZoneNumbers:
    """A lawn of 50 m2 on loam, 24 mm/h at 20 l/min."""
    lawn = replace(LAWN, soil=Soil(texture="loam"))
    return numbers(with_site(lawn, slope_pct=slope_pct), **watering)


def test_a_dose_that_the_soil_does_not_take_in_at_once_becomes_cycles() -> None:
    # Loam takes in 8.89 mm/h and holds 7.62 mm: 60 x 7.62 / (24 - 8.89) = 30.26 min, by hand; 25 min of
    # rain are one run, 62.5 min three.
    assert on_loam().longest_run_s == pytest.approx(30.26 * 60.0, abs=0.3)
    assert len(openings_of_volume(on_loam(), 500.0)) == 1
    cycles = openings_of_volume(on_loam(), 1250.0)
    assert [opening.volume_l for opening in cycles] == [417.0, 417.0, 416.0]


def test_the_rest_is_what_the_soil_needs_to_take_in_what_stands_on_it() -> None:
    # 20 min bring 8 mm; 8.89 / 3 mm go in meanwhile, the other 5.037 mm take 33.99 min: by hand.
    twenty_minutes = ValveOpening(400.0, 1200, 1530)
    assert rests_of(on_loam(), [twenty_minutes] * 2).between_s == pytest.approx(33.99 * 60.0, abs=0.6)
    assert rests_of(on_loam(), [twenty_minutes] * 2).after_s == pytest.approx(33.99 * 60.0, abs=0.6)
    assert rests_of(numbers(TROUGHS), [twenty_minutes] * 2) == NO_RESTS


def test_openings_that_the_ground_could_hold_in_one_go_want_no_rest_between_them() -> None:
    ten_minutes = ValveOpening(200.0, 600, 780)
    assert rests_of(on_loam(), [ten_minutes] * 2).between_s == 0
    assert rests_of(on_loam(), [ten_minutes] * 2).after_s == pytest.approx(33.99 * 60.0, abs=0.6)


def test_a_slope_makes_runs_shorter() -> None:
    lengths = [on_loam(slope_pct).longest_run_s for slope_pct in (3.0, 3.1, 6.1, 12.1)]
    assert lengths == sorted(lengths, reverse=True)
    assert len(set(lengths)) == 4


def test_drip_is_judged_by_the_ground_that_it_wets() -> None:
    assert on_loam(wetted_share=0.4).surface_rate_mm_h == pytest.approx(60.0)
    assert on_loam(wetted_share=0.4).longest_run_s < on_loam().longest_run_s


def test_a_container_holds_what_comes() -> None:
    assert numbers(TROUGHS).longest_run_s == math.inf
    assert len(openings_of_volume(numbers(TROUGHS), 50.0)) == 1


def standing_mm(zone: ZoneNumbers, openings: tuple[ValveOpening, ...]) -> list[float]:
    """Water on the ground after each opening, where the least rest lies between two of them."""
    on_the_ground, levels = 0.0, []
    rest_s = rests_of(zone, openings).between_s
    for opening, following in itertools.zip_longest(openings, openings[1:]):
        on_the_ground += (zone.surface_rate_mm_h - zone.intake_mm_h) * opening.run_time_s / 3600.0
        on_the_ground = max(0.0, on_the_ground)
        levels.append(on_the_ground)
        if following is not None:
            on_the_ground -= zone.intake_mm_h * rest_s / 3600.0
            on_the_ground = max(0.0, on_the_ground)
    return levels


@given(
    st.sampled_from(catalogue.soils()),
    st.floats(0.0, 60.0),
    st.floats(4.0, 400.0),
    st.sampled_from((1.0, 0.4, 0.1)),
    st.floats(1.0, 60.0),
    st.floats(0.2, 500.0),
    st.none() | st.integers(60, 3600),
)
def test_runs_and_rests_never_leave_more_on_the_ground_than_it_holds(
    soil: catalogue.SoilTexture,
    slope_pct: float,
    rate_mm_h: float,
    wetted_share: float,
    net_mm: float,
    area_m2: float,
    own_limit_s: int | None,
) -> None:
    lawn = with_valve(replace(LAWN, soil=Soil(texture=soil.id), area_m2=area_m2), max_open_s=own_limit_s)
    flow_l_min = rate_mm_h * area_m2 / 60.0
    zone = numbers(with_site(lawn, slope_pct=slope_pct), flow_l_min=flow_l_min, wetted_share=wetted_share)
    openings = openings_of(zone, net_mm)
    assert openings
    assert max(standing_mm(zone, openings)) <= soil.ponding_mm(slope_pct) + 1e-9
    for opening in openings:
        rate = zone.surface_rate_mm_h
        assert opening.run_time_s <= longest_run_s(rate, soil.intake_mm_h, soil.ponding_mm(slope_pct))
