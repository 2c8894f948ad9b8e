"""Rain that an ensemble of forecasts promises a zone: what its store can hold of it, on average.

A mean over members says nothing about how unequal they are. Of one downpour among dry members, a
store takes what it lacks and the rest drains: so each member is cut to the free storage first.
"""

from typing import NamedTuple

from scheduling.landscape.counted_rain import expected_stored_mm


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
