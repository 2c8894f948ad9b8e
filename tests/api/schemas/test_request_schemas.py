"""What comes beside a garden: weather days, state, deliveries."""

import datetime as dt

import marshmallow
import pytest

from api.schemas.base import problems_of
from api.schemas.deliveries import DeliveryReport, DeliverySchema
from api.schemas.plan_request import PlanRequestSchema
from api.schemas.state import StateSchema, dump_state, state_as_written
from api.schemas.weather import WeatherDaySchema
from scheduling.balance.weather import WeatherDay
from scheduling.garden.reports import Delivery, Opening, StandState
from tests.api.stored_garden import LOAM_LAWN

GARDEN = {
    "latitude": 43.6,
    "longitude": 3.9,
    "timezone": "Europe/Paris",
    "zones": {"lawn": LOAM_LAWN},
}


def refusals(schema, document):
    with pytest.raises(marshmallow.ValidationError) as refused:
        schema().load(document)
    return {problem.pointer: problem.detail for problem in problems_of(refused.value)}


def test_a_weather_day_is_read_and_what_is_left_out_is_not_known():
    day = WeatherDaySchema().load({"date": "2026-07-14", "t_max_c": 31.4, "rain_mm": 0})

    assert day == WeatherDay(dt.date(2026, 7, 14), t_max_c=31.4, rain_mm=0.0)
    assert day.rain_probability is None


def test_a_weather_day_whose_numbers_contradict_each_other_is_refused():
    assert refusals(
        WeatherDaySchema,
        {"date": "2026-07-14", "t_min_c": 20, "t_max_c": 10, "rh_min_pct": 80, "rh_max_pct": 70},
    ) == {
        "/rh_min_pct": "rh_min_pct is 80; it must not be above rh_max_pct, 70.",
        "/t_min_c": "t_min_c is 20; it must not be above t_max_c, 10.",
    }


def test_a_state_is_the_opening_of_a_ledger():
    state = {
        "date": "2026-07-14",
        "zones": {
            "lawn": {"depletion_mm": 4.25, "turns_after": 1},
            "bed": {"depletion_mm": 0, "turns_without": 2},
        },
    }

    assert StateSchema().load(state) == Opening(
        dt.date(2026, 7, 14), {"lawn": 4.25, "bed": 0.0}, {"bed": 2}, {"lawn": 1}
    )


def test_a_state_tells_of_the_soils_surface_and_of_each_planting():
    state = {
        "date": "2026-07-14",
        "zones": {
            "bed": {"depletion_mm": 4.25, "surface_depletion_mm": 12.5, "surface_wetted_share": 0.4},
            "border": {
                "depletion_mm": 5.0,
                "plants": [{"depletion_mm": 4.0}, {"depletion_mm": 6.0, "surface_depletion_mm": 1.0}],
            },
            "lawn": {"depletion_mm": 1.0, "assumed": True},
        },
    }
    opening = StateSchema().load(state)

    assert opening == state_as_written(state)
    assert opening.depletion_mm == {"bed": 4.25, "border": 5.0, "lawn": 1.0}
    assert opening.stands == {
        "bed": (StandState(4.25, 12.5, 0.4),),
        "border": (StandState(4.0), StandState(6.0, 1.0)),
    }
    assert dump_state(opening) == state


def test_a_delivery_is_announced_and_completed():
    started_at = dt.datetime(2026, 7, 15, 5, 15, tzinfo=dt.timezone(dt.timedelta(hours=2)))

    announced = {"started_at": "2026-07-15T05:15:00+02:00", "outcome": "running"}
    assert DeliveryReport(**DeliverySchema().load(announced)) == DeliveryReport(started_at, "running")
    completed = DeliverySchema().load(
        {
            "started_at": "2026-07-15T05:15:00+02:00",
            "outcome": "lost-contact",
            "volume_l": None,
            "ended_at": "2026-07-15T06:15:00+02:00",
        }
    )
    assert DeliveryReport(**completed) == DeliveryReport(
        started_at, "lost-contact", None, started_at + dt.timedelta(hours=1)
    )


@pytest.mark.parametrize(
    ("parts", "pointer"),
    [
        ({"outcome": "running", "volume_l": 5}, "/volume_l"),
        ({"outcome": "running", "ended_at": "2026-07-15T06:15:00+02:00"}, "/ended_at"),
        ({"outcome": "done"}, "/volume_l"),
        ({"outcome": "done", "volume_l": -1}, "/volume_l"),
        ({"outcome": "finished", "volume_l": 1}, "/outcome"),
        ({"outcome": "done", "volume_l": 1, "ended_at": "2026-07-15T04:15:00+02:00"}, "/ended_at"),
        ({"outcome": "done", "volume_l": 1, "litres": 1}, "/litres"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused(parts, pointer):
    assert list(refusals(DeliverySchema, {"started_at": "2026-07-15T05:15:00+02:00", **parts})) == [pointer]


def test_a_plan_can_be_asked_for_with_a_garden_alone():
    request = PlanRequestSchema().load({"garden": GARDEN})

    assert (request.date, request.weather, request.opening, request.deliveries) == (None, None, None, ())
    assert request.garden.zones[0].id == "lawn"


def test_weather_days_are_put_in_order():
    request = PlanRequestSchema().load(
        {"garden": GARDEN, "weather": [{"date": "2026-07-15"}, {"date": "2026-07-14"}]}
    )

    assert [day.date.day for day in request.weather] == [14, 15]


@pytest.mark.parametrize(
    ("given", "date"),
    [
        ({"date": "2026-07-14"}, dt.date(2026, 7, 14)),
        # Clock time in Paris is two hours ahead of UTC: 14:59 belongs to its own date, 15:00 to the next.
        ({"started_at": "2026-07-14T12:59:00Z"}, dt.date(2026, 7, 14)),
        ({"started_at": "2026-07-14T13:00:00Z"}, dt.date(2026, 7, 15)),
    ],
)
def test_a_delivery_belongs_to_its_garden_day(given, date):
    request = PlanRequestSchema().load(
        {"garden": GARDEN, "deliveries": [{"zone": "lawn", "volume_l": 100, **given}]}
    )

    assert request.deliveries == (Delivery("lawn", date, 100.0),)


@pytest.mark.parametrize(
    ("parts", "pointer", "sentence"),
    [
        (
            {"weather": [{"date": "2026-07-14"}, {"date": "2026-07-14"}]},
            "/weather/1/date",
            "date is 2026-07-14, which an earlier entry of the list has too.",
        ),
        ({"weather": []}, "/weather", "weather has 0 entries; it must have from 1 to 400."),
        (
            {"carry_over": {"date": "2026-07-14", "zones": {"lawns": {"depletion_mm": 1}}}},
            "/carry_over/zones/lawns",
            '"lawns" is no zone of the garden. Did you mean lawn?',
        ),
        (
            {"deliveries": [{"zone": "bed", "date": "2026-07-14", "volume_l": 1}]},
            "/deliveries/0/zone",
            'zone is "bed", which is no zone of the garden.',
        ),
        (
            {"deliveries": [{"zone": "lawn", "volume_l": 1}]},
            "/deliveries/0/date",
            "date is missing; give it, or started_at.",
        ),
        (
            {
                "deliveries": [
                    {
                        "zone": "lawn",
                        "volume_l": 1,
                        "date": "2026-07-14",
                        "started_at": "2026-07-14T13:00:00Z",
                    }
                ]
            },
            "/deliveries/0/started_at",
            "started_at says again what date says; give only one of them.",
        ),
        (
            {"garden": {**GARDEN, "zones": {}}},
            "/garden/zones",
            "zones has 0 entries; it must have from 1 to 200.",
        ),
        ({"dates": "2026-07-14"}, "/dates", '"dates" is not a field here. Did you mean date?'),
    ],
)
def test_a_request_that_cannot_be_is_refused_with_a_sentence(parts, pointer, sentence):
    assert refusals(PlanRequestSchema, {"garden": GARDEN, **parts}) == {pointer: sentence}
