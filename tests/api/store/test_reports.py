"""Deliveries, final plans and first guesses."""

import datetime as dt

import pytest

from api.errors import GardenGone
from api.store.rows import StoredDelivery, StoredFinal
from api.store.store import Store

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
JULY_14, JULY_15, JULY_16 = (dt.date(2026, 7, day) for day in (14, 15, 16))


def report(store: Store, *deliveries: StoredDelivery) -> None:
    with store.changing("quince-court") as change:
        for delivery in deliveries:
            change.put_report(delivery)


def test_a_report_reads_back(store, garden):
    delivery = StoredDelivery("lawn", "2026-07-15-lawn-1", JULY_15, {"volume_l": 120.5, "outcome": "done"})
    report(store, delivery)
    assert store.report(StoredDelivery, "quince-court", "lawn", "2026-07-15-lawn-1") == delivery
    assert store.report(StoredDelivery, "quince-court", "beds", "2026-07-15-lawn-1") is None
    with store.changing("quince-court") as change:
        assert change.report(StoredDelivery, "lawn", "2026-07-15-lawn-1") == delivery


def test_a_report_raises_the_version_but_not_that_of_the_document(store, garden):
    report(store, StoredDelivery("lawn", "1", JULY_15, {}))
    after = store.garden("quince-court")
    assert after.version > garden.version
    assert after.document_version == garden.document_version
    assert (after.etag, after.document) == (garden.etag, garden.document)


def test_the_same_id_again_takes_the_place_of_the_first(store, garden):
    report(store, StoredDelivery("lawn", "1", JULY_15, {"outcome": "running"}))
    report(store, StoredDelivery("lawn", "1", JULY_16, {"outcome": "done"}))
    assert store.deliveries("quince-court", None, None) == [
        StoredDelivery("lawn", "1", JULY_16, {"outcome": "done"})
    ]


def test_reports_come_by_date_zone_and_id_within_both_ends(store, garden):
    order = [(JULY_14, "lawn", "z"), (JULY_15, "beds", "b"), (JULY_15, "lawn", "a"), (JULY_16, "beds", "a")]
    report(store, *(StoredDelivery(zone, name, date, {}) for date, zone, name in reversed(order)))

    def listed(first: dt.date | None, last: dt.date | None) -> list[tuple[dt.date, str, str]]:
        return [(row.date, row.zone, row.id) for row in store.deliveries("quince-court", first, last)]

    assert listed(None, None) == order
    assert listed(JULY_15, None) == order[1:]
    assert listed(None, JULY_15) == order[:3]
    assert listed(JULY_15, JULY_15) == order[1:3]
    assert store.deliveries("orchard", None, None) == []


def test_a_report_can_be_taken_back_once(store, garden):
    report(store, StoredDelivery("lawn", "1", JULY_15, {}))
    before = store.garden("quince-court").version
    with store.changing("quince-court") as change:
        assert change.delete_report(StoredDelivery, "lawn", "1")
    after = store.garden("quince-court").version
    assert after > before
    with store.changing("quince-court") as change:
        assert not change.delete_report(StoredDelivery, "lawn", "1")
    assert store.garden("quince-court").version == after


def test_a_new_document_keeps_the_reports_of_a_zone_that_is_gone_from_it(store, garden):
    report(store, StoredDelivery("lawn", "1", JULY_15, {}))
    with store.changing("quince-court") as change:
        change.put_document({"zones": {"beds": {}}}, "here", NOW)
    assert len(store.deliveries("quince-court", None, None)) == 1


def test_nothing_is_kept_for_a_garden_that_is_not_there(store):
    with pytest.raises(GardenGone), store.changing("orchard") as change:
        change.put_report(StoredDelivery("lawn", "1", JULY_15, {}))
    with pytest.raises(GardenGone):
        store.keep_final("orchard", JULY_15, NOW, {})
    assert store.keep_opening("orchard", 1, {"lawn": 2.0}) == {"lawn": 2.0}
    assert store.garden("orchard") is None
    assert store.opening("orchard", 1) is None


def test_the_first_final_plan_stands(store, garden):
    assert store.final("quince-court", JULY_15) is None
    assert store.keep_final("quince-court", JULY_15, NOW, {"litres": (1, 2)}) == {"litres": [1, 2]}
    assert store.keep_final("quince-court", JULY_15, NOW, {"litres": [3]}) == {"litres": [1, 2]}
    assert store.final("quince-court", JULY_15) == {"litres": [1, 2]}
    with store.changing("quince-court") as change:
        assert change.final(JULY_15) == {"litres": [1, 2]}
        assert change.final(JULY_16) is None


def test_a_new_final_plan_raises_the_version_and_a_second_reading_does_not(store, garden):
    store.keep_final("quince-court", JULY_15, NOW, {})
    raised = store.garden("quince-court").version
    assert raised > garden.version
    store.keep_final("quince-court", JULY_15, NOW, {})
    assert store.garden("quince-court").version == raised


def test_final_plans_come_by_date_within_both_ends(store, garden):
    for date in (JULY_16, JULY_14, JULY_15):
        store.keep_final("quince-court", date, NOW, {"date": str(date)})
    assert store.finals("quince-court", JULY_15, None) == [
        StoredFinal(JULY_15, NOW, {"date": "2026-07-15"}),
        StoredFinal(JULY_16, NOW, {"date": "2026-07-16"}),
    ]
    assert [final.date for final in store.finals("quince-court", None, JULY_14)] == [JULY_14]


def test_the_first_guess_for_a_document_stands_until_there_is_another_document(store, garden):
    assert store.opening("quince-court", garden.document_version) is None
    assert store.keep_opening("quince-court", garden.document_version, {"lawn": 4.0}) == {"lawn": 4.0}
    assert store.keep_opening("quince-court", garden.document_version, {"lawn": 5.0}) == {"lawn": 4.0}
    with store.changing("quince-court") as change:
        edited = change.put_document({"zones": {"beds": {}}}, "here", NOW)
    assert store.opening("quince-court", edited.document_version) is None
    assert store.keep_opening("quince-court", edited.document_version, {"lawn": 6.0}) == {"lawn": 6.0}
    assert store.opening("quince-court", edited.document_version) == {"lawn": 6.0}


def test_a_first_guess_for_an_older_document_is_not_kept(store, garden):
    with store.changing("quince-court") as change:
        edited = change.put_document({"zones": {"beds": {}}}, "here", NOW)
    assert store.keep_opening("quince-court", garden.document_version, {"lawn": 5.0}) == {"lawn": 5.0}
    assert store.opening("quince-court", garden.document_version) is None
    assert store.opening("quince-court", edited.document_version) is None
