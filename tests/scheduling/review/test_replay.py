"""Seasons replayed: accounts that close, evenings that know no more than they could, timers by hand."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.balance.weather import HourAhead, Origin, WeatherDay
from scheduling.errors import WeatherGap, WeatherIncomplete
from scheduling.garden.description import Allowance, Garden, Pause
from scheduling.garden.reports import Opening, StandState
from scheduling.reasons.notes import WarmHoursUnknown
from scheduling.review.foresight import Foresight, NoForecast, Perfect
from scheduling.review.replay import Replay, Timer, ZoneReplay, replay
from scheduling.review.season_account import Account
from scheduling.tap.permission import DateHours
from scheduling.tap.windows import Span
from scheduling.zone.metering import LearnedFlow
from tests.profile import examples
from tests.scheduling.gardens import (
    LAWN,
    ONE_DAY,
    POTS,
    SHRUBS,
    TROUGHS,
    a_garden,
    closing_mm,
    evening_by_evening,
    night_before,
    summer_day,
    summer_days,
    with_planting,
    with_rules,
)

APRIL_1 = dt.date(2026, 4, 1)
TOMATOES = replace(
    with_planting(LAWN, plant="tomato", kc=None, root_depth_m=None, planted_on=APRIL_1 + 10 * ONE_DAY),
    id="tomatoes",
)
DUAL_TOMATOES = replace(with_planting(TOMATOES, kc_method="dual"), id="dual-tomatoes")
DUAL_SHRUBS = replace(with_planting(SHRUBS, kc_method="dual"), id="dual-shrubs")
BORDER = replace(
    with_planting(LAWN, share=0.3),
    id="border",
    others=(replace(LAWN.planting, kc=0.4, root_depth_m=0.5, share=0.7),),
)
DUAL_BORDER = replace(
    with_planting(BORDER, kc_method="dual"),
    id="dual-border",
    others=(replace(BORDER.others[0], kc_method="dual"),),
)
SIX_KINDS = a_garden(LAWN, SHRUBS, TROUGHS, TOMATOES, DUAL_TOMATOES, DUAL_SHRUBS)


def one_night(date: dt.date) -> DateHours:
    return DateHours((night_before(date),))


def replayed(
    garden: Garden, weather: Sequence[WeatherDay], foresight: Foresight | None = None, **more: object
) -> Replay:
    return replay(garden, weather, foresight or Perfect(), one_night, **more)


def only(season: Replay) -> ZoneReplay:
    (zone,) = season.zones
    return zone


@st.composite
def seasons(draw: st.DrawFn, least_days: int = 20, most_days: int = 90) -> list[WeatherDay]:
    """Days without frost: warm or cool, dry or wet, in any order."""
    count = draw(st.integers(least_days, most_days))
    warmth = draw(st.lists(st.floats(8.0, 24.0), min_size=count, max_size=count))
    rain = draw(st.lists(st.one_of(st.just(0.0), st.floats(0.1, 60.0)), min_size=count, max_size=count))
    return [
        summer_day(APRIL_1 + place * ONE_DAY, t_min_c=low_c, t_max_c=low_c + 12.0, t_dew_c=None, rain_mm=mm)
        for place, (low_c, mm) in enumerate(zip(warmth, rain, strict=True))
    ]


# Accounts


def missing_mm(account: Account) -> float:
    """By how much an account does not close."""
    return account.closing_depletion_mm - (
        account.opening_depletion_mm
        - account.infiltrated_rain_mm
        - account.irrigation_mm
        + account.etc_adj_mm
        + account.fallow_et_mm
        + account.drainage_mm
        + account.adjustment_mm
    )


@examples(15)
@given(seasons())
def test_no_water_is_lost_in_an_account(weather: list[WeatherDay]) -> None:
    timers = {zone.id: Timer(every_days=2, run_time_s=900.0) for zone in SIX_KINDS.zones}
    for zone in replayed(SIX_KINDS, weather, timers=timers).zones:
        assert zone.timer is not None
        assert missing_mm(zone.planned) == pytest.approx(0.0, abs=1e-9)
        assert missing_mm(zone.timer) == pytest.approx(0.0, abs=1e-9)


@examples(10)
@given(seasons())
def test_the_rows_close_follow_each_other_and_add_up_to_the_account(weather: list[WeatherDay]) -> None:
    for zone in replayed(SIX_KINDS, weather, explain=True).zones:
        depletion_mm = zone.planned.opening_depletion_mm
        for row, day in zip(zone.ledger, weather, strict=True):
            assert (row.date, row.opening_depletion_mm) == (day.date, depletion_mm)
            depletion_mm = row.closing_depletion_mm
            assert depletion_mm == pytest.approx(closing_mm(row), abs=1e-9)
        told = zone.planned
        assert told.closing_depletion_mm == depletion_mm
        assert sum(row.irrigation_mm for row in zone.ledger) == pytest.approx(told.irrigation_mm)
        assert sum(row.rain_mm for row in zone.ledger) == pytest.approx(told.rain_mm)
        assert sum(row.drainage_mm for row in zone.ledger) == pytest.approx(told.drainage_mm)
        assert sum(row.etc_adj_mm for row in zone.ledger) == pytest.approx(
            told.etc_adj_mm + told.fallow_et_mm
        )


def test_without_being_asked_for_there_are_no_rows() -> None:
    assert only(replayed(a_garden(LAWN), summer_days(APRIL_1, 10))).ledger == ()


def test_a_bed_that_lies_fallow_wants_for_nothing_and_gets_nothing() -> None:
    late = with_planting(TOMATOES, planted_on=APRIL_1 + 30 * ONE_DAY)
    season = replayed(a_garden(late), summer_days(APRIL_1, 30), timers={"tomatoes": Timer(volume_l=100.0)})
    account, timer = only(season).planned, only(season).timer
    assert timer is not None
    assert (account.etc_mm, account.stress_days, account.adequacy) == (0.0, 0, 1.0)
    assert account.fallow_et_mm > 20.0
    assert (account.volume_l, timer.volume_l, only(season).least_mm) == (0.0, 0.0, 0.0)
    assert only(season).excess is None


def test_litres_are_the_gross_depth_on_the_area() -> None:
    account = only(replayed(a_garden(LAWN), summer_days(APRIL_1, 60))).planned
    assert account.volume_l == pytest.approx(account.irrigation_gross_mm * 50.0)
    assert account.irrigation_mm == pytest.approx(account.irrigation_gross_mm * 0.8)
    assert account.stress_mm == pytest.approx(account.etc_mm - account.etc_adj_mm)


# Evenings


@examples(10)
@given(
    seasons(least_days=25, most_days=45),
    st.one_of(st.just([]), st.lists(st.floats(0.5, 8.0), min_size=5, max_size=50)),
)
def test_a_replay_is_what_evenings_of_planning_would_have_given(
    weather: list[WeatherDay], winds_m_s: list[float]
) -> None:
    def by_hour(date: dt.date) -> tuple[HourAhead, ...]:
        return windy_night(date, winds_m_s).by_hour

    tomatoes = with_planting(DUAL_TOMATOES, planted_on=APRIL_1)
    garden = a_garden(
        LAWN, with_rules(SHRUBS, watering_days=("tue", "sat")), TROUGHS, tomatoes, BORDER, DUAL_BORDER
    )
    last = weather[-6].date
    season = replay(garden, weather, Perfect(), lambda date: windy_night(date, winds_m_s), explain=True)
    opening = Opening(
        APRIL_1,
        {zone.zone: zone.planned.opening_depletion_mm for zone in season.zones},
        {},
        {},
        {
            zone.zone: tuple(StandState(plant.planned.opening_depletion_mm) for plant in zone.plants)
            for zone in season.zones
            if zone.plants
        },
    )
    area_m2 = {zone.id: zone.area_m2 for zone in garden.zones}
    litres = {
        (zone.zone, row.date): row.irrigation_gross_mm * area_m2[zone.zone]
        for zone in season.zones
        for row in (zone.plants[0].ledger if zone.plants else zone.ledger)
    }
    for plan in evening_by_evening(garden, weather, opening, last, days_before=400, by_hour=by_hour):
        for zone in plan.zones:
            # Volumes are rounded down, and sums in another order may lie on the other side of a step.
            step_l = 1.0 if zone.volume_l >= 10.0 else 0.1
            assert litres[zone.zone, plan.date] == pytest.approx(zone.volume_l, abs=step_l + 1e-6)


@examples(15)
@given(seasons(least_days=40))
def test_with_perfect_forecasts_plants_go_without_hardly_anything(weather: list[WeatherDay]) -> None:
    garden = a_garden(LAWN, SHRUBS, TROUGHS)
    for zone in replayed(garden, weather).zones:
        assert zone.planned.adequacy >= 0.99


def test_rain_that_nobody_forecasts_is_not_waited_for() -> None:
    # The lawn opens with 10 of its 20 mm used; on its third evening a downpour is two days off.
    weather = summer_days(dt.date(2026, 7, 1), 5)
    weather[3] = replace(weather[3], rain_mm=40.0)
    assert only(replayed(a_garden(LAWN), weather, Perfect())).planned.irrigation_mm < 10.0
    assert only(replayed(a_garden(LAWN), weather, NoForecast())).planned.irrigation_mm > 14.0


def test_nothing_flows_on_a_date_of_frost_that_was_foreseen() -> None:
    cold = [replace(day, t_min_c=2.0) for day in summer_days(APRIL_1, 40)]
    assert only(replayed(a_garden(LAWN), cold, Perfect())).planned.runs == 0
    assert only(replayed(a_garden(LAWN), cold, NoForecast())).planned.runs > 0


def warm_at_noon(date: dt.date) -> DateHours:
    """Hours from the evening before on, of which only those from 8 to 16 are warm."""
    evening = dt.datetime.combine(date - ONE_DAY, dt.time(22), dt.UTC)
    hours = [evening + number * dt.timedelta(hours=1) for number in range(24)]
    told = tuple(
        HourAhead(int(hour.timestamp()), 12.0 if 8 <= hour.hour <= 16 else 2.0, None) for hour in hours
    )
    afternoon = dt.datetime.combine(date, dt.time(15), dt.UTC)
    return DateHours((night_before(date),), by_hour=told, warm=Span(evening, afternoon))


def test_warm_hours_of_cold_dates_are_used_where_they_are_known_and_asked_for() -> None:
    cold = [replace(day, t_min_c=2.0) for day in summer_days(APRIL_1, 40)]
    asking = a_garden(replace(LAWN, rules=replace(LAWN.rules, frost_warm_hours=True)))
    watered = only(replay(asking, cold, Perfect(), warm_at_noon))
    assert watered.planned.runs > 0
    assert watered.planned.adequacy > 0.999
    assert watered.notes == ()
    assert only(replay(a_garden(LAWN), cold, Perfect(), warm_at_noon)).planned.runs == 0


def test_where_no_hours_are_known_a_replay_says_that_it_could_not_use_warm_ones() -> None:
    cold = [replace(day, t_min_c=2.0) for day in summer_days(APRIL_1, 40)]
    asking = a_garden(replace(LAWN, rules=replace(LAWN.rules, frost_warm_hours=True)))
    zone = only(replay(asking, cold, Perfect(), one_night))
    assert zone.planned.runs == 0
    (note,) = zone.notes
    assert note == WarmHoursUnknown(40)
    mild = summer_days(APRIL_1, 40)
    assert only(replay(asking, mild, Perfect(), one_night)).notes == ()


def windy_night(date: dt.date, winds_m_s: Sequence[float]) -> DateHours:
    """A night of one wind, known by the hour; each of the winds in turn, none where there are none."""
    night = night_before(date)
    begins_s = int(night.opens.timestamp())
    winds = [winds_m_s[(date - APRIL_1).days % len(winds_m_s)]] * 8 if winds_m_s else []
    told = (HourAhead(begins_s + hour * 3600, None, wind) for hour, wind in enumerate(winds))
    return DateHours((night,), by_hour=tuple(told))


def test_a_lawn_is_sprayed_in_calm_hours_only_unless_it_cannot_wait() -> None:
    weather = summer_days(APRIL_1, 60)
    calm = only(replay(a_garden(LAWN), weather, Perfect(), lambda date: windy_night(date, [1.0])))
    gale = only(replay(a_garden(LAWN), weather, Perfect(), lambda date: windy_night(date, [9.0])))
    dripped = only(replay(a_garden(SHRUBS), weather, Perfect(), lambda date: windy_night(date, [9.0])))
    assert calm.planned.stress_days == 0
    assert gale.planned.runs > 0  # when Ks would fall below 0.7, and not before
    assert gale.planned.stress_days > 20
    # Mornings keep Ks at 0.7; at the end of a day of about 5 mm it is lower by that over TAW - RAW, 24 mm.
    assert gale.planned.ks_min == pytest.approx(0.7 - 5.0 / 24.0, abs=0.1)
    assert calm.planned.ks_min == 1.0
    assert dripped.planned == only(replayed(a_garden(SHRUBS), weather)).planned


def test_an_evening_without_a_forecast_knows_no_wind() -> None:
    weather = summer_days(APRIL_1, 40)
    gale = replay(a_garden(LAWN), weather, NoForecast(), lambda date: windy_night(date, [9.0]))
    assert only(gale).planned == only(replayed(a_garden(LAWN), weather, NoForecast())).planned


def test_where_no_wind_is_known_a_replay_tells_whoever_has_set_a_limit() -> None:
    weather = summer_days(APRIL_1, 40)
    asking = with_rules(LAWN, wind_limit_m_s=3.0)
    (note,) = only(replayed(a_garden(asking), weather)).notes
    assert note.code == "wind-unknown"
    assert "limit of 3 m/s could not be kept" in note.text
    assert (
        only(replay(a_garden(asking), weather, Perfect(), lambda date: windy_night(date, [1.0]))).notes == ()
    )
    assert only(replayed(a_garden(LAWN), weather)).notes == ()


def test_a_flow_that_a_meter_tells_says_how_much_a_night_can_pass() -> None:
    def an_hour(date: dt.date) -> DateHours:
        opens = night_before(date).opens
        return DateHours((Span(opens, opens + dt.timedelta(hours=1)),))

    weather = summer_days(dt.date(2026, 6, 1), 40)
    flows = {"lawn": LearnedFlow(5.0)}
    slow = only(replay(a_garden(LAWN), weather, Perfect(), an_hour, flows=flows))
    declared = only(replay(a_garden(LAWN), weather, Perfect(), an_hour))
    assert max(slow.litres.values()) <= 60 * 5.0 < max(declared.litres.values()) <= 60 * 20.0


def test_where_the_hours_are_closed_nothing_flows() -> None:
    season = replay(a_garden(LAWN), summer_days(APRIL_1, 40), Perfect(), lambda date: DateHours(()))
    assert only(season).planned.volume_l == 0.0
    assert only(season).planned.adequacy < 0.9


def test_a_second_span_keeps_pots_that_use_more_than_they_hold() -> None:
    def twice(date: dt.date) -> DateHours:
        noon = dt.datetime.combine(date, dt.time(12), dt.UTC)
        return DateHours((night_before(date), Span(noon, noon + dt.timedelta(hours=2))))

    weather = summer_days(dt.date(2026, 6, 1), 60)
    once = only(replayed(a_garden(POTS), weather)).planned
    both = only(replay(a_garden(POTS), weather, Perfect(), twice)).planned
    assert both.adequacy > 0.999 > once.adequacy


# Where it opens, and what it stands on


def test_ledgers_open_with_half_of_raw_missing_unless_the_soil_was_full() -> None:
    weather = summer_days(APRIL_1, 3)
    lawn = only(replayed(a_garden(LAWN), weather, explain=True))
    assert lawn.planned.opening_depletion_mm == 0.5 * lawn.ledger[0].raw_mm
    full = only(replayed(a_garden(replace(LAWN, soil_full_on=APRIL_1)), weather))
    assert full.planned.opening_depletion_mm == 0.0


def test_rain_of_a_day_that_was_kept_as_a_forecast_has_fallen() -> None:
    weather = [
        replace(day, rain_mm=12.0, rain_probability=0.3, origin=Origin.FORECAST)
        for day in summer_days(APRIL_1, 4)
    ]
    assert only(replayed(a_garden(LAWN), weather)).planned.rain_mm == 48.0


def test_what_had_to_be_estimated_is_counted_by_days() -> None:
    weather = summer_days(APRIL_1, 3)
    weather[1] = replace(weather[1], solar_mj_m2=None, wind_m_s=None)
    assert replayed(a_garden(LAWN), weather).estimated == {"solar_radiation": 1, "wind": 1}


def test_a_missing_day_is_named() -> None:
    weather = summer_days(APRIL_1, 9)
    with pytest.raises(WeatherGap, match="2026-04-04 to 2026-04-05"):
        replayed(a_garden(LAWN), weather[:3] + weather[5:])


def test_a_day_without_rain_or_temperature_is_named() -> None:
    weather = summer_days(APRIL_1, 9)
    with pytest.raises(WeatherIncomplete, match="2026-04-09 lacks t_max_c, rain_mm"):
        replayed(a_garden(LAWN), [*weather[:8], replace(weather[8], t_max_c=None, rain_mm=None)])


def test_without_days_there_is_nothing_to_replay() -> None:
    with pytest.raises(ValueError, match="at least one"):
        replayed(a_garden(LAWN), [])


def test_progress_is_told_day_by_day() -> None:
    told: list[tuple[int, int]] = []
    replayed(a_garden(LAWN), summer_days(APRIL_1, 3), progress=lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]


# Timers, by hand: 20 l/min on 50 m2, of which 0.8 reaches the roots


def timed(timer: Timer, days: int = 10) -> Account:
    account = only(replayed(a_garden(LAWN), summer_days(APRIL_1, days), timers={"lawn": timer})).timer
    assert account is not None
    return account


def test_an_allowance_of_sixty_percent_goes_to_whom_it_was_given_first() -> None:
    """A hot month whose litres do not do for the lawn: what has high priority hardly notices."""
    january = dt.date(2026, 1, 1)
    heat = {"t_max_c": 35.0, "t_min_c": 20.0, "t_dew_c": 10.0, "solar_mj_m2": 29.0, "wind_m_s": 4.0}
    weather = summer_days(january, 31, **heat)
    cherished = [
        replace(zone, id=name, priority="high")
        for name, zone in (("vegetables", replace(SHRUBS, area_m2=12.0)), ("troughs", TROUGHS))
    ]
    garden = a_garden(LAWN, *cherished, latitude=-32.0, longitude=116.0)

    def adequacy(**allowance: float) -> dict[str, float]:
        supply = replace(garden.water_supply, allowance_l=Allowance(**allowance))
        zones = replayed(replace(garden, water_supply=supply), weather).zones
        return {zone.zone: zone.planned.etc_adj_mm / zone.planned.etc_mm for zone in zones}

    wanted_l = sum(zone.planned.volume_l for zone in replayed(garden, weather).zones)
    unlimited, short = adequacy(), adequacy(month=0.6 * wanted_l)
    assert all(short[zone.id] >= 0.97 * unlimited[zone.id] for zone in cherished)
    assert short["lawn"] < 0.8


def test_ten_minutes_every_third_day_are_200_litres_four_times_in_ten_days() -> None:
    account = timed(Timer(every_days=3, run_time_s=600.0))
    assert (account.runs, account.volume_l) == (4, pytest.approx(800.0))
    assert account.irrigation_gross_mm == pytest.approx(16.0)
    assert account.irrigation_mm == pytest.approx(12.8)


def test_a_timer_stops_where_a_pause_stops_the_plans() -> None:
    # Of the dates 0, 3, 6 and 9, two lie in the pause.
    pause = Pause(APRIL_1 + 3 * ONE_DAY, APRIL_1 + 6 * ONE_DAY)
    garden = a_garden(with_rules(LAWN, pauses=(pause,)))
    season = replayed(garden, summer_days(APRIL_1, 10), timers={"lawn": Timer(3, volume_l=100.0)})
    account = only(season).timer
    assert account is not None
    assert (account.runs, account.volume_l) == (2, pytest.approx(200.0))


def test_litres_may_be_given_in_place_of_minutes() -> None:
    account = timed(Timer(every_days=7, volume_l=50.0))
    assert (account.runs, account.volume_l) == (2, pytest.approx(100.0))


def test_a_timer_that_gives_too_much_drains_it() -> None:
    # 125 mm a day on a lawn that uses about 4.
    account = timed(Timer(volume_l=6250.0))
    assert account.stress_days == 0
    assert account.drainage_mm == pytest.approx(
        account.irrigation_mm
        + account.closing_depletion_mm
        - account.opening_depletion_mm
        - account.etc_adj_mm
    )
    assert account.drainage_mm > 900.0


def test_a_zone_without_a_timer_has_no_such_account() -> None:
    season = replayed(a_garden(LAWN, SHRUBS), summer_days(APRIL_1, 3), timers={"lawn": Timer(volume_l=1.0)})
    assert [zone.timer is None for zone in season.zones] == [False, True]
