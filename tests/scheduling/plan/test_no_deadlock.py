"""Whatever rules are given: a zone that gets no water for long is told so by a note, or by its litres.

120 dry days are planned evening by evening, each plan carried out and told to the next one.
"""

import datetime as dt
from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import HourAhead, Origin
from scheduling.errors import InvalidGarden
from scheduling.garden.description import (
    WEEKDAYS,
    Allowance,
    Garden,
    Pause,
    Rules,
    Site,
    Soil,
    Valve,
    WaterSupply,
    YearlyPause,
    Zone,
)
from scheduling.garden.reports import Delivery, Opening
from scheduling.plan.initial_state import History
from scheduling.plan.plan import Plan
from scheduling.plan.planner import Occasion, make_plan
from scheduling.tap.windows import Bans, Span
from scheduling.zone.from_catalogue import all_numbers
from tests.profile import examples
from tests.scheduling.gardens import (
    LAWN,
    ONE_DAY,
    SHRUBS,
    TROUGHS,
    a_garden,
    carried_out,
    summer_days,
    with_planting,
    with_rules,
    with_watering,
)

FIRST = dt.date(2026, 5, 1)
EVENINGS = 120
LONGEST_SILENCE_D = 45
"""Longer than two pauses of a fortnight, with watering days and turns around them."""
TELLING_NOTES = {"no-chance-ahead", "hours-too-short", "left-dry"}


def midnight(date: dt.date) -> dt.datetime:
    return dt.datetime.combine(date, dt.time(), dt.UTC)


HOURS_OF_A_DAY = st.integers(0, 23)
RULES = st.fixed_dictionaries(
    {},
    optional={
        "frost_limit_c": st.sampled_from((-10.0, 5.0, 14.9, 15.1, 20.0)),
        "frost_warm_hours": st.booleans(),
        "wind_limit_m_s": st.sampled_from((0.5, 3.0, 5.0)),
        "watering_days": st.lists(st.sampled_from(WEEKDAYS), min_size=1, max_size=3, unique=True).map(tuple),
        "odd_even": st.sampled_from(("odd", "even")),
        "rain_day_mm": st.just(0.1),
        "exempt": st.lists(st.sampled_from(("frost", "rain", "wind", "days")), max_size=2, unique=True).map(
            tuple
        ),
        "pauses": st.lists(
            st.one_of(
                st.builds(
                    lambda start, length: Pause(FIRST + start * ONE_DAY, FIRST + (start + length) * ONE_DAY),
                    st.integers(0, 100),
                    st.integers(0, 120),
                ),
                st.builds(
                    lambda month, day: YearlyPause((month, day), (month % 12 + 1, day)),
                    st.integers(1, 12),
                    st.integers(1, 28),
                ),
            ),
            max_size=2,
        ).map(tuple),
    },
)
DUAL_SHRUBS = with_planting(SHRUBS, kc_method="dual", mulched_share=0.5)
BORDER = replace(
    with_planting(LAWN, share=0.3), others=(replace(LAWN.planting, kc=0.4, root_depth_m=0.5, share=0.7),)
)
"""A thirsty planting and a thrifty one on one valve."""
ZONES = st.builds(
    lambda zone, rules, texture, slope, priority, limit, smallest, wetted, fill: replace(
        with_watering(
            with_rules(zone, **rules), smallest_depth_mm=smallest, wetted_share=wetted, fill_share=fill
        ),
        soil=zone.soil if zone.soil.container else Soil(texture=texture),
        site=Site(slope_pct=slope),
        priority=priority,
        valve=Valve(max_open_s=limit),
    ),
    st.sampled_from((LAWN, SHRUBS, TROUGHS, DUAL_SHRUBS, BORDER)),
    RULES,
    st.sampled_from(("sand", "loam", "clay")),
    st.sampled_from((0.0, 20.0)),
    st.sampled_from(("high", "normal", "low")),
    st.none() | st.sampled_from((60, 600)),
    st.sampled_from((0.5, 3.0, 15.0)),
    st.none() | st.sampled_from((0.2, 1.0)),
    st.none() | st.just(0.3),
)
SUPPLIES = st.builds(
    WaterSupply,
    flow_l_min=st.none() | st.sampled_from((5.0, 24.0, 60.0)),
    zones_at_once=st.integers(1, 2),
    gap_s=st.sampled_from((0, 120, 3600)),
    allowance_l=st.builds(
        Allowance,
        day=st.none() | st.sampled_from((200.0, 1000.0)),
        week=st.none() | st.sampled_from((400.0, 2000.0)),
        month=st.none() | st.sampled_from((500.0, 5000.0)),
    ),
)


def plans_of(
    garden: Garden, minutes: tuple[int, int], ban: tuple[int, int], winds: list[float], nights_c: float
) -> list[Plan]:
    """Every evening's plan; hours end at 6:00 and at 14:00, bans and winds are the same every day."""
    state = Opening(FIRST, {zone.id: 0.0 for zone in garden.zones}, {})
    deliveries: list[Delivery] = []
    plans = []
    weather = summer_days(FIRST - ONE_DAY, EVENINGS + 20, t_min_c=nights_c)
    for day in range(EVENINGS):
        date = FIRST + day * ONE_DAY
        ends = (midnight(date) + dt.timedelta(hours=6), midnight(date) + dt.timedelta(hours=14))
        spans = tuple(
            Span(end - dt.timedelta(minutes=length), end) for length, end in zip(minutes, ends, strict=True)
        )
        banned = Span(
            midnight(date) + dt.timedelta(hours=ban[0]), midnight(date) + dt.timedelta(hours=sum(ban))
        )
        begins_s = int(midnight(date - ONE_DAY).timestamp())
        by_hour = tuple(
            HourAhead(begins_s + 3600 * hour, nights_c if hour % 24 < 8 else 25.0, winds[hour % len(winds)])
            for hour in range(64)
        )
        known = [weather[day]]
        ahead = [
            replace(one, origin=Origin.FORECAST, rain_probability=1.0) for one in weather[day + 1 : day + 6]
        ]
        occasion = Occasion(
            date,
            tuple(span for span in spans if span.opens < span.closes),
            lowest_c=nights_c,
            bans=Bans((banned,)),
            by_hour=by_hour,
            warm_hours=Span(spans[0].opens, midnight(date) + dt.timedelta(hours=15)),
        )
        recent = tuple(one for one in deliveries if one.date >= date - 40 * ONE_DAY)
        plan = make_plan(garden, [*known, *ahead], History(state, False, recent), occasion)
        plans.append(plan)
        deliveries.extend(carried_out(plan))
        state = plan.state
    return plans


def silences(plans: list[Plan], number: int) -> list[list[Any]]:
    """Stretches of evenings in which a zone gets no water."""
    stretches: list[list[Any]] = [[]]
    for plan in plans:
        if plan.zones[number].decision == "water":
            stretches.append([])
        else:
            stretches[-1].append(plan.zones[number])
    return stretches


@examples(20)
@given(
    st.tuples(ZONES, ZONES),
    SUPPLIES,
    RULES,
    st.tuples(st.integers(0, 480), st.sampled_from((0, 0, 30))),
    st.tuples(HOURS_OF_A_DAY, st.integers(0, 24)),
    st.lists(st.sampled_from((1.0, 4.0, 9.0)), min_size=1, max_size=5),
    st.sampled_from((3.0, 15.0)),
)
def test_no_zone_is_left_dry_for_long_without_a_word(
    zones: tuple[Zone, Zone],
    supply: WaterSupply,
    rules: dict[str, Any],
    minutes: tuple[int, int],
    ban: tuple[int, int],
    winds: list[float],
    nights_c: float,
) -> None:
    one, other = (replace(zone, id=name) for zone, name in zip(zones, ("one", "other"), strict=True))
    rules = {name: value for name, value in rules.items() if name != "exempt"}
    garden = a_garden(one, other, water_supply=supply, rules=Rules(**rules))
    try:
        all_numbers(garden)
    except InvalidGarden:
        return
    plans = plans_of(garden, minutes, ban, winds, nights_c)
    for number in range(2):
        for silence in silences(plans, number):
            if len(silence) < LONGEST_SILENCE_D:
                continue
            told = {note.code for evening in silence for note in evening.notes}
            reasons = {evening.reasons[0].code for evening in silence}
            assert told & TELLING_NOTES or "allowance-spent" in reasons, (number, reasons, told)
