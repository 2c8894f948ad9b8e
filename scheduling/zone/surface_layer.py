"""The thin layer at the top of the soil that sun and wind dry, day by day: FAO-56 chapter 7.

What plants transpire, Kcb ETo, comes from the roots; what bare soil evaporates, Ke ETo, from this
layer. The layer does not know how full the root zone below it is, so it runs by itself, and the
root zone is then told how much evaporated.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from scheduling import catalogue
from scheduling.catalogue import Method, Plant
from scheduling.fao56.dual_coefficient import (
    LEAST_BASAL_COEFFICIENT,
    covered_fraction,
    largest_coefficient,
)
from scheduling.fao56.soil_evaporation import (
    exposed_wetted_fraction,
    surface_day,
    total_evaporable_water,
    under_organic_mulch,
    wetted_fraction_on_day,
)
from scheduling.garden.description import Planting, Soil
from scheduling.landscape.texture import texture_of_fractions

COVER_OF_TURF = 0.95
"""A lawn shades its ground whatever its Kcb, which equation 76 does not know. Our choice, no source."""
USUAL_REW_SHARE = 0.43
"""REW as a share of TEW where no texture is known: all rows of FAO-56 table 19 together."""


class TopLayerState(NamedTuple):
    """The layer on a morning."""

    depletion_mm: float
    """De, what the ground that was wetted last lacks of being wet."""
    wetted_share: float
    """fw, how much of the ground that is."""


class LayerDay(NamedTuple):
    """What one day did to the layer."""

    ke: float
    evaporation_mm: float
    """E = Ke ETo, over the whole zone."""
    closing: TopLayerState


@dataclass(frozen=True, slots=True)
class TopLayer:
    """The layer of one planting, in numbers."""

    tew_mm: float
    rew_mm: float
    wetted_share: float
    """fw of the watering."""
    is_under_canopy: bool
    """Whether the watering wets shaded ground first, as drip does."""
    mulch_factor: float
    """What a mulch leaves of the evaporation."""
    covered_share: float | None
    """fc where it is known; None: by equation 76."""

    @property
    def dry(self) -> TopLayerState:
        """Nothing left to evaporate: where nobody knows better."""
        return TopLayerState(self.tew_mm, 1.0)

    def cover(self, kcb: float, kc_max: float, height_m: float) -> float:
        """Share of the ground that plants shade, fc."""
        if self.covered_share is not None:
            return self.covered_share
        return covered_fraction(kcb, LEAST_BASAL_COEFFICIENT, kc_max, height_m)


WET = TopLayerState(0.0, 1.0)
"""A morning on which the soil is at field capacity."""


def top_layer_of(
    planting: Planting, plant: Plant, soil: Soil, points: tuple[float, float], method: Method, wetted: float
) -> TopLayer:
    """The layer in numbers.

    `points` are field capacity and wilting point, `wetted` is the share that the watering wets.
    TEW is that of the texture class (FAO-56 table 19), or by equation 73 of what was given.
    """
    texture = None if soil.texture is None else catalogue.soil(soil.texture)
    if texture is None and soil.sand_pct is not None and soil.clay_pct is not None:
        texture = catalogue.soil(texture_of_fractions(soil.sand_pct, soil.clay_pct))
    has_points_of_its_own = soil.field_capacity is not None or soil.sand_pct is not None
    if texture is not None and not has_points_of_its_own:
        tew_mm = texture.tew_mm
    else:
        tew_mm = total_evaporable_water(*points)
    rew_mm = USUAL_REW_SHARE * tew_mm
    if texture is not None and texture.rew_mm < tew_mm:
        rew_mm = texture.rew_mm
    covered_share = planting.covered_share
    if covered_share is None and plant.kind == "turf":
        covered_share = COVER_OF_TURF
    return TopLayer(
        tew_mm=tew_mm,
        rew_mm=rew_mm,
        wetted_share=wetted,
        is_under_canopy=wetted < 1.0 and not method.overhead,
        mulch_factor=under_organic_mulch(planting.mulched_share),
        covered_share=covered_share,
    )


@dataclass(frozen=True, slots=True)
class TopLayerDays:
    """The layer over the days of its garden, in columns, with the watering that is known."""

    layer: TopLayer
    eto_mm: list[float]
    rain_mm: list[float]
    """Rain that goes into the ground; of days to come only what has fallen of it, see `zone_days`."""
    kcb: list[float]
    kc_max: list[float]
    cover: list[float]
    """fc."""
    irrigation_mm: list[float]
    """Net, over the whole zone."""
    ke: list[float]
    evaporation_mm: list[float]
    mornings: list[TopLayerState]
    """How each day finds the layer; one more than there are days."""

    def on_day(self, day: int, irrigation_mm: float, morning: TopLayerState) -> LayerDay:
        """Carry the layer across one day of the columns."""
        layer = self.layer
        rain, cover = self.rain_mm[day], self.cover[day]
        share = wetted_fraction_on_day(morning.wetted_share, rain, irrigation_mm, layer.wetted_share)
        # Rain wets ground in the sun; drip wets it under the leaves.
        is_shaded = layer.is_under_canopy and share < 1.0
        few = exposed_wetted_fraction(cover, share, is_shaded)
        ke, evaporation, _, closing = surface_day(
            morning.depletion_mm,
            rain,
            irrigation_mm,
            share,
            few,
            self.kcb[day],
            self.kc_max[day],
            self.eto_mm[day],
            layer.tew_mm,
            layer.rew_mm,
            layer.mulch_factor,
        )
        return LayerDay(ke, evaporation, TopLayerState(min(closing, layer.tew_mm), share))

    def dried_on(self, day: int) -> LayerDay:
        """What one of the days did, with the watering that is known."""
        return LayerDay(self.ke[day], self.evaporation_mm[day], self.mornings[day + 1])

    def etc_mm(self, day: int, dried: LayerDay) -> float:
        """(Kcb + Ke) ETo of a day (FAO-56 equation 69)."""
        return self.kcb[day] * self.eto_mm[day] + dried.evaporation_mm

    def ran(
        self, first: int, irrigation_mm: Mapping[int, float], morning: TopLayerState | None = None
    ) -> "TopLayerDays":
        """The same days, run anew from a first one on.

        `irrigation_mm` replaces, by day, what was known; `morning` is how the first day finds the
        layer, None as it does already.
        """
        irrigation = list(self.irrigation_mm)
        for day, net_mm in irrigation_mm.items():
            if first <= day < len(irrigation):
                irrigation[day] = net_mm
        state = self.mornings[first] if morning is None else morning
        ke, evaporation, mornings = self.ke[:first], self.evaporation_mm[:first], self.mornings[:first]
        for day in range(first, len(irrigation)):
            mornings.append(state)
            done = self.on_day(day, irrigation[day], state)
            ke.append(done.ke)
            evaporation.append(done.evaporation_mm)
            state = done.closing
        mornings.append(state)
        return replace(self, irrigation_mm=irrigation, ke=ke, evaporation_mm=evaporation, mornings=mornings)


def top_layer_days(
    layer: TopLayer,
    eto_mm: list[float],
    rain_mm: list[float],
    basal: list[tuple[float, float]],
    climate: Sequence[tuple[float, float]],
) -> TopLayerDays:
    """The layer over some days, dry on the first morning and never watered.

    `basal` holds the basal coefficient and the height of the plants [m] of each day, `climate`
    wind [m/s] and RHmin [%].
    """
    kcb = [coefficient for coefficient, _ in basal]
    kc_max = [
        largest_coefficient(coefficient, wind, humidity, height)
        for (coefficient, height), (wind, humidity) in zip(basal, climate, strict=True)
    ]
    cover = [
        layer.cover(coefficient, most, height)
        for (coefficient, height), most in zip(basal, kc_max, strict=True)
    ]
    unwatered = [0.0] * len(eto_mm)
    days = TopLayerDays(layer, eto_mm, rain_mm, kcb, kc_max, cover, unwatered, [], [], [])
    return days.ran(0, {}, layer.dry)
