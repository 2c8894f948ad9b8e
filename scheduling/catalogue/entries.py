"""What the catalogue holds: plants, their seasons and roots, soils, substrates, ways of watering."""

from dataclasses import dataclass, replace
from typing import Literal

PlantKind = Literal["turf", "ornamental", "hedge", "tree", "herb", "container", "vegetable", "fruit"]

Habit = Literal["annual", "deciduous", "evergreen"]

Picking = Literal["once", "until-frost", "on"]

GENTLE_SLOPE_PCT = 3.0
MODERATE_SLOPE_PCT = 6.0
STEEP_SLOPE_PCT = 12.0


@dataclass(frozen=True, slots=True)
class StageLengths:
    """How long the stages of a crop last in one region, a row of FAO-56 table 11."""

    id: str
    """Name of the region and the planting, once for each crop: "mediterranean-april"."""
    crop: str
    """What it is about; several plants may share it."""
    region: str
    """As printed."""
    planted: str
    """As printed."""
    months: tuple[int, ...]
    """The same as numbers, of the northern hemisphere as all of the table; empty: none is printed."""
    l_ini: int
    """Length of the initial stage. [d]"""
    l_dev: int
    """Length of crop development. [d]"""
    l_mid: int
    """Length of the mid-season. [d]"""
    l_late: int
    """Length of the late season. [d]"""
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class Stages:
    """Kc and Kcb over a growing season, FAO-56 tables 11, 12 and 17."""

    kc_ini: float
    kc_mid: float
    kc_end: float
    kcb_ini: float
    kcb_mid: float
    kcb_end: float
    region: str
    """Whose lengths these are, see `StageLengths.id`."""
    months: tuple[int, ...]
    """When the season begins there: planting, or leaves opening. Northern hemisphere; may be empty."""
    l_ini: int
    """Length of the initial stage. [d]"""
    l_dev: int
    """Length of crop development. [d]"""
    l_mid: int
    """Length of the mid-season. [d]"""
    l_late: int
    """Length of the late season. [d]"""

    def with_lengths(self, lengths: StageLengths) -> "Stages":
        """The same coefficients over another region's lengths."""
        return replace(
            self,
            region=lengths.id,
            months=lengths.months,
            l_ini=lengths.l_ini,
            l_dev=lengths.l_dev,
            l_mid=lengths.l_mid,
            l_late=lengths.l_late,
        )


@dataclass(frozen=True, slots=True)
class Establishment:
    """How a new planting's roots get from the pot, the root ball or the sod into the ground."""

    id: str
    name: str
    weeks: int
    """From planting until the roots are those of an established plant."""
    planted_depth_m: float
    """Depth of the roots on the day of planting. [m]"""
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class CoverFactors:
    """By what Kcb follows from cover and height (Allen and Pereira 2009, second-hand)."""

    multiplier: float
    """ML, by how much a canopy can draw beyond its shade."""
    fr_mid: float
    """Fr in mid-season: below 1 where leaves hold water back."""
    fr_end: float
    """Fr at the end of the season."""


@dataclass(frozen=True, slots=True)
class Plant:
    """A plant; exactly one of `kc`, `kc_by_month` and `stages` is given."""

    id: str
    name: str
    common_names: tuple[str, ...]
    """Other names that people give it, and well-known plants that it stands for; from memory."""
    kind: PlantKind
    habit: Habit
    """Annual; deciduous, which is bare or dies back in winter; or evergreen, also where nothing
    is known of its rest."""
    kc: float | None
    """Crop coefficient, the same all year."""
    kc_by_month: tuple[float, ...] | None
    """January to December in the northern hemisphere."""
    stages: Stages | None
    """Before adjustment to the climate, as FAO-56 prints it; those of the plant's usual region."""
    kcb: float | None
    """Basal coefficient beside `kc`."""
    kcb_by_month: tuple[float, ...] | None
    """Basal coefficients beside `kc_by_month`."""
    stage_lengths: tuple[StageLengths, ...]
    """All regions to choose from, the usual one first."""
    height_m: float
    """Height of the grown plant. [m]"""
    root_depth_m: float
    """Depth of the root zone to water in a home garden. [m]"""
    root_depth_max_m: float | None
    """The larger value of FAO-56 table 22; None: the table has no such plant. [m]"""
    depletion_fraction: float
    """p at 5 mm/day, the share of TAW that is easy to draw."""
    establishment: str | None
    """Name of an `Establishment`; None: an annual, whose roots grow with its stages."""
    picking: Picking
    """Harvested once; or again and again, with no late season: until frost, or until its owner ends it."""
    alive_share: float | None
    """Share of ETo that keeps it alive, see the package; None: no published rate fits it."""
    cover: CoverFactors | None
    """For Kcb by the share of the ground that it shades; None: nothing is published."""
    source: str
    kcb_source: str
    """Of the basal coefficients; says so where they are derived."""
    root_source: str
    note: str

    @property
    def called(self) -> str:
        """Its name within a sentence, without what is in brackets or after a comma."""
        name = self.name.partition(" (")[0]
        if " and " not in name and " or " not in name:
            name = name.partition(",")[0]
        return name[:1].lower() + name[1:]


@dataclass(frozen=True, slots=True)
class SoilTexture:
    """A texture class: what it holds, and what its surface takes in."""

    id: str
    name: str
    sand_share: float
    """The share of the mineral soil by weight, at the point that represents the class."""
    clay_share: float
    wilting_point: float
    """Water at 1500 kPa. [m³/m³]"""
    field_capacity: float
    """Water at 33 kPa. [m³/m³]"""
    saturation: float
    """Water with every pore full. [m³/m³]"""
    ksat_mm_h: float
    """Saturated hydraulic conductivity; far above what a lawn takes in. [mm/h]"""
    intake_mm_h: float
    """Basic intake rate of a planted surface, to limit runs with. [mm/h]"""
    ponding_by_slope_mm: tuple[float, float, float, float]
    """Water the surface may hold before it runs off, on slopes up to 3, 6, 12 % and above. [mm]"""
    rew_mm: float
    """Readily evaporable water of the top 0.10 m, REW. [mm]"""
    tew_mm: float
    """Total evaporable water of the top 0.10 m, TEW. [mm]"""
    source: str
    intake_source: str
    evaporation_source: str
    note: str

    def ponding_mm(self, slope_pct: float) -> float:
        """Allowable depth of water on the surface; between printed slopes the steeper one's [mm]."""
        on_flat, on_moderate, on_steep, on_steepest = self.ponding_by_slope_mm
        if slope_pct <= GENTLE_SLOPE_PCT:
            return on_flat
        if slope_pct <= MODERATE_SLOPE_PCT:
            return on_moderate
        if slope_pct <= STEEP_SLOPE_PCT:
            return on_steep
        return on_steepest


@dataclass(frozen=True, slots=True)
class Substrate:
    """What fills a container; shares are of the container's volume."""

    id: str
    name: str
    capacity_share: float
    """Water held after draining."""
    unavailable_share: float
    """Water held that roots cannot draw."""
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class Method:
    """A way for water to arrive."""

    id: str
    name: str
    efficiency: float
    """Share of the delivered water that serves the plants, where nothing better is known."""
    efficiency_best: float
    """The best that is published; a higher one is a slip of the pen."""
    rate_mm_h: float
    """Usual rate over the whole zone. [mm/h]"""
    wetted_share: float
    """Share of the ground that gets wet."""
    smallest_depth_mm: float
    """Smallest net depth that is worth a run. [mm]"""
    overhead: bool
    """Through the air, so that wind matters."""
    air_loss_share: float
    """Part that never lands on a fair day; the method's efficiency holds it already."""
    source: str
    note: str
