"""Soil probes in the ledgers of a stored garden, whenever their readings are told."""

import datetime as dt
from dataclasses import replace

import pytest

from api.errors import ReadingNotFound
from api.reports.records import Records, ReportName
from api.reports.soil_moisture import ReadingKind
from api.schemas.batch import KEPT, Named
from api.schemas.moisture import Reading
from tests.api.stored_garden import House, document

JULY_14 = dt.date(2026, 7, 14)
ONE_DAY = dt.timedelta(days=1)
SHARES = {2: 0.55, 3: 0.7, 4: 0.5, 5: 0.35, 6: 0.3}
"""Of the store, by days after 14 July."""


class Household:
    """A garden whose zone has a probe that reads three times a night."""

    def __init__(self, house: House) -> None:
        self.house, self.clock = house, house.clock
        self.probes = Records(self.house.store, self.clock, ReadingKind())
        self.house.put(document(unreported_watering="none"))

    def morning(self, number: int) -> None:
        self.clock.to(9, day=14 + number)
        self.house.plan()

    def readings(self, number: int) -> list[Named[ReportName, Reading]]:
        sunrise_is_after = dt.datetime.combine(JULY_14 + number * ONE_DAY, dt.time(4), dt.UTC)
        return [
            Named(
                ReportName("lawn", f"{number}-{hours}"),
                Reading(
                    sunrise_is_after - dt.timedelta(hours=hours),
                    store_share=SHARES[number] + 0.01 * hours,
                ),
            )
            for hours in (1, 2, 3)
        ]

    def tell(self, named: Named[ReportName, Reading]) -> None:
        self.probes.put("orchard", named.key, named.told)


@pytest.fixture
def punctual(another_house) -> Household:
    return Household(another_house())


@pytest.fixture
def late(another_house) -> Household:
    return Household(another_house())


def test_readings_told_late_and_backwards_give_the_ledger_of_punctual_ones(punctual, late):
    for number in range(8):
        punctual.morning(number)
        late.morning(number)
        for named in punctual.readings(number) if number in SHARES else ():
            punctual.tell(named)
    without = late.house.ledger()
    backwards = [named for number in sorted(SHARES, reverse=True) for named in late.readings(number)]
    outcomes = late.probes.put_all("orchard", backwards)
    assert {outcome.result for outcome in outcomes} == {KEPT}

    told, corrected = punctual.house.ledger(), late.house.ledger()
    for one, other in zip(told, corrected, strict=True):
        assert one[1:] == pytest.approx(other[1:], abs=1e-9)
    assert any(row.adjustment_mm != 0.0 for row in corrected)
    assert all(row.adjustment_mm == 0.0 for row in without)


def test_a_reading_that_is_taken_back_leaves_the_ledger_as_it_was(punctual):
    punctual.morning(3)
    before = punctual.house.ledger()
    (named, *_) = punctual.readings(3)
    punctual.tell(named)
    assert punctual.house.ledger() != before
    punctual.probes.delete("orchard", named.key)
    assert punctual.house.ledger() == before
    with pytest.raises(ReadingNotFound):
        punctual.probes.delete("orchard", named.key)


def test_a_reading_that_is_moved_to_the_day_no_longer_counts(punctual):
    punctual.morning(3)
    before = punctual.house.ledger()
    (named, *_) = punctual.readings(3)
    punctual.tell(named)
    by_day = replace(named.told, measured_at=named.told.measured_at - dt.timedelta(hours=12))
    punctual.tell(Named(named.key, by_day))
    assert punctual.house.ledger() == before
    assert punctual.house.store.measured("orchard", JULY_14)[1] == []


def test_a_probe_that_is_read_before_the_night_s_water_is_not_taken_to_be_dry(punctual):
    """The same water and the same share of the store: what counts is which of them came first."""
    punctual.morning(3)
    (named, *_) = punctual.readings(3)
    punctual.house.report("by-hand", "done", 300.0, at=named.told.measured_at + dt.timedelta(minutes=30))
    before = next(row for row in punctual.house.ledger() if row.date == JULY_14 + 3 * ONE_DAY)
    full_share = 1.0 - before.opening_depletion_mm / before.taw_mm
    as_the_ledger = Reading(named.told.measured_at, store_share=full_share)
    punctual.tell(Named(named.key, as_the_ledger))
    row = next(row for row in punctual.house.ledger() if row.date == JULY_14 + 3 * ONE_DAY)
    assert row.irrigation_mm == 6.0
    assert row.adjustment_mm == pytest.approx(0.0, abs=1e-9)
