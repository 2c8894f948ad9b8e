"""What a planting transpires and how deep it roots, by date."""

import datetime as dt
import itertools

import pytest
from hypothesis import given as given_
from hypothesis import strategies as st

from scheduling import catalogue
from scheduling.errors import UnknownName
from scheduling.fao56.crop_coefficient import climate_adjustment, coefficient_on_day
from scheduling.garden.description import LandscapeCoefficient, Planting, StageDays
from scheduling.zone.climate import Climate
from scheduling.zone.crop import Growth, growth_of

APRIL_20 = dt.date(2026, 4, 20)
STAKED = catalogue.plant("tomato-staked")


def growth(planting: Planting, southern: bool = False) -> Growth:
    return growth_of(planting, catalogue.plant(planting.plant), southern)


def steady(first: dt.date, days: int, wind_2m_m_s: float, rh_min_pct: float) -> Climate:
    """So many days of the same weather."""
    return Climate(first, (wind_2m_m_s,) * days, (rh_min_pct,) * days)


def on_day(number: int, planting: Planting | None = None) -> tuple[float, float, bool]:
    planted = planting or Planting("tomato-staked", planted_on=APRIL_20)
    assert planted.planted_on is not None
    return growth(planted).on(planted.planted_on + dt.timedelta(days=number - 1))


def test_tomatoes_follow_the_stages_of_fao56() -> None:
    # Table 12: 0.6, 1.20, 0.90. Table 11: 30, 40, 45, 30 days. Half-way through development on day 50.
    assert on_day(1)[0] == 0.6
    assert on_day(30)[0] == 0.6
    assert on_day(50)[0] == pytest.approx(0.9)
    assert on_day(71)[0] == pytest.approx(1.20)
    assert on_day(115)[0] == pytest.approx(1.20)
    assert on_day(145)[0] == pytest.approx(0.90)


def test_own_lengths_of_stages_lead_to_the_coefficients_of_example_28() -> None:
    # FAO-56 Example 28, dry beans at Kimberly: 25 + 25 + 30 + 20 days. Its Kc ini of 0.15 is that of dry
    # ground (figure 29), its Kc mid of 1.19 that of table 12 in wind of 2.2 m/s and 30 % humidity (Box 15).
    beans = Planting(
        "bean-dry", planted_on=dt.date(1974, 5, 23), stage_lengths_d=StageDays(25, 25, 30, 20), height_m=0.4
    )
    season = growth(beans).season
    assert season is not None
    start = dt.date(1974, 5, 23)
    _, kc_mid, kc_end = season.coefficients(start, steady(start, 100, 2.2, 30.0))
    assert kc_mid == pytest.approx(1.19, abs=0.005)
    assert kc_end == 0.35  # below 0.45 nothing is adjusted (page 125)
    for day, printed in ((20, 0.15), (40, 0.77), (70, 1.19), (95, 0.56)):
        kc = coefficient_on_day(day, season.lengths, 0.15, kc_mid, kc_end)
        assert kc == pytest.approx(printed, abs=0.005)
    assert season.day_on(dt.date(1974, 8, 30)) == 100
    assert season.day_on(dt.date(1974, 8, 31)) is None


def test_own_lengths_of_stages_move_the_roots_too() -> None:
    slow = Planting("tomato-staked", planted_on=APRIL_20, stage_lengths_d=StageDays(40, 60, 30, 20))
    assert on_day(100, slow)[1] < on_day(101, slow)[1] == pytest.approx(0.5)
    assert on_day(150, slow)[2] is False
    assert on_day(151, slow)[2] is True


def test_own_lengths_of_a_perennial_come_again_every_year() -> None:
    apple = growth(Planting("apple", leaf_out=(4, 1), stage_lengths_d=StageDays(10, 20, 30, 40)))
    for year in (2025, 2026):
        assert apple.on(dt.date(year, 7, 9))[2] is False
        assert apple.on(dt.date(year, 7, 10))[2] is True


def test_an_annual_is_dormant_before_planting_and_after_harvest_as_bare_soil() -> None:
    assert on_day(0)[::2] == (0.6, True)
    assert on_day(146)[::2] == (0.6, True)
    assert [on_day(day)[2] for day in (1, 145)] == [False, False]


def test_roots_of_an_annual_grow_until_its_mid_season() -> None:
    depths = [on_day(day)[1] for day in (1, 36, 71, 100)]
    assert depths == pytest.approx([0.15, 0.325, 0.5, 0.5])


def test_roots_given_shallower_than_those_of_a_seedling_stay_so() -> None:
    shallow = Planting("lettuce", planted_on=APRIL_20, root_depth_m=0.1)
    assert [on_day(day, shallow)[1] for day in (1, 40)] == [0.1, 0.1]


def test_a_perennials_season_comes_again_every_year() -> None:
    # Table 11, deciduous orchard, high latitudes: March, 20 + 70 + 90 + 30 days; tables 12: 0.95.
    apple = growth(Planting("apple"))
    assert apple.on(dt.date(2020, 7, 1)) == apple.on(dt.date(2026, 7, 1))
    assert apple.on(dt.date(2026, 7, 1)) == (pytest.approx(0.95), 0.6, False)
    season = apple.season
    assert season is not None
    assert season.day_on(dt.date(2026, 3, 15)) == 1
    assert season.day_on(dt.date(2026, 10, 10)) == 210


def test_fruit_trees_are_dormant_while_they_stand_bare() -> None:
    apple = growth(Planting("apple"))
    for date in (dt.date(2026, 1, 10), dt.date(2026, 3, 14), dt.date(2026, 10, 11), dt.date(2026, 12, 31)):
        assert apple.on(date)[::2] == (0.45, True), date


def test_leaves_open_half_a_year_later_in_the_south() -> None:
    season = growth(Planting("apple"), southern=True).season
    assert season is not None
    assert season.day_on(dt.date(2025, 9, 15)) == 1
    assert season.day_on(dt.date(2026, 1, 10)) == 118  # on across the new year
    assert season.day_on(dt.date(2026, 6, 1)) is None


def test_a_day_on_which_leaves_open_that_was_given_comes_first() -> None:
    late = growth(Planting("apple", leaf_out=(5, 1)), southern=False).season
    assert late is not None
    assert (late.day_on(dt.date(2026, 4, 30)), late.day_on(dt.date(2026, 5, 1))) == (None, 1)


def test_leaves_that_open_on_29_february_open_on_the_28th_of_other_years() -> None:
    season = growth(Planting("apple", leaf_out=(2, 29))).season
    assert season is not None
    assert season.day_on(dt.date(2024, 2, 29)) == 1
    assert season.day_on(dt.date(2025, 2, 28)) == 1


def test_the_day_of_planting_does_not_move_the_season_of_a_perennial() -> None:
    bare_root = growth(Planting("apple", planted_on=dt.date(2025, 11, 20)))
    assert bare_root.on(dt.date(2026, 7, 1))[0] == pytest.approx(0.95)
    assert bare_root.on(dt.date(2025, 11, 19))[2]


def test_an_evergreen_with_stages_does_not_rest() -> None:
    # Table 11, artichokes cut in May: 325 days, so that forty are left.
    artichoke = growth(Planting("artichoke"))
    year = [dt.date(2026, 1, 1) + dt.timedelta(days=day) for day in range(365)]
    assert not any(dormant for _, _, dormant in artichoke.over(year))
    assert artichoke.on(dt.date(2026, 4, 20))[0] == 0.5


@pytest.mark.parametrize("depth", ["turf", "herbaceous", "shrub", "tree"])
def test_roots_of_a_new_planting_grow_evenly_to_those_of_an_established_one(depth: str) -> None:
    plant = {"turf": "turf-cool-season", "herbaceous": "ground-cover", "shrub": "shrubs", "tree": "trees"}[
        depth
    ]
    way = catalogue.establishment(depth)
    new, old = growth(Planting(plant, planted_on=APRIL_20)), growth(Planting(plant))
    half_way = APRIL_20 + dt.timedelta(days=7 * way.weeks // 2)
    established = APRIL_20 + dt.timedelta(days=7 * way.weeks)
    assert new.on(APRIL_20)[1] == way.planted_depth_m
    assert new.on(half_way)[1] == pytest.approx((way.planted_depth_m + old.root_depth_m) / 2.0)
    assert new.on(established) == old.on(established)
    assert new.on(established + dt.timedelta(days=4000)) == old.on(established + dt.timedelta(days=4000))
    assert old.is_steady
    assert not new.is_steady


def test_new_plantings_are_told_from_established_ones() -> None:
    new = growth(Planting("turf-cool-season", planted_on=APRIL_20)).establishing
    assert new is not None
    # Six weeks; towns exempt 21 to 60 days.
    days = [APRIL_20 + dt.timedelta(days=day) for day in (-1, 0, 41, 42)]
    assert [new.is_new_on(day) for day in days] == [False, True, True, False]


def test_a_lawn_is_not_watered_before_it_is_sown() -> None:
    lawn = growth(Planting("turf-cool-season", planted_on=APRIL_20))
    assert lawn.on(dt.date(2026, 4, 19))[2]
    assert not lawn.on(APRIL_20)[2]


def test_roots_are_never_deeper_when_new_than_when_grown() -> None:
    shallow = growth(Planting("trees", planted_on=APRIL_20, root_depth_m=0.2))
    assert [shallow.on(APRIL_20 + dt.timedelta(days=day))[1] for day in (0, 300, 900)] == [0.2, 0.2, 0.2]


def test_lengths_of_stages_are_those_of_the_region_that_was_named() -> None:
    # Table 11, tomatoes: Mediterranean 145 days; California 155, 35 of them the initial stage.
    usual = growth(Planting("tomato", planted_on=APRIL_20)).season
    there = growth(Planting("tomato", planted_on=APRIL_20, stage_region="california-april")).season
    assert usual is not None
    assert there is not None
    assert (usual.lengths.season_d, there.lengths.season_d, there.lengths.initial_d) == (145, 155, 35)


def test_a_region_that_a_plant_does_not_have_is_answered_with_those_it_has() -> None:
    with pytest.raises(UnknownName, match=r"stage region of Tomato, bush .*mediterranean-april"):
        growth(Planting("tomato", stage_region="siberia"))


def test_beans_sown_in_autumn_stand_through_the_winter() -> None:
    # Table 11, broad beans, Europe: 90 days sown in May; green, 175 days sown in November;
    # Mediterranean, 100 days sown in March.
    def season_d(month: int, southern: bool = False) -> int:
        season = growth(Planting("broad-bean", planted_on=dt.date(2026, month, 5)), southern).season
        assert season is not None
        return season.lengths.season_d

    assert (season_d(5), season_d(3), season_d(11), season_d(10)) == (90, 100, 175, 175)
    assert (season_d(5, southern=True), season_d(11, southern=True)) == (175, 90)


def test_basal_coefficients_follow_the_stages() -> None:
    # Table 17, tomatoes: 0.15, 1.15 (staked), 0.80; half-way through development on day 50.
    dates = [APRIL_20 + dt.timedelta(days=day - 1) for day in (1, 50, 71, 115, 145, 146)]
    grown = list(growth(Planting("tomato-staked", planted_on=APRIL_20)).basal_over(dates))
    assert [kcb for kcb, _ in grown] == pytest.approx([0.15, 0.65, 1.15, 1.15, 0.80, 0.15])
    # Annex 8: height in proportion to Kcb, then the full height; 0 once the bed is cleared.
    heights = [1.5 * 0.15 / 1.15, 1.5 * 0.65 / 1.15, 1.5, 1.5, 1.5, 0.0]
    assert [height_m for _, height_m in grown] == pytest.approx(heights)


def test_basal_coefficients_of_what_was_given_are_derived() -> None:
    # Table 18: Kc - 0.05 where plants cover the ground; table 17 has 0.90 beside turf's 0.95.
    july = dt.date(2026, 7, 15)
    assert next(growth(Planting("shrubs", kc=0.95)).basal_over([july])) == (pytest.approx(0.90), 1.2)
    assert next(growth(Planting("turf-cool-season")).basal_over([july]))[0] == pytest.approx(0.94 - 0.05)
    assert next(growth(Planting("citrus")).basal_over([july]))[0] == 0.60  # table 17
    southern = growth(Planting("turf-cool-season"), southern=True)
    assert next(southern.basal_over([dt.date(2026, 1, 15)]))[0] == pytest.approx(0.94 - 0.05)


def test_a_tree_is_as_high_in_winter_as_in_summer() -> None:
    winter, summer = growth(Planting("apple")).basal_over([dt.date(2026, 1, 1), dt.date(2026, 7, 1)])
    assert winter == (0.35, 4.0)
    assert summer == (pytest.approx(0.90), 4.0)


def test_without_a_planting_date_a_crop_stands_in_its_mid_season() -> None:
    grown = growth(Planting("tomato-staked"))
    kc, root_depth_m, dormant = grown.on(dt.date(2026, 1, 1))
    assert kc == pytest.approx(1.20)
    assert (root_depth_m, dormant) == (0.5, False)


def test_wind_and_dry_air_raise_the_mid_season() -> None:
    # Equation 62: [0.04 (4 - 2) - 0.004 (25 - 45)] (1.5 / 3)^0.3 = 0.16 x 0.812.
    july = dt.date(2026, 7, 15)
    windy = steady(dt.date(2026, 7, 1), 31, 4.0, 25.0)
    [(kc, _, _)] = growth(Planting("tomato-staked")).over([july], windy)
    assert kc == pytest.approx(1.330, abs=5e-4)


@given_(
    history_d=st.integers(1, 400),
    before=st.tuples(st.floats(0.5, 9.0), st.floats(5.0, 95.0)),
    within=st.tuples(st.floats(0.5, 9.0), st.floats(5.0, 95.0)),
)
def test_the_coefficient_of_a_day_does_not_depend_on_how_much_history_is_known(
    history_d: int, before: tuple[float, float], within: tuple[float, float]
) -> None:
    # FAO-56 page 121: means over the mid-season. Table 11: it is days 71 to 115 of these tomatoes.
    first_of_mid = APRIL_20 + dt.timedelta(days=70)
    first = first_of_mid - dt.timedelta(days=history_d)
    known = Climate(
        first,
        (before[0],) * history_d + (within[0],) * 30,
        (before[1],) * history_d + (within[1],) * 30,
    )
    day = first_of_mid + dt.timedelta(days=10)
    tomatoes = growth(Planting("tomato-staked", planted_on=APRIL_20))
    [(kc, _, _)] = tomatoes.over([day], known)
    expected = 1.20 + climate_adjustment(*within, 1.5)
    assert kc == pytest.approx(expected, abs=1e-9)


def test_a_mulch_over_half_of_the_ground_takes_a_quarter_off_the_first_weeks() -> None:
    # FAO-56 page 198: Kc ini falls by 5 % for each 10 % of cover: 0.60 x 0.75. Kc mid by as much of Kc - Kcb.
    mulched = Planting("tomato", planted_on=APRIL_20, mulched_share=0.5)
    assert on_day(1, mulched)[0] == pytest.approx(0.45)
    assert on_day(-30, mulched)[0] == pytest.approx(0.45)
    assert on_day(80, mulched)[0] == pytest.approx(1.15 - 0.25 * 0.05)


def test_monthly_coefficients_go_in_straight_lines_from_month_to_month() -> None:
    # Meyer et al.: March 0.75, April 1.04. Common practice has steps; straight lines are FAO-56's.
    lawn = growth(Planting("turf-cool-season"))
    assert lawn.on(dt.date(2026, 3, 15))[0] == 0.75
    assert lawn.on(dt.date(2026, 4, 15))[0] == 1.04
    year = [dt.date(2026, 1, 1) + dt.timedelta(days=day) for day in range(366)]
    kc = [coefficient for coefficient, _, _ in lawn.over(year)]
    assert max(abs(after - before) for before, after in itertools.pairwise(kc)) < 0.01
    # The note beside the source of these figures reckons April's mean as 0.99 when so drawn.
    april = [value for date, value in zip(year, kc, strict=True) if date.month == 4]
    assert sum(april) / len(april) == pytest.approx(0.99, abs=0.01)


def test_monthly_coefficients_of_the_catalogue_turn_by_half_a_year_in_the_south() -> None:
    turf = catalogue.plant("turf-cool-season")
    assert turf.kc_by_month is not None
    assert growth(Planting(turf.id)).kc_by_month[3] == turf.kc_by_month[3]
    assert growth(Planting(turf.id), southern=True).kc_by_month[9] == turf.kc_by_month[3]


def test_monthly_coefficients_that_were_given_are_those_of_the_garden_itself() -> None:
    months = tuple(0.1 * month for month in range(12))
    assert growth(Planting("turf-cool-season", kc_by_month=months), southern=True).kc_by_month == months


def test_what_was_given_comes_before_the_catalogue() -> None:
    factors = LandscapeCoefficient(species=0.5, density=1.2, microclimate=1.3)
    assert growth(Planting("shrubs", kc=0.33)).kc_by_month == (0.33,) * 12
    # checks of the guide's ranges: 0.5 x 1.2 x 1.3.
    assert growth(Planting("shrubs", landscape_coefficient=factors)).kc_by_month[0] == pytest.approx(0.78)
    assert growth(Planting("tomato", kc=0.8, planted_on=APRIL_20)).season is None
    assert growth(Planting("shrubs", root_depth_m=0.33)).root_depth_m == 0.33


def last_day(planting: Planting, climate: Climate | None = None) -> dt.date:
    """Last day on which a planting is not dormant, of the five years from its first day on."""
    assert planting.planted_on is not None
    days = [planting.planted_on + dt.timedelta(days=day) for day in range(5 * 365)]
    grown = growth(planting).over(days, climate or Climate())
    return max(date for date, (_, _, dormant) in zip(days, grown, strict=True) if not dormant)


@pytest.mark.parametrize("month", [9, 10])
def test_garlic_planted_in_autumn_is_harvested_in_summer(month: int) -> None:
    # UC Marin Master Gardeners 2020: planted September or October, harvested June or July.
    assert last_day(Planting("garlic", planted_on=dt.date(2025, month, 15))).month in (6, 7)


def test_onions_planted_in_october_do_not_end_before_may() -> None:
    # Table 11, arid regions and California, October: 210 days. UC Napa 2012: harvested May to July.
    assert last_day(Planting("onion", planted_on=dt.date(2025, 10, 15))) == dt.date(2026, 5, 12)


@pytest.mark.parametrize("plant", ["chard", "kale", "courgette", "cucumber", "leek", "bean"])
def test_what_is_picked_again_and_again_keeps_its_mid_season_until_its_owner_ends_it(plant: str) -> None:
    # Common practice, no source: leaves and young fruit are picked from the same plants for months.
    mid = catalogue.plant(plant).stages
    assert mid is not None
    planting = Planting(plant, planted_on=APRIL_20, season_ends=((11, 10),))
    grown = growth(planting)
    for date in (dt.date(2026, 8, 25), dt.date(2026, 11, 10)):
        assert grown.on(date)[::2] == (mid.kc_mid, False)
    assert grown.on(dt.date(2026, 11, 11))[2]
    assert last_day(planting) == dt.date(2026, 11, 10)


def test_the_first_frost_ends_what_does_not_survive_it() -> None:
    # FAO-56 page 103 (from memory): a killing frost ends the season of sensitive crops.
    mild, cold = (12.0,) * 180, (-0.5,) * 20
    weather = Climate(APRIL_20, (2.0,) * 200, (45.0,) * 200, mild + cold)
    frost = APRIL_20 + dt.timedelta(days=180)
    assert last_day(Planting("courgette", planted_on=APRIL_20), weather) == frost
    assert last_day(Planting("kale", planted_on=APRIL_20), weather) > frost


def test_a_season_that_is_ended_later_has_a_longer_mid_season_and_the_same_last_weeks() -> None:
    # Table 11: 145 days, the last on 11 September; 30 of them are the late season.
    late = Planting("tomato", planted_on=APRIL_20, season_ends=(dt.date(2026, 10, 11),))
    grown = growth(late)
    assert grown.on(dt.date(2026, 9, 11))[0] == pytest.approx(1.15)
    assert grown.on(dt.date(2026, 10, 11))[0] == pytest.approx(0.90)
    assert last_day(late) == dt.date(2026, 10, 11)


def test_a_season_that_is_ended_early_ends_as_it_is() -> None:
    early = Planting("tomato", planted_on=APRIL_20, season_ends=(dt.date(2026, 7, 1),))
    assert growth(early).on(dt.date(2026, 7, 1)) == growth(Planting("tomato", planted_on=APRIL_20)).on(
        dt.date(2026, 7, 1)
    )
    assert last_day(early) == dt.date(2026, 7, 1)


def test_an_annual_that_is_planted_every_year_begins_anew_every_year() -> None:
    yearly = growth(Planting("tomato", planted_on=dt.date(2000, 4, 20), planted_yearly=True))
    once = growth(Planting("tomato", planted_on=APRIL_20))
    for day in (0, 20, 60, 100, 144, 145):
        date = APRIL_20 + dt.timedelta(days=day)
        for years in (-1, 0, 3):
            assert yearly.on(date.replace(year=2026 + years)) == once.on(date)


def test_each_of_several_plantings_has_a_season_of_its_own() -> None:
    # Table 11, lettuce: 75 days planted in April; 100 planted in October, in arid regions.
    spring, autumn = dt.date(2026, 4, 1), dt.date(2026, 10, 1)
    both = growth(Planting("lettuce", planted_on=spring, planted_again=(autumn,)))
    alone = [growth(Planting("lettuce", planted_on=start)) for start in (spring, autumn)]
    for day in (0, 30, 74):
        assert both.on(spring + dt.timedelta(days=day)) == alone[0].on(spring + dt.timedelta(days=day))
    for day in (0, 30, 99, 100):
        assert both.on(autumn + dt.timedelta(days=day)) == alone[1].on(autumn + dt.timedelta(days=day))
    assert both.on(dt.date(2026, 8, 1))[2]
    assert both.ends_on(spring) == dt.date(2026, 6, 14)
    assert both.ends_on(dt.date(2026, 8, 1)) is None


def test_an_orchard_that_shades_half_of_its_ground_has_the_coefficient_of_its_cover() -> None:
    # Allen and Pereira 2009: apples 3 m high over half of the ground, Kcb mid 0.98; citrus of 2.5 m 0.68.
    july = dt.date(2026, 7, 15)
    apple = growth(Planting("apple", covered_share=0.5, height_m=3.0))
    assert next(apple.basal_over([july]))[0] == pytest.approx(0.98, abs=0.005)
    assert apple.on(july)[0] == pytest.approx(0.98 + 0.95 - 0.90, abs=0.005)  # tables 12 and 17
    citrus = growth(Planting("citrus", covered_share=0.5, height_m=2.5))
    assert citrus.on(july)[0] == pytest.approx(0.68 + 0.65 - 0.60, abs=0.005)
    young = growth(Planting("apple", covered_share=0.15, height_m=2.0))
    assert young.on(july)[0] < 0.6 * apple.on(july)[0]
