"""How much of a forecast a plan relies on."""

from dataclasses import replace

import pytest

from scheduling.balance.evapotranspiration import Location
from scheduling.balance.garden_series import garden_days
from scheduling.balance.weather import Origin, WeatherDay
from scheduling.balance.zone_series import zone_days
from scheduling.decision.decision import decide
from scheduling.garden.reports import Opening
from scheduling.landscape.counted_rain import (
    Ensemble,
    counted_depth_mm,
    expected_stored_mm,
    heavy_enough_to_count,
)
from scheduling.plan.initial_state import History
from scheduling.plan.planner import Occasion, make_plan
from scheduling.reasons import SOIL_DRYING_OUT
from scheduling.zone.from_catalogue import numbers_of
from tests.scheduling.gardens import JULY_1, LAWN, ONE_DAY, a_case, a_garden, night_before, summer_days


def test_a_depth_counts_by_its_probability():
    assert counted_depth_mm(8.0, 0.6) == pytest.approx(4.8, abs=1e-12)
    assert counted_depth_mm(8.0, 0.0) == 0.0
    assert counted_depth_mm(8.0, 1.0) == 8.0


def test_without_a_probability_seven_tenths_count():
    assert counted_depth_mm(10.0, None) == pytest.approx(7.0, abs=1e-12)


@pytest.mark.parametrize("probability", [None, 0.3, 1.0])
def test_an_expectation_is_not_weighed_a_second_time(probability):
    assert counted_depth_mm(4.0, probability, is_expectation=True) == 4.0


def test_a_probability_alone_brings_no_water():
    assert counted_depth_mm(0.0, 0.95) == 0.0


def test_rain_counts_from_a_fifth_of_the_reference_evapotranspiration():
    # FAO-56 p. 170: rain below about 0.2 ETo evaporates at once.
    assert heavy_enough_to_count(1.0, 5.0)
    assert not heavy_enough_to_count(0.99, 5.0)


def test_of_an_ensemble_only_what_the_store_can_hold_counts():
    # Six members in ten bring 8 mm and 5 mm fit: 0.6 x 5 = 3.
    assert expected_stored_mm([8.0] * 6 + [0.0] * 4, 5.0) == pytest.approx(3.0, abs=1e-12)


def test_one_downpour_among_dry_members_counts_for_little():
    spread, even = [100.0] + [0.0] * 9, [10.0] * 10  # the same mean

    assert expected_stored_mm(spread, 12.0) == pytest.approx(1.2, abs=1e-12)
    assert expected_stored_mm(even, 12.0) == pytest.approx(10.0, abs=1e-12)


def test_a_full_store_can_use_no_rain():
    assert expected_stored_mm([3.0, 9.0], 0.0) == 0.0


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: counted_depth_mm(5.0, 60), "Probability of rain is 60; it must be 0 to 1"),
        (lambda: counted_depth_mm(-1.0, 0.5), "Forecast rain in mm is -1.0"),
        (lambda: expected_stored_mm([], 5.0), "no members"),
        (lambda: expected_stored_mm([1.0, float("nan")], 5.0), "Rain of a member in mm is nan"),
        (lambda: expected_stored_mm([1.0], -0.1), "Free storage in mm is -0.1"),
    ],
)
def test_rain_that_cannot_be_is_refused_in_words(attempt, words):
    with pytest.raises(ValueError, match=words):
        attempt()


GREENWICH = Location(latitude_deg=45.0, elevation_m=0.0)
DOWNPOUR = (50.0, 0.0, 0.0, 0.0, 0.0)
"""A mean of 10 mm, of which a store with room for 20 mm keeps 4 on average."""
DRIZZLE = (10.0,) * 5


def test_each_member_is_cut_to_what_there_is_room_for():
    assert Ensemble(DOWNPOUR, 0.0, 1.0).stored_mm(20.0) == 4.0
    assert Ensemble(DRIZZLE, 0.0, 1.0).stored_mm(20.0) == 10.0
    assert Ensemble(DRIZZLE, 0.0, 1.0).stored_mm(6.0) == 6.0


def test_what_has_fallen_counts_in_full_and_what_is_to_come_as_far_as_it_is_trusted():
    # 3 mm have fallen; 7 more in each member, of which half is believed.
    assert Ensemble(DRIZZLE, 3.0, 0.5).stored_mm(20.0) == 6.5
    assert Ensemble(DRIZZLE, 3.0, 0.5).stored_mm(1.0) == 3.0


def days(members_mm: tuple[float, ...], **changes: float) -> list[WeatherDay]:
    """Ten dry days, and a day to come of which an ensemble tells."""
    past = summer_days(JULY_1, 10)
    ahead = replace(
        past[-1],
        date=JULY_1 + 10 * ONE_DAY,
        origin=Origin.FORECAST,
        rain_mm=sum(members_mm) / len(members_mm),
        rain_is_expected_value=True,
        rain_members_mm=members_mm,
        **changes,
    )
    return [*past, ahead]


def counted_mm(weather: list[WeatherDay], garden_too: bool = False) -> float:
    garden = garden_days(weather, GREENWICH, weather[-1].date, weather[-1].date)
    columns = zone_days(numbers_of(LAWN, a_garden(LAWN)), garden)
    return columns.counted_rain_mm[-1] if not garden_too else garden.counted_rain_mm[-1]


def test_a_garden_counts_the_mean_and_a_zone_what_it_can_hold():
    assert counted_mm(days(DOWNPOUR), garden_too=True) == 10.0
    assert counted_mm(days(DRIZZLE)) == 10.0
    # RAW is 20 mm at 5 mm a day, less at more; the day's own ETc is room too. One member in five fills it.
    assert 4.0 < counted_mm(days(DOWNPOUR)) < 5.5


def test_broken_promises_weigh_on_an_ensemble_too():
    assert counted_mm(days(DRIZZLE, rain_trust_share=0.6)) == pytest.approx(6.0)


def test_what_counts_is_what_the_zone_lacks_on_that_morning():
    # 22 mm are lacking, ETc 5 mm, RAW 20 mm. All members 7 mm: it closes at 20 mm, so no water is needed.
    sure, garden = a_case(counted_mm=[7.0])
    with_members = replace(sure, days=replace(sure.days, ensembles={0: Ensemble((7.0,) * 5, 0.0, 1.0)}))
    assert decide(0, 22.0, with_members, garden) == decide(0, 22.0, sure, garden)
    # The same mean from one member in ten, 70 mm, of which 27 find room: 2.7 mm, and it would pass RAW.
    one_in_ten = Ensemble((70.0, *[0.0] * 9), 0.0, 1.0)
    doubtful = replace(sure, days=replace(sure.days, ensembles={0: one_in_ten}))
    assert decide(0, 22.0, sure, garden).net_mm == 0.0
    assert decide(0, 22.0, doubtful, garden).reason == SOIL_DRYING_OUT


def test_a_plan_waters_before_a_gamble_and_waits_for_the_same_rain_when_it_is_sure():
    def plan(members_mm):
        weather = days(members_mm)
        date = weather[-1].date
        history = History(Opening(date, {"lawn": 22.0}, {}))
        occasion = Occasion(date, (night_before(date),))
        return make_plan(a_garden(LAWN), weather, history, occasion)

    sure, gamble = plan(DRIZZLE), plan((100.0, *[0.0] * 9))
    assert (sure.weather.counted_rain_mm, gamble.weather.counted_rain_mm) == (10.0, 10.0)
    assert [plan.zones[0].decision for plan in (sure, gamble)] == ["wait", "water"]


def test_members_of_days_beyond_those_counted_do_not_count():
    weather = days(DRIZZLE)
    planned = weather[-1].date - 4 * ONE_DAY
    garden = garden_days(weather, GREENWICH, planned, weather[-1].date)
    assert garden.members_mm == {}
