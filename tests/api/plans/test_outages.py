"""Plans while weather services do not answer: through a real dry summer, and through days without any."""

import datetime as dt
import math
from collections.abc import Callable
from zoneinfo import ZoneInfo

import pytest

from api.plans.plan_maker import plan_date
from api.plans.weather_series import fetched_weather
from api.schemas.garden import stored_garden
from api.schemas.state import state_as_written
from api.watering_hours import hours_of
from api.weather.errors import Unreachable, WeatherUnavailable
from api.weather.place import Place
from api.weather.series.hours import HOUR, Attribution, Hour, HourlyWeather
from scheduling.garden.reports import Delivery
from scheduling.plan.initial_state import History
from tests.api.stored_garden import ONE_DAY, Clock, House, Steady, document, lawn
from tests.reference.seattle import seattle_days

SEATTLE = ZoneInfo("America/Los_Angeles")
FIRST, LAST = dt.date(2015, 7, 1), dt.date(2015, 8, 8)
"""Five dry weeks of the summer of 2015; rain is forecast again from the 10th on."""
ROUNDING_MM = 0.05
"""Litres and seconds of a run are rounded down."""
NO_STRESS: dict[str, list[dt.date]] = {"lawn": [], "shrubs": [], "tomatoes": [], "troughs": []}


class Seattle:
    """The source `demo`, with that weather by the hour: exact of what has been.

    Of tomorrow it knows the temperatures, too. From then on they fade, a fifth more each day, into the mean
    of the week before the forecast.
    """

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.days = {day.date: day for day in seattle_days()}
        self.fails_from: dt.datetime | None = None
        self.fails_until: dt.datetime | None = None

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        now = self.clock()
        if self.fails_from is not None and self.fails_from <= now < self.fails_until:
            raise Unreachable("demo", "did not answer.")
        start = dt.datetime.combine(now.date() - (past_days + 1) * ONE_DAY, dt.time(), dt.UTC)
        count = 24 * (past_days + 11)
        hours = tuple(self._hour(start + number * HOUR, now) for number in range(count))
        return HourlyWeather("demo", Attribution("NOAA."), now, 50.0, 10.0, hours)

    def _hour(self, start: dt.datetime, now: dt.datetime) -> Hour:
        date = start.astimezone(SEATTLE).date()
        today = now.astimezone(SEATTLE).date()
        day = self.days[date]
        lowest, highest = day.t_min_c, day.t_max_c
        if (lead := (date - today).days) > 1:
            week = [self.days[today - number * ONE_DAY] for number in range(1, 8)]
            fades = min(1.0, 0.2 * (lead - 1))
            lowest += fades * (sum(day.t_min_c for day in week) / 7 - lowest)
            highest += fades * (sum(day.t_max_c for day in week) / 7 - highest)
        swing = math.cos(2 * math.pi * (start.astimezone(SEATTLE).hour - 15) / 24)
        return Hour(
            start,
            temperature_c=(lowest + highest) / 2 + (highest - lowest) / 2 * swing,
            wind_m_s=day.wind_m_s,
            rain_mm=day.rain_mm / 24,
            rain_probability=None if start < now else 0.8,
        )


def seattle_garden() -> dict[str, object]:
    return document(
        latitude=47.61,
        longitude=-122.33,
        elevation_m=50,
        timezone="America/Los_Angeles",
        zones={
            "lawn": lawn(),
            "shrubs": lawn(planting={"plant": "shrubs"}, watering={"method": "drip-line", "flow_l_min": 5}),
            "tomatoes": lawn(
                area_m2=8,
                planting={"plant": "tomato", "kc": 1.1},
                soil={"texture": "loam"},
                watering={"method": "drip-line", "flow_l_min": 2, "wetted_share": 0.9},
            ),
            "troughs": {
                "area_m2": 2.4,
                "planting": {"plant": "herbs"},
                "soil": {"container": {"volume_l": 180, "capacity_share": 0.5, "unavailable_share": 0.2}},
                "watering": {"method": "drip-points", "emitters": {"count": 24, "flow_l_h": 2}},
            },
        },
    )


def season(path: str, fails: Callable[[Seattle], None]) -> dict[str, list[dt.date]]:
    """Five weeks, each evening's plan carried out; each zone's days of stress in the weather that was."""
    clock = Clock(dt.datetime.combine(FIRST - 20 * ONE_DAY, dt.time(20, 30), SEATTLE).astimezone(dt.UTC))
    source = Seattle(clock)
    fails(source)
    house = House(path, clock, source)
    stored = house.put(seattle_garden())
    evening = FIRST - 20 * ONE_DAY
    stale = []
    while evening < LAST:
        clock.now = dt.datetime.combine(evening, dt.time(21, 30), SEATTLE).astimezone(dt.UTC)
        plan = house.plan("tomorrow")
        assert plan["phase"] == "final"
        assert plan["weather"]["basis"] == "forecast"
        if plan["weather"]["stale"]:
            stale.append(plan["date"])
        evening += ONE_DAY
    assert len(stale) == (2 if source.fails_from is not None else 0)

    # The ledger at the end, with the weather as it was.
    clock.now += dt.timedelta(hours=20)
    garden = stored_garden(stored.document, stored.id)
    opening = state_as_written(house.store.opening(stored.id, stored.document_version))
    deliveries = [
        Delivery(zone["zone"], final.date, float(run["volume_l"]))
        for final in house.store.finals(stored.id, None, None)
        for zone in final.body["zones"]
        for run in zone["runs"]
    ]
    date = LAST + ONE_DAY
    weather = fetched_weather(house.forecasts, garden, opening.date, date, clock())
    history = History(opening, True, tuple(deliveries))
    told = plan_date(garden, weather, hours_of(garden, date), clock(), history, explain=True)
    house.close()
    return {
        zone.zone: [
            row.date
            for row in zone.ledger
            if FIRST <= row.date <= LAST and row.closing_depletion_mm > row.raw_mm + ROUNDING_MM
        ]
        for zone in told.zones
    }


# The hottest days are the 18th and 19th, at 33 and 35 °C after a week of 27: not seen in an outage before.
@pytest.mark.parametrize(
    ("day", "begins_h"),
    [
        (21, 0),
        pytest.param(18, 0, marks=pytest.mark.long),
        pytest.param(17, 12, marks=pytest.mark.long),
        pytest.param(16, 18, marks=pytest.mark.long),
        pytest.param(21, 18, marks=pytest.mark.long),
    ],
)
def test_an_outage_of_48_hours_in_a_dry_season_costs_no_zone_a_day_of_stress(tmp_path, day, begins_h):
    def outage(source: Seattle) -> None:
        begins = dt.datetime(2015, 7, day, begins_h, tzinfo=SEATTLE).astimezone(dt.UTC)
        source.fails_from, source.fails_until = begins, begins + dt.timedelta(hours=48)

    assert season(f"sqlite:///{tmp_path}/rootledger.db", outage) == NO_STRESS


def test_without_an_outage_there_is_no_stress_either(tmp_path):
    """So that the test above is one of the outage."""
    assert season(f"sqlite:///{tmp_path}/rootledger.db", lambda source: None) == NO_STRESS


# Beyond the forecast


def fall_silent(house: House, source: Steady, **described: object) -> None:
    house.put(document(**described))
    house.plan()
    source.fails = True


def test_up_to_72_hours_plans_go_by_the_old_forecast_and_say_so(house, source, clock):
    fall_silent(house, source)
    clock.now += dt.timedelta(hours=71)
    weather = house.plan()["weather"]
    assert (weather["basis"], weather["stale"]) == ("forecast", True)


def test_after_72_hours_plans_go_by_the_days_before_and_count_on_no_rain(house, source, clock):
    rainy = dt.datetime(2026, 7, 18, tzinfo=dt.UTC)  # promised for a day that the plan is for
    source.told = lambda start: {"rain_mm": 2.0, "rain_probability": 1.0} if start >= rainy else {}
    fall_silent(house, source)
    before = house.plan()
    clock.now += dt.timedelta(hours=74)
    plan = house.plan()
    weather = plan["weather"]

    assert plan["date"] == "2026-07-18"
    assert (weather["basis"], weather["stale"], weather["source"]) == ("kept-days", True, "demo")
    assert weather["retrieved_at"] == before["weather"]["retrieved_at"]
    assert weather["eto_mm"] == pytest.approx(before["weather"]["eto_mm"], abs=0.3)
    assert (weather["rain_mm"], weather["counted_rain_mm"]) == (None, 0.0)
    assert (weather["t_min_c"], weather["t_max_c"], weather["sources"]) == (None, None, {})
    assert weather["estimated"] == ["evapotranspiration", "rain"]
    assert weather["lowest_c"] == 16.0  # of the last fortnight
    (note,) = (note for note in plan["notes"] if note["code"] == "kept-days")
    assert "since 18:40 UTC on 14 July" in note["text"]
    assert "16 °C" in note["text"]
    assert any(zone["decision"] == "water" for zone in plan["zones"])


def test_the_last_known_cold_still_stops_watering(house, source, clock):
    cold = dt.datetime(2026, 7, 8, 3, tzinfo=dt.UTC)
    source.told = lambda start: {"temperature_c": 4.0} if start == cold else {}
    fall_silent(house, source)
    assert house.lawn()["reasons"][0]["code"] != "frost-risk"
    clock.now += dt.timedelta(hours=74)
    plan = house.plan()
    assert plan["weather"]["lowest_c"] == 4.0
    assert plan["zones"][0]["reasons"][0]["code"] == "frost-risk"


def test_such_a_plan_becomes_final_as_any_other(house, source, clock):
    fall_silent(house, source)
    clock.to(21, 30, day=18)
    plan = house.plan()
    assert (plan["phase"], plan["weather"]["basis"]) == ("final", "kept-days")
    source.fails = False
    clock.now += dt.timedelta(minutes=30)
    assert house.plan() == plan


def test_its_owner_can_forbid_it(house, source, clock):
    fall_silent(house, source, plan_without_forecast=False)
    clock.now += dt.timedelta(hours=74)
    with pytest.raises(WeatherUnavailable, match="72 hours") as refused:
        house.plan()
    assert refused.value.retry_after_s >= 1


def test_where_not_even_that_is_fair_there_is_no_plan(house, source, clock):
    fall_silent(house, source)
    clock.now += dt.timedelta(days=14)
    with pytest.raises(WeatherUnavailable, match="72 hours"):
        house.plan()


def test_an_answer_made_of_an_old_forecast_does_not_outlive_it(house, source, clock):
    fall_silent(house, source)
    clock.now += dt.timedelta(hours=71, minutes=59)
    answer = house.life.plan("orchard", "next")
    assert answer.fresh_until <= clock() + dt.timedelta(minutes=1)
    clock.now += dt.timedelta(minutes=2)
    assert house.answers.read("orchard", "plan:next", clock()) is None
    assert house.plan()["weather"]["basis"] == "kept-days"


def test_when_a_source_answers_again_the_days_become_what_they_were(house, source, clock):
    source.told = lambda start: {"rain_mm": 0.5} if start.date() == dt.date(2026, 7, 17) else {}
    fall_silent(house, source)
    clock.now += dt.timedelta(hours=90)
    assumed = house.plan()
    source.fails = False
    clock.now += dt.timedelta(minutes=6)
    known = house.plan()
    assert (assumed["weather"]["basis"], known["weather"]["basis"]) == ("kept-days", "forecast")
    assert [note for note in known["notes"] if note["code"] == "kept-days"] == []
