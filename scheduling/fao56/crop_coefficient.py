"""The crop coefficient through a season: equations 62, 65 and 66.

A season has four stages (page 95): initial, development, mid-season, late season. Its days are
counted from 1, the day of planting; the last day of a stage has the number that is the sum of
the stages' lengths so far.
"""

from dataclasses import dataclass
from enum import StrEnum


class Stage(StrEnum):
    """The four growth stages of a season."""

    INITIAL = "initial"
    DEVELOPMENT = "development"
    MID_SEASON = "mid-season"
    LATE_SEASON = "late-season"


@dataclass(frozen=True, slots=True)
class StageLengths:
    """Lengths of the four stages, as in FAO-56 table 11. [days] A stage may be missing: 0 days.

    Raises ValueError for a negative length, and where all four are 0.
    """

    initial_d: int
    development_d: int
    mid_season_d: int
    late_season_d: int

    def __post_init__(self) -> None:
        for name in ("initial_d", "development_d", "mid_season_d", "late_season_d"):
            length = getattr(self, name)
            if length < 0:
                raise ValueError(f"{name} is {length}; a stage lasts 0 days or more.")
        if self.season_d == 0:
            raise ValueError("All four stages are 0 days long; a season lasts at least one day.")

    @property
    def season_d(self) -> int:
        """Length of the whole season. [days]"""
        return self.initial_d + self.development_d + self.mid_season_d + self.late_season_d

    @property
    def full_cover_day(self) -> int:
        """Last day of development: from here on the plants are fully grown."""
        return self.initial_d + self.development_d

    def stage_on(self, day_of_season: float) -> Stage:
        """The stage that a day of the season belongs to.

        Raises ValueError outside the season.
        """
        if not 1 <= day_of_season <= self.season_d:
            raise ValueError(
                f"day_of_season is {day_of_season}; this season runs from day 1 to day {self.season_d}."
            )
        if day_of_season <= self.initial_d:
            return Stage.INITIAL
        if day_of_season <= self.full_cover_day:
            return Stage.DEVELOPMENT
        if day_of_season <= self.full_cover_day + self.mid_season_d:
            return Stage.MID_SEASON
        return Stage.LATE_SEASON


def climate_adjustment(wind_2m_m_s: float, rh_min_pct: float, height_m: float) -> float:
    """What wind and dry air add to the Kc of a tabulated, subhumid, calm climate.

    The common term of FAO-56 equations 62, 65, 70 and 72 (pages 121 to 124)::

        [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3

    Wind and humidity are means over the stage, not of one day. They are limited to 1 to 6 m/s
    and 20 to 80 %, the height at 10 m at most; below 0.1 m nothing is adjusted (page 124).
    """
    if height_m < 0.1:
        return 0.0
    wind = max(1.0, min(6.0, wind_2m_m_s))
    humidity = max(20.0, min(80.0, rh_min_pct))
    height = min(10.0, height_m)
    return float((0.04 * (wind - 2.0) - 0.004 * (humidity - 45.0)) * (height / 3.0) ** 0.3)


def mid_season_coefficient(
    kc_mid_table: float, wind_2m_m_s: float, rh_min_pct: float, height_m: float
) -> float:
    """Kc of the mid-season in the garden's own climate, Kc mid.

    FAO-56 equation 62 (page 121)::

        Kc mid = Kc mid (table) + [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3
    """
    return kc_mid_table + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)


def end_of_season_coefficient(
    kc_end_table: float, wind_2m_m_s: float, rh_min_pct: float, height_m: float
) -> float:
    """Kc of the last day in the garden's own climate, Kc end.

    FAO-56 equation 65 (page 125)::

        Kc end = Kc end (table) + [0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h / 3)^0.3

    A crop left to dry off, with a tabulated value below 0.45, is not adjusted.
    """
    if kc_end_table < 0.45:
        return kc_end_table
    return kc_end_table + climate_adjustment(wind_2m_m_s, rh_min_pct, height_m)


def coefficient_on_day(
    day_of_season: float, stages: StageLengths, kc_ini: float, kc_mid: float, kc_end: float
) -> float:
    """Kc of one day of the season, Kc i.

    FAO-56 equation 66 (page 132), straight lines between the stages::

        Kc i = Kc prev + [(i - Σ L prev) / L stage] (Kc next - Kc prev)

    Constant in the initial stage and the mid-season. A stage of 0 days is stepped over: without
    a late season Kc stays at Kc mid until the last day. Raises ValueError outside the season.
    """
    stage = stages.stage_on(day_of_season)
    if stage is Stage.INITIAL:
        return kc_ini
    if stage is Stage.DEVELOPMENT:
        share = (day_of_season - stages.initial_d) / stages.development_d
        return kc_ini + share * (kc_mid - kc_ini)
    if stage is Stage.MID_SEASON:
        return kc_mid
    days_before = stages.full_cover_day + stages.mid_season_d
    return kc_mid + (day_of_season - days_before) / stages.late_season_d * (kc_end - kc_mid)
