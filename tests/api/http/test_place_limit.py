"""How many strange places a weather service is asked about."""

import datetime as dt

import pytest

from api.errors import TooManyPlaces
from api.http.place_limit import PLACES_AN_HOUR, Visitors
from api.weather.place import Place
from tests.api.stored_garden import Clock

MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def visitors(clock: Clock) -> Visitors:
    return Visitors(lambda key: key == place(-1).key, clock)


def place(number: int) -> Place:
    return Place(10.0 + number, 5.0, "UTC", ("open-meteo",))


def let_in(visitors: Visitors, count: int) -> None:
    for number in range(count):
        visitors.admit(place(number))


def test_twenty_places_an_hour_are_let_in_and_no_more(visitors):
    assert PLACES_AN_HOUR == 20
    let_in(visitors, 20)
    with pytest.raises(TooManyPlaces):
        visitors.admit(place(20))


def test_a_place_that_was_asked_about_may_be_asked_about_again(visitors):
    let_in(visitors, 20)
    let_in(visitors, 20)


def test_the_place_of_a_stored_garden_always_may(visitors):
    let_in(visitors, 20)
    visitors.admit(place(-1))


def test_the_refusal_says_when_to_come_again_and_means_it(visitors, clock):
    visitors.admit(place(0))
    clock.now += dt.timedelta(minutes=10, milliseconds=300)
    for number in range(1, 20):
        visitors.admit(place(number))
    with pytest.raises(TooManyPlaces) as refused:
        visitors.admit(place(20))
    assert refused.value.retry_after_s == 50 * 60
    clock.now += dt.timedelta(seconds=refused.value.retry_after_s)
    visitors.admit(place(20))
    with pytest.raises(TooManyPlaces):
        visitors.admit(place(21))


def test_after_an_hour_all_are_forgotten(visitors, clock):
    let_in(visitors, 20)
    clock.now += 60 * MINUTE
    for number in range(100, 120):
        visitors.admit(place(number))
