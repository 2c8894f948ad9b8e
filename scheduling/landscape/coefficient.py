"""Kc of mixed ornamental plants, where no crop coefficient exists.

University of California Cooperative Extension and California Department of Water Resources.
2000. A Guide to Estimating Irrigation Water Needs of Landscape Plantings in California. The
ranges are partly from memory: of the factors, moderate (species), average, high for large trees
(density, microclimate) and the low ends for new plantings were seen in print.
"""

from scheduling.landscape import require_within

SPECIES_RANGE = (0.0, 0.9)
DENSITY_RANGE = (0.5, 1.3)
MICROCLIMATE_RANGE = (0.5, 1.4)


def landscape_coefficient(species: float, density: float = 1.0, microclimate: float = 1.0) -> float:
    """KL = ks kd kmc, to multiply ETo with (UC/DWR 2000).

    Raises ValueError for a factor outside the guide's ranges: ks 0 to 0.9, kd 0.5 to 1.3,
    kmc 0.5 to 1.4.
    """
    require_within("Species factor", species, *SPECIES_RANGE)
    require_within("Density factor", density, *DENSITY_RANGE)
    require_within("Microclimate factor", microclimate, *MICROCLIMATE_RANGE)
    return species * density * microclimate
