"""Turns are kept for good, one for each run."""

import datetime as dt

import pytest
from sqlalchemy.exc import IntegrityError

from api.errors import StoreUnavailable
from api.store.rows import StoredTurn

DATE = dt.date(2026, 7, 15)
NOW = dt.datetime(2026, 7, 15, 1, tzinfo=dt.UTC)
TURN = StoredTurn("lawn", "2026-07-15-lawn-1", DATE, "a-key", None, {"format": 1, "volume_l": 300.0})


@pytest.fixture
def garden(store):
    with store.changing("orchard") as change:
        change.put_document({"zones": {}}, "here", NOW)
    return store


def test_a_turn_is_read_back_by_its_run_its_date_and_its_key(garden):
    with garden.changing("orchard") as change:
        before = change.garden.version
        change.keep_turn(TURN)
        assert change.garden.version == before + 1
    assert garden.turns("orchard", DATE) == [TURN]
    assert garden.turns("orchard", DATE + dt.timedelta(days=1)) == []
    assert garden.turn_of_key("orchard", "a-key") == TURN
    assert garden.turn_of_key("orchard", "another") is None
    with garden.changing("orchard") as change:
        assert change.turn("lawn", TURN.run) == TURN
        assert change.turn("lawn", "another") is None


def test_a_run_has_one_turn_ever(garden):
    with garden.changing("orchard") as change:
        change.keep_turn(TURN)
    with pytest.raises((IntegrityError, StoreUnavailable)), garden.changing("orchard") as change:
        change.keep_turn(StoredTurn(TURN.zone, TURN.run, DATE, None, None, {}))


def test_a_turn_is_closed_and_opened_again_by_reports(garden):
    with garden.changing("orchard") as change:
        change.keep_turn(TURN)
        change.close_turn("lawn", TURN.run, NOW)
    assert garden.turns("orchard", DATE)[0].closed_at == NOW
    with garden.changing("orchard") as change:
        change.close_turn("lawn", TURN.run, None)
    assert garden.turns("orchard", DATE) == [TURN]


def test_turns_without_a_key_stand_beside_each_other(garden):
    with garden.changing("orchard") as change:
        for zone in ("bed", "lawn"):
            change.keep_turn(StoredTurn(zone, f"2026-07-15-{zone}-1", DATE, None, None, {}))
    assert [turn.zone for turn in garden.turns("orchard", DATE)] == ["bed", "lawn"]


def test_turns_go_with_their_garden(garden):
    with garden.changing("orchard") as change:
        change.keep_turn(TURN)
    with garden.changing("orchard") as change:
        change.delete()
    assert garden.turns("orchard", DATE) == []
