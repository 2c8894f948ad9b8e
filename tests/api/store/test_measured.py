"""Own weather, soil probes' readings and the state of valves."""

import datetime as dt

import pytest

from api.errors import GardenGone
from api.store.rows import StoredMorning, StoredObservation, StoredReading, StoredValve

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
JULY_14, JULY_15, JULY_16 = (dt.date(2026, 7, day) for day in (14, 15, 16))


def keep(store, *told) -> None:
    with store.changing("quince-court") as change:
        for one in told:
            change.put_report(one)


def reading(zone: str, name: str, hour: int, night: dt.date | None = JULY_14, **body) -> StoredReading:
    return StoredReading(zone, name, dt.datetime(2026, 7, 14, hour, 30, tzinfo=dt.UTC), night, body)


TOLD = [
    StoredObservation(JULY_14, {"rain_mm": 4.2}),
    reading("lawn", "a", 3, store_share=0.6),
    StoredValve("lawn", NOW, {"battery_share": 0.4}),
]


@pytest.mark.parametrize("told", TOLD, ids=["observation", "reading", "valve"])
def test_what_is_told_raises_the_version_but_not_that_of_the_document(store, garden, told):
    keep(store, told)
    after = store.garden("quince-court")
    assert after.version > garden.version
    assert after.document_version == garden.document_version


def test_what_is_told_reads_back_within_a_change_and_outside(store, garden):
    keep(store, *TOLD)
    observation, one_reading, valve = TOLD
    assert store.report(StoredObservation, "quince-court", JULY_14) == observation
    assert store.report(StoredReading, "quince-court", "lawn", "a") == one_reading
    assert store.report(StoredValve, "quince-court", "lawn") == valve
    with store.changing("quince-court") as change:
        assert change.report(StoredObservation, JULY_14) == observation
        assert change.report(StoredReading, "lawn", "a") == one_reading
        assert change.report(StoredValve, "lawn") == valve
        assert (
            change.report(StoredObservation, JULY_15),
            change.report(StoredReading, "lawn", "b"),
            change.report(StoredValve, "beds"),
        ) == (None,) * 3
    assert store.report(StoredObservation, "quince-court", JULY_15) is None
    assert store.report(StoredReading, "orchard", "lawn", "a") is None
    assert store.report(StoredValve, "quince-court", "beds") is None


def test_what_is_told_again_takes_the_place_of_the_first(store, garden):
    keep(store, *TOLD)
    again = (
        StoredObservation(JULY_14, {"rain_mm": 5.0}),
        reading("lawn", "a", 12, None, store_share=0.5),
        StoredValve("lawn", NOW + dt.timedelta(hours=1), {"state": "shut"}),
    )
    keep(store, *again)
    assert store.observations("quince-court", None, None) == [again[0]]
    assert store.readings("quince-court", None, None) == [again[1]]
    assert store.valves("quince-court") == [again[2]]


def test_observations_come_by_date_within_both_ends_and_not_more_than_asked_for(store, garden):
    keep(store, *(StoredObservation(date, {}) for date in (JULY_16, JULY_14, JULY_15)))

    def dates(*span, **limit):
        return [row.date for row in store.observations("quince-court", *span, **limit)]

    assert dates(None, None) == [JULY_14, JULY_15, JULY_16]
    assert dates(JULY_15, JULY_15) == [JULY_15]
    assert dates(JULY_15, None, limit=1) == [JULY_15]
    assert dates(None, None, limit=2) == [JULY_14, JULY_15]


def test_readings_come_by_moment_zone_and_id_and_go_on_where_a_list_ended(store, garden):
    order = [
        reading("beds", "z", 3),
        reading("lawn", "a", 3),
        reading("lawn", "b", 3),
        reading("beds", "a", 4),
    ]
    keep(store, *reversed(order))
    assert store.readings("quince-court", None, None) == order
    assert store.readings("quince-court", order[0].measured_at, order[3].measured_at) == order[:3]
    first = store.readings("quince-court", None, None, limit=2)
    assert first == order[:2]
    last = first[-1]
    after = (last.measured_at, last.zone, last.id)
    assert store.readings("quince-court", None, None, after, 2) == order[2:]


def test_readings_of_a_night_leave_out_those_of_the_day_and_of_other_zones(store, garden):
    before_sunrise = reading("lawn", "a", 3, JULY_14)
    others = reading("lawn", "b", 12, None), reading("lawn", "c", 3, JULY_16), reading("beds", "d", 3)
    keep(store, before_sunrise, *others)
    with store.changing("quince-court") as change:
        assert change.readings_of_night("lawn", JULY_14) == [before_sunrise]


def test_what_a_night_comes_to_is_kept_in_the_place_of_what_it_came_to_before(store, garden):
    lawn = [StoredMorning(JULY_14, "lawn", probe, {"store_share": 0.5}) for probe in ("deep", "probe")]
    beds = StoredMorning(JULY_14, "beds", "probe", {"store_share": 0.4})
    with store.changing("quince-court") as change:
        change.put_mornings("lawn", JULY_14, lawn)
        change.put_mornings("beds", JULY_14, [beds])
    assert store.measured("quince-court", JULY_14)[1] == [beds, *lawn]
    assert store.measured("quince-court", JULY_15)[1] == []
    with store.changing("quince-court") as change:
        change.put_mornings("lawn", JULY_14, lawn[1:])
    assert store.measured("quince-court", JULY_14)[1] == [beds, lawn[1]]


def test_observations_and_readings_can_be_taken_back_once(store, garden):
    keep(store, *TOLD)
    before = store.garden("quince-court").version
    with store.changing("quince-court") as change:
        assert change.delete_report(StoredObservation, JULY_14)
        assert change.delete_report(StoredReading, "lawn", "a")
    after = store.garden("quince-court").version
    assert after > before
    with store.changing("quince-court") as change:
        assert not change.delete_report(StoredObservation, JULY_14)
        assert not change.delete_report(StoredReading, "lawn", "a")
    assert store.garden("quince-court").version == after
    assert store.observations("quince-court", None, None) == []
    assert store.readings("quince-court", None, None) == []


def test_a_garden_takes_what_was_told_with_it_and_says_how_many_reports_that_were(store, garden):
    keep(store, *TOLD)
    with store.changing("quince-court") as change:
        assert change.delete() == 2
    with store.changing("quince-court") as change:
        change.put_document({"zones": {}}, "here", NOW)
    assert store.observations("quince-court", None, None) == []
    assert store.readings("quince-court", None, None) == []
    assert store.valves("quince-court") == []


@pytest.mark.parametrize("told", TOLD, ids=["observation", "reading", "valve"])
def test_nothing_is_kept_for_a_garden_that_is_not_there(store, told):
    with pytest.raises(GardenGone):
        keep(store, told)
