"""How much flows to a zone, and what share of it serves the plants."""

from scheduling import catalogue
from scheduling.errors import zone_cannot_be
from scheduling.garden.description import Zone
from scheduling.landscape.application import (
    distribution_uniformity,
    efficiency_of_uniformity,
    emitters_flow_l_min,
    flow_of_rate_l_min,
)


def declared_flow_l_min(zone: Zone) -> float:
    """Flow through a zone's valve by its description, or by what its method usually brings. [l/min]"""
    return flow_of(zone, catalogue.method(zone.watering.method).rate_mm_h)[0]


def flow_of(zone: Zone, usual_rate_mm_h: float) -> tuple[float, bool]:
    """Flow in l/min, and whether it had to be assumed."""
    watering = zone.watering
    if watering.flow_l_min is not None:
        return watering.flow_l_min, False
    if watering.emitters is not None:
        return emitters_flow_l_min(watering.emitters.count, watering.emitters.flow_l_h), False
    if watering.rate_mm_h is not None:
        return flow_of_rate_l_min(watering.rate_mm_h, zone.area_m2), False
    return flow_of_rate_l_min(usual_rate_mm_h, zone.area_m2), True


def air_loss_share_of(zone: Zone, is_overhead: bool) -> float:
    """Part of the water that never lands. A uniformity knows nothing of it; an efficiency holds it.

    0 unless it is given: the Irrigation Association's multiplier, 1 / (0.4 + 0.6 DU), has no such
    part (2005, from memory).
    """
    watering = zone.watering
    share = watering.air_loss_share
    if share == 0.0:
        return share
    if not is_overhead:
        sentence = (
            f"is {share:g}, which is for overhead watering; {watering.method} loses nothing to the air."
        )
        raise zone_cannot_be(zone.id, "watering/air_loss_share", sentence)
    if watering.distribution_uniformity is None and watering.catch_can_mm is None:
        holder = (
            "the efficiency that is given" if watering.efficiency is not None else "the method's efficiency"
        )
        raise zone_cannot_be(
            zone.id,
            "watering/air_loss_share",
            f"is {share:g}, and {holder} holds such losses already: give it beside "
            "distribution_uniformity or catch_can_mm only.",
        )
    return share


def leaching_share_of(zone: Zone) -> float:
    """Part of the water that only carries salts out of a container, LF.

    The dose is use / (1 - LF), LF being drained over entering water (UF/IFAS ENH1268).
    """
    share = zone.watering.leaching_share
    if share > 0.0 and zone.soil.container is None:
        raise zone_cannot_be(
            zone.id,
            "watering/leaching_share",
            f"is {share:g}, which is for containers; in the ground it must be 0 or left out, since rain "
            "carries salts away.",
        )
    return share


def efficiency_of(zone: Zone, usual: float) -> float:
    """Share of the water that serves the plants: as given, or by its uniformity, or the method's."""
    watering = zone.watering
    if watering.efficiency is not None:
        return watering.efficiency
    if watering.distribution_uniformity is not None:
        return efficiency_of_uniformity(watering.distribution_uniformity)
    if watering.catch_can_mm is None:
        return usual
    try:
        return efficiency_of_uniformity(distribution_uniformity(watering.catch_can_mm))
    except ValueError as impossible:
        raise zone_cannot_be(zone.id, "watering/catch_can_mm", str(impossible)) from impossible
