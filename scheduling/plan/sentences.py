"""What a reason means for one zone and one date, in a sentence."""

import datetime as dt
import math

from scheduling import reasons
from scheduling.balance.garden_series import GardenDays
from scheduling.balance.stand import PreparedZone
from scheduling.decision import decision
from scheduling.decision.absence import absence_on
from scheduling.decision.decision import Verdict
from scheduling.decision.need import DAYS_LEFT_FOR_RAIN
from scheduling.garden.description import WEEKDAYS
from scheduling.tap.allocation import AllowanceLeft

LESS_THAN_A_VALVE_TAKES = "What is missing is less than a valve can be told to give."
"""For a dose that rounds to nothing, in place of the sentence on moist soil."""

TOLD_ROOM_MM = 0.5
"""Room from which on a sentence speaks of it: half a millimetre is nothing that anybody would miss."""

_PERIODS = {
    "day": "the date",
    "week": "the week, Monday to Sunday,",
    "month": "the month",
}
_WEEKDAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class Situation:
    """What the sentences of one zone speak of."""

    def __init__(
        self,
        prepared: PreparedZone,
        garden: GardenDays,
        index: int,
        depletion_mm: float,
        lowest_c: float | None,
        wind_m_s: float | None = None,
        allowance: AllowanceLeft | None = None,
    ) -> None:
        days = prepared.days
        next_chance = prepared.chances.next_chance[index]
        self.numbers = prepared.numbers
        self.rules = prepared.rules
        self.date = garden.dates[index]
        self.depletion_mm = depletion_mm
        self.raw_mm = days.raw_mm[index]
        self.use_mm = sum(days.etc_mm[index:next_chance])
        self.counted_rain_mm = days.counted_rain_mm[index]
        self.counted_ahead_mm = sum(days.counted_rain_mm[index:next_chance])
        self.lowest_c = lowest_c
        self.wind_m_s = wind_m_s
        self.allowance = allowance
        if self.depletion_mm <= self.raw_mm:
            used = f"{depletion_mm:.1f} of {self.raw_mm:.1f} mm easily available water is used"
        else:
            over_mm = depletion_mm - self.raw_mm
            used = f"All {self.raw_mm:.1f} mm easily available water is used, and {over_mm:.1f} mm beyond it"
        whose = f"{self.numbers.planting.plant}: " if self.numbers.zone.others else ""
        self.used = f"{whose}{used}"
        self.until = day_name(garden.dates[next_chance], self.date)
        self.chance = f"{self.until}, the next {'watering day' if self.rules.weekdays else 'chance to water'}"


def sentence(reason: str, at: Situation) -> str:
    """One sentence for a reason code."""
    return _SENTENCES[reason](at)


def room_in_words(verdict: Verdict, at: Situation, counted_soon_mm: float, mean_rain_mm: float) -> str:
    """How much of a zone is left unfilled by what it gets, and why; "" where that is nothing to tell.

    Parameters
    ----------
    counted_soon_mm : float
        Rain that is counted on in the days that room is left for. [mm]
    mean_rain_mm : float
        What the season brings on an average day. [mm]
    """
    room_mm = verdict.room_mm
    if verdict.net_mm == 0.0 or room_mm < TOLD_ROOM_MM:
        return ""
    left = f"{room_mm:.1f} mm are left free"
    numbers = at.numbers
    if numbers.wetted_share < 1.0 and verdict.net_mm >= numbers.wetted_share * at.depletion_mm - 0.05:
        return (
            f"{room_mm:.1f} mm stay unfilled, since only {numbers.wetted_share:.0%} of the ground gets wet."
        )
    if verdict.reason == reasons.RAIN_NOT_ENOUGH:
        return f"{left} for the rain."
    fill_share = numbers.zone.watering.fill_share
    if fill_share is not None:
        return f"{left}, as fill_share {fill_share:g} has it."
    by_season = f"the season brings {mean_rain_mm:.1f} mm a day"
    if counted_soon_mm < TOLD_ROOM_MM:
        return f"{left} for rain: {by_season}."
    counted = f"{counted_soon_mm:.1f} mm are counted on within {DAYS_LEFT_FOR_RAIN} days"
    more = f", and {by_season}" if room_mm > counted_soon_mm + TOLD_ROOM_MM else ""
    return f"{left} for rain: {counted}{more}."


def day_name(date: dt.date, seen_from: dt.date) -> str:
    """A weekday's name for the days of the coming week, else the date."""
    if 0 <= (date - seen_from).days <= 6:
        return _WEEKDAY_NAMES[date.weekday()]
    return date.isoformat()


def _dormant(at: Situation) -> str:
    seasons = []
    for planting in at.numbers.zone.plantings:
        planted = "" if planting.planted_on is None else f", planted on {planting.planted_on}"
        seasons.append(f"{planting.plant}{planted}")
    return f"{at.date} lies outside the season of {' and of '.join(seasons)}."


def _paused(at: Situation) -> str:
    pause = next(pause for pause in at.rules.pauses if pause.covers(at.date))
    because = f": {pause.because}" if pause.because else ""
    return f"Paused {pause.when}{because}."


def _not_a_watering_day(at: Situation) -> str:
    weekday = _WEEKDAY_NAMES[at.date.weekday()]
    if at.rules.weekdays is not None and at.date.weekday() not in at.rules.weekdays:
        allowed = ", ".join(WEEKDAYS[day] for day in sorted(at.rules.weekdays))
        return f"{weekday} is none of its watering days ({allowed})."
    return f"Only {at.rules.odd_even} dates are watering days; {at.date} is none."


def _frost_risk(at: Situation) -> str:
    assert at.lowest_c is not None
    lowest_c = math.floor(at.lowest_c * 10.0) / 10.0  # 4.96 is below 5.0, and has to look so
    limit = at.rules.frost_limit_c
    return f"The forecast goes down to {lowest_c:.1f} °C, below the frost limit of {limit:g} °C."


def _before_absence(at: Situation) -> str:
    away = min(away for away in at.rules.absence if at.date <= away.leaves_on)
    return (
        f"{at.used}; it is filled up, as this is its last chance before nobody is there, from "
        f"{away.leaves_on} to {away.returns_on}."
    )


def _soil_moist(at: Situation) -> str:
    if at.depletion_mm <= decision.NOTHING_MM:
        return "Nothing is missing: the root zone is full."
    return f"{at.used}; the {at.use_mm:.1f} mm more by {at.chance}, can be borne."


def _rain_expected(at: Situation) -> str:
    return f"{at.used}; {at.counted_ahead_mm:.1f} mm of forecast rain is counted on by {at.until}."


def _rain_not_enough(at: Situation) -> str:
    return (
        f"{at.counted_rain_mm:.1f} mm of rain is counted on, but without it the zone could not stand it "
        f"until {at.chance}: it gets the least that lasts."
    )


def _soil_drying_out(at: Situation) -> str:
    text = f"{at.used}; {at.use_mm:.1f} mm more by {at.chance}."
    if at.numbers.container_mm is None or absence_on(at.rules.absence, at.date) is None:
        return text
    return f"{text} While nobody is there, half of what a container has to lose is kept."


def _too_windy(at: Situation) -> str:
    assert at.wind_m_s is not None
    limit = at.rules.wind_limit_m_s
    return (
        f"{at.used}, but every permitted hour has more wind than {limit:g} m/s (at 2 m; the calmest "
        f"{at.wind_m_s:.1f}), and the plants can wait."
    )


def _allowance_spent(at: Situation) -> str:
    assert at.allowance is not None
    period = _PERIODS[at.allowance.period]
    allowed_l = at.allowance.allowed_l
    return f"The {allowed_l:.10g} l allowed for {period} do not suffice for all zones that want water."


def _hours_full(at: Situation) -> str:
    return "The watering hours are too short for all zones that want water."


_SENTENCES = {
    reasons.DORMANT: _dormant,
    reasons.PAUSED: _paused,
    reasons.NOT_A_WATERING_DAY: _not_a_watering_day,
    reasons.FROST_RISK: _frost_risk,
    reasons.BEFORE_ABSENCE: _before_absence,
    reasons.SOIL_MOIST: _soil_moist,
    reasons.RAIN_EXPECTED: _rain_expected,
    reasons.TOO_WINDY: _too_windy,
    reasons.ALLOWANCE_SPENT: _allowance_spent,
    reasons.HOURS_FULL: _hours_full,
    reasons.RAIN_NOT_ENOUGH: _rain_not_enough,
    reasons.SOIL_DRYING_OUT: _soil_drying_out,
}
