"""A garden as its owner describes it.

Whatever the owner left out is None here; `zone` puts the catalogue's number in its place.
"""

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from scheduling.reasons.words import Units, called

Priority = Literal["high", "normal", "low"]
Exemption = Literal["frost", "rain", "wind", "days"]
CoefficientMethod = Literal["single", "dual"]
Aim = Literal["thriving", "alive"]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]

A_LEAP_YEAR = 2000
"""Any one: of a day of every year only month and day count."""

WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class LandscapeCoefficient:
    """Kc of mixed ornamental plants: species x density x microclimate (UC/DWR 2000)."""

    species: float
    density: float = 1.0
    microclimate: float = 1.0


class StageDays(NamedTuple):
    """How long the four stages of a season last (FAO-56 page 95). [d]"""

    initial: int
    development: int
    mid_season: int
    late_season: int


@dataclass(frozen=True, slots=True)
class Planting:
    """What grows in a zone."""

    plant: str
    """Name in the catalogue of plants."""
    kc: float | None = None
    kc_by_month: tuple[float, ...] | None = None
    """January to December, as the garden's own hemisphere has them."""
    landscape_coefficient: LandscapeCoefficient | None = None
    root_depth_m: float | None = None
    depletion_fraction: float | None = None
    allowed_depletion: float | None = None
    """Share of TAW that may be used before water is due; None: RAW, by p and the demand."""
    aim: Aim = "thriving"
    """Whether plants are to want for nothing, or are only to be kept alive."""
    height_m: float | None = None
    planted_on: dt.date | None = None
    """Of an annual the start of its stages; of everything else the day from which new roots grow."""
    planted_again: tuple[dt.date, ...] = ()
    """Of an annual: later plantings on the same ground, in order."""
    planted_yearly: bool = False
    """Of an annual: whether it is planted on the same day of every year; of `planted_on` only that counts."""
    season_ends: tuple[dt.date | tuple[int, int], ...] = ()
    """Last days of seasons, or month and day of every year; a season without one ends as its stages do."""
    stage_region: str | None = None
    """Whose lengths of stages, see the plant's `stage_lengths`; None: those that suit best."""
    stage_lengths_d: StageDays | None = None
    """The owner's own; they take the place of any region's."""
    leaf_out: tuple[int, int] | None = None
    """Month and day on which a perennial's season begins; None: as FAO-56 table 11 has it."""
    kc_method: CoefficientMethod = "single"
    """Dual: evaporation from bare soil is calculated separately from transpiration."""
    mulched_share: float = 0.0
    """Share of the ground under bark, straw or compost."""
    covered_share: float | None = None
    """Share of the ground that grown plants shade, for the dual method; None: by FAO-56 equation 76."""
    share: float = 1.0
    """Of the zone's ground, where several plantings have it together."""

    @property
    def known_planting(self) -> dt.date | None:
        """The first day of planting; None: nobody says, or it comes again every year."""
        return None if self.planted_yearly else self.planted_on


@dataclass(frozen=True, slots=True)
class Container:
    """A pot, trough or planter with a bottom of its own."""

    volume_l: float
    """Of one of them."""
    substrate: str | None = None
    capacity_share: float | None = None
    """Water it holds after draining, as a share of its volume."""
    unavailable_share: float | None = None
    """Water that roots cannot draw, as a share of its volume."""
    surface_m2: float | None = None
    """Open surface of one that catches rain; None: by its diameter, else by its volume."""
    count: int = 1
    diameter_m: float | None = None
    """Of the open surface of one."""
    spread_m: float | None = None
    """Width of the plant in one, by which its leaf area goes; None: 1.5 times the pot's."""


@dataclass(frozen=True, slots=True)
class Soil:
    """The soil of a zone, described in one way, or in several that agree."""

    texture: str | None = None
    field_capacity: float | None = None
    wilting_point: float | None = None
    sand_pct: float | None = None
    clay_pct: float | None = None
    organic_matter_pct: float | None = None
    container: Container | None = None


@dataclass(frozen=True, slots=True)
class Emitters:
    """Drip points of one kind."""

    count: int
    flow_l_h: float


@dataclass(frozen=True, slots=True)
class Watering:
    """How water arrives."""

    method: str
    flow_l_min: float | None = None
    rate_mm_h: float | None = None
    emitters: Emitters | None = None
    efficiency: float | None = None
    distribution_uniformity: float | None = None
    """Low-quarter DU, in place of an efficiency."""
    catch_can_mm: tuple[float, ...] | None = None
    """Depths in catch cans, from which DU is calculated."""
    air_loss_share: float = 0.0
    """Of overhead water, what wind and evaporation take before it lands; beside a uniformity only."""
    wetted_share: float | None = None
    smallest_depth_mm: float | None = None
    leaching_share: float = 0.0
    """Of what enters a container, what is to drain and carry salts away."""
    fill_share: float | None = None
    """How much of the depletion to refill, instead of the calculated room for rain."""


@dataclass(frozen=True, slots=True)
class Site:
    """Where a zone lies."""

    slope_pct: float = 0.0
    rain_share: float = 1.0
    """Share of the rain that reaches the zone; 0 under a roof."""


@dataclass(frozen=True, slots=True)
class Valve:
    """What the zone's valve can do by itself."""

    meter: bool = True
    max_open_s: int | None = None
    min_flow_l_min: float = 0.0


@dataclass(frozen=True, slots=True)
class Pause:
    """Dates, both included, for which nothing is watered."""

    from_date: dt.date
    to_date: dt.date
    zones: tuple[str, ...] | None = None
    """None: all of them."""
    because: str = ""

    def covers(self, date: dt.date) -> bool:
        """Whether it leaves a date out."""
        return self.from_date <= date <= self.to_date


@dataclass(frozen=True, slots=True)
class YearlyPause:
    """Days of every year, both included, on which nothing is watered; it may run over New Year."""

    from_day: tuple[int, int]
    """Month and day."""
    to_day: tuple[int, int]
    zones: tuple[str, ...] | None = None
    because: str = ""

    def covers(self, date: dt.date) -> bool:
        """Whether it leaves a date out."""
        day = (date.month, date.day)
        if self.from_day <= self.to_day:
            return self.from_day <= day <= self.to_day
        return day >= self.from_day or day <= self.to_day


@dataclass(frozen=True, slots=True)
class HoursSpan:
    """Watering hours as described: clock times "HH:MM", "sunrise" or "sunset"."""

    opens: str
    closes: str


@dataclass(frozen=True, slots=True)
class Rules:
    """When a garden, or one zone of it, may be watered. None: as the garden has it, or the default."""

    frost_limit_c: float | None = None
    frost_warm_hours: bool | None = None
    """Whether to water in warm hours of the date where the watering hours may freeze."""
    rain_day_mm: float | None = None
    wind_limit_m_s: float | None = None
    watering_days: tuple[Weekday, ...] | None = None
    odd_even: Literal["odd", "even"] | None = None
    watering_hours: tuple[HoursSpan, ...] | None = None
    """Applies to the garden; a zone has none of its own."""
    forbidden_hours: tuple[HoursSpan, ...] | None = None
    """Hours of the clock in which no water flows."""
    pauses: tuple[Pause | YearlyPause, ...] = ()
    exempt: tuple[Exemption, ...] = ()
    """Of a zone."""


@dataclass(frozen=True, slots=True)
class Zone:
    """Ground watered together by one valve."""

    id: str
    area_m2: float
    planting: Planting
    soil: Soil
    watering: Watering
    name: str = ""
    priority: Priority = "normal"
    site: Site = Site()
    rules: Rules = Rules()
    valve: Valve = Valve()
    soil_full_on: dt.date | None = None
    """A morning on which the soil was at field capacity."""
    others: tuple[Planting, ...] = ()
    """What grows there beside `planting`, each with its share of the ground."""

    @property
    def called(self) -> str:
        """The name that its owner gave it, else its id as words."""
        return self.name or called(self.id)

    @property
    def is_by_hand(self) -> bool:
        """Whether its water needs somebody to be there."""
        return self.watering.method == "by-hand"

    @property
    def plantings(self) -> tuple[Planting, ...]:
        """All that grows in it, in the order it was given."""
        return (self.planting, *self.others)


@dataclass(frozen=True, slots=True)
class Allowance:
    """Litres that may flow for the plans of a date, of a week from Monday, of a calendar month."""

    day: float | None = None
    week: float | None = None
    month: float | None = None


@dataclass(frozen=True, slots=True)
class PriceStep:
    """Another price for what a calendar month takes beyond a volume."""

    above_m3: float
    price_per_m3: float


@dataclass(frozen=True, slots=True)
class Price:
    """What a supply's water costs from a date on, until another price begins."""

    price_per_m3: float
    """Of the first litres of a month."""
    begins_on: dt.date | None = None
    """None: it holds for all days before the first price that has a date."""
    steps: tuple[PriceStep, ...] = ()
    """In the order of their volumes."""
    sewer_share: float | None = None
    """Share of the water that is billed as waste water too; None: all, where that has a price of its
    own, else nothing."""
    sewer_price_per_m3: float | None = None
    """None: as the water."""


@dataclass(frozen=True, slots=True)
class WaterSupply:
    """The tap that all zones share."""

    flow_l_min: float | None = None
    zones_at_once: int = 1
    """Valves that may be open at the same time, as far as their flows fit."""
    gap_s: int = 120
    """Rest before a valve takes the place of another one."""
    allowance_l: Allowance = Allowance()
    prices: tuple[Price, ...] = ()
    """In the order of their dates, the one without a date first."""
    currency: str | None = None
    """ISO 4217."""


class Absence(NamedTuple):
    """Days for which nobody is there: from that of leaving to that of coming home."""

    leaves_on: dt.date
    returns_on: dt.date

    def covers(self, date: dt.date) -> bool:
        """Whether a plan of a date is carried out, and looked at, by nobody.

        A date's water flows in the night before it: that of the day of leaving is the last that
        somebody sees.
        """
        return self.leaves_on < date <= self.returns_on


UnreportedWatering = Literal["auto", "as-planned", "none"]
"""How runs count that nobody reported: as planned, as nothing, or by whether a zone's runs are reported."""


@dataclass(frozen=True, slots=True)
class Garden:
    """One place with one water supply, its rules and its zones."""

    id: str
    latitude: float
    longitude: float
    timezone: str
    zones: tuple[Zone, ...]
    name: str = ""
    elevation_m: float | None = None
    """None: as the weather source has it, else sea level."""
    coastal: bool = False
    arid: bool = False
    weather_sources: tuple[str, ...] = ("open-meteo",)
    plan_without_forecast: bool = True
    """Whether to plan by the mean of the last days that are known where no source answers for days."""
    trust_since: dt.date | None = None
    """Promises of rain before it say nothing about a source any more; None: all that are kept do."""
    unreported_watering: UnreportedWatering = "auto"
    water_supply: WaterSupply = field(default_factory=WaterSupply)
    rules: Rules = Rules()
    absence: tuple[Absence, ...] = ()
    units: Units = "metric"
    """Those of sentences and tables for people; numbers in JSON have theirs in their names."""
