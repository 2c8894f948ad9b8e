"""Replays for requests: which days, whose hours, one at a time."""

import datetime as dt
import threading
from typing import Any

import pytest

from api.errors import InvalidRequest, ReplayUnderWay, TooManyPlaces
from api.reviews.replays import Replays, replay_for_request
from api.schemas.replay import load_replay_request
from api.weather.errors import WeatherUnavailable
from api.weather.fetch.forecasts import Forecasts
from api.weather.fetch.repository import KeptInMemory
from api.weather.sources.demo import Demo
from scheduling.errors import WeatherGap, WeatherIncomplete
from tests.api.stored_garden import EVENING, Steady, document, lawn
from tests.profile import PATIENCE_S

DAYS = [{"date": f"2025-06-{day:02}", "t_min_c": 11.4, "t_max_c": 24.0, "rain_mm": 0} for day in range(1, 31)]


@pytest.fixture
def forecasts():
    made: list[Forecasts] = []

    def with_source(source: Any) -> Forecasts:
        made.append(Forecasts({"demo": source}, KeptInMemory(), lambda: EVENING))
        return made[-1]

    yield with_source
    for one in made:
        one.close()


def asked(forecasts, source=None, **body: Any) -> dict[str, Any]:
    request = load_replay_request({"garden": document(), **body})
    found = forecasts(source or Demo(lambda: EVENING))
    return replay_for_request(request, found, EVENING, explain=True)


# Days that are given


def test_given_days_are_replayed_without_asking_anybody(forecasts):
    source = Steady(lambda: EVENING)
    body = asked(forecasts, source, weather=DAYS)
    assert (body["days"], body["weather"]["source"], source.asked) == (30, "given", 0)


def test_from_and_to_choose_among_them(forecasts):
    body = asked(forecasts, weather=DAYS, **{"from": "2025-06-11", "to": "2025-06-20"})
    assert (body["from"], body["to"], body["days"]) == ("2025-06-11", "2025-06-20", 10)
    assert body["zones"][0]["ledger"][0]["date"] == "2025-06-11"


@pytest.mark.parametrize(
    ("dates", "told"),
    [
        ({"from": "2025-05-31"}, "from is 2025-05-31; weather has days from 2025-06-01 to 2025-06-30."),
        ({"to": "2025-07-01"}, "to is 2025-07-01; weather has days from 2025-06-01 to 2025-06-30, and"),
    ],
)
def test_dates_beyond_the_days_are_refused(forecasts, dates, told):
    with pytest.raises(InvalidRequest, match=told):
        asked(forecasts, weather=DAYS, **dates)


def test_a_hole_in_given_days_is_named(forecasts):
    with pytest.raises(WeatherGap, match="2025-06-05"):
        asked(forecasts, weather=DAYS[:4] + DAYS[5:])
    with pytest.raises(WeatherIncomplete, match="2025-06-30 lacks rain_mm"):
        asked(forecasts, weather=[*DAYS[:-1], {"date": "2025-06-30", "t_min_c": 11, "t_max_c": 24}])


def test_water_flows_in_the_gardens_own_hours(forecasts):
    closed = document(rules={"watering_hours": [{"from": "22:00", "to": "22:01"}]})
    assert asked(forecasts, garden=closed, weather=DAYS)["volume_l"] == 0.0
    assert asked(forecasts, weather=DAYS)["volume_l"] > 500.0


def test_an_evening_without_forecast_does_not_know_of_rain(forecasts):
    wet = [{**day, "rain_mm": 12 if number % 4 == 3 else 0} for number, day in enumerate(DAYS)]
    knew = asked(forecasts, weather=wet, forecast="perfect")["volume_l"]
    did_not = asked(forecasts, weather=wet, forecast="none")["volume_l"]
    assert knew < did_not


def test_a_crop_that_was_not_in_the_ground_is_noted(forecasts):
    tomato = lawn(planting={"plant": "tomato", "planted_on": "2026-05-02"})
    zone = asked(forecasts, garden=document(zones={"bed": tomato}), weather=DAYS)["zones"][0]
    assert [note["code"] for note in zone["notes"]] == ["season-not-replayed"]
    assert "planted on 2 May 2026" in zone["notes"][0]["text"]


# Days of the garden's source: today is 14 July 2026


def test_past_days_of_the_source_are_replayed_with_its_name(forecasts):
    body = asked(forecasts, **{"from": "2026-06-01"})
    assert (body["from"], body["to"], body["days"]) == ("2026-06-01", "2026-07-13", 43)
    assert body["weather"]["source"] == "demo"
    assert body["weather"]["retrieved_at"] == "2026-07-14T18:40:00+00:00"
    assert "Invented" in body["weather"]["attribution"][0]


@pytest.mark.parametrize(
    ("dates", "told"),
    [
        (
            {"from": "2026-07-01", "to": "2026-07-14"},
            "only days that are over can be replayed, up to 2026-07-13",
        ),
        ({"from": "2025-06-08"}, "must be from 2025-06-09 to 2026-07-13"),
        ({"from": "2026-07-14"}, "must be from 2025-06-09 to 2026-07-13"),
    ],
)
def test_days_that_no_source_could_have_are_refused(forecasts, dates, told):
    with pytest.raises(InvalidRequest, match=told):
        asked(forecasts, **dates)


class Short(Steady):
    """A source that looks back 20 days at most."""

    def hours(self, place, *, past_days):
        return super().hours(place, past_days=min(past_days, 20))


def test_where_the_source_begins_later_it_says_from_when(forecasts):
    with pytest.raises(InvalidRequest, match=r"demo has whole days from 2026-06-2\d on"):
        asked(forecasts, Short(lambda: EVENING), **{"from": "2026-05-01"})


def test_a_day_that_the_source_lacks_is_its_fault(forecasts):
    hole = dt.datetime(2026, 7, 5, 12, tzinfo=dt.UTC)
    source = Steady(lambda: EVENING, lambda start: {"rain_mm": None} if start == hole else {})
    with pytest.raises(WeatherUnavailable, match=r"demo lacks days: .* 2026-07-05"):
        asked(forecasts, source, **{"from": "2026-07-01"})


def test_where_hours_are_known_water_moves_to_warm_ones(forecasts):
    """Every night freezes; the newest answer has the hours of 13 July, and no longer those before."""
    source = Steady(lambda: EVENING, lambda start: {"temperature_c": -1.0} if start.hour < 6 else {})
    cold = lawn(rules={"frost_warm_hours": True})
    body = asked(forecasts, source, garden=document(zones={"lawn": cold}), **{"from": "2026-07-08"})
    (zone,) = body["zones"]

    watered = [row["date"] for row in zone["ledger"] if row["irrigation_mm"] > 0.0]
    assert watered == ["2026-07-13"]
    assert [note["text"] for note in zone["notes"] if note["code"] == "warm-hours-unknown"] == [
        "These days have no hours, so no run could move to a warm one. 5 days of frost were left out."
    ]


def test_where_hours_are_known_windy_ones_stay_without_water(forecasts):
    """Water flows from 02:00 to 04:00 of Paris, 20 litres a minute; the second hour of 13 July is windy."""

    def watered_l(wind_m_s: float) -> float:
        blows = dt.datetime(2026, 7, 13, 1, tzinfo=dt.UTC)
        source = Steady(lambda: EVENING, lambda start: {"wind_m_s": wind_m_s} if start == blows else {})
        large = lawn(area_m2=400, rules={"wind_limit_m_s": 4.0})
        hours = {"watering_hours": [{"from": "02:00", "to": "04:00"}]}
        garden = document(zones={"lawn": large}, rules=hours)
        return asked(forecasts, source, garden=garden, **{"from": "2026-07-13"})["volume_l"]

    assert watered_l(8.0) == 60 * 20 < watered_l(3.0)


# One at a time


class Admitting:
    """Lets everybody in, and remembers."""

    def __init__(self, error: Exception | None = None) -> None:
        self.places: list[Any] = []
        self.error = error

    def admit(self, place):
        self.places.append(place)
        if self.error is not None:
            raise self.error


def test_a_place_is_counted_only_where_a_service_is_asked(forecasts):
    visitors = Admitting()
    replays = Replays(forecasts(Demo(lambda: EVENING)), visitors, lambda: EVENING)
    replays.for_request(load_replay_request({"garden": document(), "weather": DAYS}), False)
    assert visitors.places == []
    replays.for_request(load_replay_request({"garden": document(), "from": "2026-07-10"}), False)
    assert len(visitors.places) == 1


def test_a_second_replay_is_sent_away_and_the_first_comes_through(forecasts):
    begun, go_on = threading.Event(), threading.Event()

    class Waiting(Admitting):
        def admit(self, place):
            begun.set()
            assert go_on.wait(PATIENCE_S)

    replays = Replays(forecasts(Demo(lambda: EVENING)), Waiting(), lambda: EVENING)
    request = load_replay_request({"garden": document(), "from": "2026-07-10"})
    answers: list[dict[str, Any]] = []
    first = threading.Thread(target=lambda: answers.append(replays.for_request(request, False)))
    first.start()
    assert begun.wait(PATIENCE_S)
    with pytest.raises(ReplayUnderWay) as refused:
        replays.for_request(load_replay_request({"garden": document(), "weather": DAYS}), False)
    assert refused.value.retry_after_s == 5
    go_on.set()
    first.join()
    assert answers[0]["days"] == 4


def test_a_replay_that_fails_leaves_the_turn_free(forecasts):
    replays = Replays(forecasts(Demo(lambda: EVENING)), Admitting(TooManyPlaces(60)), lambda: EVENING)
    request = load_replay_request({"garden": document(), "from": "2026-07-10"})
    for _ in range(2):
        with pytest.raises(TooManyPlaces):
            replays.for_request(request, False)


def test_progress_is_told_for_every_day(forecasts):
    told = []
    request = load_replay_request({"garden": document(), "weather": DAYS})
    found = forecasts(Demo(lambda: EVENING))
    replay_for_request(request, found, EVENING, False, progress=lambda *where: told.append(where))
    assert told[-1] == (30, 30)
