"""Strict fields: what JSON means is what is taken, and a refusal names field, value and range."""

import datetime as dt

import marshmallow
import pytest

from api.schemas.base import Schema, problems_of
from api.schemas.fields import (
    ById,
    Day,
    Id,
    Instant,
    Items,
    Number,
    Part,
    Pattern,
    Text,
    TimeZone,
    Truth,
    Whole,
    Word,
)


class Inner(Schema):
    area_m2 = Number(0.01, 100_000, required=True)


class Everything(Schema):
    share = Number(0, 1)
    free = Number()
    at_least = Number(3)
    at_most = Number(None, 3)
    positive = Number(above=0)
    count = Whole(1, 10)
    meter = Truth()
    name = Text(5)
    id = Id()
    priority = Word(("high", "normal", "low"))
    currency = Pattern("[A-Z]{3}", "three capital letters")
    date = Day()
    at = Instant()
    timezone = TimeZone()
    months = Items(Number(0, 1), 2, 3, unique=True)
    zones = ById(Part(Inner), 1, 2)
    inner = Part(Inner)
    renamed = Number(0, 1, data_key="from")


def refusals(document):
    with pytest.raises(marshmallow.ValidationError) as refused:
        Everything().load(document)
    return {problem.pointer: problem.detail for problem in problems_of(refused.value)}


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("share", "5", 'share is "5"; it must be a number from 0 to 1.'),
        ("share", True, "share is true; it must be a number from 0 to 1."),
        ("share", 1.5, "share is 1.5; it must be a number from 0 to 1."),
        ("share", -1, "share is -1; it must be a number from 0 to 1."),
        ("share", float("nan"), "share is nan; it must be a number from 0 to 1."),
        ("free", float("inf"), "free is inf; it must be a number."),
        ("free", [], "free is a list; it must be a number."),
        ("at_least", 2, "at_least is 2; it must be a number of at least 3."),
        ("at_most", 4, "at_most is 4; it must be a number of at most 3."),
        ("positive", 0, "positive is 0; it must be a number above 0."),
        ("count", 5.7, "count is 5.7; it must be a whole number from 1 to 10."),
        ("count", "5", 'count is "5"; it must be a whole number from 1 to 10.'),
        ("count", True, "count is true; it must be a whole number from 1 to 10."),
        ("count", 11, "count is 11; it must be a whole number from 1 to 10."),
        ("meter", "yes", 'meter is "yes"; it must be true or false.'),
        ("meter", 1, "meter is 1; it must be true or false."),
        ("name", "longer", 'name is "longer"; it must be text of at most 5 characters.'),
        ("name", "a\nb", 'name is "a·b"; it must be text without control characters.'),
        ("name", "a\x00b", 'name is "a·b"; it must be text without control characters.'),
        ("name", 5, "name is 5; it must be text of at most 5 characters."),
        ("priority", "hi", 'priority is "hi"; it must be "high", "normal" or "low".'),
        ("currency", "eur", 'currency is "eur"; it must be three capital letters.'),
        (
            "date",
            "15.7.2026",
            'date is "15.7.2026"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.',
        ),
        (
            "date",
            "2026-02-30",
            'date is "2026-02-30"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.',
        ),
        (
            "date",
            "0001-01-01",
            'date is "0001-01-01"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.',
        ),
        (
            "date",
            "20260715",
            'date is "20260715"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.',
        ),
        ("zones", [], "zones is a list; it must be an object with ids as keys."),
        ("zones", {}, "zones has 0 entries; it must have from 1 to 2."),
        ("months", {}, "months is an object; it must be a list."),
        ("months", [1], "months has 1 entries; it must have from 2 to 3."),
        ("inner", [], "Here must be an object."),
        ("from", 2, "from is 2; it must be a number from 0 to 1."),
        ("name", None, "name is null; leave it out instead."),
    ],
)
def test_a_refusal_names_field_value_and_what_is_allowed(field, value, sentence):
    assert refusals({field: value}) == {f"/{field}": sentence}


WRONG = {
    "at": (
        "2026-07-15",
        "2026-07-15T05:15:00",
        "2026-07-15 05:15:00+02:00",
        "2026-07-15T24:00:00Z",
        "2026-13-15T05:15Z",
        5,
    ),
    "id": ("", "-a", "a-", "Lawn", "a_b", "a" * 65, "a\n", "ä", 5),
    "timezone": ("Europe/Pariss", "../etc/passwd", "Europe", "", 5),
}
RIGHT = {"at": "a moment with offset", "id": "lower-case letters, digits and hyphens", "timezone": "IANA"}


@pytest.mark.parametrize(("field", "value"), [(field, value) for field in WRONG for value in WRONG[field]])
def test_a_moment_an_id_or_a_time_zone_of_another_form_is_refused_with_the_right_one(field, value):
    assert RIGHT[field] in refusals({field: value})[f"/{field}"]


def test_values_come_out_as_what_they_are():
    loaded = Everything().load(
        {
            "share": 1,
            "count": 5.0,
            "meter": False,
            "id": "a" * 64,
            "date": "2026-07-15",
            "at": "2026-07-15T05:15:00.5+02:00",
            "timezone": "Europe/Paris",
            "months": [0, 1],
            "zones": {"fescue-lawn": {"area_m2": 85}},
        }
    )

    assert loaded["share"] == 1.0
    assert type(loaded["share"]) is float
    assert type(loaded["count"]) is int
    assert loaded["meter"] is False
    assert loaded["date"] == dt.date(2026, 7, 15)
    assert loaded["at"].utcoffset() == dt.timedelta(hours=2)
    assert loaded["zones"] == {"fescue-lawn": {"area_m2": 85.0}}


def test_all_problems_are_told_at_once_with_their_pointers():
    assert list(
        refusals(
            {
                "share": 2,
                "months": [0, 7, 0],
                "zones": {"fescue-lawn": {"area_m": 85}, "Bad/Id": {}},
            }
        )
    ) == ["/months/1", "/share", "/zones/Bad~1Id", "/zones/fescue-lawn/area_m", "/zones/fescue-lawn/area_m2"]


def test_an_unknown_field_is_refused_with_the_nearest_name():
    assert refusals({"inner": {"area_m": 1, "area_m2": 1}}) == {
        "/inner/area_m": '"area_m" is not a field here. Did you mean area_m2?'
    }


def test_a_value_given_twice_is_refused_where_it_is_given_again():
    assert refusals({"months": [1, 0, 1]}) == {"/months/2": "months has 1 twice."}


def test_a_long_value_is_not_repeated_in_full():
    assert len(refusals({"name": "x" * 10_000})["/name"]) < 120


def test_very_many_problems_are_cut_with_their_count():
    problems = refusals({f"unknown-{number}": 1 for number in range(500)})

    assert len(problems) == 51
    assert problems[""] == "There are 450 more problems; mend these first."
