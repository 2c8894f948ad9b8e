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


BARE_BASAL_COEFFICIENT = 0.15
"""Kc min of Allen and Pereira 2009 (from memory)."""


def basal_coefficient_of_cover(
    covered_share: float, height_m: float, cover_multiplier: float, stomatal_factor: float
) -> tuple[float, float]:
    """Kcb by cover and height, and what of the climate adjustment applies to it (Kd x Fr).

    Allen and Pereira 2009, Irrig. Sci. 28:17-34 (second-hand), in the climate that FAO-56 prints for::

        Kd = min(1, ML fc, fc^(1 / (1 + h)))
        Kcb = Kc min + Kd (Fr min(1.0 + 0.1 h, 1.20) - Kc min)

    Parameters
    ----------
    covered_share : float
        fc, the share of the ground in shade around noon, 0..1.
    cover_multiplier : float
        ML, by how much a canopy can draw beyond its shade.
    stomatal_factor : float
        Fr, below 1 where leaves hold back more water than those of field crops.
    """
    require_within("Covered share", covered_share, 0.0, 1.0)
    density = min(1.0, cover_multiplier * covered_share, covered_share ** (1.0 / (1.0 + height_m)))
    full = stomatal_factor * min(1.0 + 0.1 * height_m, 1.20)
    kcb = BARE_BASAL_COEFFICIENT + density * (full - BARE_BASAL_COEFFICIENT)
    return kcb, density * stomatal_factor
