"""How much water a zone's surface takes in: of rain, and of a run.

Rain: the curve number method, USDA-NRCS Technical Release 55 (1986), chapter 2. It was made
for the means of events and is no forecast for a single one (Ponce and Hawkins 1996).

Runs: the run and soak rule of the Irrigation Association, Landscape Irrigation Scheduling
and Water Management (2005). A surface may hold an allowable depth of water (ponding) before
it runs off; meanwhile the soil takes in its basic intake rate. Rates by texture and ponding
by slope are in the catalogue; conductivity at saturation is several times too high here.
"""

import math

from scheduling.landscape import require_not_negative, require_positive, require_within

INITIAL_ABSTRACTION_SHARE = 0.2
"""Part of the retention that rain fills before any runs off (TR-55, equation 2-2)."""

LAWN_CURVE_NUMBERS = {"A": 39.0, "B": 61.0, "C": 74.0, "D": 80.0}
"""Lawns and open space in good condition by hydrologic soil group (TR-55 table 2-2a; group C
seen in print, the others from memory)."""

SHRUB_CURVE_NUMBERS = {"A": 30.0, "B": 48.0, "C": 65.0, "D": 73.0}
"""Brush, more than three quarters of the ground covered (TR-55 table 2-2c, from memory)."""

ORCHARD_CURVE_NUMBERS = {"A": 32.0, "B": 58.0, "C": 72.0, "D": 79.0}
"""Orchard or tree farm with grass, good condition (TR-55 table 2-2c, from memory)."""

ROW_CROP_CURVE_NUMBERS = {"A": 67.0, "B": 78.0, "C": 85.0, "D": 89.0}
"""Row crops in straight rows, good condition (TR-55 table 2-2b, from memory)."""

DAYS_THAT_SOAK = 5
"""Antecedent rain is that of so many days before (SCS National Engineering Handbook, section 4,
table 4.2, 1972; from memory)."""
SOAKING_RAIN_MM = 53.3
"""Antecedent rain above which ground sheds as condition III, 2.1 inches in the growing season (same
table). Its condition I, the dry one, is not taken: a garden that is watered is none."""

HYDROLOGIC_GROUPS = {
    "sand": "A",
    "loamy-sand": "A",
    "sandy-loam": "A",
    "silt-loam": "B",
    "loam": "B",
    "silt": "B",
    "sandy-clay-loam": "C",
    "clay-loam": "D",
    "silty-clay-loam": "D",
    "sandy-clay": "D",
    "silty-clay": "D",
    "clay": "D",
}
"""Hydrologic soil group by texture, for soil whose profile has been disturbed (TR-55 appendix A,
after Brakensiek and Rawls 1983; from memory; silt, which it does not list, as silt loam)."""


def retention_mm(curve_number: float) -> float:
    """Most that the ground can keep of a rain, S = 25400 / CN - 254 [mm] (TR-55, equation 2-4)."""
    require_within("Curve number", curve_number, 1.0, 100.0)
    return 25400.0 / curve_number - 254.0


def initial_abstraction_mm(curve_number: float) -> float:
    """Rain up to which nothing runs off, Ia = 0.2 S [mm] (TR-55, equation 2-2)."""
    return INITIAL_ABSTRACTION_SHARE * retention_mm(curve_number)


def rain_runoff_mm(rain_mm: float, curve_number: float) -> float:
    """Rain that leaves over the surface, Q [mm].

    TR-55, equations 2-1 to 2-3::

        Q = (P - 0.2 S)² / (P + 0.8 S), 0 where P <= 0.2 S
    """
    require_not_negative("Rain in mm", rain_mm)
    S = retention_mm(curve_number)
    beyond_abstraction_mm = rain_mm - initial_abstraction_mm(curve_number)
    if beyond_abstraction_mm <= 0.0:
        return 0.0
    return beyond_abstraction_mm**2 / (beyond_abstraction_mm + S)


def curve_number_when_wet(curve_number: float) -> float:
    """CN of wet ground, 23 CN / (10 + 0.13 CN) (Chow et al. 1988; from memory)."""
    require_within("Curve number", curve_number, 1.0, 100.0)
    return 23.0 * curve_number / (10.0 + 0.13 * curve_number)


def curve_number_after_rain(curve_number: float, rain_before_mm: float) -> float:
    """CN of a day by the rain of the five days before it: as it is, or of wet ground."""
    return curve_number_when_wet(curve_number) if rain_before_mm > SOAKING_RAIN_MM else curve_number


def longest_run_s(rate_mm_h: float, intake_mm_h: float, ponding_mm: float) -> float:
    """Longest run that leaves nothing over the edge: ponding / (rate - intake) [s].

    Without limit (infinite) where the soil takes in all that arrives.
    """
    require_not_negative("Rate in mm/h", rate_mm_h)
    require_positive("Intake in mm/h", intake_mm_h)
    require_not_negative("Allowable ponding in mm", ponding_mm)
    if rate_mm_h <= intake_mm_h:
        return math.inf
    return 3600.0 * ponding_mm / (rate_mm_h - intake_mm_h)


def soak_s(rate_mm_h: float, intake_mm_h: float, run_time_s: float) -> float:
    """Rest in which the soil takes in what a run has left standing on it [s].

    What stands is (rate - intake) x run, and it goes in with the intake: after the longest run
    this is the shortest soak, after a shorter one less. 0 where all went in at once.
    """
    require_not_negative("Rate in mm/h", rate_mm_h)
    require_positive("Intake in mm/h", intake_mm_h)
    require_not_negative("Run time in s", run_time_s)
    return max(0.0, rate_mm_h / intake_mm_h - 1.0) * run_time_s
