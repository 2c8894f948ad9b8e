"""The facts of a reason, for one zone and one date."""

import math

from scheduling import catalogue, reasons
from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.decision import decision
from scheduling.decision.absence import absence_on
from scheduling.decision.decision import Verdict
from scheduling.decision.need import DAYS_LEFT_FOR_RAIN
from scheduling.garden.description import Pause
from scheduling.reasons import Reason
from scheduling.reasons.watering import (
    AllowanceSpent,
    BeforeAbsence,
    Dormant,
    Easily,
    FrostRisk,
    HoursFull,
    NextChance,
    NotAWateringDay,
    Paused,
    PlantInGround,
    RainExpected,
    RainNotEnough,
    Room,
    SoilDryingOut,
    SoilFull,
    SoilMoist,
    TooWindy,
)
from scheduling.tap.allocation import PacedAllowance

TOLD_ROOM_MM = 0.5
"""Room from which on a sentence speaks of it: half a millimetre is nothing that anybody would miss."""


class Situation:
    """What the reasons of one zone may speak of."""

    def __init__(
        self,
        prepared: PreparedZone,
        garden: GardenDays,
        index: int,
        depletion_mm: float,
        lowest_c: float | None,
        wind_m_s: float | None = None,
        allowance: PacedAllowance | None = None,
    ) -> None:
        days = prepared.days
        next_chance = prepared.chances.next_chance[index]
        self.numbers = prepared.numbers
        self.rules = prepared.rules
        self.date = garden.dates[index]
        self.depletion_mm = depletion_mm
        self.counted_rain_mm = days.counted_rain_mm[index]
        self.counted_ahead_mm = sum(days.counted_rain_mm[index:next_chance])
        self.lowest_c = lowest_c
        self.wind_m_s = wind_m_s
        self.allowance = allowance
        whose = catalogue.plant(self.numbers.planting.plant).called if self.numbers.zone.others else None
        against = prepared.chances.against
        self.used = Easily(depletion_mm, days.due_mm[index], whose)
        self.chance = NextChance(
            garden.dates[next_chance],
            sum(days.etc_mm[index:next_chance]),
            next_chance < len(against) and against[next_chance] is None,
        )


def rounded_down(celsius: float) -> float:
    """A lowest temperature in tenths, as people read it: 4.96 is below 5.0 and has to look so."""
    return math.floor(round(celsius * 10.0, 6)) / 10.0


def reason_of(code: str, at: Situation, room: Room | None = None) -> Reason:
    """The reason with a code, made of its facts; `room` is what the watering leaves unfilled."""
    rules, used, chance = at.rules, at.used, at.chance
    match code:
        case reasons.DORMANT:
            plantings = at.numbers.zone.plantings
            return Dormant(
                at.date,
                tuple(
                    PlantInGround(catalogue.plant(planting.plant).called, planting.known_planting)
                    for planting in plantings
                ),
            )
        case reasons.PAUSED:
            return _paused(at)
        case reasons.NOT_A_WATERING_DAY:
            return _not_a_watering_day(at)
        case reasons.FROST_RISK:
            assert at.lowest_c is not None
            assert rules.frost_limit_c is not None
            return FrostRisk(rounded_down(at.lowest_c), rules.frost_limit_c)
        case reasons.BEFORE_ABSENCE:
            away = min(away for away in rules.absence if at.date <= away.leaves_on)
            return BeforeAbsence(away.leaves_on, away.returns_on, room)
        case reasons.SOIL_MOIST:
            return SoilFull() if at.depletion_mm <= decision.NOTHING_MM else SoilMoist(used, chance)
        case reasons.RAIN_EXPECTED:
            return RainExpected(used, at.counted_ahead_mm, chance.date)
        case reasons.TOO_WINDY:
            assert at.wind_m_s is not None
            assert rules.wind_limit_m_s is not None
            return TooWindy(rules.wind_limit_m_s, at.wind_m_s)
        case reasons.ALLOWANCE_SPENT:
            assert at.allowance is not None
            return AllowanceSpent(at.allowance.allowed_l, at.allowance.period)
        case reasons.HOURS_FULL:
            return HoursFull()
        case reasons.RAIN_NOT_ENOUGH:
            return RainNotEnough(at.counted_rain_mm, chance, room)
        case reasons.SOIL_DRYING_OUT:
            is_container = at.numbers.container_mm is not None
            return SoilDryingOut(
                used, chance, is_container and absence_on(rules.absence, at.date) is not None, room
            )
    raise AssertionError(code)


def room_left(verdict: Verdict, at: Situation, counted_soon_mm: float, mean_rain_mm: float) -> Room | None:
    """How much of a zone is left unfilled by what it gets, and why; None where that is nothing to tell.

    Parameters
    ----------
    counted_soon_mm : float
        Rain that is counted on in the days that room is left for. [mm]
    mean_rain_mm : float
        What the season brings on an average day. [mm]
    """
    room_mm = verdict.room_mm
    if verdict.net_mm == 0.0 or room_mm < TOLD_ROOM_MM:
        return None
    numbers = at.numbers
    if numbers.wetted_share < 1.0 and verdict.net_mm >= numbers.wetted_share * at.depletion_mm - 0.05:
        return Room(room_mm, "dry-ground", wetted_share=numbers.wetted_share)
    if verdict.reason == reasons.RAIN_NOT_ENOUGH:
        return Room(room_mm, "rain-tomorrow")
    fill_share = numbers.zone.watering.fill_share
    if fill_share is not None:
        return Room(room_mm, "fill-share", fill_share=fill_share)
    return Room(
        room_mm,
        "rain",
        counted_mm=counted_soon_mm,
        days=DAYS_LEFT_FOR_RAIN,
        season_mm=mean_rain_mm,
        counted_is_told=counted_soon_mm >= TOLD_ROOM_MM,
        season_is_told=room_mm > counted_soon_mm + TOLD_ROOM_MM,
    )


def _paused(at: Situation) -> Paused:
    pause = next(pause for pause in at.rules.pauses if pause.covers(at.date))
    first, last = (
        (pause.from_date, pause.to_date) if isinstance(pause, Pause) else (pause.from_day, pause.to_day)
    )
    return Paused(first, last, pause.because)


def _not_a_watering_day(at: Situation) -> NotAWateringDay:
    weekdays = at.rules.weekdays
    if weekdays is not None and at.date.weekday() not in weekdays:
        return NotAWateringDay(at.date, tuple(sorted(weekdays)), None)
    return NotAWateringDay(at.date, None, at.rules.odd_even)
