"""Gardens are kept as they were given, and every change of one shows."""

import datetime as dt

import pytest

from api.errors import GardenGone
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store

NOW = dt.datetime(2026, 7, 14, 18, 40, 0, 123456, tzinfo=dt.UTC)
DOCUMENT = {"name": "Quince Court", "zones": {"b": {"area_m2": 2.4}, "a": {"area_m2": 85}}, "price": None}


def put(store: Store, garden_id: str, document: dict[str, object], place_key: str = "here") -> StoredGarden:
    with store.changing(garden_id) as change:
        return change.put_document(document, place_key, NOW)


def test_a_garden_reads_back_as_it_was_given(store):
    given = put(store, "quince-court", DOCUMENT)
    read = store.garden("quince-court")
    assert read == given
    assert read.document == DOCUMENT
    assert list(read.document["zones"]) == ["b", "a"]
    assert (read.place_key, read.created_at) == ("here", NOW)


def test_text_of_any_language_and_quotes_reads_back(store):
    name = 'Ümläut\'s "garden"; DROP TABLE gardens; -- 庭 🌱 \\ %s :name'
    put(store, "quince-court", {"name": name}, place_key=name)
    assert store.garden("quince-court").document == {"name": name}
    assert store.is_garden_place(name)
    assert store.garden("' OR 1=1 --") is None


def test_there_is_no_garden_that_was_never_put(store):
    assert store.garden("quince-court") is None
    with store.changing("quince-court") as change:
        assert change.garden is None
    assert store.garden("quince-court") is None
    assert store.gardens(None, 10) == []


def test_another_document_raises_both_versions_and_keeps_the_day_of_creation(store):
    first = put(store, "quince-court", DOCUMENT)
    with store.changing("quince-court") as change:
        assert change.garden == first
        second = change.put_document({"name": "Q"}, "there", NOW + dt.timedelta(days=3))
    assert second.version > first.version
    assert second.document_version > first.document_version
    assert second.created_at == NOW
    assert store.garden("quince-court") == second
    assert (store.is_garden_place("here"), store.is_garden_place("there")) == (False, True)


def test_equal_documents_have_equal_etags_and_others_do_not(store):
    tags = [put(store, "quince-court", {"area_m2": area}).etag for area in (1, 2, 1)]
    assert tags[0] == tags[2] != tags[1]


def test_gardens_are_listed_by_the_characters_of_their_ids_page_by_page(store):
    ids = ["a", "a-b", "a-c", "a1", "ab", "b-1"]
    for garden_id in reversed(ids):
        put(store, garden_id, DOCUMENT)
    assert [garden.id for garden in store.gardens(None, 4)] == ids[:4]
    assert [garden.id for garden in store.gardens("a1", 4)] == ids[4:]
    assert store.gardens("b-1", 4) == []


def test_deleting_a_garden_says_how_many_reports_go_and_takes_everything(store):
    date = dt.date(2026, 7, 15)
    put(store, "quince-court", DOCUMENT)
    garden = put(store, "orchard", DOCUMENT)
    with store.changing("orchard") as change:
        for number in range(3):
            change.put_report(StoredDelivery("lawn", f"run-{number}", date, {}))
    store.keep_final("orchard", date, NOW, {"litres": 1})
    store.keep_opening("orchard", garden.document_version, {"lawn": 3.5})
    with store.changing("orchard") as change:
        assert change.delete() == 3
        assert change.garden is None
    assert store.garden("orchard") is None
    assert store.deliveries("orchard", None, None) == []
    assert store.final("orchard", date) is None
    assert store.opening("orchard", garden.document_version) is None
    assert store.garden("quince-court") is not None


def test_a_garden_made_anew_shares_no_version_with_the_deleted_one(store):
    old = put(store, "quince-court", DOCUMENT)
    with store.changing("quince-court") as change:
        change.delete()
    new = put(store, "quince-court", DOCUMENT)
    assert new.version != old.version
    assert new.document_version != old.document_version


def test_deleting_and_putting_in_one_change_leaves_the_new_garden(store):
    put(store, "quince-court", DOCUMENT)
    with store.changing("quince-court") as change:
        change.put_report(StoredDelivery("lawn", "run-1", dt.date(2026, 7, 15), {}))
        change.delete()
        new = change.put_document({"name": "New"}, "here", NOW)
    assert store.garden("quince-court") == new
    assert store.deliveries("quince-court", None, None) == []


def test_what_is_not_there_cannot_be_deleted(store):
    with pytest.raises(GardenGone, match='"orchard"'), store.changing("orchard") as change:
        change.delete()


def test_a_moment_without_a_time_zone_is_refused(store):
    with pytest.raises(ValueError, match="no time zone"):
        store.answer("quince-court", "plan", NOW.replace(tzinfo=None))
