"""Checks with the hours that a garden's own sun gives."""

import dataclasses

from api.reviews.checks import findings_of
from scheduling.garden.description import HoursSpan, Rules
from tests.api.stored_garden import EVENING, garden, lawn

SAND = lawn(
    soil={"texture": "sand"}, watering={"method": "overhead-spray", "flow_l_min": 20, "efficiency": 0.8}
)


def codes(**changes):
    found = findings_of(garden(zones={"lawn": SAND}, **changes), EVENING)
    return {finding.code: finding for finding in found}


def hours(opens, closes):
    return {"watering_hours": [{"from": opens, "to": closes}]}


def test_the_usual_hours_are_never_odd():
    assert codes() == {}


def months(**changes):
    return codes(**changes)["hours-sometimes-closed"].text


def test_hours_that_a_summer_sunrise_ends_before_they_begin():
    # Montpellier: the sun rises at about 06:00 on the longest day, after 07:00 all winter.
    told = months(rules=hours("06:30", "sunrise"))
    assert "May, June and July" in told
    assert "January" not in told
    assert "December" not in told


def test_hours_that_no_sunrise_leaves_open():
    rules = Rules(watering_hours=(HoursSpan("09:00", "sunrise"),))
    (finding,) = findings_of(dataclasses.replace(garden(zones={"lawn": SAND}), rules=rules), EVENING)
    assert finding.code == "hours-never-open"


def test_the_sun_of_the_south_is_another():
    # Cape Town: before 05:50 only in its summer.
    south = {"latitude": -33.9, "longitude": 18.4, "timezone": "Africa/Johannesburg"}
    told = months(**south, rules=hours("05:50", "sunrise"))
    assert "January, November and December" in told


def test_where_the_sun_does_not_set_clock_times_stand_in():
    assert codes(latitude=69.65, longitude=18.96, timezone="Europe/Oslo") == {}


def test_a_year_from_now_is_looked_over():
    rules = {"pauses": [{"from": "2026-07-14", "to": "2027-07-14"}]}
    assert set(codes(rules=rules)) == {"never-watered"}
    rules = {"pauses": [{"from": "2026-07-14", "to": "2027-07-13"}]}
    assert codes(rules=rules) == {}
