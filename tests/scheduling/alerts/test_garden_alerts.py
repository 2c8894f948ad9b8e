"""Alerts about a garden and its zones: when each is raised, since when, and what ends it."""

import datetime as dt
from typing import Any

import pytest

from scheduling.alerts.garden_alerts import (
    ColdHour,
    allowance_nearly_spent,
    cannot_keep_alive,
    forecast_old,
    frost_ahead,
    never_answered,
    probes_doubtful,
)
from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.description import Allowance
from scheduling.plan.plan import SoilWater, ZonePlan
from scheduling.probes.status import ProbeStanding
from scheduling.reasons import Alert, Note, Reason
from scheduling.reasons.alerts import (
    AllowanceNearlySpent,
    BatteryLow,
    ForecastOld,
    FrostAhead,
    NeverAnswered,
    OpenByItsWord,
    urgency,
)
from scheduling.reasons.notes import CannotLast, LeftDry, NoChanceAhead
from scheduling.reasons.probe_notes import ProbeFollowed, ProbeNotFollowed, ReadTheSame
from scheduling.reasons.watering import AllowanceSpent, HoursFull, NotAWateringDay, SoilFull

NOV_25 = dt.date(2026, 11, 25)
"""A Wednesday."""
NOON = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
HOUR = dt.timedelta(hours=1)


def test_the_most_urgent_comes_first_and_then_zones_by_name():
    alerts = [
        Alert("bed", NOV_25, BatteryLow(0.1, 0.2)),
        Alert("lawn", NOV_25, OpenByItsWord(NOON)),
        Alert("bed", NOV_25, OpenByItsWord(NOON)),
    ]
    assert [alert.zone for alert in sorted(alerts, key=urgency)] == ["bed", "lawn", "bed"]


# forecast-old


def test_an_old_forecast_is_raised_since_it_was_due_no_more():
    alert = forecast_old(NOON, 6 * HOUR, plans_go_on=True)
    assert (alert.code, alert.zone, alert.since) == ("forecast-old", None, NOON + 6 * HOUR)
    assert alert.about == ForecastOld(NOON, plans_go_on=True)


def test_without_plans_it_says_so():
    alert = forecast_old(NOON, 6 * HOUR, plans_go_on=False)
    assert alert.about == ForecastOld(NOON, plans_go_on=False)


def test_sources_that_never_answered_are_named_since_the_garden_was_stored():
    alert = never_answered(("open-meteo", "dwd"), NOON)
    assert (alert.code, alert.since) == ("forecast-old", NOON)
    assert alert.about == NeverAnswered(("open-meteo", "dwd"))


# frost-ahead


def hours(*lows_c: float) -> list[ColdHour]:
    """Every sixth hour from noon on."""
    return [ColdHour(NOON + place * 6 * HOUR, low) for place, low in enumerate(lows_c)]


def test_a_frost_to_come_is_raised_since_the_day_on_which_it_begins():
    # Noon and evening of the 25th, then midnight, 6:00 and noon of the 26th.
    alert = frost_ahead(hours(9.0, 4.0, 1.5, -2.0, 6.0), {NOV_25: 3.0}, 5.0, ())
    assert alert is not None
    assert (alert.code, alert.zone, alert.since) == ("frost-ahead", None, NOV_25 + DAY)
    assert alert.about == FrostAhead(-2.0, NOON + 18 * HOUR)


def test_cold_that_lasts_is_told_since_its_first_day():
    lows = {NOV_25 - 3 * DAY: 4.0, NOV_25 - 2 * DAY: -1.0, NOV_25 - DAY: 0.5, NOV_25: -3.0}
    alert = frost_ahead(hours(1.0, -2.0), lows, 5.0, ())
    assert alert is not None
    assert alert.since == NOV_25 - 2 * DAY


def test_a_milder_forecast_ends_it():
    assert frost_ahead(hours(9.0, 4.0, 2.0, 2.5), {}, 5.0, ()) is None


def test_valves_that_stand_more_are_not_brought_in_earlier():
    assert frost_ahead(hours(1.0, -2.0), {}, -3.0, ()) is None
    assert frost_ahead(hours(1.0, -4.0), {}, -3.0, ()) is not None


def test_a_paused_garden_is_taken_to_be_drained():
    assert frost_ahead(hours(1.0, -2.0), {}, 5.0, [NOV_25, NOV_25 + DAY]) is None


# allowance-nearly-spent


def test_nine_tenths_of_a_week_are_raised_since_they_were_spent():
    litres = {NOV_25 - 2 * DAY: 500.0, NOV_25 - DAY: 400.0, NOV_25: 50.0, NOV_25 - 3 * DAY: 999.0}
    alert = allowance_nearly_spent(Allowance(week=1000.0), litres, NOV_25)
    assert alert is not None
    assert (alert.code, alert.zone, alert.since) == ("allowance-nearly-spent", None, NOV_25 - DAY)
    # Sunday's 999 litres are last week's.
    assert alert.about == AllowanceNearlySpent(950.0, 1000.0, "week", dt.date(2026, 11, 29))


def test_less_is_no_alert_and_the_next_week_ends_it():
    litres = {NOV_25 - 2 * DAY: 500.0, NOV_25 - DAY: 399.0}
    assert allowance_nearly_spent(Allowance(week=1000.0), litres, NOV_25) is None
    spent = {NOV_25 - DAY: 1000.0}
    assert allowance_nearly_spent(Allowance(week=1000.0), spent, NOV_25 + 7 * DAY) is None


def test_of_week_and_month_the_tighter_is_told():
    litres = {NOV_25 - DAY: 950.0, NOV_25 - 9 * DAY: 2040.0}
    alert = allowance_nearly_spent(Allowance(week=1000.0, month=3000.0), litres, NOV_25)
    assert alert is not None
    assert (alert.about.used_l, alert.about.allowed_l, alert.about.period) == (2990.0, 3000.0, "month")


def test_a_day_s_litres_are_there_to_be_spent():
    assert allowance_nearly_spent(Allowance(day=100.0), {NOV_25: 100.0}, NOV_25) is None


# cannot-keep-alive


ENOUGH = SoilFull()
HOURS = HoursFull()
LITRES = AllowanceSpent(100.0, "week")
OTHER_DAYS = NotAWateringDay(NOV_25, (0,), None)
IN_WANT = LeftDry(NOV_25, 0.4)
SHORT = CannotLast(NOV_25, NOV_25 + DAY)
NO_CHANCE = NoChanceAhead(14, NOV_25 + DAY)


def plan(reason: Reason = ENOUGH, *notes: Note) -> ZonePlan:
    return ZonePlan(
        zone="pots", name="pots", decision="wait", volume_l=0.0, run_time_s=0, delivered_l=0.0,
        close_by="volume", runs=(), reasons=(reason,), soil_water=SoilWater(5.0, 4.0, 6.0),
        net_mm=0.0, gross_mm=0.0, room_mm=0.0, notes=notes,
    )  # fmt: skip


def rows(*ks: float) -> list[LedgerRow]:
    """Days up to yesterday."""
    numbers: dict[str, Any] = dict.fromkeys(LedgerRow._fields[:-5], 1.0)
    return [
        LedgerRow(**{**numbers, "date": NOV_25 - (len(ks) - place) * DAY, "ks": one})
        for place, one in enumerate(ks)
    ]


@pytest.mark.parametrize(
    ("reason", "notes", "because"),
    [
        (ENOUGH, (SHORT,), SHORT),
        (OTHER_DAYS, (IN_WANT,), IN_WANT),
        (OTHER_DAYS, (SHORT, NO_CHANCE), NO_CHANCE),
        (HOURS, (), HOURS),
        (LITRES, (SHORT,), LITRES),
    ],
)
def test_want_that_the_plan_cannot_mend_is_raised_since_its_first_day(reason, notes, because):
    alert = cannot_keep_alive(plan(reason, *notes), [rows(1.0, 0.65, 0.9, 0.4, 0.8)])
    assert alert is not None
    assert (alert.code, alert.zone, alert.since) == ("cannot-keep-alive", "pots", NOV_25 - 4 * DAY)
    assert alert.about.ks == 0.4
    assert alert.about.because == because


def test_a_plan_that_mends_it_ends_it():
    assert cannot_keep_alive(plan(), [rows(0.4, 0.3)]) is None


def test_plants_that_hardly_notice_are_no_alert():
    assert cannot_keep_alive(plan(HOURS, SHORT), [rows(0.9, 0.7)]) is None


def test_a_week_of_enough_ends_it():
    assert cannot_keep_alive(plan(HOURS), [rows(0.4, *[1.0] * 7)]) is None
    assert cannot_keep_alive(plan(HOURS), [rows(0.4, *[1.0] * 6)]) is not None


def test_of_several_plantings_the_one_that_wants_most_counts():
    alert = cannot_keep_alive(plan(HOURS), [rows(1.0, 1.0), rows(0.6, 0.5)])
    assert alert is not None
    assert alert.about.ks == 0.5


def test_a_garden_without_a_past_has_no_want_yet():
    assert cannot_keep_alive(plan(HOURS), [[]]) is None


# probe-doubtful


def test_a_probe_in_doubt_is_raised_since_its_standing_began_and_ends_with_it():
    stuck = ProbeNotFollowed(NOV_25 - 3 * DAY, ReadTheSame(NOV_25 - 7 * DAY, 6.0))
    probe = ProbeStanding("lawn", "p1", stuck, NOV_25, 0.0)
    (alert,) = probes_doubtful([probe])
    assert (alert.code, alert.zone, alert.since) == ("probe-doubtful", "lawn", NOV_25 - 3 * DAY)
    assert (alert.about.probe, alert.about.standing) == ("p1", stuck)
    followed = ProbeStanding("lawn", "p1", ProbeFollowed(NOV_25, 1.0), NOV_25, 1.0)
    assert probes_doubtful([followed]) == []
