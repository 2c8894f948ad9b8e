"""A garden document becomes a garden, or a list of sentences about what is wrong with it."""

import copy
import datetime as dt

import pytest

from api.schemas.garden import load_garden, stored_garden
from scheduling import catalogue
from scheduling.errors import InvalidGarden
from scheduling.garden.description import (
    Allowance,
    Container,
    Emitters,
    HoursSpan,
    LandscapeCoefficient,
    Pause,
    Price,
    PriceStep,
    WaterSupply,
    YearlyPause,
)
from tests.api.stored_garden import LOAM_LAWN

QUINCE_COURT = {
    "id": "quince-court",
    "name": "Quince Court",
    "latitude": 43.61,
    "longitude": 3.88,
    "elevation_m": 48,
    "timezone": "Europe/Paris",
    "water_supply": {
        "flow_l_min": 24,
        "zones_at_once": 1,
        "allowance_l": {"day": 1500},
        "price_per_m3": 4.1,
        "currency": "EUR",
    },
    "rules": {
        "frost_limit_c": 5,
        "rain_day_mm": 4,
        "wind_limit_m_s": 4,
        "watering_days": ["mon", "wed", "fri", "sat"],
        "watering_hours": [{"from": "22:00", "to": "sunrise"}],
        "pauses": [],
    },
    "zones": {
        "fescue-lawn": {
            "name": "Fescue lawn",
            "area_m2": 85,
            "priority": "normal",
            "planting": {"plant": "turf-cool-season", "root_depth_m": 0.2},
            "soil": {"texture": "loam"},
            "watering": {"method": "overhead-spray", "flow_l_min": 20, "efficiency": 0.7},
            "site": {"slope_pct": 3},
        },
        "balcony-troughs": {
            "name": "Balcony troughs",
            "area_m2": 2.4,
            "priority": "high",
            "rules": {"exempt": ["days"]},
            "planting": {"plant": "herbs"},
            "soil": {"container": {"volume_l": 180, "capacity_share": 0.5, "unavailable_share": 0.2}},
            "watering": {"method": "drip-points", "emitters": {"count": 24, "flow_l_h": 2}},
            "site": {"rain_share": 0.2},
        },
    },
}


def with_zone(**parts):
    return {
        "latitude": 43.6,
        "longitude": 3.9,
        "timezone": "Europe/Paris",
        "zones": {"lawn": {**LOAM_LAWN, **parts}},
    }


def with_garden(**parts):
    return {**with_zone(), **parts}


def refusals(document, garden_id=None):
    with pytest.raises(InvalidGarden) as refused:
        load_garden(document, garden_id)
    return {problem.pointer: problem.detail for problem in refused.value.problems}


def test_a_garden_in_full_is_read_as_it_stands():
    garden = load_garden(QUINCE_COURT)
    lawn, troughs = garden.zones

    assert (garden.id, garden.name, garden.elevation_m) == ("quince-court", "Quince Court", 48.0)
    assert garden.rules.watering_days == ("mon", "wed", "fri", "sat")
    assert garden.rules.watering_hours == (HoursSpan("22:00", "sunrise"),)
    assert (lawn.id, lawn.area_m2, lawn.planting.root_depth_m) == ("fescue-lawn", 85.0, 0.2)
    assert troughs.soil.container == Container(volume_l=180.0, capacity_share=0.5, unavailable_share=0.2)
    assert troughs.watering.emitters == Emitters(count=24, flow_l_h=2.0)
    assert (troughs.priority, troughs.site.rain_share, troughs.rules.exempt) == ("high", 0.2, ("days",))


def test_three_lines_a_zone_are_enough():
    garden = load_garden(with_zone())

    assert garden.id == "garden"
    assert garden.weather_sources == ("open-meteo",)
    assert garden.zones[0].watering.flow_l_min is None


def test_a_zone_can_say_everything_else_too():
    zone = load_garden(
        with_zone(
            planting={
                "plant": "turf-cool-season",
                "landscape_coefficient": {"species": 0.5, "microclimate": 1.2},
                "depletion_fraction": 0.4,
                "height_m": 0.1,
                "planted_on": "2026-04-01",
            },
            soil={"field_capacity": 0.3, "wilting_point": 0.15, "texture": "loam"},
            rules={
                "pauses": [{"from": "2026-07-01", "to": "2026-07-14", "because": "Away"}],
                "odd_even": "odd",
            },
            valve={"meter": False, "max_open_s": 3600, "min_flow_l_min": 1},
            soil_full_on="2026-05-01",
        )
    ).zones[0]

    assert zone.planting.landscape_coefficient == LandscapeCoefficient(species=0.5, microclimate=1.2)
    assert zone.planting.planted_on == dt.date(2026, 4, 1)
    assert (zone.soil.texture, zone.soil.field_capacity) == ("loam", 0.3)
    assert zone.rules.pauses == (Pause(dt.date(2026, 7, 1), dt.date(2026, 7, 14), None, "Away"),)
    assert (zone.valve.meter, zone.valve.max_open_s) == (False, 3600)
    assert zone.soil_full_on == dt.date(2026, 5, 1)


@pytest.mark.parametrize(
    ("parts", "pointer", "sentence"),
    [
        ({"area_m2": 0}, "/area_m2", "area_m2 is 0; it must be a number from 0.01 to 100000."),
        (
            {"planting": {"plant": "turf-cool"}},
            "/planting/plant",
            'plant is "turf-cool"; no plant in the catalogue is called so. Did you mean "turf-cool-season"?',
        ),
        (
            {"watering": {"method": "overhead-sprays"}},
            "/watering/method",
            'method is "overhead-sprays"; no method in the catalogue is called so. '
            'Did you mean "overhead-spray"?',
        ),
        (
            {"planting": {"plant": "turf-cool-season", "kc": 0.8, "kc_by_month": [1] * 12}},
            "/planting/kc_by_month",
            "kc_by_month says again what kc says; give only one of kc, kc_by_month, landscape_coefficient.",
        ),
        (
            {"planting": {"plant": "shrubs", "landscape_coefficient": {"species": 0.95}}},
            "/planting/landscape_coefficient/species",
            "species is 0.95; it must be a number from 0 to 0.9.",
        ),
        (
            {"planting": {"plant": "shrubs", "landscape_coefficient": {"species": 0.5, "density": 0.4}}},
            "/planting/landscape_coefficient/density",
            "density is 0.4; it must be a number from 0.5 to 1.3.",
        ),
        (
            {"planting": {"plant": "shrubs", "landscape_coefficient": {"species": 0.5, "microclimate": 1.5}}},
            "/planting/landscape_coefficient/microclimate",
            "microclimate is 1.5; it must be a number from 0.5 to 1.4.",
        ),
        (
            {"planting": {"plant": "tomato", "planted_on": "2026-05-02", "season_ends": "2026-04-30"}},
            "/planting/season_ends",
            "season_ends is 2026-04-30; it must not be before planted_on, 2026-05-02.",
        ),
        (
            {"planting": {"plant": "tomato", "planted_on": "--05-02", "season_ends": "2026-10-30"}},
            "/planting/season_ends",
            "season_ends is a date, and the season comes again every year; give --MM-DD.",
        ),
        (
            {"planting": {"plant": "shrubs", "aim": "alive", "allowed_depletion": 0.5}},
            "/planting/aim",
            'aim is "alive", which has an allowed depletion of its own; give one of aim and '
            "allowed_depletion.",
        ),
        (
            {"planting": {"plant": "tomato", "season_ends": "--10-30"}},
            "/planting/season_ends",
            "season_ends is given, but not the day on which the season begins; give planted_on.",
        ),
        (
            {"planting": {"plant": "shrubs", "season_ends": "--10-30"}},
            "/planting/season_ends",
            "season_ends is given, but shrubs has no season that ends; leave it out.",
        ),
        (
            {"planting": {"plant": "lettuce", "planted_on": ["2026-04-01", "2026-04-01"]}},
            "/planting/planted_on",
            "planted_on has a date twice; two plantings cannot stand on the same ground.",
        ),
        (
            {"planting": {"plant": "shrubs", "planted_on": "--04-01"}},
            "/planting/planted_on",
            "planted_on must be one date: shrubs is no annual, and is planted once.",
        ),
        (
            {
                "planting": {"plant": "herbs"},
                "soil": {"container": {"volume_l": 20, "diameter_m": 0.3, "surface_m2": 0.07}},
            },
            "/soil/container/surface_m2",
            "surface_m2 says again what diameter_m says; give only one of diameter_m, surface_m2.",
        ),
        (
            {"planting": {"plant": "herbs"}, "soil": {"container": {"volume_l": 20, "spread_m": 0.5}}},
            "/soil/container/spread_m",
            "spread_m says again what area_m2 says; give one.",
        ),
        (
            {"planting": {"plant": "turf-cool-season", "kc_by_month": [1] * 11}},
            "/planting/kc_by_month",
            "kc_by_month has 11 entries; it must have 12.",
        ),
        (
            {"soil": {}},
            "/soil",
            "soil says nothing; give one of texture, field_capacity with wilting_point, "
            "sand_pct with clay_pct, or container.",
        ),
        (
            {"soil": {"field_capacity": 0.3}},
            "/soil/wilting_point",
            "wilting_point is missing; field_capacity does not say enough alone.",
        ),
        (
            {"soil": {"organic_matter_pct": 3, "sand_pct": 40}},
            "/soil/clay_pct",
            "clay_pct is missing; sand_pct does not say enough alone.",
        ),
        (
            {"soil": {"field_capacity": 0.2, "wilting_point": 0.25}},
            "/soil/field_capacity",
            "field_capacity is 0.2; it must be above wilting_point, 0.25.",
        ),
        (
            {"soil": {"sand_pct": 60, "clay_pct": 60}},
            "/soil/clay_pct",
            "clay_pct is 60; with sand_pct, 60, it must not pass 100.",
        ),
        (
            {"soil": {"texture": "loam", "sand_pct": 40, "clay_pct": 20}},
            "/soil/texture",
            "texture describes the soil a second time, beside sand_pct; give one.",
        ),
        (
            {"soil": {"container": {"volume_l": 20}, "field_capacity": 0.3, "wilting_point": 0.1}},
            "/soil/container",
            "container describes the soil a second time, beside field_capacity; give one.",
        ),
        ({"soil": {"container": {}}}, "/soil/container/volume_l", "volume_l is missing."),
        (
            {"soil": {"container": {"volume_l": 20, "capacity_share": 0.2, "unavailable_share": 0.2}}},
            "/soil/container/capacity_share",
            "capacity_share is 0.2; it must be above unavailable_share, 0.2.",
        ),
        (
            {"watering": {"method": "drip-points", "flow_l_min": 1, "rate_mm_h": 10}},
            "/watering/rate_mm_h",
            "rate_mm_h says again what flow_l_min says; give only one of flow_l_min, rate_mm_h, emitters.",
        ),
        (
            {"area_m2": 0.5, "watering": {"method": "overhead-spray", "flow_l_min": 400}},
            "/watering/flow_l_min",
            "flow_l_min comes to 48000 mm/h on 0.5 m²; it must come to 0.1 to 3000 mm/h.",
        ),
        (
            {"area_m2": 5000, "watering": {"method": "drip-points", "emitters": {"count": 2, "flow_l_h": 2}}},
            "/watering/emitters",
            "emitters comes to 0.001 mm/h on 5000 m²; it must come to 0.1 to 3000 mm/h.",
        ),
        (
            {"rules": {"pauses": [{"from": "2026-07-14", "to": "2026-07-01"}]}},
            "/rules/pauses/0/to",
            "to is 2026-07-01, which is before from, 2026-07-14; it must not be.",
        ),
        (
            {"rules": {"watering_hours": []}},
            "/rules/watering_hours",
            '"watering_hours" is not a field here.',
        ),
        (
            {"rules": {"exempt": ["cold"]}},
            "/rules/exempt/0",
            'exempt is "cold"; it must be "frost", "rain", "wind" or "days".',
        ),
        (
            {"rules": {"pauses": [{"from": "11-01", "to": "2026-03-01"}]}},
            "/rules/pauses/0/to",
            "to must be a day of every year as from is one, or a date as from is one; not one of each.",
        ),
        (
            {"rules": {"pauses": [{"from": "02-30", "to": "03-01"}]}},
            "/rules/pauses/0/from",
            'from is "02-30"; it must be a date written as YYYY-MM-DD, from',
        ),
        (
            {
                "watering": {
                    "method": "overhead-spray",
                    "efficiency": 0.7,
                    "distribution_uniformity": 0.6,
                }
            },
            "/watering/distribution_uniformity",
            "distribution_uniformity says again what efficiency says; give only one of efficiency, "
            "distribution_uniformity, catch_can_mm.",
        ),
        (
            {"watering": {"method": "overhead-spray", "catch_can_mm": [10, 9, 11]}},
            "/watering/catch_can_mm",
            "catch_can_mm has 3 entries; it must have from 4 to 500.",
        ),
        (
            {"watering": {"method": "overhead-spray", "catch_can_mm": [0, 0, 0, 0]}},
            "/watering/catch_can_mm",
            "Every catch can is dry; at least one depth must be above 0.",
        ),
        (
            {"area_m2": 0.5, "watering": {"method": "drip-points", "flow_l_min": 20, "wetted_share": 0.05}},
            "/watering",
            "brings 48000 mm/h onto the ground that gets wet, which overflows after 0.6 s.",
        ),
    ],
)
def test_a_zone_that_cannot_be_is_refused_with_a_sentence(parts, pointer, sentence):
    problems = refusals(with_zone(**parts))

    assert list(problems) == [f"/zones/lawn{pointer}"]
    assert problems[f"/zones/lawn{pointer}"].startswith(sentence)


@pytest.mark.parametrize(
    ("parts", "pointer", "sentence"),
    [
        ({"latitude": 91}, "/latitude", "latitude is 91; it must be a number from -90 to 90."),
        (
            {"timezone": "Europe/Pariss"},
            "/timezone",
            'timezone is "Europe/Pariss"; it must be the name of a time zone in the IANA database, '
            "as Europe/Paris. Did you mean Europe/Paris?",
        ),
        (
            {"weather_sources": []},
            "/weather_sources",
            "weather_sources has 0 entries; it must have from 1 to 6.",
        ),
        (
            {"weather_sources": ["open-meteo", "us-nws"]},
            "/weather_sources/1",
            '"us-nws" has weather only for the United States and their territories,'
            " not for latitude 43.6, longitude 3.9; open-meteo, met-norway would work,"
            " and dwd where a station is within 50 km.",
        ),
        (
            {"water_supply": {"zones_at_once": 0}},
            "/water_supply/zones_at_once",
            "zones_at_once is 0; it must be a whole number from 1 to 50.",
        ),
        (
            {"water_supply": {"allowance_l": {"day": 50, "month": 5000}}},
            "/water_supply/allowance_l/day",
            "day is 50; the smallest dose of lawn, 3 mm, takes",
        ),
        (
            {"rules": {"watering_hours": [{"from": "09:00", "to": "sunrise"}]}},
            "/rules/watering_hours",
            "watering_hours never open: by the sun of this place they would end before they begin, all year.",
        ),
        (
            {"rules": {"forbidden_hours": [{"from": "21:00", "to": "10:00"}]}},
            "/rules/forbidden_hours",
            "forbidden_hours cover all watering_hours, so water could never flow.",
        ),
        (
            {
                "rules": {
                    "watering_hours": [{"from": "22:00", "to": "05:00"}, {"from": "12:00", "to": "13:00"}],
                    "forbidden_hours": [{"from": "sunrise", "to": "22:00"}, {"from": "21:00", "to": "06:00"}],
                }
            },
            "/rules/forbidden_hours",
            "forbidden_hours cover all watering_hours, so water could never flow.",
        ),
        (
            {"rules": {"pauses": [{"from": "07-01", "to": "06-30"}]}},
            "/rules/pauses",
            "pauses leave lawn no day of any year: it would never be watered. Shorten one of them.",
        ),
        (
            {"rules": {"odd_even": "even", "pauses": [{"from": "08-01", "to": "07-30"}]}},
            "/rules/pauses",
            'pauses leave lawn only days that odd_even, "even", leaves out: it would never be watered. '
            "Shorten one of them, or leave odd_even out.",
        ),
        (
            {"rules": {"watering_hours": [{"from": "22:00", "to": "22:00"}]}},
            "/rules/watering_hours/0/to",
            'to is "22:00", as is from; a span must have a length.',
        ),
        (
            {"rules": {"watering_hours": [{"from": "24:00", "to": "dawn"}]}},
            "/rules/watering_hours/0/from",
            'from is "24:00"; it must be "HH:MM", "sunrise" or "sunset".',
        ),
        (
            {
                "rules": {
                    "watering_hours": [{"from": "22:00", "to": "06:00"}, {"from": "05:00", "to": "07:00"}]
                }
            },
            "/rules/watering_hours",
            "watering_hours has two spans that overlap; join them.",
        ),
        (
            {"rules": {"pauses": [{"from": "2026-07-01", "to": "2026-07-02", "zones": ["lawn", "pond"]}]}},
            "/rules/pauses/0/zones/1",
            'zones names "pond", which is no zone of this garden.',
        ),
        (
            {"rules": {"exempt": ["days"]}},
            "/rules/exempt",
            '"exempt" is not a field here.',
        ),
        (
            {"absence": [{"from": "2026-08-01", "to": "2026-08-01"}]},
            "/absence/0/to",
            "to is 2026-08-01, the day of coming home; it must be after from, 2026-08-01, the day of "
            "leaving.",
        ),
        ({"absence": [{"from": "2026-08-01"}]}, "/absence/0/to", "to is missing."),
        ({"zones": {}}, "/zones", "zones has 0 entries; it must have from 1 to 200."),
        (
            {"zones": {f"z{number}": LOAM_LAWN for number in range(201)}},
            "/zones",
            "zones has 201 entries; it must have from 1 to 200.",
        ),
    ],
)
def test_a_garden_that_cannot_be_is_refused_with_a_sentence(parts, pointer, sentence):
    assert refusals(with_garden(**parts))[pointer].startswith(sentence)


def test_rules_that_leave_a_day_of_the_year_are_taken():
    rules = {"odd_even": "odd", "pauses": [{"from": "08-01", "to": "07-30"}]}
    assert load_garden(with_garden(rules=rules)).rules.pauses == (YearlyPause((8, 1), (7, 30)),)


def test_a_zone_of_its_own_forbidden_hours_is_judged_by_them():
    rules = {"forbidden_hours": [{"from": "20:00", "to": "12:00"}]}
    document = with_zone(rules={"forbidden_hours": []})
    assert load_garden({**document, "rules": rules}).zones[0].rules.forbidden_hours == ()
    mine = with_zone(rules=rules)
    assert "/zones/lawn/rules/forbidden_hours" in refusals(mine)


def test_the_supply_and_the_rules_are_read_in_full():
    garden = load_garden(
        with_garden(
            water_supply={
                "flow_l_min": 40,
                "zones_at_once": 3,
                "gap_s": 0,
                "allowance_l": {"day": 900, "week": 4000, "month": 15000},
            },
            rules={
                "frost_warm_hours": True,
                "wind_limit_m_s": 3.5,
                "forbidden_hours": [{"from": "06:00", "to": "sunset"}],
                "pauses": [
                    {"from": "11-15", "to": "02-29", "because": "Pipes drained"},
                    {"from": "2026-07-01", "to": "2026-07-03", "zones": ["lawn"]},
                ],
            },
        )
    )
    assert garden.water_supply == WaterSupply(40.0, 3, 0, Allowance(900.0, 4000.0, 15000.0))
    assert (garden.rules.frost_warm_hours, garden.rules.wind_limit_m_s) == (True, 3.5)
    assert garden.rules.forbidden_hours == (HoursSpan("06:00", "sunset"),)
    assert garden.rules.pauses == (
        YearlyPause((11, 15), (2, 29), None, "Pipes drained"),
        Pause(dt.date(2026, 7, 1), dt.date(2026, 7, 3), ("lawn",)),
    )


PRICES = {
    "price_per_m3": 2.1,
    "price_steps": [{"above_m3": 10, "price_per_m3": 3.4}, {"above_m3": 25, "price_per_m3": 5}],
    "sewer_share": 0.6,
    "sewer_price_per_m3": 1.9,
}


def test_prices_may_rise_in_steps_and_the_sewer_have_its_share():
    supply = load_garden(with_garden(water_supply=PRICES)).water_supply
    (price,) = supply.prices
    assert price.steps == (PriceStep(10.0, 3.4), PriceStep(25.0, 5.0))
    assert (price.price_per_m3, price.sewer_share, price.sewer_price_per_m3) == (2.1, 0.6, 1.9)


def test_prices_change_through_the_years():
    prices = [{"from": "2027-01-01", "price_per_m3": 2.5}, {"price_per_m3": 2.1}]
    supply = load_garden(with_garden(water_supply={"prices": prices})).water_supply
    assert supply.prices == (Price(2.1), Price(2.5, begins_on=dt.date(2027, 1, 1)))


@pytest.mark.parametrize(
    ("prices", "field", "sentence"),
    [
        (
            {"sewer_share": 0.5},
            "sewer_share",
            "sewer_share needs price_per_m3 beside it.",
        ),
        (
            {**PRICES, "sewer_share": 1.2},
            "sewer_share",
            "sewer_share is 1.2; it must be a number from 0 to 1.",
        ),
        (
            {**PRICES, "price_steps": PRICES["price_steps"][::-1]},
            "price_steps/1/above_m3",
            "above_m3 is 10; it must be above that of the step before, 25.",
        ),
        (
            {"prices": [{"price_per_m3": 2}], "price_per_m3": 2},
            "price_per_m3",
            "price_per_m3 is given beside prices; put it into one of them.",
        ),
        (
            {"prices": [{"from": "2027-01-01", "price_per_m3": 2}]},
            "prices",
            "prices has no prices without from; it must be one, for the days before the others.",
        ),
        (
            {"prices": [{"price_per_m3": 1}, *[{"from": "2027-01-01", "price_per_m3": 2}] * 2]},
            "prices",
            "prices has two prices from 2027-01-01; give one of them.",
        ),
    ],
)
def test_prices_that_cannot_be_are_refused_with_a_sentence(prices, field, sentence):
    assert refusals(with_garden(water_supply=prices)) == {f"/water_supply/{field}": sentence}


def test_uniformity_is_read_in_place_of_efficiency():
    cans = [12.0, 9, 8.5, 11]
    watering = load_garden(with_zone(watering={"method": "overhead-spray", "catch_can_mm": cans}))
    assert watering.zones[0].watering.catch_can_mm == (12.0, 9.0, 8.5, 11.0)
    watering = load_garden(with_zone(watering={"method": "overhead-spray", "distribution_uniformity": 0.6}))
    assert watering.zones[0].watering.distribution_uniformity == 0.6


def test_spans_that_only_the_sun_can_judge_are_taken():
    spans = [{"from": "22:00", "to": "sunrise"}, {"from": "12:00", "to": "14:00"}]

    assert len(load_garden(with_garden(rules={"watering_hours": spans})).rules.watering_hours) == 2


def test_problems_of_several_zones_are_told_at_once():
    document = copy.deepcopy(QUINCE_COURT)
    document["zones"]["fescue-lawn"]["area_m2"] = "85"
    document["zones"]["balcony-troughs"]["planting"] = {}
    document["coastal"] = "yes"

    assert list(refusals(document)) == [
        "/coastal",
        "/zones/balcony-troughs/planting/plant",
        "/zones/fescue-lawn/area_m2",
    ]


@pytest.mark.parametrize("document", [None, [], "garden", 5, True])
def test_what_is_no_object_is_no_garden(document):
    assert refusals(document) == {"": "Here must be an object."}


@pytest.mark.parametrize("part", ["zones", "rules", "water_supply"])
@pytest.mark.parametrize("value", [[], "text", 5, None, [[]]])
def test_a_part_of_another_kind_is_refused(part, value):
    assert f"/{part}" in refusals(with_garden(**{part: value}))


@pytest.mark.parametrize("part", ["planting", "soil", "watering", "site", "rules", "valve"])
@pytest.mark.parametrize("value", [[], "text", 5, None])
def test_a_zone_part_of_another_kind_is_refused(part, value):
    assert list(refusals(with_zone(**{part: value}))) == [f"/zones/lawn/{part}"]


def test_the_id_in_the_address_counts():
    assert load_garden(with_garden(), "home").id == "home"
    assert load_garden(with_garden(id="home"), "home").id == "home"
    assert refusals(with_garden(id="away"), "home") == {
        "/id": 'id is "away"; it must be "home" as in the address, or be left out.'
    }


def test_a_stored_document_is_read_once():
    assert stored_garden(with_garden(), "home") is stored_garden(with_garden(), "home")
    assert stored_garden(with_garden(), "home") is not stored_garden(with_garden(name="Other"), "home")


def test_a_season_can_be_placed_by_region_and_by_the_day_that_leaves_open():
    apple = {"plant": "apple", "leaf_out": "04-12"}
    assert load_garden(with_zone(planting=apple)).zones[0].planting.leaf_out == (4, 12)
    region = catalogue.plant("tomato").stage_lengths[-1].id
    tomato = {"plant": "tomato", "stage_region": region}
    assert load_garden(with_zone(planting=tomato)).zones[0].planting.stage_region == region


STAGES = {"initial": 30, "development": 40, "mid_season": 45, "late_season": 30}
TOMATO = {"plant": "tomato", "planted_on": "2026-05-10"}


def test_stages_can_have_the_owner_s_own_lengths():
    tomato = {**TOMATO, "stage_lengths_d": STAGES}
    assert load_garden(with_zone(planting=tomato)).zones[0].planting.stage_lengths_d == (30, 40, 45, 30)


@pytest.mark.parametrize(
    ("planting", "pointer", "words"),
    [
        # Table 11 has 25 to 35 days for the initial stage of tomatoes.
        ({**TOMATO, "stage_lengths_d": {**STAGES, "initial": 0}}, "/initial", "has 25 to 35 for tomato"),
        ({**TOMATO, "stage_lengths_d": {**STAGES, "late_season": 0}}, "/late_season", "at least 1 day"),
        ({**TOMATO, "stage_lengths_d": {**STAGES, "mid_season": -3}}, "/mid_season", "whole number"),
        ({**TOMATO, "stage_lengths_d": {**STAGES, "development": 12.5}}, "/development", "whole number"),
        ({**TOMATO, "stage_lengths_d": {"initial": 30}}, "/development", "missing"),
        ({**TOMATO, "stage_lengths_d": {**STAGES, "mid_season": 365}}, "", "come to 465 days"),
        ({"plant": "tomato", "stage_lengths_d": STAGES}, "", "give planted_on"),
        ({"plant": "turf-cool-season", "stage_lengths_d": STAGES}, "", "has no stages"),
        ({**TOMATO, "kc": 0.9, "stage_lengths_d": STAGES}, "", "stands beside kc"),
        ({**TOMATO, "stage_region": "california-april", "stage_lengths_d": STAGES}, "", "stage_region"),
    ],
)
def test_stages_that_cannot_be_are_refused_with_what_would_make_sense(planting, pointer, words):
    with pytest.raises(InvalidGarden) as refused:
        load_garden(with_zone(planting=planting))
    told = {problem.pointer: problem.detail for problem in refused.value.problems}
    assert words in told[f"/zones/lawn/planting/stage_lengths_d{pointer}"]


BUSHES, SAGE = (
    {"plant": "shrubs", "share": 0.667},
    {"plant": "herbs-mediterranean", "share": 0.333, "kc": 0.3},
)


@pytest.mark.parametrize(
    ("planting", "field", "words"),
    [
        ({"plant": "apple", "leaf_out": "02-30"}, "leaf_out", "MM-DD"),
        ({"plant": "apple", "leaf_out": "2026-04-12"}, "leaf_out", "MM-DD"),
        ({"plant": "tomato", "leaf_out": "04-12"}, "leaf_out", "planted_on"),
        ({"plant": "turf-cool-season", "leaf_out": "04-12"}, "leaf_out", "no season"),
        ({"plant": "tomato", "stage_region": "the-moon"}, "stage_region", "it must be"),
        ({"plant": "turf-cool-season", "stage_region": "the-moon"}, "stage_region", "leave it out"),
        ({"plants": [BUSHES, {**SAGE, "share": 0.3}]}, "plants", "come to 0.967; they must come to 1"),
        ({"plants": [BUSHES]}, "plants", "has 1 entries"),
        ({"plants": [BUSHES, {"plant": "herbs"}]}, "plants/1/share", "share"),
        ({"plants": [BUSHES, {**SAGE, "plant": "herb"}]}, "plants/1/plant", '"herbs"'),
        ({"plants": [BUSHES, SAGE], "plant": "shrubs"}, "plant", "within each"),
        ({"plants": [BUSHES, SAGE], "kc": 0.5}, "kc", "within each"),
        ({"plants": [BUSHES, {**SAGE, "leaf_out": "03-01"}]}, "plants/1/leaf_out", "no season"),
        ({}, "plant", "plant is missing"),
        ({"kc": 0.5}, "plant", "plant is missing"),
    ],
)
def test_a_season_that_a_plant_lacks_and_plantings_that_make_no_zone_are_refused(planting, field, words):
    with pytest.raises(InvalidGarden) as refused:
        load_garden(with_zone(planting=planting))
    (problem,) = refused.value.problems
    assert problem.pointer == f"/zones/lawn/planting/{field}"
    assert words in problem.detail


def test_several_plantings_share_a_zone():
    zone = load_garden(with_zone(planting={"plants": [BUSHES, SAGE]})).zones[0]

    assert [(plant.plant, plant.share, plant.kc) for plant in zone.plantings] == [
        ("shrubs", 0.667, None),
        ("herbs-mediterranean", 0.333, 0.3),
    ]


def test_numbers_of_a_planting_that_cannot_be_are_told_where_it_stands():
    pot = {"container": {"volume_l": 100}}
    dual = {**SAGE, "kc_method": "dual"}
    with pytest.raises(InvalidGarden) as refused:
        load_garden(with_zone(planting={"plants": [BUSHES, dual]}, soil=pot, area_m2=2))
    (problem,) = refused.value.problems
    assert problem.pointer == "/zones/lawn/planting/plants/1/kc_method"


def test_an_annual_may_be_planted_again_or_every_year():
    def planting(planted_on):
        document = with_zone(planting={"plant": "lettuce", "planted_on": planted_on})
        return load_garden(document).zones[0].planting

    again = planting(["2026-09-01", "2026-04-01"])
    assert (again.planted_on, again.planted_again) == (dt.date(2026, 4, 1), (dt.date(2026, 9, 1),))
    yearly = planting("--04-01")
    assert (yearly.planted_yearly, yearly.planted_on.month, yearly.known_planting) == (True, 4, None)
    assert planting("2026-04-01").known_planting == dt.date(2026, 4, 1)


def test_pots_need_no_area_and_all_else_does():
    pots = {
        "planting": {"plant": "herbs"},
        "soil": {"container": {"count": 6, "volume_l": 20, "diameter_m": 0.3, "spread_m": 0.4}},
        "watering": {"method": "drip-points", "emitters": {"count": 6, "flow_l_h": 2}},
    }
    document = with_garden(zones={"pots": pots})
    assert load_garden(document).zones[0].area_m2 == pytest.approx(6 * 3.14159 / 4 * 0.16, rel=1e-4)
    document["zones"]["pots"]["soil"] = {"texture": "loam"}
    assert refusals(document) == {"/zones/pots/area_m2": "area_m2 is missing."}
