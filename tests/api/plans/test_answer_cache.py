"""An answer holds until its garden, its place, the release or the clock changes."""

import datetime as dt

import pytest

from api.plans.answer_cache import Answer, Answers
from api.store.rows import StoredDelivery, StoredGarden
from api.store.store import Store
from api.store.weather import WeatherRows
from api.weather.series.hours import Attribution, HourlyWeather

NOW = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)
LATER = NOW + dt.timedelta(hours=1)
BODY = b'{"volume_l": 1214}\x00\xff'
WEATHER = HourlyWeather("demo", Attribution("invented"), NOW, None, 2.0, ())


@pytest.fixture
def garden(store: Store) -> StoredGarden:
    return put(store, {"name": "Quince Court"})


@pytest.fixture
def place_version(store: Store) -> int:
    return WeatherRows(store).keep("here", WEATHER, [])


def put(store: Store, document: dict[str, object], place_key: str = "here") -> StoredGarden:
    with store.changing("quince-court") as change:
        return change.put_document(document, place_key, NOW)


def keep(store: Store, garden: StoredGarden, place_version: int | None, body: bytes = BODY) -> Answer:
    return Answers(store).keep("quince-court", "plan", garden.version, place_version, LATER, body, NOW)


def read(store: Store, now: dt.datetime = NOW) -> Answer | None:
    return Answers(store).read("quince-court", "plan", now)


def test_an_answer_is_given_as_it_was_made(store, garden, place_version):
    made = keep(store, garden, place_version)
    assert read(store) == made == Answer(made.etag, BODY, LATER)
    assert Answers(store).read("quince-court", "plan/lawn", NOW) is None
    assert Answers(store).read("orchard", "plan", NOW) is None


def test_equal_bytes_have_equal_etags_and_others_do_not(store, garden, place_version):
    first, second = (keep(store, garden, place_version, body).etag for body in (b"a", b"b"))
    assert first != second
    assert keep(store, garden, place_version, b"a").etag == first


def test_the_newest_answer_is_the_one_given(store, garden, place_version):
    keep(store, garden, place_version, b"old")
    keep(store, garden, place_version, b"new")
    assert read(store).body == b"new"


def test_a_new_document_ends_an_answer(store, garden, place_version):
    keep(store, garden, place_version)
    put(store, {"name": "Other"})
    assert read(store) is None


def test_a_report_ends_an_answer(store, garden, place_version):
    keep(store, garden, place_version)
    with store.changing("quince-court") as change:
        change.put_report(StoredDelivery("lawn", "1", NOW.date(), {}))
    assert read(store) is None


def test_a_new_forecast_ends_an_answer(store, garden, place_version):
    keep(store, garden, place_version)
    newer = WeatherRows(store).keep("here", WEATHER, [])
    assert read(store) is None
    keep(store, garden, newer)
    assert read(store) is not None


def test_a_forecast_for_another_place_does_not(store, garden, place_version):
    keep(store, garden, place_version)
    WeatherRows(store).keep("there", WEATHER, [])
    assert read(store) is not None


def test_a_garden_that_moves_ends_an_answer(store, garden, place_version):
    keep(store, garden, place_version)
    put(store, {"name": "Quince Court"}, place_key="there")
    assert read(store) is None


def test_an_answer_holds_until_the_moment_that_changes_it(store, garden, place_version):
    keep(store, garden, place_version)
    assert read(store, LATER - dt.timedelta(microseconds=1)) is not None
    assert read(store, LATER) is None


def test_moments_are_compared_whatever_their_offset(store, garden, place_version):
    keep(store, garden, place_version)
    paris = dt.timezone(dt.timedelta(hours=2))
    honolulu = dt.timezone(dt.timedelta(hours=-10))
    just_before = LATER - dt.timedelta(seconds=1)
    for zone in (paris, honolulu):
        assert read(store, just_before.astimezone(zone)) is not None
        assert read(store, LATER.astimezone(zone)) is None


def test_an_answer_of_another_release_does_not_count(store, garden, place_version, database_url):
    keep(store, garden, place_version)
    newer = Store.open(database_url, release="2")
    try:
        assert read(newer) is None
    finally:
        newer.close()


def test_without_weather_an_answer_hangs_on_the_garden_alone(store, garden):
    keep(store, garden, None)
    assert read(store).body == BODY
    WeatherRows(store).keep("here", WEATHER, [])
    assert read(store) is not None
    put(store, {"name": "Other"})
    assert read(store) is None


def test_an_answer_with_weather_needs_a_place_that_is_stored(store, garden):
    keep(store, garden, 1)
    assert read(store) is None


def test_an_answer_made_from_what_has_changed_meanwhile_never_counts(store, garden, place_version):
    put(store, {"name": "Other"})
    keep(store, garden, place_version)
    assert read(store) is None


def test_an_answer_for_a_garden_that_is_gone_is_made_but_not_kept(store, garden, place_version):
    with store.changing("quince-court") as change:
        change.delete()
    assert keep(store, garden, place_version).body == BODY
    assert read(store) is None


def test_an_answer_for_a_deleted_garden_is_none_for_the_one_made_in_its_place(store, garden, place_version):
    with store.changing("quince-court") as change:
        change.delete()
    put(store, {"name": "Quince Court"})
    keep(store, garden, place_version)
    assert read(store) is None
