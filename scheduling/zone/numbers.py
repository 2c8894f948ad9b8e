"""What the arithmetic wants to know of a zone."""

import math
from dataclasses import dataclass

from scheduling.garden.description import Planting, Zone
from scheduling.landscape.application import application_rate_mm_h, gross_depth_mm, volume_of_depth_l
from scheduling.landscape.infiltration import longest_run_s
from scheduling.reasons import CloseBy, Note
from scheduling.zone.crop import Growth
from scheduling.zone.soil import Surface
from scheduling.zone.surface_layer import TopLayer


@dataclass(frozen=True, slots=True)
class ZoneNumbers:
    """Everything the arithmetic wants to know of a zone."""

    zone: Zone
    planting: Planting
    share: float
    """Of the zone's ground that the planting has; 1 where nothing else grows there."""
    growth: Growth
    depletion_fraction: float
    allowed_depletion: float | None
    """Share of TAW at which water is due; None: at RAW."""
    alive_kc: float | None
    """The most that plants which are only kept alive use of ETo; None: they are to thrive."""
    available_mm_per_m: float | None
    """Available water of the soil per metre of roots; None in a container."""
    container_mm: float | None
    """Available water of a container over the leaf area; None in the ground."""
    capacity_share: float
    """Water at field capacity, or in a container that has drained, as a share of the volume."""
    unavailable_share: float
    """Water at the wilting point, or what roots in a container cannot draw, likewise."""
    rain_share: float
    """Depth of rain over the zone's area for each depth that falls."""
    efficiency: float
    """Share of the delivered water that serves the plants; of a known uniformity, 0.4 + 0.6 DU. What is
    to leach a container serves none."""
    leaching_share: float
    """Share of what enters a container that is to drain, and is no part of `efficiency`."""
    flow_l_min: float
    wetted_share: float
    smallest_depth_mm: float
    is_overhead: bool
    """Through the air, so that wind matters."""
    surface: Surface
    top_layer: TopLayer | None
    """What the sun dries, for the dual crop coefficient; None: the single one."""
    close_by: CloseBy
    notes: tuple[Note, ...]

    @property
    def gross_rate_mm_h(self) -> float:
        """How fast the water comes. [mm/h]"""
        return application_rate_mm_h(self.flow_l_min, self.zone.area_m2)

    @property
    def surface_rate_mm_h(self) -> float:
        """How fast it comes onto the ground that gets wet. [mm/h]"""
        return self.gross_rate_mm_h / self.wetted_share

    @property
    def intake_mm_h(self) -> float:
        """How fast that ground takes it in; infinite in a container. [mm/h]"""
        return self.surface.intake_mm_h

    @property
    def longest_run_s(self) -> float:
        """After how long more would stand on the ground than it holds; infinite where all goes in. [s]"""
        if self.surface.intake_mm_h == math.inf:
            return math.inf
        return longest_run_s(self.surface_rate_mm_h, self.surface.intake_mm_h, self.surface.ponding_mm)

    @property
    def smallest_volume_l(self) -> float:
        """Litres of the smallest depth that is worth a run."""
        return volume_of_depth_l(gross_depth_mm(self.smallest_depth_mm, self.efficiency), self.zone.area_m2)

    def with_leaching_mm(self, net_mm: float) -> float:
        """What enters the root zone for a net depth: that, and what is to carry salts away. [mm]"""
        return net_mm / (1.0 - self.leaching_share)

    def total_available_mm(self, root_depth_m: float) -> float:
        """TAW for a depth of roots; in a container the depth is the container's. [mm]"""
        if self.container_mm is not None:
            return self.container_mm
        assert self.available_mm_per_m is not None
        return self.available_mm_per_m * root_depth_m
