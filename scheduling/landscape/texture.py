"""The texture class of a soil, from its sand and clay or from what it holds."""

from collections.abc import Mapping

from scheduling.landscape import require_within


def texture_of_fractions(sand_pct: float, clay_pct: float) -> str:
    """Texture class of a mineral soil by the USDA triangle.

    Limits as in the Soil Survey Manual (USDA Handbook 18, chapter 3; from memory). Raises
    ValueError for fractions that are no soil's.
    """
    require_within("Sand in %", sand_pct, 0.0, 100.0)
    require_within("Clay in %", clay_pct, 0.0, 100.0)
    require_within("Sand and clay together in %", sand_pct + clay_pct, 0.0, 100.0 + 1e-9)
    silt_pct = 100.0 - sand_pct - clay_pct
    if silt_pct + 1.5 * clay_pct < 15.0:
        return "sand"
    if silt_pct + 2.0 * clay_pct < 30.0:
        return "loamy-sand"
    if clay_pct >= 40.0:
        if sand_pct > 45.0:
            return "sandy-clay"
        return "silty-clay" if silt_pct >= 40.0 else "clay"
    if clay_pct >= 35.0 and sand_pct > 45.0:
        return "sandy-clay"
    if clay_pct >= 27.0:
        if sand_pct <= 20.0:
            return "silty-clay-loam"
        return "clay-loam" if sand_pct <= 45.0 else "sandy-clay-loam"
    if clay_pct >= 20.0 and silt_pct < 28.0 and sand_pct > 45.0:
        return "sandy-clay-loam"
    if silt_pct >= 80.0 and clay_pct < 12.0:
        return "silt"
    if silt_pct >= 50.0:
        return "silt-loam"
    if clay_pct >= 7.0 and silt_pct >= 28.0 and sand_pct <= 52.0:
        return "loam"
    return "sandy-loam"


def nearest_texture(
    field_capacity: float, wilting_point: float, classes: Mapping[str, tuple[float, float]]
) -> str:
    """The class whose field capacity and wilting point are nearest to given ones.

    `classes` has both points by the name of the class. Our choice, no source: water points tell
    little of what a surface takes in, and more than nothing.
    """

    def squared_distance(name: str) -> float:
        capacity, wilting = classes[name]
        return (capacity - field_capacity) ** 2 + (wilting - wilting_point) ** 2

    return min(classes, key=squared_distance)
