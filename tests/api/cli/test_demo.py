"""The garden of the demonstration."""

import dataclasses

from api.cli import demo
from api.reviews.checks import findings_of
from api.schemas.garden import load_garden


def test_the_garden_is_valid_under_its_id():
    garden = load_garden(demo.garden_document(), demo.GARDEN_ID)
    assert garden.id == "quince-court"
    assert garden.weather_sources == ("demo",)


def test_it_shows_what_a_garden_can_hold():
    zones = {zone.id: zone for zone in load_garden(demo.garden_document()).zones}
    assert list(zones) == ["fescue-lawn", "shrub-border", "vegetable-bed", "balcony-troughs"]
    assert zones["shrub-border"].watering.method == "drip-line"
    assert zones["vegetable-bed"].planting.planted_on is not None
    assert zones["balcony-troughs"].soil.container is not None
    assert zones["balcony-troughs"].site.rain_share < 1


def test_nothing_about_it_is_odd_or_not_acted_on():
    garden = load_garden(demo.garden_document())
    assert findings_of(garden, demo.PINNED_NOW) == ()


def test_each_caller_has_a_document_of_its_own():
    demo.garden_document()["zones"].clear()
    assert demo.garden_document()["zones"]


def test_its_evening_is_before_the_plan_is_final_and_in_its_season():
    garden = load_garden(demo.garden_document())
    assert demo.PINNED_NOW.astimezone().tzinfo is not None
    assert dataclasses.asdict(garden)["timezone"] == "Europe/Paris"
    assert (demo.PINNED_NOW.month, demo.PINNED_NOW.hour) == (7, 18)
