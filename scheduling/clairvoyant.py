"""The least water that a season could have done with, for whoever knew all of it beforehand."""

from collections.abc import Sequence

from scheduling.balance import close_day
from scheduling.prepared import PreparedZone


def clairvoyant_mm(stands: Sequence[PreparedZone], openings_mm: Sequence[float]) -> float:
    """Water of who knows everything and waters every day just so that all close at RAW. [mm]

    No way of watering that closes every day of the season at RAW or wetter takes less: to give
    water later never drains more of it. With the dual coefficient, what evaporates is taken as the
    columns have it, whenever the clairvoyant waters.
    """
    depletions = list(openings_mm)
    total = 0.0
    for day in range(len(stands[0].days.etc_mm)):
        net = 0.0
        for place, stand in enumerate(stands):
            zone = stand.days
            depletions[place] = min(depletions[place], zone.taw_mm[day])
            if not zone.dormant[day]:
                wet = depletions[place] - zone.certain_rain_mm[day]
                net = max(net, wet + zone.etc_mm[day] - zone.raw_mm[day])
        total += net
        for place, stand in enumerate(stands):
            zone = stand.days
            depletions[place] = close_day(
                depletions[place],
                zone.certain_rain_mm[day],
                net,
                zone.etc_mm[day],
                zone.taw_mm[day],
                zone.raw_mm[day],
                evaporation_mm=0.0 if zone.evaporation_mm is None else zone.evaporation_mm[day],
            )[3]
    return total
