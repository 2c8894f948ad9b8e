"""Own weather in plans and ledgers of a stored garden, whenever it is told."""

import datetime as dt

import pytest

from api.reports.observations import ObservationKind
from api.reports.records import Records
from api.schemas.observations import ObservationReport
from tests.api.stored_garden import House, document

JULY_14 = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)
RAIN_MM = {2: 7.3, 3: 0.4, 5: 11.9}
"""Told by the gauge, by days after 14 July; else none."""
WATER_L = {1: 180.0, 4: 310.0}


class Household:
    """A garden whose controller reads a plan each evening and reports what it pleases."""

    def __init__(self, house: House) -> None:
        self.house, self.clock = house, house.clock
        self.own = Records(self.house.store, self.clock, ObservationKind())
        self.house.put(document(unreported_watering="none"))

    def evening(self, number: int) -> None:
        self.clock.to(20, 40, day=14 + number)
        self.house.plan()

    def water(self, number: int) -> None:
        self.house.report(
            f"by-hand-{number}", "done", WATER_L[number], at=self.clock() - dt.timedelta(hours=8)
        )

    def gauge(self, number: int) -> None:
        values = {"rain_mm": RAIN_MM.get(number, 0.0), "t_max_c": 27.0 + number}
        self.own.put("orchard", JULY_14 + number * ONE_DAY, ObservationReport(values), must_be_new=False)


@pytest.fixture
def punctual(another_house) -> Household:
    return Household(another_house())


@pytest.fixture
def late(another_house) -> Household:
    return Household(another_house())


def test_a_gauge_told_a_week_late_and_backwards_gives_the_ledger_of_a_punctual_one(punctual, late):
    for number in range(8):
        for household in (punctual, late):
            household.evening(number)
            if number in WATER_L:
                household.water(number)
        if number > 0:
            punctual.gauge(number - 1)
    without = late.house.ledger()
    for number in reversed(range(7)):
        late.gauge(number)

    told, corrected = punctual.house.ledger(), late.house.ledger()
    assert [row.date for row in told] == [row.date for row in corrected]
    for one, other in zip(told, corrected, strict=True):
        assert one[1:] == pytest.approx(other[1:], abs=1e-9)
    rain = {row.date: row.rain_mm for row in corrected}
    assert [rain[JULY_14 + number * ONE_DAY] for number in (2, 3, 5)] == [7.3, 0.4, 11.9]
    # Without the gauge it would have been another account: it did matter.
    assert without[-1].closing_depletion_mm != pytest.approx(corrected[-1].closing_depletion_mm, abs=1.0)


def test_the_weather_in_use_names_the_owner_s_values(punctual):
    punctual.evening(1)
    punctual.gauge(0)
    days = {day["date"]: day for day in punctual.house.life.weather("orchard", None, None)["days"]}
    day = days["2026-07-14"]
    assert (day["rain_mm"], day["t_max_c"]) == (0.0, 27.0)
    assert day["observed"] == ["t_max_c", "rain_mm"]
    assert {other["quantity"]: other["source"] for other in day["borrowed"]} == {
        "temperature": "own-weather",
        "rain": "own-weather",
    }
    assert days["2026-07-13"]["observed"] == []


def test_a_gauge_shown_during_the_day_holds_back_the_evening_s_water(punctual):
    house = punctual.house
    dry = house.lawn()
    assert dry["decision"] == "water"
    punctual.clock.to(20, 45)
    punctual.own.put("orchard", JULY_14, ObservationReport({"rain_mm": 60.0}), must_be_new=False)
    wet = house.lawn()
    assert (wet["decision"], wet["reasons"][0]["code"]) == ("wait", "soil-moist")
    punctual.own.delete("orchard", JULY_14)
    assert house.lawn()["volume_l"] == dry["volume_l"]


def test_what_is_told_of_days_before_the_garden_was_made_corrects_its_first_guess(punctual):
    punctual.evening(1)
    before = punctual.house.ledger()[0].opening_depletion_mm
    punctual.own.put("orchard", JULY_14, ObservationReport({"rain_mm": 80.0}), must_be_new=False)
    after = punctual.house.ledger()[0].opening_depletion_mm
    assert after == 0.0 < before
    punctual.own.delete("orchard", JULY_14)
    assert punctual.house.ledger()[0].opening_depletion_mm == before
