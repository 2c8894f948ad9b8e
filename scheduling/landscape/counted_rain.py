"""How much of the rain to rely on: of what a forecast promises, and of what falls.

A probability says how likely rain is and nothing about its amount, so it never cancels
watering by itself; it only weighs the depth. Measured rain is counted in full.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from scheduling.landscape import require_not_negative, require_within

SHARE_WITHOUT_PROBABILITY = 0.7
"""Part of a promised depth to rely on where a source gives no probability.

About three in four forecasts of rain or no rain come true (76 %: Luo et al. 2016), and where
one fails the plants pay; a little less than that is our choice, no published rule."""

NEGLIGIBLE_SHARE_OF_ETO = 0.2
"""A day's rain below this share of ETo usually evaporates at once (FAO-56, chapter 8, p. 170)."""


def counted_depth_mm(depth_mm: float, probability: float | None, is_expectation: bool = False) -> float:
    """The part of a forecast depth to rely on [mm]: depth x probability.

    `probability` is 0 to 1, or None where the source gives none; then 0.7 takes its place. A
    depth that is an expectation already (`is_expectation`: the mean of an ensemble) is counted
    as it is, since its dry members have had their say.
    """
    require_not_negative("Forecast rain in mm", depth_mm)
    if probability is not None:
        require_within("Probability of rain", probability, 0.0, 1.0)
    if is_expectation:
        return depth_mm
    return depth_mm * (SHARE_WITHOUT_PROBABILITY if probability is None else probability)


def heavy_enough_to_count(rain_mm: float, eto_mm: float) -> bool:
    """Whether a day's rain does more than wet leaves: at least 0.2 ETo (FAO-56 p. 170)."""
    return rain_mm >= NEGLIGIBLE_SHARE_OF_ETO * eto_mm


def expected_stored_mm(members_mm: Sequence[float], free_storage_mm: float) -> float:
    """What an ensemble of forecasts will put into a store, on average [mm].

    The mean over members of min(rain, free storage): what a store cannot hold is no help,
    so one downpour among dry members counts for little.

    Raises ValueError without members, for negative rain or storage.
    """
    if not members_mm:
        raise ValueError("The ensemble has no members; at least one is needed.")
    require_not_negative("Free storage in mm", free_storage_mm)
    for member_mm in members_mm:
        require_not_negative("Rain of a member in mm", member_mm)
    return math.fsum(min(member_mm, free_storage_mm) for member_mm in members_mm) / len(members_mm)


class Ensemble(NamedTuple):
    """One zone's rain of one day, in each member of an ensemble."""

    members_mm: tuple[float, ...]
    """What goes into the ground, of the whole day's rain."""
    fallen_mm: float
    """The part of it that is there already, the same in all."""
    trust_share: float
    """Part of what is still to come that counts."""

    def stored_mm(self, free_storage_mm: float) -> float:
        """What a plan counts on: the mean over members of min(rain, free storage). [mm]

        What has fallen counts in full, as measured rain does.
        """
        expected_mm = expected_stored_mm(self.members_mm, max(0.0, free_storage_mm))
        return self.fallen_mm + self.trust_share * max(0.0, expected_mm - self.fallen_mm)
