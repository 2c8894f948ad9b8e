"""The daily soil water balance of a root zone (FAO-56 equation 85).

Depletion Dr is what a root zone lacks to field capacity: 0 is full, TAW is empty. A day takes
rain and irrigation first, then evapotranspiration, then drainage, as equation 88 is printed.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Final, NamedTuple

BY_PROBE: Final = "probe"
BY_ROOTS: Final = "roots"
BY_BOTH: Final = "roots and probe"
"""What an adjustment of the ledger comes from."""


class DayClosed(NamedTuple):
    """What one day did to a root zone."""

    ks: float
    """Water stress coefficient, equation 84."""
    etc_adj_mm: float
    """Evapotranspiration that took place, Ks ETc; of the dual coefficient (Ks Kcb + Ke) ETo."""
    drainage_mm: float
    closing_mm: float


class LedgerRow(NamedTuple):
    """One day of a zone's account.

    closing = opening - infiltrated_rain - irrigation + etc_adj + drainage + adjustment, always.
    """

    date: dt.date
    opening_depletion_mm: float
    rain_mm: float
    """What fell on the zone, after its rain share."""
    runoff_mm: float
    infiltrated_rain_mm: float
    """What counts in the balance: light rain below 0.2 ETo does not."""
    irrigation_gross_mm: float
    irrigation_mm: float
    """What reached the roots: gross x efficiency."""
    eto_mm: float
    kc: float
    ks: float
    etc_mm: float
    etc_adj_mm: float
    drainage_mm: float
    adjustment_mm: float
    """A correction from outside the balance, see `adjustment_cause`."""
    closing_depletion_mm: float
    taw_mm: float
    raw_mm: float
    kcb: float | None = None
    """Basal coefficient; this and what follows only with the dual coefficient."""
    ke: float | None = None
    """Soil evaporation coefficient."""
    evaporation_mm: float | None = None
    """What of `etc_adj_mm` the soil lost."""
    surface_depletion_mm: float | None = None
    """What the top layer lacks at the end of the day, where it was wetted last."""
    adjustment_cause: str | None = None
    """Where there is an adjustment: `probe`, `roots` (shallower ones leave less to be empty), or both."""


def close_day(
    depletion_mm: float,
    rain_mm: float,
    irrigation_mm: float,
    etc_mm: float,
    taw_mm: float,
    raw_mm: float,
    drains_before_et: bool = False,
    evaporation_mm: float = 0.0,
) -> tuple[float, float, float, float]:
    """Carry a depletion across one day; equations 81, 84, 85, 86 and 88.

    Parameters
    ----------
    depletion_mm : float
        Dr at the start of the day, 0..TAW. [mm]
    rain_mm, irrigation_mm : float
        Infiltrated rain and net irrigation, early in the day. [mm]
    etc_mm : float
        Kc ETo, before stress. [mm]
    taw_mm, raw_mm : float
        Total and readily available water, RAW < TAW. [mm]
    drains_before_et : bool
        True: what exceeds the store leaves before the day's ETc, as in the table of FAO-56
        Example 38. False: after it, as equation 88 is printed; a rainy day then lends its ETc
        as room.
    evaporation_mm : float
        What of ETc bare soil loses, which knows no stress: equation 80, (Ks Kcb + Ke) ETo. [mm]

    Returns
    -------
    tuple
        The fields of `DayClosed`, as a plain tuple: this is the hottest line of the project.
        closing = depletion - rain - irrigation + etc_adj + drainage.
    """
    wet = depletion_mm - rain_mm - irrigation_mm
    drainage = 0.0
    if drains_before_et and wet < 0.0:
        drainage = -wet
        wet = 0.0
    if wet <= raw_mm:
        ks = 1.0
        etc_adj = etc_mm
    else:
        ks = (taw_mm - wet) / (taw_mm - raw_mm)
        etc_adj = ks * etc_mm + (1.0 - ks) * evaporation_mm
    closing = wet + etc_adj
    if closing > taw_mm:
        etc_adj = taw_mm - wet
        closing = taw_mm
    elif closing < 0.0:
        drainage = -closing
        closing = 0.0
    return ks, etc_adj, drainage, closing


def carry(
    depletion_mm: float,
    rain_mm: Sequence[float],
    irrigation_mm: Sequence[float],
    etc_mm: Sequence[float],
    taw_mm: Sequence[float],
    raw_mm: Sequence[float],
    evaporation_mm: Sequence[float] | None = None,
) -> float:
    """Carry a depletion across several days; all sequences run over the same days. [mm]

    Where TAW shrinks below the depletion (a new planting with shallow roots), the depletion
    is cut to it. Where it grows, the new depth is taken to be at field capacity (FAO-56, p. 173).
    `evaporation_mm` is the part of each day's ETc lost from bare soil; None: not separated.
    """
    if evaporation_mm is not None:
        for day, evaporation in enumerate(evaporation_mm):
            depletion_mm = close_day(
                min(depletion_mm, taw_mm[day]),
                rain_mm[day],
                irrigation_mm[day],
                etc_mm[day],
                taw_mm[day],
                raw_mm[day],
                evaporation_mm=evaporation,
            )[3]
        return depletion_mm
    for rain, irrigation, etc, taw, raw in zip(rain_mm, irrigation_mm, etc_mm, taw_mm, raw_mm, strict=True):
        if depletion_mm > taw:
            depletion_mm = taw
        depletion_mm = close_day(depletion_mm, rain, irrigation, etc, taw, raw)[3]
    return depletion_mm
