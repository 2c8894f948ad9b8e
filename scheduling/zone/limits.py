"""Numbers of a zone that do not go together: told where they are odd, refused where they cannot be."""

import math

from scheduling.errors import InvalidGarden, Problem, zone_cannot_be
from scheduling.garden.description import Allowance
from scheduling.reasons import Note
from scheduling.reasons.description_notes import IntakeAssumed, RateUnusual
from scheduling.reasons.words import called
from scheduling.zone.numbers import ZoneNumbers

LONGEST_REFILL_H = 24.0
"""A zone whose readily available water takes longer than a day to refill cannot be kept alive."""
SHORTEST_CYCLE_S = 2.0
"""Ground that overflows sooner cannot be watered in cycles: valves are told whole seconds."""
HIGHEST_RATE_MM_H = 3000.0
"""A can emptied over a pot comes close; nothing that is piped does. Common practice, no source."""


def guessed_intake(numbers: ZoneNumbers) -> list[Note]:
    """Tell which texture stands in where it decides how runs are cut."""
    guessed = numbers.surface.guessed_texture
    if guessed is None or numbers.longest_run_s == math.inf:
        return []
    return [IntakeAssumed(numbers.intake_mm_h, called(guessed))]


def odd_rate(numbers: ZoneNumbers, usual_rate_mm_h: float, undeclared: bool) -> list[Note]:
    """Tell of a declared rate far from the method's usual one; refuse one that nothing has."""
    rate = numbers.gross_rate_mm_h
    zone = numbers.zone
    if rate <= 0.0:
        raise zone_cannot_be(zone.id, "watering", "gives no water; its flow has to be above 0 l/min.")
    if rate > HIGHEST_RATE_MM_H:
        raise zone_cannot_be(
            zone.id,
            "watering",
            f"brings {rate:.0f} mm/h over {zone.area_m2:g} m2; no emitter gives more than "
            f"{HIGHEST_RATE_MM_H:g} mm/h. Check the flow and area_m2.",
        )
    if undeclared or numbers.container_mm is not None:
        return []
    if usual_rate_mm_h / 5.0 <= rate <= usual_rate_mm_h * 5.0:
        return []
    return [
        RateUnusual(numbers.flow_l_min, zone.area_m2, rate, usual_rate_mm_h),
    ]


def refuse_endless_runs(numbers: ZoneNumbers) -> None:
    zone = numbers.zone
    raw_mm = numbers.depletion_fraction * numbers.total_available_mm(numbers.growth.root_depth_m)
    refill_h = numbers.wetted_share * raw_mm / numbers.efficiency / numbers.gross_rate_mm_h
    if refill_h > LONGEST_REFILL_H:
        raise zone_cannot_be(
            zone.id,
            "watering",
            f"gives {numbers.flow_l_min:.3g} l/min to {zone.area_m2:g} m2, so that one refill takes "
            f"{refill_h:.0f} h; at most {LONGEST_REFILL_H:g} h. Check the flow and area_m2.",
        )


def refuse_floods(numbers: ZoneNumbers) -> None:
    longest_s = numbers.longest_run_s
    if longest_s < SHORTEST_CYCLE_S:
        raise zone_cannot_be(
            numbers.zone.id,
            "watering",
            f"brings {numbers.surface_rate_mm_h:.0f} mm/h onto the ground that gets wet, which overflows "
            f"after {longest_s:.1f} s. Check the flow, area_m2 and wetted_share.",
        )


def refuse_small_allowances(numbers: ZoneNumbers, allowance: Allowance) -> None:
    """Refuse an allowance that the zone could never be watered from."""
    smallest_l = numbers.smallest_volume_l
    problems = [
        Problem(
            f"/water_supply/allowance_l/{period}",
            f"{period} is {allowed_l:g}; the smallest dose of {numbers.zone.id}, "
            f"{numbers.smallest_depth_mm:g} mm, takes {smallest_l:.3g} l, so it would never be watered. "
            f"Allow at least that, or give the zone a smaller smallest_depth_mm.",
        )
        for period, allowed_l in (
            ("day", allowance.day),
            ("week", allowance.week),
            ("month", allowance.month),
        )
        if allowed_l is not None and allowed_l < smallest_l
    ]
    if problems:
        raise InvalidGarden(tuple(problems))
