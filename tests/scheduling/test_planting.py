"""What a planting transpires and how deep it roots, by date."""

import datetime as dt

import pytest

from scheduling import catalogue
from scheduling.garden import LandscapeCoefficient, Planting
from scheduling.planting import Climate, Growth, growth_of

PRINTED_CLIMATE = Climate()
APRIL_20 = dt.date(2026, 4, 20)
STAKED = catalogue.plant("tomato-staked")


def growth(planting: Planting, southern: bool = False, climate: Climate = PRINTED_CLIMATE) -> Growth:
    return growth_of(planting, catalogue.plant(planting.plant), southern, climate)


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
    berries = next(plant for plant in catalogue.plants() if plant.stages and plant.kind == "fruit")
    assert berries.stages is not None
    grown = growth(Planting(berries.id, planted_on=dt.date(2020, 4, 1)))
    first, second = grown.on(dt.date(2020, 6, 1)), grown.on(dt.date(2026, 6, 1))
    assert first == second
    assert not first[2]
    if berries.stages.length_days < 300:
        assert grown.on(dt.date(2026, 3, 30))[2]


def test_a_season_that_begins_on_29_february_begins_on_the_28th_of_other_years() -> None:
    berries = next(plant for plant in catalogue.plants() if plant.stages and plant.kind == "fruit")
    season = growth(Planting(berries.id, planted_on=dt.date(2024, 2, 29))).season
    assert season is not None
    assert season.day_on(dt.date(2025, 2, 28)) == 1


def test_a_season_runs_on_across_the_new_year() -> None:
    berries = next(plant for plant in catalogue.plants() if plant.stages and plant.kind == "fruit")
    season = growth(Planting(berries.id, planted_on=dt.date(2024, 10, 1)), southern=True).season
    assert season is not None
    assert season.day_on(dt.date(2026, 1, 10)) == 102


def test_without_a_planting_date_a_crop_stands_in_its_mid_season() -> None:
    grown = growth(Planting("tomato-staked"))
    kc, root_depth_m, dormant = grown.on(dt.date(2026, 1, 1))
    assert kc == pytest.approx(1.20)
    assert (root_depth_m, dormant) == (0.5, False)


def test_wind_and_dry_air_raise_the_mid_season() -> None:
    # Equation 62: [0.04 (4 - 2) - 0.004 (25 - 45)] (1.5 / 3)^0.3 = 0.16 x 0.812.
    windy = Climate(wind_2m_m_s=4.0, rh_min_pct=25.0)
    assert growth(Planting("tomato-staked"), climate=windy).kc_by_month[0] == pytest.approx(1.330, abs=5e-4)


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
