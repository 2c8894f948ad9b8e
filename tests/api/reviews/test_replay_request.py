"""A replay asked for on a command line."""

import datetime as dt

import pytest

from api.errors import InvalidRequest
from api.reviews.replay_request import request_from_words, timers_from
from scheduling.review.replay import Timer
from tests.api.stored_garden import document, garden, lawn

TWO = garden(zones={"lawn": lawn(), "back-lawn": lawn()})
SAID = {"from": None, "to": None, "forecast": "perfect"}
DAY = ("season.csv", b"date,t_min_c,t_max_c,rain_mm\n2025-06-01,11,22,0\n")


@pytest.mark.parametrize(
    ("written", "timer"),
    [
        ("2d:20min", Timer(2, run_time_s=1200.0)),
        ("1d:90s", Timer(1, run_time_s=90.0)),
        ("3d:12.5l", Timer(3, volume_l=12.5)),
        ("14d:1440min", Timer(14, run_time_s=86_400.0)),
    ],
)
def test_a_timer_is_days_and_an_amount(written, timer):
    assert timers_from([written], TWO) == {"lawn": timer, "back-lawn": timer}


def test_a_zones_own_timer_goes_before_that_for_all():
    chosen = timers_from(["2d:20min", "back-lawn=1d:5l"], TWO)
    assert chosen == {"lawn": Timer(2, run_time_s=1200.0), "back-lawn": Timer(1, volume_l=5.0)}


def test_a_zone_that_no_timer_is_for_has_none():
    assert list(timers_from(["lawn=2d:20min"], TWO)) == ["lawn"]


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("daily", '"daily" is no timer; it must be days and an amount, as 2d:20min'),
        ("2d:20", "is no timer"),
        ("2d:20minutes", "is no timer"),
        ("0d:20min", "waters every 0 days; it must be 1 to 366"),
        ("400d:20min", "waters every 400 days"),
        ("2d:0l", "gives no water"),
        ("2d:1441min", "runs for more than a day; at most 1440 min"),
        ("lawm=2d:20min", "lawm is no zone of the garden. Did you mean lawn?"),
    ],
)
def test_a_timer_that_cannot_be_is_told_in_a_sentence(written, told):
    with pytest.raises(InvalidRequest) as refused:
        timers_from([written], TWO)
    (problem,) = refused.value.problems
    assert problem.pointer == "--timer"
    assert told in problem.detail


def test_two_timers_for_the_same_zones_are_refused():
    with pytest.raises(InvalidRequest, match="a second timer for every zone"):
        timers_from(["2d:20min", "1d:5l"], TWO)


def test_dates_and_days_are_read():
    said = {"from": "2025-06-01", "to": None, "forecast": "none"}
    request = request_from_words(document(), DAY, said, ())
    assert request.first == dt.date(2025, 6, 1)
    assert (request.last, request.forecast, request.timers) == (None, "none", None)
    assert request.weather is not None
    assert len(request.weather) == 1


def test_a_date_that_is_none_is_told_by_its_option():
    with pytest.raises(InvalidRequest) as refused:
        request_from_words(document(), DAY, {**SAID, "to": "June"}, ())
    assert refused.value.problems[0].pointer == "--to"
    assert 'to is "June"' in refused.value.problems[0].detail


def test_without_days_there_must_be_dates():
    with pytest.raises(InvalidRequest, match="Which days"):
        request_from_words(document(), None, SAID, ())
