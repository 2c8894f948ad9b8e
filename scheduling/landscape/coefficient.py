"""Kc of mixed ornamental plants, where no crop coefficient exists.

University of California Cooperative Extension and California Department of Water Resources.
2000. A Guide to Estimating Irrigation Water Needs of Landscape Plantings in California. The
ranges are partly from memory: of the factors, moderate (species), average, high for large trees
(density, microclimate) and the low ends for new plantings were seen in print.
"""

from typing import NamedTuple

from scheduling.landscape.ranges import require_within


class FactorRange(NamedTuple):
    """A named range of the guide; `middle` is what to use where nothing more is known."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The mean of both ends."""
        return (self.low + self.high) / 2.0


SPECIES_FACTORS = {
    "very-low": FactorRange(0.0, 0.1),
    "low": FactorRange(0.1, 0.3),
    "moderate": FactorRange(0.4, 0.6),
    "high": FactorRange(0.7, 0.9),
}
"""ks: what a kind of plant needs, as a share of ETo."""

DENSITY_FACTORS = {
    "low": FactorRange(0.5, 0.9),
    "average": FactorRange(1.0, 1.0),
    "high": FactorRange(1.1, 1.3),
}
"""kd: new and sparse plantings to tiers of trees, shrubs and ground cover."""

MICROCLIMATE_FACTORS = {
    "low": FactorRange(0.5, 0.9),
    "average": FactorRange(1.0, 1.0),
    "high": FactorRange(1.1, 1.4),
}
"""kmc: shaded and sheltered places to ones beside hot walls, paving, or in wind."""

SPECIES_RANGE = FactorRange(0.0, 0.9)
DENSITY_RANGE = FactorRange(0.5, 1.3)
MICROCLIMATE_RANGE = FactorRange(0.5, 1.4)


def landscape_coefficient(species: float, density: float = 1.0, microclimate: float = 1.0) -> float:
    """KL = ks kd kmc, to multiply ETo with (UC/DWR 2000).

    Raises ValueError for a factor outside the guide's ranges: ks 0 to 0.9, kd 0.5 to 1.3,
    kmc 0.5 to 1.4.
    """
    require_within("Species factor", species, *SPECIES_RANGE)
    require_within("Density factor", density, *DENSITY_RANGE)
    require_within("Microclimate factor", microclimate, *MICROCLIMATE_RANGE)
    return species * density * microclimate
