"""What is odd about a garden is found, told with its numbers, and nothing else is."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from scheduling.check.check import check_garden
from scheduling.check.hours import HoursOverYear
from scheduling.errors import InvalidGarden
from scheduling.garden.description import (
    Absence,
    Garden,
    HoursSpan,
    Pause,
    Rules,
    Soil,
    Watering,
    WaterSupply,
    Zone,
)
from scheduling.reasons import Finding
from scheduling.reasons.description_notes import SeasonEnds
from scheduling.reasons.findings import (
    EfficiencyAbovePublished,
    FlowBelowMeter,
    HoursSometimesClosed,
    NeverWatered,
)
from scheduling.reasons.tables import codes as codes_of
from scheduling.reasons.words import METRIC
from scheduling.tap.windows import Span
from tests.scheduling.gardens import (
    JULY_1,
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    night_before,
    with_planting,
    with_rules,
    with_site,
    with_valve,
    with_watering,
)

YEAR = [JULY_1 + ahead * ONE_DAY for ahead in range(366)]
LOAM_LAWN = replace(LAWN, soil=Soil(texture="loam"))
"""TAW 28 mm, RAW 14 mm, under 24 mm/h."""


def over_year(
    spans_of: Callable[[dt.date], tuple[Span, ...]] = lambda date: (night_before(date),), described: int = 1
) -> HoursOverYear:
    return HoursOverYear(YEAR, [(date, spans_of(date)) for date in YEAR[::7]], described)


def found(garden: Garden, hours: HoursOverYear | None = None) -> list[Finding]:
    findings = list(check_garden(garden, hours or over_year()))
    assert {finding.code for finding in findings} <= set(codes_of("findings"))
    texts = [text for one in findings for text in (one.text, one.about.advice(METRIC))]
    assert all(text.endswith(".") for text in texts)
    return findings


def only(zone: Zone, hours: HoursOverYear | None = None, **fields: object) -> Finding:
    (finding,) = found(a_garden(zone, **fields), hours)
    return finding


def codes(garden: Garden, hours: HoursOverYear | None = None) -> list[str]:
    return [finding.code for finding in found(garden, hours)]


@pytest.mark.parametrize("zone", [LAWN, SHRUBS, TROUGHS], ids=lambda zone: zone.id)
def test_nothing_is_found_where_nothing_is_odd(zone: Zone) -> None:
    assert found(a_garden(zone)) == []


def test_numbers_that_cannot_be_are_raised_and_not_found() -> None:
    with pytest.raises(InvalidGarden):
        check_garden(a_garden(with_watering(LAWN, flow_l_min=0.5)), over_year())


# Numbers of a zone


def test_an_efficiency_above_the_best_that_is_published() -> None:
    finding = only(with_watering(LAWN, efficiency=0.9))
    assert (finding.code, finding.pointer) == (
        "efficiency-above-published",
        "/zones/lawn/watering/efficiency",
    )
    assert finding.about == EfficiencyAbovePublished(0.9, 0.85, 0.7)
    assert found(a_garden(with_watering(LAWN, efficiency=0.85))) == []


def test_a_flow_below_what_the_meter_counts() -> None:
    finding = only(with_valve(SHRUBS, min_flow_l_min=5.0))
    assert (finding.code, finding.pointer) == ("flow-below-meter", "/zones/shrubs/valve/min_flow_l_min")
    assert finding.about == FlowBelowMeter(4.0, 5.0)
    assert found(a_garden(with_valve(SHRUBS, min_flow_l_min=5.0, meter=False))) == []


def test_a_flow_above_the_supply() -> None:
    finding = only(LAWN, water_supply=WaterSupply(flow_l_min=15.0))
    assert (finding.code, finding.pointer) == ("flow-above-supply", "/zones/lawn/watering/flow_l_min")


def test_a_smallest_depth_above_half_of_raw() -> None:
    # RAW is 20 mm.
    finding = only(with_watering(LAWN, smallest_depth_mm=10.5))
    assert (finding.code, finding.pointer) == (
        "smallest-depth-large",
        "/zones/lawn/watering/smallest_depth_mm",
    )
    assert finding.about.advice(METRIC) == "Give at most 10.0 mm."
    assert found(a_garden(with_watering(LAWN, smallest_depth_mm=10.0))) == []
    shallow = with_planting(LAWN, root_depth_m=0.03)
    assert found(a_garden(with_watering(shallow, smallest_depth_mm=None))) == []


@pytest.mark.parametrize(
    ("watering", "code"),
    [
        (Watering("overhead-spray", efficiency=0.8), "flow-assumed"),
        (Watering("overhead-spray", flow_l_min=5.0, efficiency=0.8), "rate-unusual"),
    ],
)
def test_what_is_odd_about_a_flow_is_found_with_something_to_do(watering: Watering, code: str) -> None:
    (finding, *_) = found(a_garden(replace(LAWN, watering=watering)))
    assert finding.code == code
    assert finding.pointer.startswith("/zones/lawn/watering")


def test_a_vegetable_without_a_planting_date() -> None:
    zone = with_planting(LAWN, plant="tomato", kc=None, root_depth_m=None)
    first, *_ = found(a_garden(zone))
    assert (first.code, first.pointer) == ("planting-date-unknown", "/zones/lawn/planting")


def test_when_a_vegetables_season_ends_is_told_with_how_to_extend_it() -> None:
    # FAO-56 table 11, tomatoes: 145 days.
    zone = with_planting(LAWN, plant="tomato", kc=None, root_depth_m=None, planted_on=JULY_1)
    (finding,) = [one for one in found(a_garden(zone)) if one.code == "season-ends"]
    assert finding.pointer == "/zones/lawn/planting"
    assert isinstance(finding.about, SeasonEnds)
    assert finding.about.ends_on == JULY_1 + 144 * ONE_DAY
    ended = with_planting(zone, season_ends=((11, 30),))
    assert "season-ends" not in [one.code for one in found(a_garden(ended))]


# Water faster than the ground takes it in: loam takes in 8.89 mm/h and holds 7.62 mm on flat ground


def test_a_rate_above_what_the_soil_takes_in_for_too_long() -> None:
    # 7.62 mm fill up in 7.62 / (24 - 8.89) h = 30 min; 14 mm at 0.8 take 44 min, twice 22 min: what these
    # leave standing, 22 x (24 - 8.89) / 60 mm, goes in within 22 x (24 / 8.89 - 1) = 37 min.
    finding = only(LOAM_LAWN)
    assert (finding.code, finding.pointer) == ("rate-above-intake", "/zones/lawn/watering/flow_l_min")
    assert "at 24 mm an hour, and this ground takes in 9. It would run off after 30 minutes" in finding.text
    assert "one refill takes 44 minutes" in finding.text
    assert finding.about.advice(METRIC).startswith("Plans give it in 2 runs, 37 minutes apart")


def test_a_slope_holds_less() -> None:
    # 5.334 mm above 6 %: 5.334 / (24 - 8.89) h = 21 min.
    finding = only(with_site(LOAM_LAWN, slope_pct=8.0))
    assert "this ground on its slope of 8 % takes in" in finding.text
    assert "after 21 minutes" in finding.text


@pytest.mark.parametrize(
    "zone",
    [
        replace(LAWN, soil=Soil(texture="sand")),  # a refill ends before its surface is full
        with_watering(LOAM_LAWN, flow_l_min=7.0),  # 8.4 mm/h go in as they come
        with_watering(LOAM_LAWN, method="drip-line", flow_l_min=14.0),  # wets spots
    ],
)
def test_what_goes_into_the_ground_is_not_odd(zone: Zone) -> None:
    assert "rate-above-intake" not in codes(a_garden(zone))


# Hours


def test_a_run_longer_than_the_hours() -> None:
    # A refill of 20 mm at 0.8 through 20 l/min on 50 m2 takes 62.5 min.
    def an_hour(date: dt.date) -> tuple[Span, ...]:
        return (
            night_before(date, opens_h=22, closes_h=6)._replace(
                closes=night_before(date).opens + dt.timedelta(hours=1)
            ),
        )

    finding = only(LAWN, over_year(an_hour))
    assert (finding.code, finding.pointer) == ("run-longer-than-hours", "/zones/lawn/watering/flow_l_min")
    assert "takes 62 minutes" in finding.text
    assert "last only 60 minutes" in finding.text


def test_hours_too_short_for_all_zones_on_a_hot_day() -> None:
    # 8 mm at 0.8 on 50 m2 are 500 l: 25 min a lawn. 20 of them and 19 gaps of 2 min want 9 h of 8.
    lawns = [replace(LAWN, id=f"lawn-{number}") for number in range(20)]
    (finding,) = found(a_garden(*lawns))
    assert (finding.code, finding.pointer) == ("hours-too-short", "/rules/watering_hours")
    assert "need 9 hours a night" in finding.text
    assert found(a_garden(*lawns[:17])) == []


def test_fewer_watering_days_want_longer_nights() -> None:
    # 9 lawns want 225 min a day, every other day 450 and 16 of gaps: within 480. Twice a week, 788.
    lawns = [with_rules(replace(LAWN, id=f"lawn-{number}"), odd_even="odd") for number in range(9)]
    assert "hours-too-short" not in codes(a_garden(*lawns))
    lawns = [with_rules(lawn, odd_even=None, watering_days=("mon", "thu")) for lawn in lawns]
    assert "hours-too-short" in codes(a_garden(*lawns))


def test_hours_that_never_open() -> None:
    finding = only(LAWN, over_year(lambda date: ()))
    assert (finding.code, finding.pointer) == ("hours-never-open", "/rules/watering_hours")


def test_hours_that_are_closed_in_summer() -> None:
    def but_in_july(date: dt.date) -> tuple[Span, ...]:
        return () if date.month == 7 else (night_before(date),)

    finding = only(LAWN, over_year(but_in_july))
    assert finding.code == "hours-sometimes-closed"
    assert finding.about == HoursSometimesClosed((7,))


def test_a_second_span_that_is_closed_at_times() -> None:
    garden = a_garden(
        LAWN, rules=Rules(watering_hours=(HoursSpan("22:00", "06:00"), HoursSpan("12:00", "sunset")))
    )
    assert codes(garden, over_year(described=2)) == ["hours-sometimes-closed"]


# Days and pauses


def test_pauses_that_cover_everything() -> None:
    pauses = (Pause(YEAR[0], YEAR[200]), Pause(YEAR[201], YEAR[-1]))
    finding = only(LAWN, rules=Rules(pauses=pauses))
    assert (finding.code, finding.pointer) == ("never-watered", "/rules/pauses")
    assert finding.about == NeverWatered(YEAR[0], YEAR[-1], are_all_paused=True)
    (own,) = found(a_garden(with_rules(LAWN, pauses=pauses)))
    assert own.pointer == "/zones/lawn/rules/pauses"


def test_pauses_that_cover_every_watering_day() -> None:
    # Mondays only, each of them paused.
    mondays = tuple(Pause(date, date) for date in YEAR if date.weekday() == 0)
    garden = a_garden(with_rules(LAWN, watering_days=("mon",), pauses=mondays))
    never = next(finding for finding in found(garden) if finding.code == "never-watered")
    assert never.about == NeverWatered(YEAR[0], YEAR[-1], are_all_paused=False)


def test_a_pause_that_ends_is_not_odd() -> None:
    assert found(a_garden(LAWN, rules=Rules(pauses=(Pause(YEAR[0], YEAR[-2]),)))) == []


def test_zones_are_told_in_their_order() -> None:
    garden = a_garden(with_watering(LAWN, efficiency=0.9), POTS)
    assert [finding.pointer.split("/")[2] for finding in found(garden)] == ["lawn", "pots"]


def test_plants_of_different_need_on_one_valve_are_told_and_alike_ones_are_not() -> None:
    thirsty, thrifty = replace(LAWN.planting, share=0.5), replace(LAWN.planting, share=0.5, kc=0.4)
    mix = replace(LAWN, planting=thirsty, others=(thrifty,))
    (finding,) = [one for one in found(a_garden(mix)) if one.code == "plants-differ"]
    assert finding.pointer == "/zones/lawn/planting/plants"
    assert "plants-differ" not in codes(a_garden(replace(mix, others=(thirsty,))))


def test_what_is_odd_about_the_zone_itself_is_told_once_for_all_its_plants() -> None:
    thirsty, thrifty = replace(LAWN.planting, share=0.5), replace(LAWN.planting, share=0.5, kc=0.4)
    mix = replace(with_watering(LAWN, efficiency=1.0), planting=thirsty, others=(thrifty,))
    assert codes(a_garden(mix)).count("efficiency-above-published") == 1


# Absence


def test_an_absence_that_is_over_is_found() -> None:
    over = Absence(JULY_1 - 30 * ONE_DAY, JULY_1 - 9 * ONE_DAY)
    to_come = Absence(JULY_1 + 30 * ONE_DAY, JULY_1 + 44 * ONE_DAY)
    finding = only(LAWN, absence=(to_come, over))
    assert (finding.code, finding.pointer) == ("absence-over", "/absence/1")
    assert "22 June 2026" in finding.text


def test_absences_that_overlap_are_found_and_those_that_meet_are_not() -> None:
    first, later = (Absence(JULY_1 + day * ONE_DAY, JULY_1 + (day + 10) * ONE_DAY) for day in (5, 12))
    finding = only(LAWN, absence=(later, first))
    assert (finding.code, finding.pointer) == ("absences-overlap", "/absence/0")
    assert codes(a_garden(LAWN, absence=(first, Absence(first.returns_on, later.returns_on)))) == []


def test_what_is_watered_by_hand_and_does_not_outlast_an_absence_is_found() -> None:
    # RAW 20 of 40 mm at 5 mm a day: Ks falls below 0.7 after six days.
    canned = with_watering(LAWN, method="by-hand")
    week, weekend = (Absence(JULY_1, JULY_1 + days * ONE_DAY) for days in (7, 2))
    finding = only(canned, absence=(week,))
    assert (finding.code, finding.pointer) == ("absence-by-hand", "/zones/lawn/watering/method")
    assert "7 days" in finding.text
    assert "about 6" in finding.text
    assert codes(a_garden(canned, absence=(weekend,))) == []


# Days


def test_weekdays_and_odd_dates_that_seldom_meet_are_named_together() -> None:
    rules = Rules(watering_days=("mon",), odd_even="odd")
    finding = only(LAWN, rules=rules)
    assert (finding.code, finding.pointer) == ("cannot-last-between-days", "/rules/odd_even")
    assert "Its weekdays and odd or even dates together leave up to 21 days" in finding.text
    assert finding.about.advice(METRIC).startswith("Leave one of the two out.")
    own = with_rules(LAWN, odd_even="odd")
    assert only(own, rules=Rules(watering_days=("mon",))).pointer == "/zones/lawn/rules/odd_even"
